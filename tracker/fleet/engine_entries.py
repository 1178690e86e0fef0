"""What is entered about an engine, and the checks of it that need no other engine."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction
from typing import Final

from notices.rules.designations import plain_text
from notices.rules.operating import exact_share
from notices.rules.serials import parse_serial
from notices.rules.temperatures import in_celsius
from tracker.accounts.models import Station
from tracker.fleet.entries import checked_day, checked_hours, checked_text
from tracker.fleet.errors import Refused
from tracker.fleet.first_past import NOTHING_SAID, FirstPast, checked_past
from tracker.fleet.models import (
    EngineType,
    Fitting,
    Identity,
    Owner,
    State,
    serial_key,
)

SINCE_MADE: Final = date(1900, 1, 1)
"""The day from which a first identity holds: whatever day is asked for, it was so."""

AIR: Final = (-90, 60)
"""Degrees Celsius between which all air near the ground was ever measured: -89.2 at
Vostok in 1983 and 56.7 in Death Valley in 1913 are the records that the World
Meteorological Organization keeps (from memory)."""

_BETWEEN_USES = re.compile(r"[,;]")
_REGISTRY = re.compile(r"[A-Z]{2}")
_TEMPERATURE = re.compile(r"-?[0-9]{1,4}(\.[0-9]{1,3})?")


@dataclass(frozen=True, slots=True, kw_only=True)
class IdentityFacts:
    """What is stamped on an engine. See the model `Identity` for the fields."""

    engine_type: EngineType
    serial: str
    type_complete: bool = True
    built: date | None = None
    shipped: date | None = None
    rebuilt_known: bool = False
    rebuilt_undated: bool = False
    rebuilt: date | None = None
    hours_at_new: int | None = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class FittingFacts:
    """`fitted=False`: known not to be fitted in any aircraft."""

    fitted: bool = True
    aircraft_type: str = ""
    registration: str = ""
    registry: str = ""
    position: str = ""
    airframe_hours: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationFacts:
    """How an engine is run; shares and temperatures as entered.

    `ambient_low`, `ambient_high`: of the air, over the coming season.
    """

    uses: tuple[str, ...] = ()
    leaded_share: str = ""
    oil_low: str = ""
    oil_high: str = ""
    oil_unit: str = "C"
    ambient_low: str = ""
    ambient_high: str = ""
    ambient_unit: str = "C"


@dataclass(frozen=True, slots=True, kw_only=True)
class NewEngine:
    """An engine to enter; None: not known, and no row is written for it."""

    identity: IdentityFacts
    owner: Owner | None = None
    fitting: FittingFacts | None = None
    state: str = State.IN_SERVICE
    operation: OperationFacts | None = None
    past: FirstPast = NOTHING_SAID


def checked_entry(station: Station, entry: NewEngine, at: datetime) -> NewEngine:
    if entry.owner is not None and entry.owner.station_id != station.pk:
        raise Refused("owner", "That owner is not known at this station.")
    identity = checked_identity(station, entry.identity, at)
    return replace(
        entry,
        identity=identity,
        past=checked_past(station, entry.past, built=identity.built, at=at),
        fitting=entry.fitting and checked_fitting(entry.fitting),
        state=checked_state(entry.state),
        operation=entry.operation and checked_operation(entry.operation),
    )


def checked_identity(
    station: Station, facts: IdentityFacts, at: datetime
) -> IdentityFacts:
    if facts.engine_type.station_id != station.pk:
        raise Refused("engine_type", "That engine type is not known at this station.")
    serial = checked_text(Identity, "serial", facts.serial, required=True)
    try:
        parse_serial(serial)
    except ValueError as error:
        raise Refused("serial", str(error)) from error
    if len(serial_key(serial)) > 60:
        raise Refused("serial", f'The serial "{serial}" is too long to compare.')
    _check_identity_days(station, facts, at)
    checked_hours("hours_at_new", facts.hours_at_new)
    return replace(
        facts,
        serial=serial,
        rebuilt_known=facts.rebuilt_known
        or facts.rebuilt_undated
        or facts.rebuilt is not None,
    )


def _check_identity_days(station: Station, facts: IdentityFacts, at: datetime) -> None:
    named = [("built", facts.built), ("shipped", facts.shipped)]
    named.append(("rebuilt", facts.rebuilt))
    for name, day in named:
        if day is not None:
            checked_day(station, name, day, at)
            if day <= SINCE_MADE:
                raise Refused(name, f"{day} is before any engine kept here was made.")
    for name, day in named[1:]:
        if facts.built is not None and day is not None and day < facts.built:
            raise Refused(
                name,
                f"{day} is before the date of manufacture, {facts.built}. "
                "Check both dates.",
            )
    if facts.rebuilt is not None and facts.rebuilt_undated:
        raise Refused(
            "rebuilt", "A rebuild has a date or is at a date not known, not both."
        )


def checked_fitting(facts: FittingFacts) -> FittingFacts:
    aircraft_type = checked_text(Fitting, "aircraft_type", facts.aircraft_type)
    registration = checked_text(Fitting, "registration", facts.registration)
    position = checked_text(Fitting, "position", facts.position)
    registry = facts.registry.strip().upper()
    if registry and not _REGISTRY.fullmatch(registry):
        raise Refused(
            "registry",
            f'"{facts.registry}" is not a state of registry. '
            'Write the two letters of its country code, such as "NO".',
        )
    if not facts.fitted and (aircraft_type or registration or position or registry):
        raise Refused(
            "fitted",
            "An engine that is not fitted has no aircraft. "
            "Leave the aircraft out, or say that it is fitted.",
        )
    checked_hours("airframe_hours", facts.airframe_hours)
    return replace(
        facts,
        aircraft_type=aircraft_type,
        registration=registration,
        registry=registry,
        position=position,
    )


def checked_state(state: str) -> str:
    word = plain_text(state)
    if word not in State.values:
        raise Refused(
            "state",
            f'"{state}" is not a state. Write one of: {", ".join(State.values)}.',
        )
    return word


def checked_operation(facts: OperationFacts) -> OperationFacts:
    uses = single_uses(facts.uses)
    for use in uses:
        if len(use) > 40 or not use.isprintable():
            raise Refused("uses", f"{use[:40]!a} is not a kind of operation.")
    share = facts.leaded_share.strip()
    if share:
        _check_share(share)
    ranges = _checked_range(facts, "oil", "oil temperature")
    ranges |= _checked_range(facts, "ambient", "ambient temperature")
    _check_air(ranges, facts.ambient_unit)
    return replace(facts, uses=uses, leaded_share=share, **ranges)


def single_uses(texts: Iterable[str]) -> tuple[str, ...]:
    """Return each kind of operation once, as it compares; commas part them, too."""
    named = (plain_text(one) for text in texts for one in _BETWEEN_USES.split(text))
    return tuple(dict.fromkeys(filter(None, named)))


def _check_share(text: str) -> None:
    try:
        exact_share(text)
    except ValueError as error:
        raise Refused("leaded_share", str(error)) from error


def _checked_range(facts: OperationFacts, of: str, named: str) -> dict[str, str]:
    """Return the two ends of a range of temperatures, trimmed; `of`: its columns."""
    unit = getattr(facts, f"{of}_unit")
    if unit not in {"C", "F"}:
        raise Refused(f"{of}_unit", f'"{unit}" is not a unit. Write C or F.')
    low_name, high_name = f"{of}_low", f"{of}_high"
    low, high = getattr(facts, low_name).strip(), getattr(facts, high_name).strip()
    for name, text in ((low_name, low), (high_name, high)):
        if text and not _TEMPERATURE.fullmatch(text):
            raise Refused(
                name, f'"{text}" is not a temperature. Write a number, such as "85".'
            )
    if bool(low) != bool(high):
        raise Refused(
            high_name if low else low_name,
            f"Enter both the lowest and the highest {named}, or neither.",
        )
    if low and Fraction(low) > Fraction(high):
        raise Refused(
            low_name,
            f"The lowest {named}, {low}, is above the highest, {high}. "
            "Exchange the two, or check them.",
        )
    return {low_name: low, high_name: high}


def _check_air(ranges: dict[str, str], unit: str) -> None:
    for name in ("ambient_low", "ambient_high"):
        if ranges[name] and not AIR[0] <= celsius(ranges[name], unit) <= AIR[1]:
            raise Refused(
                name,
                f"Air of {ranges[name]} °{unit} was never measured on the ground. "
                "Check the figure and the unit.",
            )


def celsius(entered: str, unit: str) -> Fraction:
    """Return a temperature as entered in degrees Celsius, exact. `unit`: C or F."""
    return in_celsius(Fraction(entered), "F" if unit == "F" else "C")


def columns(facts: IdentityFacts | FittingFacts | OperationFacts) -> dict[str, object]:
    columns = {name: getattr(facts, name) for name in facts.__slots__}
    if isinstance(facts, OperationFacts):
        columns["uses"] = list(facts.uses)
    return columns

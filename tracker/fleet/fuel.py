"""Fuel that an engine was given: added as a person enters it, and read by the core."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from notices.rules.errors import RuleError
from notices.rules.facts import UNKNOWN, Hours
from notices.rules.operating import Fuel, fuel
from notices.rules.phrases import date_words, grouped
from tracker.accounts.models import User
from tracker.fleet.axis import check_fits
from tracker.fleet.entries import checked_day, checked_hours, checked_text, in_hours
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine, FuelKind, FuelRecord, FuelUnit

MOST_LITRES: Final = 10_000
"""More than the tanks of a piston engine's aircraft hold; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelEntry:
    """Fuel taken on, as entered. See the model `FuelRecord` for the fields."""

    on: date
    quantity: str
    kind: str
    unit: str = FuelUnit.LITRES
    leaded_share: str = ""
    hours: int | None = None
    remark: str = ""


def add_fuel(engine: Engine, entry: FuelEntry, *, at: datetime, by: User) -> FuelRecord:
    """Record fuel taken on; Refused where it cannot be."""
    _checked(entry)
    checked_day(engine.station, "on", entry.on, at)
    checked_hours("hours", entry.hours)
    if engine.built is not None and entry.on < engine.built:
        raise Refused(
            "on",
            f"{date_words(entry.on)} is before the engine was made, "
            f"{date_words(engine.built)}. Check the date.",
        )
    if entry.hours is not None:
        check_fits(engine, on=entry.on, hours=entry.hours, field="hours")
    return FuelRecord.objects.create(
        station=engine.station,
        engine=engine,
        on=entry.on,
        kind=entry.kind,
        quantity=checked_text(FuelRecord, "quantity", entry.quantity),
        unit=entry.unit,
        leaded_share=checked_text(FuelRecord, "leaded_share", entry.leaded_share),
        hours=entry.hours,
        remark=checked_text(FuelRecord, "remark", entry.remark),
        recorded_at=at,
        recorded_by=by,
    )


def fuel_of(row: FuelRecord, *, zero: int = 0) -> Fuel:
    """Return a stored record as the core reads it. `zero`: of its hours on the axis."""
    return fuel(
        on=row.on,
        quantity=row.quantity,
        unit=row.unit,
        kind=row.kind,
        leaded_share=row.leaded_share,
        hours=UNKNOWN if row.hours is None else Hours(row.hours - zero),
    )


def doubt_about_fuel(engine: Engine, entry: FuelEntry) -> str:
    """Return why an entry is in question, empty where it is not. One query.

    It is where the same fuel is entered for that day already, which is easily done by
    sending a form twice; hours that differ tell two fillings apart.
    """
    given = _checked(entry)
    for row in FuelRecord.objects.valid().filter(engine=engine, on=entry.on):
        other = fuel_of(row)
        known = UNKNOWN not in (other.hours, given.hours)
        if (other.litres, other.leaded) != (given.litres, given.leaded) or (
            known and other.hours != given.hours
        ):
            continue
        at = "" if row.hours is None else f" at {in_hours(row.hours)}"
        return (
            f"The same fuel is entered for that day already: {row.quantity} {row.unit} "
            f"{FuelKind(row.kind).label}{at}. Confirm it only if it was taken on twice."
        )
    return ""


def _checked(entry: FuelEntry) -> Fuel:
    try:
        given = fuel(
            on=entry.on,
            quantity=entry.quantity,
            unit=entry.unit,
            kind=entry.kind,
            leaded_share=entry.leaded_share.strip(),
            hours=UNKNOWN if entry.hours is None else Hours(entry.hours),
        )
    except RuleError as error:
        fault = error.faults[0]
        raise Refused(fault.path, fault.message) from error
    if given.litres > MOST_LITRES:
        raise Refused(
            "quantity",
            f"{entry.quantity} {entry.unit} is more than any such aircraft holds; one "
            f"record has at most {grouped(MOST_LITRES)} litres. Check the figure and "
            "the unit.",
        )
    return given

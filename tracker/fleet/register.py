"""The register: owners, engine types, engines, and what an engine is, where and whose."""

from __future__ import annotations

import re
import zoneinfo
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from fractions import Fraction
from typing import Final

from notices.rules.designations import designation, plain_text
from notices.rules.serials import fits_pattern, parse_serial
from tracker.accounts.models import Station, User
from tracker.fleet.entries import checked_day, checked_hours, checked_text
from tracker.fleet.errors import Refused
from tracker.fleet.history import columns_of, write_fact
from tracker.fleet.marks import lapse_reviews
from tracker.fleet.models import (
    DatedFact,
    Engine,
    EngineType,
    Fitting,
    Identity,
    Operation,
    Owner,
    OwnerKind,
    OwnerLogin,
    Ownership,
    PartRole,
    ServiceState,
    State,
    serial_key,
)

SINCE_MADE: Final = date(1900, 1, 1)
"""The day from which a first identity holds: whatever day is asked for, it was so."""

_REGISTRY = re.compile(r"[A-Z]{2}")
_SHARE = re.compile(r"[0-9]+(\.[0-9]+)?|[0-9]+/[1-9][0-9]*")
_TEMPERATURE = re.compile(r"-?[0-9]{1,4}(\.[0-9]{1,3})?")


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerFacts:
    name: str
    kind: str = OwnerKind.PRIVATE
    email: str = ""
    phone: str = ""
    time_zone: str = "UTC"


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeFacts:
    """`parts`: how many parts of each role the type holds, as in `{"magneto": 2}`."""

    designation: str
    maker: str
    serial_pattern: str = ""
    serial_run: int | None = None
    parts: Mapping[str, int] = field(default_factory=dict)


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
    """How an engine is run; shares and temperatures as entered."""

    uses: tuple[str, ...] = ()
    leaded_share: str = ""
    oil_low: str = ""
    oil_high: str = ""
    oil_unit: str = "C"


@dataclass(frozen=True, slots=True, kw_only=True)
class NewEngine:
    """An engine to enter; None: not known, and no row is written for it."""

    identity: IdentityFacts
    owner: Owner | None = None
    fitting: FittingFacts | None = None
    state: str = State.IN_SERVICE
    operation: OperationFacts | None = None


def add_owner(station: Station, facts: OwnerFacts) -> Owner:
    """Return a new owner; Refused if the station has one of that name."""
    return Owner.objects.create(station=station, **_owner_columns(station, facts, None))


def change_owner_entry(owner: Owner, facts: OwnerFacts) -> Owner:
    """Change the name and the addresses of an owner."""
    columns = _owner_columns(owner.station, facts, owner)
    Owner.objects.filter(pk=owner.pk).update(**columns)
    owner.refresh_from_db()
    return owner


def give_login(owner: Owner, user: User, at: datetime) -> OwnerLogin:
    """Let a person sign in for an owner; a second call changes nothing."""
    login, _ = OwnerLogin.objects.get_or_create(
        owner=owner, user=user, left_at=None, defaults={"joined_at": at}
    )
    return login


def end_login(owner: Owner, user: User, at: datetime) -> None:
    OwnerLogin.objects.filter(owner=owner, user=user, left_at=None).update(left_at=at)


def add_engine_type(station: Station, facts: TypeFacts) -> EngineType:
    """Return a new engine type with its part roles; Refused if the station has it."""
    made = EngineType.objects.create(station=station, **_type_columns(station, facts))
    _write_roles(made, facts.parts)
    return made


def change_engine_type(engine_type: EngineType, facts: TypeFacts) -> EngineType:
    """Correct a type's entry. What it is called may change, its engines stay."""
    columns = _type_columns(engine_type.station, facts, engine_type)
    EngineType.objects.filter(pk=engine_type.pk).update(**columns)
    engine_type.part_roles.all().delete()
    _write_roles(engine_type, facts.parts)
    engine_type.refresh_from_db()
    return engine_type


def add_engine(
    station: Station, entry: NewEngine, *, true_from: date, at: datetime, by: User
) -> Engine:
    """Return a new engine with its first facts. `true_from`: since when these hold.

    The identity holds since the engine was made. Refused with the field's name.
    """
    [engine] = add_engines(station, [entry], true_from=true_from, at=at, by=by)
    return engine


def add_engines(
    station: Station,
    entries: Sequence[NewEngine],
    *,
    true_from: date,
    at: datetime,
    by: User,
) -> list[Engine]:
    """Enter many engines in as many queries as one. Nothing is written if one is bad."""
    checked_day(station, "true_from", true_from, at)
    checked = [_checked_entry(station, entry, at) for entry in entries]
    _refuse_known_serials(station, checked)
    stamp = {"station": station, "recorded_at": at, "recorded_by": by}
    engines: list[Engine] = []
    facts: dict[type[DatedFact], list[DatedFact]] = {}
    for entry in checked:
        engine = Engine(station=station, created_at=at)
        engines.append(engine)
        for row in _first_rows(engine, entry, true_from, stamp):
            facts.setdefault(type(row), []).append(row)
            for name, value in columns_of(row).items():
                setattr(engine, name, value)
    Engine.objects.bulk_create(engines, batch_size=500)
    for model, rows in facts.items():
        model._default_manager.bulk_create(rows, batch_size=500)
    return engines


def change_identity(
    engine: Engine,
    facts: IdentityFacts,
    *,
    at: datetime,
    by: User,
    true_from: date | None = None,
) -> Identity:
    """Write what is stamped on the engine.

    `true_from`: the day on which it changed (a conversion); None: it was always so,
    and what stood there was wrong or incomplete.
    """
    checked = _checked_identity(engine.station, facts, at)
    same = Engine.objects.filter(
        station=engine.station,
        engine_type=checked.engine_type,
        serial_key=serial_key(checked.serial),
    ).exclude(pk=engine.pk)
    if same.exists():
        raise _known_already(checked)
    current = Identity.objects.get(engine=engine, current=True)
    return write_fact(
        Identity,
        station=engine.station,
        subject={"engine": engine},
        true_from=true_from or current.true_from,
        at=at,
        by=by,
        **_columns(checked),
    )


def change_owner(
    engine: Engine, owner: Owner, *, true_from: date, at: datetime, by: User
) -> Ownership:
    """Record a transfer. Reviews of the engine's history lapse with it."""
    if owner.station_id != engine.station_id:
        raise Refused("owner", "That owner is not known at this station.")
    transferred = engine.owner_id is not None and engine.owner_id != owner.pk
    row = write_fact(
        Ownership,
        station=engine.station,
        subject={"engine": engine},
        true_from=true_from,
        at=at,
        by=by,
        owner=owner,
    )
    if transferred:
        lapse_reviews(
            engine, reason=f"transferred to {owner}", true_from=true_from, at=at, by=by
        )
    return row


def fit_in_aircraft(
    engine: Engine, facts: FittingFacts, *, true_from: date, at: datetime, by: User
) -> Fitting:
    """Record where the engine is fitted from a day on, or that it is not fitted."""
    return write_fact(
        Fitting,
        station=engine.station,
        subject={"engine": engine},
        true_from=true_from,
        at=at,
        by=by,
        **_columns(_checked_fitting(facts)),
    )


def change_state(
    engine: Engine, state: str, *, true_from: date, at: datetime, by: User
) -> ServiceState:
    return write_fact(
        ServiceState,
        station=engine.station,
        subject={"engine": engine},
        true_from=true_from,
        at=at,
        by=by,
        state=_checked_state(state),
    )


def change_operation(
    engine: Engine, facts: OperationFacts, *, true_from: date, at: datetime, by: User
) -> Operation:
    return write_fact(
        Operation,
        station=engine.station,
        subject={"engine": engine},
        true_from=true_from,
        at=at,
        by=by,
        **_columns(_checked_operation(facts)),
    )


def _columns(facts: IdentityFacts | FittingFacts | OperationFacts) -> dict[str, object]:
    columns = {name: getattr(facts, name) for name in facts.__slots__}
    if isinstance(facts, OperationFacts):
        columns["uses"] = list(facts.uses)
    return columns


def _first_rows(
    engine: Engine, entry: NewEngine, true_from: date, stamp: Mapping[str, object]
) -> list[DatedFact]:
    dated = {"engine": engine, "true_from": true_from, **stamp}
    made = {**dated, "true_from": SINCE_MADE}
    rows: list[DatedFact] = [
        Identity(**made, **_columns(entry.identity)),
        ServiceState(**dated, state=entry.state),
    ]
    if entry.owner is not None:
        rows.append(Ownership(**dated, owner=entry.owner))
    if entry.fitting is not None:
        rows.append(Fitting(**dated, **_columns(entry.fitting)))
    if entry.operation is not None:
        rows.append(Operation(**dated, **_columns(entry.operation)))
    return rows


def _checked_entry(station: Station, entry: NewEngine, at: datetime) -> NewEngine:
    if entry.owner is not None and entry.owner.station_id != station.pk:
        raise Refused("owner", "That owner is not known at this station.")
    return replace(
        entry,
        identity=_checked_identity(station, entry.identity, at),
        fitting=entry.fitting and _checked_fitting(entry.fitting),
        state=_checked_state(entry.state),
        operation=entry.operation and _checked_operation(entry.operation),
    )


def _refuse_known_serials(station: Station, entries: Sequence[NewEngine]) -> None:
    known = set(
        Engine.objects.filter(
            station=station,
            engine_type__in={entry.identity.engine_type for entry in entries},
        ).values_list("engine_type", "serial_key")
    )
    for entry in entries:
        key = (entry.identity.engine_type.pk, serial_key(entry.identity.serial))
        if key in known:
            raise _known_already(entry.identity)
        known.add(key)


def _known_already(identity: IdentityFacts) -> Refused:
    return Refused(
        "serial",
        f"This station already keeps a {identity.engine_type} with the serial "
        f'"{identity.serial}". Open that engine, or check the serial on the data plate.',
    )


def _checked_identity(
    station: Station, facts: IdentityFacts, at: datetime
) -> IdentityFacts:
    if facts.engine_type.station_id != station.pk:
        raise Refused("engine_type", "That engine type is not known at this station.")
    serial = checked_text(Identity, "serial", facts.serial, required=True)
    try:
        parsed = parse_serial(serial)
    except ValueError as error:
        raise Refused("serial", str(error)) from error
    if len(serial_key(serial)) > 60:
        raise Refused("serial", f'The serial "{serial}" is too long to compare.')
    pattern = facts.engine_type.serial_pattern
    if pattern and not fits_pattern(parsed, pattern) and facts.type_complete:
        raise Refused(
            "serial",
            f'The serial "{serial}" does not have the shape of a '
            f'{facts.engine_type}, "{pattern}" (# for digits). Check the data plate; if '
            "it is stamped so, correct the pattern of the type first.",
        )
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


def _checked_fitting(facts: FittingFacts) -> FittingFacts:
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


def _checked_state(state: str) -> str:
    word = plain_text(state)
    if word not in State.values:
        raise Refused(
            "state",
            f'"{state}" is not a state. Write one of: {", ".join(State.values)}.',
        )
    return word


def _checked_operation(facts: OperationFacts) -> OperationFacts:
    uses = tuple(dict.fromkeys(plain_text(use) for use in facts.uses if use.strip()))
    for use in uses:
        if len(use) > 40 or not use.isprintable():
            raise Refused("uses", f'"{use[:40]!a}" is not a kind of operation.')
    share = facts.leaded_share.strip()
    if share and (not _SHARE.fullmatch(share) or Fraction(share) > 1):
        raise Refused(
            "leaded_share",
            f'"{facts.leaded_share}" is not a share of leaded fuel. '
            'Write a number from 0 to 1, such as "0.4" or "2/5".',
        )
    return replace(
        facts, uses=uses, leaded_share=share, **_checked_oil_temperatures(facts)
    )


def _checked_oil_temperatures(facts: OperationFacts) -> dict[str, str]:
    if facts.oil_unit not in {"C", "F"}:
        raise Refused("oil_unit", f'"{facts.oil_unit}" is not a unit. Write C or F.')
    low, high = facts.oil_low.strip(), facts.oil_high.strip()
    for name, text in (("oil_low", low), ("oil_high", high)):
        if text and not _TEMPERATURE.fullmatch(text):
            raise Refused(
                name, f'"{text}" is not a temperature. Write a number, such as "85".'
            )
    if bool(low) != bool(high):
        raise Refused(
            "oil_high" if low else "oil_low",
            "Enter both the lowest and the highest oil temperature, or neither.",
        )
    if low and Fraction(low) > Fraction(high):
        raise Refused("oil_low", f"The lowest oil temperature, {low}, is above {high}.")
    return {"oil_low": low, "oil_high": high}


def _owner_columns(
    station: Station, facts: OwnerFacts, owner: Owner | None
) -> dict[str, str]:
    columns = {
        field: checked_text(Owner, field, getattr(facts, field), required=required)
        for field, required in (("name", True), ("email", False), ("phone", False))
    }
    same = Owner.objects.filter(station=station, name__iexact=columns["name"])
    if (same.exclude(pk=owner.pk) if owner else same).exists():
        raise Refused(
            "name",
            f'This station already has an owner "{columns["name"]}". '
            "Add a place or a first name to tell the two apart.",
        )
    if facts.kind not in OwnerKind.values:
        raise Refused(
            "kind",
            f'"{facts.kind}" is not a kind of owner. '
            f"Write one of: {', '.join(OwnerKind.values)}.",
        )
    if facts.time_zone not in zoneinfo.available_timezones():
        raise Refused(
            "time_zone",
            f'"{facts.time_zone}" is not a time zone. Write one as in "Europe/Lisbon".',
        )
    return {**columns, "kind": facts.kind, "time_zone": facts.time_zone}


def _type_columns(
    station: Station, facts: TypeFacts, own: EngineType | None = None
) -> dict[str, object]:
    name = checked_text(EngineType, "designation", facts.designation, required=True)
    key = designation(name)
    same = EngineType.objects.filter(station=station, designation_key=key)
    if not key or (same.exclude(pk=own.pk) if own else same).exists():
        raise Refused(
            "designation",
            f'The type "{name}" is already entered at this station.'
            if key
            else f'"{name}" names no type. Write its designation, such as "MX-4".',
        )
    pattern = checked_text(EngineType, "serial_pattern", facts.serial_pattern)
    runs = len(re.findall(r"[0-9#]+", pattern))
    if facts.serial_run is not None and not 1 <= facts.serial_run <= max(runs, 1):
        raise Refused(
            "serial_run",
            f'The pattern "{pattern}" has {runs} runs of digits, so run '
            f"{facts.serial_run} cannot be the number.",
        )
    return {
        "maker": checked_text(EngineType, "maker", facts.maker, required=True),
        "designation": name,
        "designation_key": key,
        "serial_pattern": pattern,
        "serial_run": facts.serial_run,
    }


def _write_roles(engine_type: EngineType, parts: Mapping[str, int]) -> None:
    roles = {
        plain_text(checked_text(PartRole, "role", role, required=True)): count
        for role, count in parts.items()
    }
    for role, count in roles.items():
        if not 1 <= count <= 100:
            raise Refused("parts", f'An engine cannot hold {count} of "{role}".')
    PartRole.objects.bulk_create(
        PartRole(engine_type=engine_type, role=role, count=count)
        for role, count in roles.items()
    )

"""A fleet sheet -> what it would enter and change. Reads only.

Empty cells say nothing, so an import adds and corrects and never takes away. Rows are
matched to engines by type and serial.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from typing import Any, Final
from zoneinfo import ZoneInfo

from notices.rules.designations import designation, plain_text
from tracker.accounts.models import Station
from tracker.fleet.axis import Mark, marks_of, why_not
from tracker.fleet.doubts import doubt_beside
from tracker.fleet.engine_entries import (
    FittingFacts,
    IdentityFacts,
    NewEngine,
    OperationFacts,
    checked_entry,
)
from tracker.fleet.errors import Refused
from tracker.fleet.first_past import (
    FirstPast,
    FirstReading,
    HistoryReview,
    LastOverhaul,
)
from tracker.fleet.models import (
    Engine,
    EngineType,
    MeterKind,
    Owner,
    State,
    serial_key,
)
from tracker.fleet.owners import OwnerFacts
from tracker.fleet.sheets.fleet import (
    AIRCRAFT,
    COLUMNS,
    IMPORTED,
    NOT_FITTED,
    KeptRows,
    kept_rows,
    row_of,
)
from tracker.fleet.sheets.fleet_news import news
from tracker.fleet.sheets.plan import (
    Action,
    Entered,
    Fault,
    Plan,
    PlannedRow,
    RowFault,
    changes_between,
    entered,
)
from tracker.fleet.sheets.reading import Sheet

AboutUses = Callable[[Sequence[str]], str]
_COLUMN_OF: Final = {
    "built": "date of manufacture",
    "shipped": "date of shipping",
    "uses": "operation",
    "fitted": "registration",
    "hours": "hours at last overhaul",
    "shown": "TSN hours",
    **AIRCRAFT,
}
"""Columns of the sheet by the fields that the register's own checks name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineWish:
    """What a row asks for.

    `engine`: None for a new one. `values`: the cells that differ. `embodied`: the
    modifications that are new.
    """

    engine: Engine | None
    entry: NewEngine
    owner: OwnerFacts | None
    values: Mapping[str, Any]
    embodied: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """What a station keeps, as far as the rows of a sheet may meet it.

    `about_uses`: why kinds of operation are in question, "" where they are not.
    """

    station: Station
    today: date
    types: Mapping[str, EngineType]
    owners: Mapping[str, Owner]
    engines: Mapping[tuple[int, str], Engine]
    kept: KeptRows
    marks: Mapping[int, Sequence[Mark]]
    about_uses: AboutUses


def plan_fleet(
    station: Station, sheet: Sheet, today: date, *, about_uses: AboutUses
) -> Plan[EngineWish]:
    """Return what the sheet would do. Reads only; as many queries for any sheet.

    `about_uses`: why kinds of operation are in question, "" where they are not.
    """
    rows, faults = entered(sheet, COLUMNS)
    register = _register(station, rows, today, about_uses)
    planned: list[PlannedRow[EngineWish]] = []
    seen: dict[tuple[int, str], int] = {}
    kinds: dict[str, str] = {}
    for row in rows:
        try:
            key = _key(row, register)
            if key in seen:
                raise RowFault("serial", f"Line {seen[key]} is about the same engine.")
            seen[key] = row.line
            planned.append(_planned(row, key, register, kinds))
        except RowFault as fault:
            faults.append(Fault(row.line, fault.column, str(fault)))
    return Plan(
        name=sheet.name,
        digest=sheet.digest,
        rows=tuple(planned),
        faults=tuple(sorted(faults)),
    )


def _register(
    station: Station, rows: Sequence[Entered], today: date, about_uses: AboutUses
) -> Register:
    types = {t.designation_key: t for t in EngineType.objects.filter(station=station)}
    named = {types.get(designation(row.values["type"])) for row in rows}
    engines = list(
        Engine.objects.filter(
            station=station, engine_type__in=[t for t in named if t is not None]
        ).for_list()
    )
    return Register(
        station=station,
        today=today,
        types=types,
        owners={plain_text(o.name): o for o in Owner.objects.filter(station=station)},
        engines={(e.engine_type_id, e.serial_key): e for e in engines},
        kept=kept_rows(engines),
        marks=marks_of(engines),
        about_uses=about_uses,
    )


def _key(row: Entered, register: Register) -> tuple[int, str]:
    named = row.values["type"]
    engine_type = register.types.get(designation(named))
    if engine_type is None:
        known = ", ".join(sorted(t.designation for t in register.types.values()))
        raise RowFault(
            "type",
            f'The type "{named}" is not entered at this station. '
            f"Enter it first, or write one of: {known or 'none is entered yet'}.",
        )
    try:
        return engine_type.pk, serial_key(row.values["serial"])
    except ValueError as error:
        raise RowFault("serial", str(error)) from error


def _planned(
    row: Entered, key: tuple[int, str], register: Register, kinds: dict[str, str]
) -> PlannedRow[EngineWish]:
    engine = register.engines.get(key)
    kept = row_of(engine, register.kept) if engine else {}
    values = news(row.values, kept, engine, register.kept)
    owner = _owner(values, register, kinds)
    entry = _entry(row.values, engine, register)
    if owner is None and "owner" in values:
        entry = replace(entry, owner=register.owners[plain_text(values["owner"])])
    _check_hours(values, entry, engine, register)
    if engine is None:
        entry = replace(entry, past=_past(values))
    changes = changes_between(COLUMNS, kept, values)
    if engine is None:
        action = Action.ADD
    else:
        action = Action.CHANGE if changes else Action.UNCHANGED
    engine_type = entry.identity.engine_type
    return PlannedRow(
        line=row.line,
        about=f"{engine_type.designation}, serial {entry.identity.serial}",
        action=action,
        changes=changes,
        doubt=_doubt(values, kept, engine, register),
        wish=EngineWish(
            engine=engine,
            entry=entry,
            owner=owner,
            values={change.column: values[change.column] for change in changes},
            embodied=tuple(
                name
                for name in values.get("embodied modifications", ())
                if name not in kept.get("embodied modifications", ())
            ),
        ),
    )


def _doubt(
    values: Mapping[str, Any],
    kept: Mapping[str, Any],
    engine: Engine | None,
    register: Register,
) -> str:
    """Return why a new reading or operation is in question, if one is."""
    said = []
    if engine is not None and "TSN hours" in values:
        doubt = doubt_beside(
            register.kept.readings[engine.pk],
            on=values["reading date"],
            hours=values["TSN hours"] + (engine.hours_at_new or 0),
        )
        said.append(doubt)
    if "operation" in values and values["operation"] != kept.get("operation"):
        said.append(register.about_uses(values["operation"]))
    return " ".join(filter(None, said))


def _past(values: Mapping[str, Any]) -> FirstPast:
    """Return what a row says of the past of a new engine."""
    reading, overhaul, review = None, None, None
    if "TSN hours" in values:
        reading = FirstReading(
            on=values["reading date"],
            shown=values["TSN hours"],
            kind=values.get("meter kind", MeterKind.TIME_IN_SERVICE),
        )
    if "overhaul date" in values:
        overhaul = LastOverhaul(
            on=values["overhaul date"],
            hours=values.get("hours at last overhaul"),
            done_by=values.get("overhauled by", ""),
        )
    if "history reviewed on" in values:
        review = HistoryReview(
            on=values["history reviewed on"], person=values["history reviewed by"]
        )
    return FirstPast(
        reading=reading,
        overhaul=overhaul,
        embodied=values.get("embodied modifications", ()),
        source=IMPORTED,
        review=review,
    )


def _owner(
    values: Mapping[str, Any], register: Register, kinds: dict[str, str]
) -> OwnerFacts | None:
    """Return an owner to enter, None for one that is kept or where none is named."""
    name, kind = values.get("owner"), values.get("owner kind")
    if name is None:
        if kind is not None:
            raise RowFault("owner", "Fill this cell, too, or leave owner kind empty.")
        return None
    key = plain_text(name)
    known = register.owners.get(key)
    kept_kind = known.kind if known else kinds.get(key)
    if kind is not None and kept_kind is not None and kind != kept_kind:
        raise RowFault(
            "owner kind", f'"{name}" is entered as {kept_kind}. Make the two agree.'
        )
    if known is not None:
        return None
    if kept_kind is None and kind is None:
        raise RowFault(
            "owner kind",
            f'"{name}" is not entered yet. Say here what kind of owner it is: '
            "private, club, school or company.",
        )
    kinds.setdefault(key, kind or kept_kind or "")
    return OwnerFacts(name=name, kind=kinds[key])


def _entry(
    given: Mapping[str, Any], engine: Engine | None, register: Register
) -> NewEngine:
    """Return the engine as it would stand, checked; cells win over what is kept."""
    engine_type = register.types[designation(given["type"])]
    entry = NewEngine(
        identity=_identity(given, engine, engine_type),
        fitting=_fitting(given, engine, register.kept),
        state=given.get("state", engine.state if engine else State.IN_SERVICE),
        operation=_operation(given, engine, register.kept),
    )
    try:
        return checked_entry(register.station, entry, _moment(register))
    except Refused as refused:
        column = _COLUMN_OF.get(refused.field, refused.field)
        raise RowFault(column, str(refused)) from refused


def _moment(register: Register) -> datetime:
    """Return a moment of the day at the station for which the sheet is looked at."""
    zone = ZoneInfo(register.station.time_zone)
    return datetime.combine(register.today, time(12), zone).astimezone(UTC)


def _identity(
    given: Mapping[str, Any], engine: Engine | None, engine_type: EngineType
) -> IdentityFacts:
    return IdentityFacts(
        engine_type=engine_type,
        serial=engine.serial if engine else given["serial"],
        type_complete=engine.type_complete if engine else True,
        built=given.get("date of manufacture", engine and engine.built),
        shipped=given.get("date of shipping", engine and engine.shipped),
    )


def _fitting(
    given: Mapping[str, Any], engine: Engine | None, kept: KeptRows
) -> FittingFacts | None:
    cells = {f: given[c] for f, c in AIRCRAFT.items() if c in given}
    if not cells:
        return None
    if plain_text(cells.get("registration", "")) == NOT_FITTED:
        del cells["registration"]
        return FittingFacts(fitted=False, **cells)
    row = kept.fittings.get(engine.pk) if engine else None
    if row is None or not row.fitted:
        return FittingFacts(**cells)
    same_aircraft = cells.get("registration", row.registration) == row.registration
    return FittingFacts(
        **{name: cells.get(name, getattr(row, name)) for name in AIRCRAFT},
        airframe_hours=row.airframe_hours if same_aircraft else None,
    )


def _operation(
    given: Mapping[str, Any], engine: Engine | None, kept: KeptRows
) -> OperationFacts | None:
    if "operation" not in given:
        return None
    row = kept.operations.get(engine.pk) if engine else None
    if row is None:
        return OperationFacts(uses=given["operation"])
    others = (name for name in OperationFacts.__slots__ if name != "uses")
    return OperationFacts(
        uses=given["operation"], **{name: getattr(row, name) for name in others}
    )


def _check_hours(
    values: Mapping[str, Any],
    entry: NewEngine,
    engine: Engine | None,
    register: Register,
) -> None:
    """Refuse dates ahead or before the engine, and hours that do not fit its axis."""
    marks = list(register.marks[engine.pk]) if engine else []
    zero = (engine.hours_at_new or 0) if engine else 0
    for day_column, hours_column, what in (
        ("overhaul date", "hours at last overhaul", "overhaul in this row"),
        ("reading date", "TSN hours", "reading in this row"),
        ("history reviewed on", "", ""),
    ):
        on, hours = values.get(day_column), values.get(hours_column)
        if on is None:
            continue
        if on > register.today:
            raise RowFault(day_column, f"{on} lies after today, {register.today}.")
        built = entry.identity.built
        if built is not None and on < built:
            raise RowFault(
                day_column, f"{on} is before the date of manufacture, {built}."
            )
        if hours is None:
            continue
        against = why_not(marks, on=on, hours=hours + zero)
        if against is not None:
            raise RowFault(hours_column, against)
        marks.append(Mark(on=on, hours=hours + zero, said_by=what))
        marks.sort(key=lambda mark: (mark.on, mark.hours))

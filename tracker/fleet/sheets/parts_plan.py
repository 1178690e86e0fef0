"""A parts sheet -> which parts it would enter or describe better. Reads only.

A row meets the part of its role that has its place, or its serial, or is the only one
the engine can hold. It never moves or replaces a part: that is work, with a date and a
reason, and is entered on the engine's page.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from notices.rules.designations import designation, plain_text
from tracker.accounts.models import Station
from tracker.fleet.errors import Refused
from tracker.fleet.fitted_parts import FittedPart, parts_fitted
from tracker.fleet.known_parts import Key, key_of, known_parts, where_it_is
from tracker.fleet.models import Engine, EngineType, PartFitting, PartRole, serial_key
from tracker.fleet.parts import Fit, PartEntry, checked_part
from tracker.fleet.sheets.parts import COLUMNS, NEW, row_of
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

_COLUMN_OF: Final = {
    "number": "part number",
    "serial": "part serial",
    "built": "date of manufacture",
    "shipped": "date of shipping",
    "hours_new": "hours since new",
    "hours_overhaul": "hours since overhaul",
}
_SETTLED: Final = ("part number", "part serial", "change", "fitted")
"""Once known these change only with the part itself, or by a correction on its page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartWish:
    """What a row asks for. `fitting`: of the part that it meets, None for a new one.

    `described`, `fitted`: whether its description or its fitting says something new.
    """

    engine: Engine
    entry: PartEntry
    fit: Fit
    fitting: PartFitting | None
    true_from: date
    described: bool
    fitted: bool


class _Register:
    """What a station keeps, and what the rows read so far would add to it."""

    def __init__(
        self, station: Station, rows: Sequence[Entered], today: date, at: datetime
    ) -> None:
        self.station, self.today, self.at = station, today, at
        types = EngineType.objects.filter(station=station)
        self.types = {t.designation_key: t for t in types}
        named = {self.types.get(designation(r.values["engine type"])) for r in rows}
        engines = Engine.objects.filter(
            station=station, engine_type__in=[t for t in named if t is not None]
        ).for_list()
        self.engines = {(e.engine_type_id, e.serial_key): e for e in engines}
        self.holds = {
            (role.engine_type_id, role.role): role.count
            for role in PartRole.objects.filter(engine_type__station=station)
        }
        self.fitted: dict[tuple[int, str], list[FittedPart]] = defaultdict(list)
        for part in parts_fitted(self.engines.values(), on=today, known_at=at):
            self.fitted[part.fitting.engine_id, part.description.role].append(part)
        self.coming: dict[tuple[int, str], list[tuple[str, int]]] = defaultdict(list)
        self.met: dict[int, int] = {}
        self.entered: dict[Key, int] = {}
        keys = (_known_by(row.values) for row in rows)
        self.known = known_parts(station, filter(None, keys))


def plan_parts(
    station: Station, sheet: Sheet, *, today: date, at: datetime
) -> Plan[PartWish]:
    """Return what the sheet would do. Reads only; as many queries for any sheet."""
    rows, faults = entered(sheet, COLUMNS)
    register = _Register(station, rows, today, at)
    planned = []
    for row in rows:
        try:
            planned.append(_planned(row, register))
        except RowFault as fault:
            faults.append(Fault(row.line, fault.column, str(fault)))
    return Plan(
        name=sheet.name,
        digest=sheet.digest,
        rows=tuple(planned),
        faults=tuple(sorted(faults)),
    )


def _planned(row: Entered, register: _Register) -> PlannedRow[PartWish]:
    engine = _engine(row.values, register)
    values = {**row.values, "role": plain_text(row.values["role"])}
    if "change" in values:
        values["change"] = values["change"].upper()
    met = _met(row, values, engine, register)
    kept = row_of(engine, met) if met else {}
    for name in ("engine type", "engine serial", "place"):
        values[name] = kept.get(name, values.get(name))
    values = _settled(values, kept)
    changes = changes_between(COLUMNS, kept, values)
    differing = {change.column for change in changes}
    if met is None:
        _check_room(row, values, engine, register)
        _check_known(row, values, engine, register)
    wish = _wish({**kept, **values}, engine, met, differing, register)
    return PlannedRow(
        line=row.line,
        about=f"{engine}: {values['role']} {values.get('place') or ''}".strip(),
        action=Action.ADD
        if met is None
        else (Action.CHANGE if changes else Action.UNCHANGED),
        changes=changes,
        wish=wish,
    )


def _engine(values: Mapping[str, Any], register: _Register) -> Engine:
    engine_type = register.types.get(designation(values["engine type"]))
    if engine_type is None:
        raise RowFault(
            "engine type",
            f'The type "{values["engine type"]}" is not entered at this station.',
        )
    try:
        key = serial_key(values["engine serial"])
    except ValueError as error:
        raise RowFault("engine serial", str(error)) from error
    engine = register.engines.get((engine_type.pk, key))
    if engine is None:
        raise RowFault(
            "engine serial",
            f'No {engine_type} with the serial "{values["engine serial"]}" is kept at '
            "this station. Import the fleet sheet first.",
        )
    return engine


def _met(
    row: Entered, values: Mapping[str, Any], engine: Engine, register: _Register
) -> FittedPart | None:
    """Return the fitted part that a row is about, None if it is about a new one."""
    fitted = register.fitted[engine.pk, values["role"]]
    place, serial = values.get("place"), values.get("part serial")
    if place is not None:
        alike = [p for p in fitted if plain_text(p.fitting.place) == plain_text(place)]
    elif serial is not None:
        alike = [p for p in fitted if _same_serial(p.description.serial, serial)]
    else:
        alike = []
    if not alike and (register.holds.get((engine.engine_type_id, values["role"])) == 1):
        alike = fitted
    if not alike and place is None and serial is None:
        alike = fitted
    if len(alike) > 1:
        raise RowFault(
            "place",
            f"{engine} carries several of this role. Write the place or the serial.",
        )
    if not alike:
        return None
    [met] = alike
    if met.part.pk in register.met:
        raise RowFault(
            "role", f"Line {register.met[met.part.pk]} is about the same part."
        )
    register.met[met.part.pk] = row.line
    return met


def _same_serial(one: str, other: str) -> bool:
    return bool(one) and designation(one) == designation(other)


def _settled(values: Mapping[str, Any], kept: Mapping[str, Any]) -> dict[str, Any]:
    """Return the cells without mere differences of writing; refuse another part."""
    settled = {name: value for name, value in values.items() if value is not None}
    for name in _SETTLED:
        if name not in kept or name not in settled:
            continue
        if designation(str(settled[name])) == designation(str(kept[name])):
            settled[name] = kept[name]
        else:
            raise RowFault(
                name,
                f'Kept is "{kept[name]}". If another part is fitted now, replace it on '
                "the engine's page; if that is wrong, correct it there.",
            )
    return settled


def _known_by(values: Mapping[str, Any]) -> Key | None:
    return key_of(values.get("part number", ""), values.get("part serial", ""))


def _check_known(
    row: Entered, values: Mapping[str, Any], engine: Engine, register: _Register
) -> None:
    """Refuse a part as new that is entered already, on an engine or taken off one."""
    key = _known_by(values)
    if key is None:
        return
    if key in register.entered:
        raise RowFault(
            "part serial", f"Line {register.entered[key]} enters the same part."
        )
    register.entered[key] = row.line
    known = register.known.get(key)
    if known is not None:
        raise RowFault(
            "part serial",
            f"{where_it_is(*known, engine)} Fit that part on the engine's page, so that "
            "its hours and what is known of it follow it.",
        )


def _check_room(
    row: Entered, values: Mapping[str, Any], engine: Engine, register: _Register
) -> None:
    """Refuse a part beyond what the type holds, or in a place that is taken."""
    key = (engine.pk, values["role"])
    place = plain_text(values.get("place", ""))
    for taken, line in register.coming[key]:
        if taken == place:
            raise RowFault(
                "place", f"Line {line} is about the same role and place of this engine."
            )
    most = register.holds.get((engine.engine_type_id, values["role"]))
    there = len(register.fitted[key]) + len(register.coming[key])
    if most is not None and there >= most:
        raise RowFault(
            "role",
            f"A {engine.engine_type} holds {most} of this role, and {there} stand there "
            "already.",
        )
    register.coming[key].append((place, row.line))


def _wish(
    values: Mapping[str, Any],
    engine: Engine,
    met: FittedPart | None,
    differing: set[str],
    register: _Register,
) -> PartWish:
    entry = PartEntry(
        role=values["role"],
        number=values.get("part number", ""),
        serial=values.get("part serial", ""),
        change=values.get("change", ""),
        change_known=met.description.change_known if met else False,
        built=values.get("date of manufacture"),
        shipped=values.get("date of shipping"),
        never_overhauled=met.description.never_overhauled if met else False,
    )
    try:
        entry = checked_part(register.station, entry, register.at)
    except Refused as refused:
        column = _COLUMN_OF.get(refused.field, refused.field)
        raise RowFault(column, str(refused)) from refused
    if met is not None and "fitted" in differing:
        raise RowFault(
            "fitted",
            "This part was entered without that day. Correct how it was fitted on the "
            "engine's page, then import this row again.",
        )
    fitting = {"place", "hours since new", "hours since overhaul"} & differing
    return PartWish(
        engine=engine,
        entry=entry,
        fit=_fit(values, engine, entry, met, register),
        fitting=met.fitting if met else None,
        true_from=_day_fitted(values, engine, register),
        described=bool(differing - fitting),
        fitted=bool(fitting),
    )


def _day_fitted(values: Mapping[str, Any], engine: Engine, register: _Register) -> date:
    """Return the day, that of the engine's own making for "new", else today."""
    fitted = values.get("fitted")
    if isinstance(fitted, date):
        return fitted
    if fitted == NEW and engine.built is not None:
        return engine.built
    return register.today


def _fit(
    values: Mapping[str, Any],
    engine: Engine,
    entry: PartEntry,
    met: FittedPart | None,
    register: _Register,
) -> Fit:
    fitted = values.get("fitted")
    new, overhaul = values.get("hours since new"), values.get("hours since overhaul")
    if isinstance(fitted, date) and fitted > register.today:
        raise RowFault("fitted", f"{fitted} lies after today, {register.today}.")
    if isinstance(fitted, date) and entry.built is not None and fitted < entry.built:
        raise RowFault(
            "fitted", f"{fitted} is before the part was made, {entry.built}."
        )
    if new is not None and overhaul is not None and overhaul > new:
        raise RowFault(
            "hours since overhaul", "These are more than the hours since new."
        )
    if fitted == NEW and new:
        raise RowFault("hours since new", "A part that came new had no hours then.")
    return Fit(
        place=values.get("place", ""),
        date_known=isinstance(fitted, date),
        fitted_new=fitted == NEW or bool(met and met.fitting.fitted_new),
        engine_hours=_engine_hours(fitted, engine, met),
        hours_new=0 if fitted == NEW else new,
        hours_overhaul=overhaul,
    )


def _engine_hours(
    fitted: date | str | None, engine: Engine, met: FittedPart | None
) -> int | None:
    """The engine's hours at the moment that the part's hours are about.

    Where the day is not known that is now: the engine's newest reading.
    """
    if met is not None and met.fitting.engine_hours is not None:
        return met.fitting.engine_hours
    if fitted == NEW:
        return engine.hours_at_new
    return None if isinstance(fitted, date) else engine.hours_now

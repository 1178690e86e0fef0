"""Rows about engines -> the file of each. Reads the database; nothing is written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime

from notices.rules.designations import designation
from notices.rules.facts import (
    UNKNOWN,
    Axis,
    EngineFacts,
    Hours,
    HoursKept,
    Overhaul,
    TemperatureRange,
    Unknown,
)
from notices.rules.times.history import Event
from notices.rules.times.history import Reading as CoreReading
from tracker.compliance.facts.files import (
    EngineFile,
    PartFile,
    embodied_by,
)
from tracker.compliance.facts.identities import identity_row, stated_in
from tracker.compliance.facts.parts import part_files
from tracker.compliance.facts.rows import Rows, rows_of
from tracker.compliance.models import Record
from tracker.fleet.engine_entries import celsius
from tracker.fleet.fuel import fuel_of
from tracker.fleet.models import (
    Engine,
    Fitting,
    Identity,
    Modification,
    Operation,
    Review,
)
from tracker.fleet.models import Overhaul as OverhaulRow

SCHEDULED = "scheduled"


def engine_files(
    engines: Sequence[Engine], *, on: date, known_at: datetime | None = None
) -> dict[int, EngineFile]:
    """Return the file of each engine by its key. As many queries for all as for one."""
    rows = rows_of(engines, on=on, known_at=known_at)
    return {engine.pk: _file(engine, rows) for engine in engines}


def _file(engine: Engine, rows: Rows) -> EngineFile:
    key = engine.pk
    identity = rows.identities.get(key)
    tsn_zero = _tsn_zero(identity, rows.overhauls[key])
    zero = tsn_zero or 0
    readings = rows.readings[key]
    reading = readings[-1] if readings else None
    hours = reading.hours if reading else None
    reviewed_on = _reviewed_on(rows.reviews[key])
    records = tuple(rows.records[key])
    file = EngineFile(
        engine=engine,
        tsn_zero=tsn_zero,
        hours=hours,
        reading=reading,
        facts=EngineFacts(),
        readings=tuple(
            CoreReading(on=r.on, hours=Hours(r.hours - zero), meter=r.meter.kind)
            for r in readings
        ),
        events=_events(rows, key, zero),
        fuel=tuple(fuel_of(row, zero=zero) for row in rows.fuel[key]),
        reviewed_on=reviewed_on,
        parts=part_files(rows, key, reviewed_on=reviewed_on),
        records=records,
        declined={d.publication_id: d for d in rows.declined[key] if d.declined},
        alternatives=tuple(rows.alternatives[key]),
        searches=tuple(rows.searches[key]),
        fitting=rows.fittings.get(key),
        operation=rows.operations.get(key),
    )
    return replace(file, facts=_facts(file, rows, identity))


def _tsn_zero(
    identity: Identity | None, overhauls: Sequence[OverhaulRow]
) -> int | None:
    """A maker's rebuild starts a new zero (14 CFR 91.421(c))."""
    rebuild = _last_rebuild(overhauls)
    if rebuild is not None:
        return rebuild.hours
    return None if identity is None else identity.hours_at_new


def _last_rebuild(overhauls: Sequence[OverhaulRow]) -> OverhaulRow | None:
    rebuilds = [row for row in overhauls if row.kind == OverhaulRow.Kind.REBUILD]
    return rebuilds[-1] if rebuilds else None


def _reviewed_on(reviews: Sequence[Review]) -> date | None:
    for review in reviews:
        if review.scope == Review.HISTORY and review.valid:
            return review.true_from
    return None


def _facts(file: EngineFile, rows: Rows, identity: Identity | None) -> EngineFacts:
    if identity is None:
        return EngineFacts()
    key = file.engine.pk
    reviewed = file.reviewed_on is not None
    overhauls = rows.overhauls[key]
    rebuild = _last_rebuild(overhauls)
    embodied, absent = _embodied(file, rows.modifications[key])
    uses = frozenset(file.operation.uses) if file.operation else frozenset()
    return EngineFacts(
        **identity_row(
            stated_in(identity),
            None if rebuild is None else rebuild.on,
            reviewed=reviewed,
        )._asdict(),
        aircraft=_of_aircraft(file.fitting, "aircraft_type"),
        registry=_of_aircraft(file.fitting, "registry"),
        operation=uses or UNKNOWN,
        hours=_hours(file, overhauls),
        overhauls=_overhauls(overhauls, file.zero, reviewed=reviewed),
        embodied=embodied,
        not_embodied=absent,
        embodied_by={
            row.designation: row.true_from
            for row in rows.modifications[key]
            if row.embodied
        },
        complied=tuple(file.compliance(r) for r in _counting(file)),
        history_reviewed=reviewed,
        attributes={a.name: a.value for a in rows.attributes[key]},
        answers={
            (str(answer.revision_id), answer.question): answer.yes
            for answer in rows.answers[key]
            if answer.yes is not None
        },
        parts=tuple(part.facts for part in file.parts),
        roles_reviewed=frozenset(
            review.scope
            for review in rows.reviews[key]
            if review.valid and review.scope != Review.HISTORY
        ),
        role_counts=rows.of_type.get(identity.engine_type_id, {}),
        oil_temperature=temperatures(file.operation, "oil"),
        axis=_axis(file),
    )


def _counting(file: EngineFile) -> list[Record]:
    """The records that count for the engine: on parts, where every such part has one."""
    return [
        record
        for record in file.records
        if record.document_number
        and (record.part_id is None or _on_every_part(record, file.parts))
    ]


def _on_every_part(record: Record, parts: Sequence[PartFile]) -> bool:
    own = next((part for part in parts if part.key == record.part_id), None)
    if own is None:
        return False
    role = own.facts.role.casefold()
    alike = [part for part in parts if part.facts.role.casefold() == role]
    return all(
        any(r.document_number == record.document_number for r in part.records)
        for part in alike
    )


def _embodied(
    file: EngineFile, rows: Sequence[Modification]
) -> tuple[frozenset[str], frozenset[str]]:
    """Return what is embodied, and what is recorded as absent.

    What a record embodies stands until a later row says that it was taken out.
    """
    said = {row.designation_key: row for row in rows}
    embodied = {row.designation for row in rows if row.embodied}
    absent = {row.designation for row in rows if not row.embodied}
    for record in _counting(file):
        for name in embodied_by(record):
            row = said.get(designation(name))
            if row is None or row.embodied or row.true_from < record.on:
                embodied.add(name)
                absent -= {row.designation} if row else set()
    return frozenset(embodied), frozenset(absent)


def _of_aircraft(fitting: Fitting | None, field: str) -> str | Unknown | None:
    if fitting is None:
        return UNKNOWN
    if not fitting.fitted:
        return None
    return getattr(fitting, field) or UNKNOWN


def _axis(file: EngineFile) -> Axis:
    now = file.core_hours
    return Axis(
        now=UNKNOWN if now is None else now,
        new=UNKNOWN if file.tsn_zero is None else Hours(0),
    )


def _hours(file: EngineFile, overhauls: Sequence[OverhaulRow]) -> HoursKept:
    now = file.core_hours
    if now is None:
        return HoursKept()
    new = UNKNOWN if file.tsn_zero is None else now
    if not overhauls:
        never = file.reviewed_on is not None
        return HoursKept(new=new, overhaul=new if never else UNKNOWN)
    last = overhauls[-1].hours
    since = UNKNOWN if last is None else Hours(max(0, now - (last - file.zero)))
    return HoursKept(new=new, overhaul=since)


def _overhauls(
    rows: Sequence[OverhaulRow], zero: int, *, reviewed: bool
) -> tuple[Overhaul, ...] | Unknown:
    """All overhauls; a maker's rebuild counts as one by the maker."""
    if not rows:
        return () if reviewed else UNKNOWN
    return tuple(
        Overhaul(
            on=row.on,
            hours=UNKNOWN if row.hours is None else Hours(row.hours - zero),
            by="maker" if row.kind == OverhaulRow.Kind.REBUILD else row.by or UNKNOWN,
        )
        for row in rows
    )


def _events(rows: Rows, key: int, zero: int) -> tuple[Event, ...]:
    """Named events, rebuilds, and scheduled inspections that are on record."""

    def event(name: str, on: date, hours: int | None) -> Event:
        counted = UNKNOWN if hours is None else Hours(hours - zero)
        return Event(name=name, on=on, hours=counted)

    found = [event(row.name, row.on, row.hours) for row in rows.events[key]]
    for row in rows.overhauls[key]:
        if row.kind == OverhaulRow.Kind.REBUILD:
            found.append(event("rebuild", row.on, row.hours))
    for record in rows.records[key]:
        if record.publication is not None and record.publication.kind == SCHEDULED:
            found.append(event(record.publication.title, record.on, record.hours))
    return tuple(found)


def temperatures(operation: Operation | None, of: str) -> TemperatureRange | Unknown:
    """Return a recorded range in degrees Celsius; `of`: "oil" or "ambient"."""
    low, high, unit = (
        getattr(operation, f"{of}_{end}", "") for end in ("low", "high", "unit")
    )
    if not low or not high:
        return UNKNOWN
    return TemperatureRange(low=celsius(low, unit), high=celsius(high, unit))

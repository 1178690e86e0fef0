"""A sheet of past compliance -> which records it would add. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from notices.models import Provision, Publication, Revision, RuleVersion
from notices.rules.designations import designation, plain_text
from tracker.accounts.models import Station
from tracker.compliance.ledger import (
    Background,
    Entry,
    FreeDocument,
    RecordRefused,
    background_of,
    check,
    slot_of,
)
from tracker.compliance.models import Method, Record
from tracker.compliance.sheets.columns import COLUMNS
from tracker.fleet.entries import day_at
from tracker.fleet.fitted_parts import FittedPart, parts_fitted
from tracker.fleet.models import Engine, EngineType, Part, serial_key
from tracker.fleet.sheets.plan import (
    Action,
    Entered,
    Fault,
    Plan,
    PlannedRow,
    RowFault,
    entered,
)
from tracker.fleet.sheets.reading import Sheet

_COLUMN_OF = {
    "on": "date",
    "hours": "hours",
    "part": "part",
    "remarks": "remarks",
    "description": "work",
    "provision": "document",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PastWork:
    """A record that a row asks for."""

    engine: Engine
    entry: Entry


class _Library:
    """The documents that the rows name, with revisions, provisions and rules."""

    def __init__(self, station: Station, rows: Sequence[Entered]) -> None:
        keys = {designation(row.values["document"]) for row in rows}
        found = Publication.objects.filter(station=station, number_key__in=keys)
        self.publications = {one.number_key: one for one in found}
        self.revisions: dict[int, list[Revision]] = defaultdict(list)
        confirmed = Revision.objects.for_station(station).taken_over(date.max)
        for revision in confirmed.filter(publication__in=found).select_related(
            "publication"
        ):
            self.revisions[revision.publication_id].append(revision)
        self.provisions: dict[int, list[Provision]] = defaultdict(list)
        self.rules: dict[int, RuleVersion] = {}
        rules = RuleVersion.objects.valid().filter(
            provision__revision__publication__in=found,
            provision__kind=Provision.Kind.ACTION,
        )
        for rule in rules.select_related("provision__revision__publication"):
            self.rules[rule.provision_id] = rule
            self.provisions[rule.provision.revision_id].append(rule.provision)

    def provision(self, values: Mapping[str, Any]) -> Provision | None:
        """Return what a row was done under; None for a document not kept here."""
        publication = self.publications.get(designation(values["document"]))
        if publication is None:
            return None
        revision = self._revision(publication, values.get("revision"))
        provisions = self.provisions[revision.pk]
        if "item" in values:
            provisions = [p for p in provisions if p.order == values["item"]]
            if not provisions:
                raise RowFault(
                    "item", f"{revision} has no action {values['item']} to be done."
                )
        if len(provisions) != 1:
            raise RowFault(
                "item",
                f"{revision} asks for {len(provisions)} actions. Write which one it "
                "was: " + "; ".join(f"{p.order}, {p.title}" for p in provisions) + ".",
            )
        return provisions[0]

    def _revision(self, publication: Publication, label: str | None) -> Revision:
        revisions = self.revisions[publication.pk]
        if label is not None:
            revisions = [
                r for r in revisions if plain_text(r.label) == plain_text(label)
            ]
            if not revisions:
                raise RowFault(
                    "revision",
                    f'No revision "{label}" of {publication} is confirmed in the '
                    "library. Enter and confirm it first.",
                )
        if len(revisions) != 1:
            known = ", ".join(revision.label for revision in revisions) or "none"
            raise RowFault(
                "revision",
                f"Write under which revision of {publication} it was done. "
                f"Confirmed in the library: {known}.",
            )
        return revisions[0]


class _Register:
    """The engines that the rows name, with parts and everything entries must fit to."""

    def __init__(
        self, station: Station, rows: Sequence[Entered], library: _Library, at: datetime
    ) -> None:
        types = EngineType.objects.filter(station=station)
        self.types = {one.designation_key: one for one in types}
        named = [self.types.get(designation(r.values["engine type"])) for r in rows]
        engines = (
            Engine.objects.filter(
                station=station, engine_type__in=[t for t in named if t is not None]
            )
            .for_list()
            .select_related("station")
        )
        self.engines = {(e.engine_type_id, e.serial_key): e for e in engines}
        wanted = list(self.engines.values())
        revisions = [r for found in library.revisions.values() for r in found]
        self.backgrounds = background_of(wanted, revisions)
        self.parts: dict[int, list[FittedPart]] = defaultdict(list)
        for part in parts_fitted(wanted, on=day_at(station, at), known_at=at):
            self.parts[part.fitting.engine_id].append(part)

    def engine(self, values: Mapping[str, Any]) -> Engine:
        engine_type = self.types.get(designation(values["engine type"]))
        if engine_type is None:
            raise RowFault(
                "engine type",
                f'The type "{values["engine type"]}" is not entered at this station.',
            )
        try:
            key = serial_key(values["engine serial"])
        except ValueError as error:
            raise RowFault("engine serial", str(error)) from error
        engine = self.engines.get((engine_type.pk, key))
        if engine is None:
            raise RowFault(
                "engine serial",
                f'No {engine_type} with the serial "{values["engine serial"]}" is kept '
                "at this station. Import the fleet sheet first.",
            )
        return engine

    def part(
        self, engine: Engine, provision: Provision | None, values: Mapping[str, Any]
    ) -> Part | None:
        """Return the part a row is about: named, or the only one of the role."""
        named = values.get("part")
        role = provision.role if provision is not None else ""
        fitted = self.parts[engine.pk]
        if role:
            fitted = [
                part
                for part in fitted
                if plain_text(part.description.role) == plain_text(role)
            ]
        if named is None:
            if not role:
                return None
            found = fitted
        else:
            found = [part for part in fitted if _is_named(part, named)]
        if len(found) != 1:
            fitted_now = "; ".join(str(part) for part in fitted) or "none"
            raise RowFault(
                "part",
                f"Write the serial or the place of one part. Fitted: {fitted_now}.",
            )
        return found[0].part


def _is_named(part: FittedPart, named: str) -> bool:
    key = designation(named)
    place, serial = part.fitting.place, part.description.serial
    return key in {designation(text) for text in (place, serial) if text}


def plan_compliance(station: Station, sheet: Sheet, *, at: datetime) -> Plan[PastWork]:
    """Return what the sheet would add. As many queries for any sheet.

    A row that says what a record says already is unchanged; one that contradicts it is
    a fault. Rows are held against each other in the order of their dates.
    """
    rows, faults = entered(sheet, COLUMNS)
    library = _Library(station, rows)
    register = _Register(station, rows, library, at)
    planned = []
    for row in sorted(rows, key=_in_time):
        try:
            planned.append(_planned(row, library, register, at))
        except RowFault as fault:
            faults.append(Fault(row.line, fault.column, str(fault)))
        except RecordRefused as refused:
            column = _COLUMN_OF.get(refused.field, "")
            faults.append(Fault(row.line, column, str(refused)))
    return Plan(
        name=sheet.name,
        digest=sheet.digest,
        rows=tuple(sorted(planned, key=lambda row: row.line)),
        faults=tuple(sorted(faults)),
    )


def _in_time(row: Entered) -> tuple[date, int, int]:
    return (row.values["date"], row.values.get("hours", 0), row.line)


def _planned(
    row: Entered, library: _Library, register: _Register, at: datetime
) -> PlannedRow[PastWork]:
    engine = register.engine(row.values)
    provision = library.provision(row.values)
    part = register.part(engine, provision, row.values)
    entry = _entry(row.values, provision, part)
    past = register.backgrounds[engine.pk]
    slot = slot_of(entry, library.rules.get(provision.pk) if provision else None)
    action = _action(entry, past, slot)
    if action is Action.ADD:
        check(entry, past, at=at)
        past.held[slot] = _as_if_taken(entry, past)
        past.records.append(past.held[slot])
    return PlannedRow(
        line=row.line,
        about=f"{engine}: {entry.document_number}, {entry.on}",
        action=action,
        changes=(),
        wish=PastWork(engine=engine, entry=entry),
    )


def _action(entry: Entry, past: Background, slot: str) -> Action:
    held = past.held.get(slot)
    if held is None:
        return Action.ADD
    same = (held.on, held.hours, held.part_id) == (
        entry.on,
        entry.hours,
        entry.part.pk if entry.part else None,
    )
    if held.pk is None:
        raise RowFault("document", "Another row of this sheet says the same.")
    if not same:
        at_hours = "" if held.hours is None else f" at {held.hours / 100:g} h"
        raise RowFault(
            "date",
            f"Entry {held.sequence} records it already, on {held.on}{at_hours}. If that "
            "is wrong, void it first.",
        )
    return Action.UNCHANGED


def _as_if_taken(entry: Entry, past: Background) -> Record:
    """A record that is not kept, for the rows after it to be held against."""
    sequence = (past.records[-1].sequence if past.records else 0) + 1
    return Record(on=entry.on, hours=entry.hours, sequence=sequence)


def _entry(
    values: Mapping[str, Any], provision: Provision | None, part: Part | None
) -> Entry:
    free = FreeDocument(number=values["document"], revision=values.get("revision", ""))
    named = provision.title if provision is not None else values["document"]
    return Entry(
        on=values["date"],
        hours=values.get("hours"),
        provision=provision,
        document=None if provision is not None else free,
        part=part,
        part_hours=values.get("part hours"),
        airframe_hours=values.get("airframe hours"),
        method=Method(values.get("method", Method.PREVIOUSLY.value)),
        description=values.get("work") or f"{named}: done, as the logbook says.",
        result=values.get("result", ""),
        done_by=values.get("done by", ""),
        remarks=values.get("remarks", ""),
        page=values["page"],
    )

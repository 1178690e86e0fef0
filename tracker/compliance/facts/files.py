"""The file of one engine on a day: its facts, and the past that compliance times ask of.

Hours of the rows stand on the engine's own axis; the core counts from what that axis
showed when the engine was new or last rebuilt by its maker (`zero`), so that hours in
its sentences are TSN. What went before a rebuild lies below 0. Where TSN is not known
the core counts on the axis itself, and is told so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from typing import Final

from notices.rules.designations import designation
from notices.rules.facts import (
    UNKNOWN,
    Compliance,
    EngineFacts,
    Hours,
    PartFacts,
    Unknown,
)
from notices.rules.operating import Fuel, exact_share
from notices.rules.times.history import Done, Event, History
from notices.rules.times.history import Reading as CoreReading
from notices.rules.times.limits import event_key
from tracker.compliance.models import AlternativeMethod, Declined, Method, Record
from tracker.fleet.models import (
    Engine,
    Fitting,
    Operation,
    Reading,
    Search,
)
from tracker.fleet.parts import FittedPart

OVERHAUL: Final = "overhaul"
"""The key of the event that stands among an engine's facts and not among its events."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What of the past one rule asks for.

    `publication`, `number_key`, `order`: whose records count as having done it, the
    same order in another revision included. `credited`: keys of other documents whose
    records may count. `events`: keys of the events that its times name.
    """

    publication: int
    number_key: str
    order: int
    effective_on: date | None
    credited: frozenset[str] = frozenset()
    events: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class PartFile:
    """One fitted part. `reviewed`: what is not recorded of its past did not happen."""

    fitted: FittedPart
    facts: PartFacts
    records: tuple[Record, ...]
    reviewed: bool

    @property
    def key(self) -> int:
        return self.fitted.part.pk

    def __str__(self) -> str:
        return str(self.fitted)


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineFile:
    """Everything known of one engine on a day, as it was known at a moment.

    `hours`, `reading`: the newest reading on the engine's axis up to that day.
    `tsn_zero`: what the axis showed when TSN was 0, None where that is not known.
    `records`: valid ones of this engine, oldest first. `fuel`: all that was taken on,
    oldest first, and not withdrawn. `alternatives`: methods approved for provisions of
    any revision, those that have ended among them.
    """

    engine: Engine
    tsn_zero: int | None
    hours: int | None
    reading: Reading | None
    facts: EngineFacts
    readings: tuple[CoreReading, ...]
    events: tuple[Event, ...]
    fuel: tuple[Fuel, ...]
    reviewed_on: date | None
    parts: tuple[PartFile, ...]
    records: tuple[Record, ...]
    declined: Mapping[int, Declined]
    alternatives: tuple[AlternativeMethod, ...]
    searches: tuple[Search, ...]
    fitting: Fitting | None
    operation: Operation | None

    @property
    def declared_share(self) -> Fraction | Unknown:
        """The share of leaded fuel that the owner declares.

        It is not among the facts: a rule asks for the share since its own action was
        last done, in which the habit only stands in where no fuel is recorded.
        """
        said = "" if self.operation is None else self.operation.leaded_share
        return exact_share(said) if said else UNKNOWN

    @property
    def zero(self) -> int:
        """What the engine's axis shows where the core's own shows 0."""
        return self.tsn_zero or 0

    @property
    def core_hours(self) -> Hours | None:
        """The hours now as the core counts them."""
        return None if self.hours is None else Hours(self.hours - self.zero)

    def tsn_at(self, hours: int | None) -> int | None:
        """Return time since new where the engine's axis shows `hours`."""
        if hours is None or self.tsn_zero is None:
            return None
        return hours - self.tsn_zero

    def parts_of(self, role: str) -> tuple[PartFile, ...]:
        wanted = role.casefold()
        return tuple(p for p in self.parts if p.facts.role.casefold() == wanted)

    def facts_for(self, part: PartFile | None) -> EngineFacts:
        """The facts, for a rule about one part with what was done on that part only."""
        if part is None:
            return self.facts
        own = [r for r in self.records if r.part_id in (None, part.key)]
        known = {record.pk for record in own}
        own += [record for record in part.records if record.pk not in known]
        done = frozenset(name for record in own for name in embodied_by(record))
        return replace(
            self.facts,
            embodied=(self.facts.embodied | done) - self.facts.not_embodied,
            complied=tuple(self.compliance(record) for record in own),
        )

    def history_for(self, subject: Subject, part: PartFile | None) -> History:
        """The past as one rule asks for it. Not known is not the same as none."""
        effective = subject.effective_on
        return History(
            effective_on=UNKNOWN if effective is None else effective,
            done=self._done(subject, part),
            events=self._events(subject),
            readings=self.readings,
        )

    def records_of(self, subject: Subject, part: PartFile | None) -> tuple[Record, ...]:
        """The records that count as having done it, oldest first."""
        return tuple(r for r in self._pool(part) if is_about(r, subject))

    def credited_to(
        self, subject: Subject, part: PartFile | None
    ) -> tuple[Record, ...]:
        """The records of other work that counts for it, too, oldest first."""
        return tuple(
            record
            for record in self._pool(part)
            if designation(record.document_number) in subject.credited
            and not is_about(record, subject)
        )

    def _pool(self, part: PartFile | None) -> Iterable[Record]:
        if part is not None:
            return part.records
        return [record for record in self.records if record.part_id is None]

    def _done(
        self, subject: Subject, part: PartFile | None
    ) -> tuple[Done, ...] | Unknown:
        found = tuple(
            self._as_done(record)
            for record in self._pool(part)
            if is_about(record, subject)
            or designation(record.document_number) in subject.credited
        )
        reviewed = self.reviewed_on is not None if part is None else part.reviewed
        return found if found or reviewed else UNKNOWN

    def _as_done(self, record: Record) -> Done:
        here = record.engine_id == self.engine.pk
        return Done(
            on=record.on,
            hours=self._counted(record.hours) if here else UNKNOWN,
            number=record.document_number or UNKNOWN,
            revision=record.document_revision or UNKNOWN,
            result=record.result or UNKNOWN,
            en_route=record.en_route,
            part_hours=known(record.part_hours),
        )

    def _events(self, subject: Subject) -> tuple[Event, ...] | Unknown:
        recorded = {event_key(event.name) for event in self.events}
        if not isinstance(self.facts.overhauls, Unknown):
            recorded.add(OVERHAUL)  # they stand among the facts
        if self.reviewed_on is not None or subject.events <= recorded:
            return self.events
        return UNKNOWN

    def compliance(self, record: Record) -> Compliance:
        here = record.engine_id == self.engine.pk
        return Compliance(
            number=record.document_number,
            revision=record.document_revision or UNKNOWN,
            on=record.on,
            hours=self._counted(record.hours) if here else UNKNOWN,
        )

    def _counted(self, hours: int | None) -> Hours | Unknown:
        return UNKNOWN if hours is None else Hours(hours - self.zero)


def known(hours: int | None) -> Hours | Unknown:
    """Return hours from a column, in which null is not known."""
    return UNKNOWN if hours is None else Hours(hours)


def is_about(record: Record, subject: Subject) -> bool:
    """Whether a record counts as having done what a rule asks for."""
    if record.publication_id is None:
        if not record.document_number:
            return False
        if record.handed_over and record.text["document"]["provision"]:
            # Which provision of our own documents it was, nobody has said.
            return False
        return designation(record.document_number) == subject.number_key
    if record.publication_id != subject.publication or record.provision is None:
        return False
    return record.provision.order == subject.order


_LEAVES_A_MARK = frozenset({Method.DONE, Method.REPLACED, Method.TERMINATED})


def embodied_by(record: Record) -> frozenset[str]:
    """Return the designations that a record embodies, its own number included.

    Inspections, repeated actions and what was found not applicable embody nothing.
    """
    if record.method not in _LEAVES_A_MARK and record.method != Method.PREVIOUSLY:
        return frozenset()
    names = set(record.provision.embodies if record.provision else ())
    repeats = record.rule is not None and "repeat" in record.rule.action
    if record.document_number and not repeats:
        names.add(record.document_number)
    return frozenset(names)

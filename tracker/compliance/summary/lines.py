"""One line of a status: a document, what it asks, what was done, when it is next due.

What a line must show of a directive: 14 CFR 91.417(a)(2)(v) (number, revision date,
method of compliance; if recurring, time and date of the next action). The further
columns are those of the authority's suggested form for directives, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from notices.models import Kind, Provision, Publication, Revision
from notices.rules.compliance_time import Due, DuePoint, Rate, beside_words, state_at
from notices.rules.evaluate import Outcome
from notices.rules.facts import UNKNOWN, Unknown
from notices.rules.overhaul_wording import length_words
from notices.rules.times.limits import event_key
from notices.rules.times.wording import time_words
from tracker.compliance.facts import EngineFile
from tracker.compliance.findings import Assessment, CompiledRule
from tracker.compliance.models import Closed, Declined, Record
from tracker.compliance.states import lead_of, word_of, worded

_KINDS = {kind: place for place, kind in enumerate(Kind)}


@dataclass(frozen=True, slots=True)
class Counted:
    """Work or an inspection that counts as having done another thing; TSN where known."""

    name: str
    on: date
    tsn: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One provision that applies, or may. Hours are hundredths.

    `state`: its word. `revision_date`: effective date, issue date where there is none.
    `complied_*`: of the last record that counts; `next_hours` is on the engine's axis,
    `next_tsn` the same as TSN. `signatory`: who approved, with kind and number of the
    certificate, or that it was transcribed. `asks`: the times of the rule, in words, or
    the length of an interval.
    `counted_from`: other work that counts for it, from which the next point is counted.
    `alternative`: under what an alternative method of compliance was approved.
    """

    publication: Publication
    revision: Revision
    provision: Provision
    rule_number: int
    part: str
    outcome: str
    state: str
    revision_date: date | None
    recurring: bool
    method: str
    alternative: str
    complied_on: date | None
    complied_hours: int | None
    complied_tsn: int | None
    airframe_hours: int | None
    record: Record | None
    record_number: int | None
    counted_from: Counted | None
    signatory: str
    remarks: str
    asks: str
    next_hours: int | None
    next_tsn: int | None
    next_on: date | None
    next_events: tuple[str, ...]
    sentence: str
    reasons: tuple[str, ...]
    missing: tuple[str, ...]
    due: Due
    declined: Declined | None

    @property
    def number(self) -> str:
        return self.publication.number

    @property
    def subject(self) -> str:
        return self.provision.title

    @property
    def is_undetermined(self) -> bool:
        return self.state == "undetermined" or self.outcome == "undetermined"

    @property
    def next_note(self) -> str:
        """Why time or date of the next action is lacking, where it recurs and one is.

        Nothing where the other half of its limit is not known: that is said instead.
        """
        if not self.recurring or self.is_undetermined or not self._is_open:
            return ""
        if self.due.limits is not None and beside_words(self.due.limits):
            return ""
        if self.next_on is None and self.next_hours is None:
            return "no limit by hours or date"
        if self.next_on is None:
            return "no calendar limit"
        return "no limit by hours" if self.next_hours is None else ""

    @property
    def _is_open(self) -> bool:
        closed = ("complied with", "terminated", "nothing due", "not adopted")
        return self.state not in closed


@dataclass(frozen=True, slots=True, kw_only=True)
class NotApplicable:
    """One provision that does not apply, with the reason."""

    publication: Publication
    revision: Revision
    provision: Provision
    part: str
    reasons: tuple[str, ...]

    @property
    def reason(self) -> str:
        return " ".join(self.reasons)


def sort_key(line: Line | NotApplicable) -> tuple[int, str, int, str]:
    """By kind of document, then number, then order inside it."""
    publication = line.publication
    kind = _KINDS[Kind(publication.kind)]
    return (kind, publication.number_key, line.provision.order, line.part)


def not_applicable(assessed: Assessment) -> NotApplicable:
    rule = assessed.rule
    return NotApplicable(
        publication=rule.publication,
        revision=rule.revision,
        provision=rule.provision,
        part=str(assessed.part) if assessed.part else "",
        reasons=assessed.reasons,
    )


def line_of(
    assessed: Assessment, file: EngineFile, *, on: date, rate: Rate | None
) -> Line:
    """Return the line of what applies, or may, with its state on a day."""
    rule = assessed.rule
    due = state_of(assessed, file, on=on, rate=rate)
    records = file.records_of(rule.subject, assessed.part)
    record = records[-1] if records else None
    return Line(
        publication=rule.publication,
        revision=rule.revision,
        provision=rule.provision,
        rule_number=rule.version.number,
        part=str(assessed.part) if assessed.part else "",
        outcome=assessed.outcome.value,
        state=_word(assessed, due),
        revision_date=rule.revision.effective_on or rule.revision.issued_on,
        recurring=assessed.point.repeats
        or (rule.action is not None and rule.action.repeat is not None),
        asks=_asks(rule),
        sentence=due.sentence,
        reasons=assessed.reasons,
        missing=tuple(dict.fromkeys((*assessed.missing, *due.missing))),
        due=due,
        declined=assessed.declined,
        counted_from=_counted_from(assessed, file, due.point),
        **_complied(record, file),
        **_next(due, file),
    )


def _counted_from(
    assessed: Assessment, file: EngineFile, point: DuePoint
) -> Counted | None:
    """Return the other work on which the point rests, None where it rests on its own."""
    action, part, on = assessed.rule.action, assessed.part, point.last_on
    subject = assessed.rule.subject
    if action is None or on is None:
        return None
    if on in [record.on for record in file.records_of(subject, part)]:
        return None
    named = {event_key(name): f"the {name}" for name in action.counts}
    events = () if isinstance(file.events, Unknown) else file.events
    found = [r.document_number for r in file.credited_to(subject, part) if r.on == on]
    happened = [event_key(event.name) for event in events if event.on == on]
    found += [named[key] for key in happened if key in named]
    hours = None if point.last_hours is None else point.last_hours + file.zero
    return Counted(found[-1], on, file.tsn_at(hours)) if found else None


def _asks(rule: CompiledRule) -> str:
    action = rule.action
    if rule.interval is not None:
        asked = length_words(rule.interval)
        return f"{asked[:1].upper()}{asked[1:]}"
    if action is None:
        return ""
    asked = time_words(action.initial)
    if action.repeat is not None:
        asked += f"; then again {time_words(action.repeat)}"
    return f"{asked[:1].upper()}{asked[1:]}"


def state_of(
    assessed: Assessment, file: EngineFile, *, on: date, rate: Rate | None
) -> Due:
    """Return the exact state on a day, by the file's own reading."""
    hours = file.core_hours
    return worded(
        state_at(
            assessed.point,
            on=on,
            hours=UNKNOWN if hours is None else hours,
            lead=lead_of(file.engine.station),
            rate=rate,
            reading_on=file.reading.on if file.reading else None,
            meter=file.reading.meter.kind if file.reading else None,
        )
    )


def _word(assessed: Assessment, due: Due) -> str:
    if assessed.closed == Closed.NOT_ADOPTED:
        return Closed.NOT_ADOPTED.value
    if assessed.outcome is Outcome.UNDETERMINED and not due.further_flight:
        return Outcome.UNDETERMINED.value
    return word_of(due)


def _complied(record: Record | None, file: EngineFile) -> dict[str, Any]:
    if record is None:
        return {
            "method": "",
            "alternative": "",
            "complied_on": None,
            "complied_hours": None,
            "complied_tsn": None,
            "airframe_hours": None,
            "record": None,
            "record_number": None,
            "signatory": "",
            "remarks": "",
        }
    here = record.engine_id == file.engine.pk
    said = record.text
    return {
        "method": record.method,
        "alternative": alternative(said),
        "complied_on": record.on,
        "complied_hours": record.hours,
        "complied_tsn": file.tsn_at(record.hours) if here else None,
        "airframe_hours": record.airframe_hours,
        "record": record,
        "record_number": record.sequence,
        "signatory": signatory(said),
        "remarks": said["remarks"],
    }


def signatory(said: dict[str, Any]) -> str:
    """Return who approved, with kind and number of certificate, as a record says it."""
    approved = said["approved_by"]
    if approved is None:
        return said["transcribed"] or ""
    return ", ".join(
        approved[name] for name in ("name", "certificate_kind", "certificate_number")
    )


def alternative(said: dict[str, Any]) -> str:
    """Return reference and approval of an alternative method, empty where it was none."""
    given = said.get("alternative")
    return f"{given['reference']}, approved by {given['approved_by']}" if given else ""


def _next(due: Due, file: EngineFile) -> dict[str, Any]:
    hours = None if due.hours is None else due.hours + file.zero
    return {
        "next_hours": hours,
        "next_tsn": file.tsn_at(hours),
        "next_on": due.on,
        "next_events": due.events,
    }

"""Which records of an action count, in order, and what ends it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from notices.rules.designations import designation
from notices.rules.evaluate import CompiledCondition, Outcome
from notices.rules.facts import Unknown
from notices.rules.times.actions import Action, Document
from notices.rules.times.anchors import effective_place, record_place
from notices.rules.times.history import Done
from notices.rules.times.occurrences import recorded
from notices.rules.times.situations import Place, Situation


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """One record with its place, and whether it counts: None where that is not known.

    `prior`: done before the effective date, and counts by credit if at all.
    """

    record: Done
    place: Place
    counts: bool | None
    prior: bool = False
    missing: tuple[str, ...] = ()


def counted_records(action: Action, now: Situation) -> tuple[Counted, ...]:
    """Return the records in the order they were made, with events that count as one."""
    done = () if isinstance(now.history.done, Unknown) else now.history.done
    others = [
        Done(on=event.on, hours=event.hours)
        for name in action.counts
        if not isinstance(events := recorded(name, now), Unknown)
        for event in events
    ]
    if not done and not others:
        return ()
    effective = effective_place(now)
    placed = [(record, record_place(record, now)) for record in (*done, *others)]
    return tuple(
        _count(record, place, action, effective) for record, place in _in_order(placed)
    )


def unsaid(action: Action, now: Situation) -> tuple[str, ...]:
    """Return what nobody has said about the past of this action."""
    found = []
    if isinstance(now.history.done, Unknown):
        found.append("whether and when it was done")
    found += [
        f"whether and when there was: {name}"
        for name in action.counts
        if isinstance(recorded(name, now), Unknown)
    ]
    return tuple(found)


def _in_order(placed: Sequence[tuple[Done, Place]]) -> Sequence[tuple[Done, Place]]:
    if all(not isinstance(record.on, Unknown) for record, _ in placed):
        return sorted(placed, key=lambda one: (one[0].on, _hours(one[1])))
    if all(not isinstance(place.hours, Unknown) for _, place in placed):
        return sorted(placed, key=lambda one: _hours(one[1]))
    return placed


def _hours(place: Place) -> int:
    return -1 if isinstance(place.hours, Unknown) else place.hours


def _count(record: Done, place: Place, action: Action, effective: Place) -> Counted:
    is_prior = _is_prior(place, effective)
    counts: bool | None = True
    missing: tuple[str, ...] = ()
    if is_prior is not False:
        counts, missing = _is_credited(record, action)
    if is_prior is None and counts is not True:
        lacking = "whether the record lies before the effective date"
        counts, missing = None, (lacking, *missing)
    return Counted(
        record=record,
        place=place,
        counts=counts,
        prior=is_prior is not False,
        missing=missing,
    )


def _is_prior(place: Place, effective: Place) -> bool | None:
    """Return whether a record lies before the effective date, by hours if need be."""
    if effective.is_nowhere:
        return False
    if not isinstance(effective.on, Unknown) and not isinstance(place.on, Unknown):
        return place.on < effective.on
    if isinstance(effective.hours, Unknown) or isinstance(place.hours, Unknown):
        return None
    if effective.lowest is None or effective.highest is None:
        return None if place.estimated else place.hours < effective.hours
    if place.hours < effective.lowest:
        return True
    return False if place.hours >= effective.highest else None


def _is_credited(record: Done, action: Action) -> tuple[bool | None, tuple[str, ...]]:
    credit = action.credit
    if credit is None:
        return False, ()
    if credit.of is None:
        return True, ()
    if isinstance(record.number, Unknown):
        return None, ("by which document it was done",)
    answers = [_is_of(record, document) for document in credit.of]
    if True in answers:
        return True, ()
    if None in answers:
        return None, (f"by which revision of {record.number} it was done",)
    return False, ()


def _is_of(record: Done, document: Document) -> bool | None:
    if not _same_number(record, document.number):
        return False
    if document.revisions is None:
        return True
    if isinstance(record.revision, Unknown):
        return None
    listed = {revision.strip().casefold() for revision in document.revisions}
    return record.revision.strip().casefold() in listed


def _same_number(record: Done, number: str) -> bool:
    if isinstance(record.number, Unknown):
        return False
    return designation(record.number) == designation(number)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """Whether the action has ended for good; None where that is not known."""

    ended: bool | None
    reasons: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


def ending(action: Action, now: Situation) -> Ending:
    """Return whether something in `ends_with` is satisfied, at any date.

    A number ends it where it is embodied or complied with; for a part only where the
    record is of that very part.
    """
    missing: list[str] = []
    unknown = False
    for end, compiled in zip(action.ends_with, action.compiled_ends, strict=True):
        if isinstance(end, str):
            one = _by_number(end, compiled, now)
        else:
            one = _by(compiled, now)
        if one.ended:
            return one
        unknown = unknown or one.ended is None
        missing.extend(one.missing)
    return Ending(ended=None if unknown else False, missing=tuple(missing))


def _by_number(number: str, compiled: CompiledCondition, now: Situation) -> Ending:
    done = now.history.done
    if not isinstance(done, Unknown):
        for record in done:
            if _same_number(record, number):
                return Ending(ended=True, reasons=(f"{number} was done.",))
    if now.asked.part is None:
        return _by(compiled, now)
    if isinstance(done, Unknown):
        lacking = f"whether {number} was done on this {now.asked.part.role}"
        return Ending(ended=None, missing=(lacking,))
    return Ending(ended=False)


def _by(condition: CompiledCondition, now: Situation) -> Ending:
    outcome = condition.outcome_of(now.subject)
    if outcome is Outcome.UNDETERMINED:
        return Ending(ended=None, missing=condition.missing_of(now.subject))
    if outcome is Outcome.DOES_NOT_APPLY:
        return Ending(ended=False)
    return Ending(ended=True, reasons=condition.answer_of(now.subject).reasons)

"""Whether an extension that must be entered within so many hours or years was, or can be.

Reaching the bound exactly is still in time. What has been done counts from when it was
done: the extension was entered in time if its condition held when the bound was reached,
that is, without what was done later. Where it is not recorded when something was done,
both are thought possible. What is no work (a serial number, a way of running) is taken
as it is now; where nothing had to be done, nothing tells when an engine entered, and
once it is past the bound that is not known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import reduce
from itertools import product
from typing import Final

from notices.rules.applicability.nodes import (
    Complied,
    Embodied,
    PartWhere,
    leaves_of,
)
from notices.rules.applicability.subjects import part_label
from notices.rules.designations import Designation, designation, plain_text
from notices.rules.evaluate import Outcome
from notices.rules.facts import (
    UNKNOWN,
    Compliance,
    EngineFacts,
    Hours,
    PartFacts,
    Unknown,
)
from notices.rules.intervals.falling import hours_leaf, years_leaf
from notices.rules.intervals.judging import Chain, Inquiry, once
from notices.rules.intervals.provisions import Interval
from notices.rules.intervals.wording import entry_words
from notices.rules.phrases import date_words
from notices.rules.times.points import Leaf
from notices.rules.times.situations import Place, Situation, filled

MOST_DOUBTS: Final = 6
"""So many acts of unknown date are thought through, both ways: 64 cases."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """By when one extension must be entered, as points; None where it has no such bound."""

    one: Interval
    hours: Leaf | None
    years: Leaf | None

    @property
    def both(self) -> tuple[Leaf, ...]:
        return tuple(leaf for leaf in (self.hours, self.years) if leaf is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """Whether a chain is entered in time; None where that is not known.

    `fixed`: what the engine is told that has run past a bound. `missing`: on what an
    open answer hangs.
    """

    in_time: bool | None
    fixed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


def bounds_of(chain: Chain, now: Situation) -> tuple[Bounds, ...]:
    """Return by when each extension of a chain must be entered, nearest first."""
    return tuple(
        Bounds(
            one=one,
            hours=None if by.hours is None else hours_leaf(by.hours, one.since, now),
            years=None if by.years is None else years_leaf(by.years, one.since, now),
        )
        for one in chain.members
        if (by := one.enter_by) is not None
    )


def entry_now(several: Sequence[Bounds], now: Situation) -> Entry:
    """Return whether a chain can still be entered, on the day asked for."""
    found = [_now(one, now) for one in several]
    return Entry(
        in_time=_all(one.in_time for one in found),
        fixed=once(text for one in found for text in one.fixed),
        missing=once(text for one in found for text in one.missing),
    )


def entry_done(several: Sequence[Bounds], inquiry: Inquiry, at_present: Entry) -> Entry:
    """Return whether a chain whose conditions hold was entered in time.

    `at_present`: whether it could be entered now; if so, it cannot have been too late.
    """
    if at_present.in_time is True:
        return at_present
    found = [
        _done(one, inquiry)
        for one in several
        if _now(one, inquiry.situation).in_time is not True
    ]
    in_time = _all(one.in_time for one in found)
    if in_time is True:
        return Entry(in_time=True)
    missing = once(text for one in found for text in one.missing)
    return Entry(
        in_time=in_time,
        fixed=at_present.fixed,
        missing=missing if in_time is None else (),
    )


def _all(answers: Iterator[bool | None] | Sequence[bool | None]) -> bool | None:
    several = list(answers)
    if False in several:
        return False
    return None if None in several else True


def _now(bounds: Bounds, now: Situation) -> Entry:
    place = Place(on=now.asked.on, hours=now.facts.axis_now)
    answers = [_within(leaf, place) for leaf in bounds.both]
    in_time = _all(answers)
    fixed = tuple(
        entry_words(bounds.one.id, leaf, place)
        for leaf, answer in zip(bounds.both, answers, strict=True)
        if answer is False
    )
    missing = tuple(
        fact
        for leaf, answer in zip(bounds.both, answers, strict=True)
        if answer is None
        for fact in leaf.missing or (_lacking(leaf),)
    )
    return Entry(in_time=in_time, fixed=fixed, missing=missing)


def _lacking(leaf: Leaf) -> str:
    return "time since new" if leaf.on is None else "the day asked for"


def _within(leaf: Leaf, place: Place) -> bool | None:
    """Return whether a place lies no later than a bound."""
    if leaf.on is not None and leaf.hours is None:
        return None if isinstance(place.on, Unknown) else place.on <= leaf.on
    earliest = leaf.earliest_hours
    if earliest is None or isinstance(place.hours, Unknown):
        return None
    highest = place.hours if place.highest is None else place.highest
    lowest = place.hours if place.lowest is None else place.lowest
    if highest <= earliest:
        return True
    # The later bound of an estimate is not kept with the point, so it stays open.
    return False if not leaf.estimated and lowest > earliest else None


# What was done, and when.


@dataclass(frozen=True, slots=True, kw_only=True)
class _Act:
    """Something that was done. `without`: the facts as they were before it.

    `places`: when it may have been done; none where that is not recorded.
    """

    words: str
    places: tuple[Place, ...]
    without: Callable[[EngineFacts], EngineFacts]

    def within(self, several: Sequence[Leaf]) -> bool | None:
        """Return whether it was done no later than these bounds."""
        answers = {
            _all(_within(leaf, place) for leaf in several) for place in self.places
        }
        return answers.pop() if len(answers) == 1 else None


def _done(bounds: Bounds, inquiry: Inquiry) -> Entry:
    chain = inquiry.chain(bounds.one)
    acts = list(_acts(chain, inquiry.situation))
    if not acts:
        return Entry(in_time=None, missing=(f"when {bounds.one.id} was entered",))
    when = [(act, act.within(bounds.both)) for act in acts]
    late = [act for act, in_time in when if in_time is False]
    doubts = [act for act, in_time in when if in_time is None]
    if len(doubts) > MOST_DOUBTS:
        return Entry(in_time=None, missing=once(act.words for act in doubts))
    outcomes: set[Outcome] = set()
    missing: list[str] = []
    for choice in product((False, True), repeat=len(doubts)):
        left_out = [act for act, out in zip(doubts, choice, strict=True) if out]
        facts = reduce(lambda f, act: act.without(f), [*late, *left_out], inquiry.facts)
        verdict = inquiry.verdict_with(chain, facts)
        outcomes.add(verdict.outcome)
        missing += verdict.missing
    if outcomes == {Outcome.APPLIES} and _holds_without(acts, chain, inquiry):
        return Entry(in_time=None, missing=(f"when {bounds.one.id} was entered",))
    if len(outcomes) == 1 and Outcome.UNDETERMINED not in outcomes:
        return Entry(in_time=Outcome.APPLIES in outcomes)
    lacking = [act.words for act in doubts] or missing
    return Entry(in_time=None, missing=once(lacking))


def _holds_without(acts: Sequence[_Act], chain: Chain, inquiry: Inquiry) -> bool:
    """Return whether a chain would hold if none of these acts had been done."""
    facts = reduce(lambda f, act: act.without(f), acts, inquiry.facts)
    return inquiry.verdict_with(chain, facts).outcome is Outcome.APPLIES


def _acts(chain: Chain, now: Situation) -> Iterator[_Act]:
    """Yield what was done that the conditions of a chain look at, each once."""
    seen: set[object] = set()
    for member in chain.members:
        for leaf in () if member.when is None else leaves_of(member.when):
            match leaf:
                case Embodied() | Complied():
                    key: object = (type(leaf), designation(leaf.number))
                case PartWhere():
                    key = (PartWhere, plain_text(leaf.role))
                case _:
                    continue
            if key in seen:
                continue
            seen.add(key)
            match leaf:
                case Embodied():
                    yield from _embodied(designation(leaf.number), leaf.number, now)
                case Complied():
                    yield from _complied(designation(leaf.number), now)
                case PartWhere():
                    yield from _fitted(plain_text(leaf.role), now)


def _embodied(number: Designation, words: str, now: Situation) -> Iterator[_Act]:
    """Yield the embodying of a modification, at one of the records for its number."""
    named = {name for name in now.facts.embodied if designation(name) == number}
    if named:
        records = _records(now.facts, number)
        yield _Act(
            words=f"when {words} was embodied",
            places=tuple(_record_place(one, now) for one in records),
            without=lambda f: replace(
                f, embodied=f.embodied - named, not_embodied=f.not_embodied | named
            ),
        )


def _complied(number: Designation, now: Situation) -> Iterator[_Act]:
    for record in _records(now.facts, number):
        words = f"when {record.number} was complied with"
        if isinstance(record.on, date):
            day = date_words(record.on)
            words = f"hours at the record for {record.number} of {day}"
        yield _Act(
            words=words,
            places=(_record_place(record, now),),
            without=_without_record(record),
        )


def _without_record(record: Compliance) -> Callable[[EngineFacts], EngineFacts]:
    return lambda f: replace(
        f, complied=tuple(one for one in f.complied if one is not record)
    )


def _records(facts: EngineFacts, number: Designation) -> list[Compliance]:
    return [one for one in facts.complied if designation(one.number) == number]


def _record_place(record: Compliance, now: Situation) -> Place:
    return filled(Place(on=record.on, hours=record.hours), now, "")


def _fitted(role: str, now: Situation) -> Iterator[_Act]:
    for part in now.facts.parts:
        if plain_text(part.role) == role:
            yield _Act(
                words=f"when the {part_label(part)} was fitted",
                places=(_fitting_place(part, now),),
                without=_without_part(part),
            )


def _fitting_place(part: PartFacts, now: Situation) -> Place:
    facts = now.facts
    if part.fitted == "new":
        return Place(on=facts.built, hours=facts.axis_new)
    hours: Hours | Unknown = UNKNOWN
    shown, run = facts.axis_now, part.hours.fitted
    if not isinstance(shown, Unknown) and not isinstance(run, Unknown):
        hours = Hours(shown - run)
    return filled(Place(on=part.fitted, hours=hours), now, "")


def _without_part(part: PartFacts) -> Callable[[EngineFacts], EngineFacts]:
    """Return the facts before a part was fitted: what was there then is not known."""
    role = plain_text(part.role)
    return lambda f: replace(
        f,
        parts=tuple(one for one in f.parts if one is not part),
        roles_reviewed=frozenset(r for r in f.roles_reviewed if plain_text(r) != role),
    )

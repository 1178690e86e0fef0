"""Whether an extension that must be entered within so many hours or years was, or can be.

Reaching the bound exactly is still in time. What has been done counts from when it was
done: the extension was entered in time if its condition held when the bound was reached,
that is, without what was done later. Where it is not recorded when something was done,
both are thought possible. What is no work (a serial number, a way of running) is taken
as it is now; where nothing had to be done, nothing tells when an engine entered, and
once it is past the bound that is not known.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import combinations, islice
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
from notices.rules.intervals.wording import entry_words, late_words
from notices.rules.phrases import date_words
from notices.rules.times.points import Leaf
from notices.rules.times.situations import Place, Situation, filled

MOST_ACTS: Final = 200
"""Of an engine on which more was done it is not worked out."""
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

    `told`: what an engine is told that has run past a bound; `fixed`: what of it nobody
    can change, as no overhaul begins the count anew. `missing`: on what an open answer
    hangs. `still_open`: the bounds of extensions that were not entered in time already.
    """

    in_time: bool | None
    told: tuple[str, ...] = ()
    fixed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    still_open: tuple[Bounds, ...] = ()


def _not_in_time(
    bounds: Bounds,
    told: tuple[str, ...],
    *,
    missing: Iterable[str] = (),
    in_time: bool | None = None,
) -> Entry:
    fixed = told if bounds.one.since == "new" else ()
    return Entry(in_time=in_time, told=told, fixed=fixed, missing=once(missing))


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


def entry_of(several: Sequence[Bounds], inquiry: Inquiry) -> Entry:
    """Return whether a chain was entered in time, or can still be.

    An extension whose conditions hold was entered when what they ask for was done; the
    others would be entered on the day asked for.
    """
    found = [(one, _entry(one, inquiry)) for one in several]
    return Entry(
        in_time=_all(entry.in_time for _, entry in found),
        told=once(text for _, entry in found for text in entry.told),
        fixed=once(text for _, entry in found for text in entry.fixed),
        missing=once(text for _, entry in found for text in entry.missing),
        still_open=tuple(
            one
            for one, entry in found
            if entry.in_time is not True or not _conditions_hold(one, inquiry)
        ),
    )


def _entry(bounds: Bounds, inquiry: Inquiry) -> Entry:
    now = _now(bounds, inquiry.situation)
    if now.in_time is True or not _conditions_hold(bounds, inquiry):
        return now
    return _done(bounds, inquiry, now)


def _conditions_hold(bounds: Bounds, inquiry: Inquiry) -> bool:
    return inquiry.verdict(bounds.one).outcome is Outcome.APPLIES


def _all(answers: Iterator[bool | None] | Sequence[bool | None]) -> bool | None:
    several = list(answers)
    if False in several:
        return False
    return None if None in several else True


def _now(bounds: Bounds, now: Situation) -> Entry:
    place = Place(on=now.asked.on, hours=now.facts.axis_now)
    answers = [_within(leaf, place) for leaf in bounds.both]
    in_time = _all(answers)
    told = tuple(
        entry_words(bounds.one, leaf, place)
        for leaf, answer in zip(bounds.both, answers, strict=True)
        if answer is False
    )
    missing = tuple(
        fact
        for leaf, answer in zip(bounds.both, answers, strict=True)
        if answer is None
        for fact in leaf.missing or (_lacking(leaf),)
    )
    return _not_in_time(bounds, told, missing=missing, in_time=in_time)


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
    """Something that was done: names embodied, a record made, or a part fitted.

    `done`: that it was, as a clause; `words`: when, as a fact. `places`: when it may
    have been done; none where that is not recorded. `by`: when it was at the latest.
    """

    done: str
    words: str
    places: tuple[Place, ...]
    by: Place | None = None
    embodied: frozenset[str] = frozenset()
    made: Compliance | PartFacts | None = None

    def within(self, several: Sequence[Leaf]) -> bool | None:
        """Return whether it was done no later than these bounds."""
        if self.by and _all(_within(leaf, self.by) for leaf in several) is True:
            return True
        answers = {
            _all(_within(leaf, place) for leaf in several) for place in self.places
        }
        return answers.pop() if len(answers) == 1 else None

    def late_words(self, bounds: Bounds) -> str:
        """Return that it was done past one of the bounds, which it was."""
        place, leaf = next(
            (place, leaf)
            for place in self.places
            for leaf in bounds.both
            if _within(leaf, place) is False
        )
        return late_words(self.done, bounds.one, leaf, place)


def _done(bounds: Bounds, inquiry: Inquiry, now: Entry) -> Entry:
    """Return whether the conditions, which hold, did when the bound was reached.

    `now`: what is told of an engine that has run past it.
    """
    chain = inquiry.chain(bounds.one)
    acts = list(islice(_acts(chain, inquiry.situation), MOST_ACTS + 1))
    not_told = replace(
        now, in_time=None, missing=(f"when {bounds.one.id} was entered",)
    )
    if not acts or len(acts) > MOST_ACTS:
        return not_told
    when = [(act, act.within(bounds.both)) for act in acts]
    late = [act for act, in_time in when if in_time is False]
    doubts = [act for act, in_time in when if in_time is None]
    told = tuple(act.late_words(bounds) for act in late) or now.told
    if len(doubts) > MOST_DOUBTS:
        return _not_in_time(bounds, told, missing=(act.words for act in doubts))
    outcomes: set[Outcome] = set()
    for left_out in _every_choice(doubts):
        facts = _before([*late, *left_out], inquiry.facts)
        outcomes.add(inquiry.outcome_with(chain, facts))
        if len(outcomes) > 1:
            break
    if outcomes == {Outcome.APPLIES}:
        bare = inquiry.outcome_with(chain, _before(acts, inquiry.facts))
        is_needless = bare is Outcome.APPLIES
        return not_told if is_needless else Entry(in_time=True)
    if outcomes == {Outcome.DOES_NOT_APPLY}:
        return _not_in_time(bounds, told, in_time=False)
    lacking = [act.words for act in doubts]
    if not doubts:
        lacking += inquiry.missing_with(chain, _before(late, inquiry.facts))
    return _not_in_time(bounds, told, missing=lacking)


def _every_choice(doubts: Sequence[_Act]) -> Iterator[tuple[_Act, ...]]:
    """Yield which of these acts to leave out: none, all, then everything between."""
    sizes = range(len(doubts) + 1)
    for size in sorted(sizes, key=lambda n: 0 < n < len(doubts)):
        yield from combinations(doubts, size)


def _before(acts: Sequence[_Act], facts: EngineFacts) -> EngineFacts:
    """Return the facts before these acts: what was fitted then is not known."""
    names = frozenset(name for act in acts for name in act.embodied)
    made = {id(act.made) for act in acts}
    emptied = {plain_text(part.role) for part in facts.parts if id(part) in made}
    return replace(
        facts,
        embodied=facts.embodied - names,
        not_embodied=facts.not_embodied | names,
        complied=tuple(one for one in facts.complied if id(one) not in made),
        parts=tuple(one for one in facts.parts if id(one) not in made),
        roles_reviewed=frozenset(
            role for role in facts.roles_reviewed if plain_text(role) not in emptied
        ),
    )


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
    named = frozenset(n for n in now.facts.embodied if designation(n) == number)
    if named:
        records = _records(now.facts, number)
        days = [day for name in named if (day := now.facts.embodied_by.get(name))]
        yield _Act(
            done=f"{words} was embodied",
            words=f"when {words} was embodied",
            places=tuple(_record_place(one, now) for one in records),
            by=filled(Place(on=min(days)), now, "") if days else None,
            embodied=named,
        )


def _complied(number: Designation, now: Situation) -> Iterator[_Act]:
    for record in _records(now.facts, number):
        words = f"when {record.number} was complied with"
        if isinstance(record.on, date):
            day = date_words(record.on)
            words = f"hours at the record for {record.number} of {day}"
        yield _Act(
            done=f"{record.number} was complied with",
            words=words,
            places=(_record_place(record, now),),
            made=record,
        )


def _records(facts: EngineFacts, number: Designation) -> list[Compliance]:
    return [one for one in facts.complied if designation(one.number) == number]


def _record_place(record: Compliance, now: Situation) -> Place:
    return filled(Place(on=record.on, hours=record.hours), now, "")


def _fitted(role: str, now: Situation) -> Iterator[_Act]:
    for part in now.facts.parts:
        if plain_text(part.role) == role:
            yield _Act(
                done=f"The {part_label(part)} was fitted",
                words=f"when the {part_label(part)} was fitted",
                places=(_fitting_place(part, now),),
                made=part,
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

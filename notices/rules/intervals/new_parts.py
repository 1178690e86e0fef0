"""Parts that could be fitted so that a test of fitted parts is met, or is not met.

A test is taken apart into the ways of meeting it; each way is a row of wishes that one
part has to fulfil together, and of each a part is made up that does. What no wish names
stays unknown of it: nothing is promised of a part that the rule does not ask for. A part
fitted now has been fitted on the day asked for and has run 0 h since.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import islice, product
from typing import Any, Final, assert_never

from notices.rules.applicability.bounds import OverhaulTest, Period
from notices.rules.applicability.cases import (
    UNNAMED,
    days_apart,
    floors,
    named_values,
)
from notices.rules.applicability.completions import group_key
from notices.rules.applicability.leaf_tests import NO, YES, hours_window, leaf_test
from notices.rules.applicability.nodes import (
    AllOf,
    Always,
    AnyOf,
    Ask,
    AttributeIn,
    Built,
    ChangeIn,
    Condition,
    Fitted,
    Not,
    NumberIn,
    Overhauled,
    PartHoursIn,
    PartLeaf,
    SerialIn,
    Shipped,
)
from notices.rules.applicability.subjects import PartSubject
from notices.rules.applicability.wording import clause, fact_words, rule_words
from notices.rules.change_letters import figure_rank, letter_rank, letters_at
from notices.rules.designations import Pattern
from notices.rules.facts import (
    UNKNOWN,
    Hours,
    HoursKept,
    Overhaul,
    PartFacts,
    Unknown,
)
from notices.rules.phrases import listed

MOST_WAYS: Final = 8
"""Of one test so many ways of meeting it are looked at, in the order of the rule."""
MOST_TRIES: Final = 256
_ANOTHER_SERIAL: Final = "X"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """One test of a part that is to be met, or not. `scope`: whose question it asks."""

    leaf: PartLeaf
    met: bool
    scope: str = ""


Way = tuple[Wish, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """The ways of meeting a test. `cut`: there are more than are looked at."""

    ways: tuple[Way, ...]
    cut: bool = False


NO_WISH: Final = Ways(ways=((),))


def ways_of(where: Condition | None, *, met: bool, scope: str) -> Ways:
    """Return the ways in which one part meets the test, or fails it."""
    match where:
        case None | Always():
            return NO_WISH if met else Ways(ways=())
        case Not():
            return ways_of(where.member, met=not met, scope=scope)
        case AllOf() | AnyOf():
            several = [ways_of(one, met=met, scope=scope) for one in where.members]
            if isinstance(where, AllOf) is met:
                return all_met(several)
            every = [way for one in several for way in one.ways]
            return _limited(iter(every), cut=any(one.cut for one in several))
    return Ways(ways=((Wish(leaf=where, met=met, scope=scope),),))  # type: ignore[arg-type]  # what joins is dealt with above


def all_met(several: Sequence[Ways]) -> Ways:
    """Return the ways of meeting several tests by one part."""
    ways = (
        tuple(dict.fromkeys(wish for way in chosen for wish in way))
        for chosen in product(*(one.ways for one in several))
    )
    return _limited(ways, cut=any(one.cut for one in several))


def _limited(ways: Iterator[Way], *, cut: bool) -> Ways:
    found = list(islice(dict.fromkeys(ways), MOST_WAYS + 1))
    return Ways(ways=tuple(found[:MOST_WAYS]), cut=cut or len(found) > MOST_WAYS)


def new_part(
    way: Way, *, role: str, place: str, on: date | Unknown
) -> PartFacts | None:
    """Return a part that fulfils every wish, None where none can."""
    part = PartFacts(
        role=role, place=place, fitted=on, hours=HoursKept(fitted=Hours(0))
    )
    groups: dict[Hashable, list[Wish]] = {}
    for wish in way:
        groups.setdefault(group_key(wish.leaf), []).append(wish)
    for wishes in groups.values():
        tried = (replace(part, **known) for known in _candidates(wishes, part))
        found = next(
            (p for p in islice(tried, MOST_TRIES) if _fulfils(p, wishes)), None
        )
        if found is None:
            return None
        part = found
    return part


def _fulfils(part: PartFacts, wishes: Sequence[Wish]) -> bool:
    return all(
        leaf_test(wish.leaf)(PartSubject(part, wish.scope)) == (YES if wish.met else NO)
        for wish in wishes
    )


def _candidates(wishes: Sequence[Wish], part: PartFacts) -> Iterator[dict[str, Any]]:
    """Yield what one group of facts of a part may be so that the wishes differ by it."""
    leaves = [wish.leaf for wish in wishes]
    first = leaves[0]
    match first:
        case NumberIn():
            yield from ({"number": number} for number in _numbers(leaves))
        case SerialIn():
            yield from ({"serial": serial} for serial in _serials(leaves))
        case Built() | Shipped() | Overhauled():
            yield from _dates(leaves)
        case PartHoursIn():
            yield from _hours(leaves, part)
        case ChangeIn():
            yield from ({"change": change} for change in _changes(leaves))
        case AttributeIn():
            values = [v for f in leaves if isinstance(f, AttributeIn) for v in f.values]
            for value in named_values(values):
                yield {"attributes": {**part.attributes, first.name: value}}
        case Ask():
            scopes = {wish.scope for wish in wishes}
            for answer in (True, False):
                said = {(scope, first.question): answer for scope in scopes}
                yield {"answers": {**part.answers, **said}}
        case Fitted():
            yield {}  # it is fitted now
        case _:
            assert_never(first)


def _numbers(leaves: Sequence[PartLeaf]) -> Iterator[str]:
    stems = [
        pattern.text.rstrip().removesuffix("*")
        for leaf in leaves
        if isinstance(leaf, NumberIn)
        for pattern in leaf.numbers
    ]
    yield from stems
    yield from (stem + UNNAMED for stem in stems)
    yield UNNAMED


def _serials(leaves: Sequence[PartLeaf]) -> Iterator[str]:
    for leaf in leaves:
        for text in leaf.serials if isinstance(leaf, SerialIn) else ():
            yield from (end.strip() for end in text.split("..") if end.strip())
    yield _ANOTHER_SERIAL


def _dates(leaves: Sequence[PartLeaf]) -> Iterator[dict[str, Any]]:
    tests = [f.test for f in leaves if isinstance(f, Overhauled)]
    named = [test for test in tests if isinstance(test, OverhaulTest)]
    periods: list[Period | None] = [
        f.period for f in leaves if isinstance(f, Built | Shipped)
    ]
    periods += [test.period for test in named]
    days = [
        date.fromordinal(max(day, 1))
        for day in days_apart(period for period in periods if period is not None)
    ]
    whose = named_values(name for test in named for name in (*test.by, *test.not_by))
    done: list[Any] = [UNKNOWN]
    if tests:
        done = [(), *((Overhaul(on=on, by=by),) for on in days for by in whose)]
    wanted = [
        days if any(isinstance(f, kind) for f in leaves) else [UNKNOWN]
        for kind in (Built, Shipped)
    ]
    for built, shipped, overhauls in product(*wanted, done):
        line = [built, shipped, *(one.on for one in overhauls if tests)]
        known = [day for day in line if not isinstance(day, Unknown)]
        if known == sorted(known):
            yield {"built": built, "shipped": shipped, "overhauls": overhauls}


def _hours(leaves: Sequence[PartLeaf], part: PartFacts) -> Iterator[dict[str, Any]]:
    asked = [f for f in leaves if isinstance(f, PartHoursIn)]
    if any(f.hours.since == "fitted" or f.hours.at == "effective" for f in asked):
        yield {}  # what it has run since it was fitted, or ran then, is not chosen
        return
    points = [Hours(h) for h in floors(hours_window(f) for f in asked)]
    for new, since in product(points, points):
        if since <= new:
            yield {"hours": replace(part.hours, new=new, overhaul=since)}


def _changes(leaves: Sequence[PartLeaf]) -> Iterator[str]:
    asked = [f.change for f in leaves if isinstance(f, ChangeIn)]
    in_figures = any(change.in_figures for change in asked)
    rank_of = figure_rank if in_figures else letter_rank
    ends = [end for change in asked for end in (change.first, change.to)]
    ranks = [rank_of(end) or 0 for end in ends if end is not None]
    for rank in sorted({0, *ranks, *(rank + 1 for rank in ranks)}):
        yield (str(rank - 1) if rank else "") if in_figures else letters_at(rank)


def wish_words(way: Way) -> str:
    """Return what a part has to be: "part number P-8801 and change letter K or later"."""
    return listed([_wish(wish) for wish in way], "and")


def _wish(wish: Wish) -> str:
    leaf = wish.leaf
    if isinstance(leaf, Ask | Overhauled):
        return clause(leaf, negate=not wish.met)
    if isinstance(leaf, NumberIn):
        numbers = listed([_number(pattern) for pattern in leaf.numbers], "or")
        return f"part number {'' if wish.met else 'not '}{numbers}"
    return f"{fact_words(leaf)} {'' if wish.met else 'not '}{rule_words(leaf)}"


def number_wished(way: Way) -> str:
    """Return the part number where the way names exactly one, "" otherwise."""
    numbers = [
        pattern.text
        for wish in way
        if isinstance(wish.leaf, NumberIn) and wish.met
        for pattern in wish.leaf.numbers
    ]
    return numbers[0] if len(numbers) == 1 else ""


def _number(pattern: Pattern) -> str:
    text = pattern.text.rstrip()
    return f"beginning with {text[:-1]}" if pattern.whole_series else text

"""What can be done to an engine so that a condition holds, as changes of its facts.

Things to do are: embodying a modification, complying with a document, fitting, replacing
or removing a part. Nobody changes a type, a serial number, a date of manufacture, a
recorded property, hours already run or an answer; and running an engine otherwise (its
use, fuel, oil temperature) is not offered as a step, for it makes nothing hold on the
day it is done: a share of leaded fuel changes only with the litres. What is embodied is
not taken out again, and a record once made stays.

Things to do are compared as themselves: the same part fitted in two places is two.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import combinations, product
from typing import Final

from notices.rules.applicability.leaf_tests import YES, record_value
from notices.rules.applicability.nodes import (
    Complied,
    Condition,
    Embodied,
    Not,
    PartWhere,
    members_of,
)
from notices.rules.applicability.subjects import part_label
from notices.rules.designations import Designation, designation, plain_text
from notices.rules.facts import (
    UNKNOWN,
    Asked,
    Compliance,
    EngineFacts,
    PartFacts,
    Unknown,
)
from notices.rules.intervals.new_parts import (
    Way,
    Ways,
    all_met,
    new_part,
    number_wished,
    ways_of,
    wish_words,
)
from notices.rules.intervals.results import Step
from notices.rules.phrases import listed, with_article

DOABLE: Final = (Embodied, Complied, PartWhere)
"""The tests whose answer a person can change."""
MOST_WISHES: Final = 3
"""So many tests of one role are thought of together for one new part."""
MOST_NEW_PARTS: Final = 12
MOST_FITMENTS: Final = 64
"""In one role so many ways of fitting it out are tried, the fewest changes first."""
MOST_ADDED: Final = 2
_ANOTHER_REVISION: Final = "\uffff"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Embody:
    """Embody a modification."""

    number: str

    @property
    def step(self) -> Step:
        return Step(words=f"embody {self.number}", kind="embody", number=self.number)

    def done(self, facts: EngineFacts) -> EngineFacts:
        """Return the facts once it is done."""
        key = designation(self.number)
        absent = (n for n in facts.not_embodied if designation(n) != key)
        return replace(
            facts,
            embodied=facts.embodied | {self.number},
            not_embodied=frozenset(absent),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comply:
    """Comply with a document, in one of some revisions; in any where there are none."""

    number: str
    revisions: tuple[str, ...]
    record: Compliance

    @property
    def step(self) -> Step:
        words = f"comply with {self.number}"
        if self.revisions:
            words += f" revision {listed(self.revisions, 'or')}"
        return Step(words=words, kind="comply", number=self.number)

    def done(self, facts: EngineFacts) -> EngineFacts:
        """Return the facts once it is done and recorded."""
        return replace(facts, complied=(*facts.complied, self.record))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Fit a part, in place of one that is fitted where `instead` names it."""

    way: Way
    part: PartFacts
    instead: PartFacts | None = None

    @property
    def step(self) -> Step:
        wished = wish_words(self.way)
        number = number_wished(self.way)
        if self.instead is None:
            words = f"fit {with_article(self.part.role)}"
            return Step(words=_with(words, wished), kind="fit", number=number)
        words = f"replace the {part_label(self.instead)}"
        return Step(words=_with(words, wished), kind="replace", number=number)


def _with(words: str, wished: str) -> str:
    return f"{words}: {wished}" if wished else words


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Remove:
    """Remove a fitted part."""

    part: PartFacts

    @property
    def step(self) -> Step:
        return Step(words=f"remove the {part_label(self.part)}", kind="remove")


@dataclass(frozen=True, slots=True, eq=False)
class Fitment:
    """One way of fitting out a role. `acts`: none where it stays as it is.

    Two of one role exclude each other.
    """

    role: str
    acts: tuple[Fit | Remove, ...]
    parts: tuple[PartFacts, ...]

    def done(self, facts: EngineFacts) -> EngineFacts:
        """Return the facts once the role is fitted out so."""
        others = [one for one in facts.parts if plain_text(one.role) != self.role]
        reviewed = facts.roles_reviewed
        if self.acts and _is_full(self.role, facts, others):
            reviewed |= {self.role}
        return replace(facts, parts=(*others, *self.parts), roles_reviewed=reviewed)


Choice = Embody | Comply | Fitment
Act = Embody | Comply | Fit | Remove


def in_order(choices: Iterable[Choice]) -> list[Choice]:
    """Return choices in one order, whatever the set they come from."""
    return sorted(choices, key=lambda choice: [act.step.words for act in _acts(choice)])


def acts_in(choices: Iterable[Choice]) -> tuple[Act, ...]:
    """Return the single things to do in choices, in one order."""
    return tuple(act for choice in in_order(choices) for act in _acts(choice))


def changed(facts: EngineFacts, choices: Iterable[Choice]) -> EngineFacts:
    """Return the facts once everything chosen is done."""
    for choice in in_order(choices):
        facts = choice.done(facts)
    return facts


def _acts(choice: Choice) -> tuple[Act, ...]:
    return choice.acts if isinstance(choice, Fitment) else (choice,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A test as it is wanted: met or not met. `asked`: under which circumstances."""

    leaf: Condition
    met: bool
    asked: Asked


def wanted_of(
    condition: Condition, asked: Asked, *, met: bool = True
) -> Iterator[Wanted]:
    """Yield each test of a condition as it is wanted for the condition to hold."""
    if isinstance(condition, Not):
        yield from wanted_of(condition.member, asked, met=not met)
    elif members := members_of(condition):
        for member in members:
            yield from wanted_of(member, asked, met=met)
    else:
        yield Wanted(leaf=condition, met=met, asked=asked)


class Acts:
    """Everything that can be done for some conditions of one engine.

    `cut`: more is possible than is thought of.
    """

    def __init__(self, wanted: Sequence[Wanted], facts: EngineFacts) -> None:
        self.cut = False
        self._facts = facts
        self._embody: dict[Designation, Embody] = {}
        self._comply: dict[Designation, tuple[Comply, ...]] = {}
        self._fitments: dict[str, tuple[Fitment, ...]] = {}
        records: dict[Designation, list[Wanted]] = {}
        roles: dict[str, list[Wanted]] = {}
        for one in wanted:
            match one.leaf:
                case Embodied(number=number):
                    self._embody.setdefault(designation(number), Embody(number=number))
                case Complied(number=number):
                    records.setdefault(designation(number), []).append(one)
                case PartWhere(role=role):
                    roles.setdefault(plain_text(role), []).append(one)
        for key, several in records.items():
            self._comply[key] = tuple(_records(several, facts))
        for role, several in roles.items():
            self._fitments[role] = tuple(self._fitted_out(role, several))

    def for_embodied(self, leaf: Embodied) -> Embody:
        """Return what makes a modification embodied."""
        return self._embody[designation(leaf.number)]

    def for_complied(self, leaf: Complied) -> tuple[Comply, ...]:
        """Return what makes a record that fits, none where its period is over."""
        several = self._comply[designation(leaf.number)]
        return tuple(act for act in several if _fits(leaf, act.record))

    def for_role(self, leaf: PartWhere) -> tuple[Fitment, ...]:
        """Return the ways of fitting out a role, the present one first."""
        return self._fitments[plain_text(leaf.role)]

    def _fitted_out(self, role: str, wanted: Sequence[Wanted]) -> Iterator[Fitment]:
        """Yield the ways of fitting out a role, the fewest changes first."""
        present = [p for p in self._facts.parts if plain_text(p.role) == role]
        ways = self._new_ways(wanted)
        on = wanted[0].asked.on
        words = wanted[0].leaf.role if isinstance(wanted[0].leaf, PartWhere) else role
        slots: list[list[Fit | Remove]] = []
        for one in present[:MOST_FITMENTS]:
            fitted = _fits_of(ways, role=one.role, on=on, instead=one)
            removed = [Remove(part=one)] if any(not w.met for w in wanted) else []
            slots.append([*fitted, *removed])
        for _ in range(_room(role, present, self._facts)):
            slots.append([*_fits_of(ways, role=words, on=on)])
        for made, acts in enumerate(_fewest_first(slots)):
            if made == MOST_FITMENTS:
                self.cut = True
                return
            yield Fitment(role, acts, _parts_after(present, acts))

    def _new_ways(self, wanted: Sequence[Wanted]) -> tuple[Way, ...]:
        """Return what a new part may have to be, for each test and for several at once."""
        goals: dict[Ways, None] = {}
        for one in wanted:
            assert isinstance(one.leaf, PartWhere)
            goals[ways_of(one.leaf.where, met=one.met, scope=one.asked.scope)] = None
        most = len(goals) if len(goals) <= MOST_WISHES else 1
        self.cut = self.cut or most < len(goals) or any(one.cut for one in goals)
        found: dict[Way, None] = {}
        for size in range(1, most + 1):
            for several in combinations(goals, size):
                joint = all_met(several)
                self.cut = self.cut or joint.cut
                found.update(dict.fromkeys(joint.ways))
        self.cut = self.cut or len(found) > MOST_NEW_PARTS
        return tuple(found)[:MOST_NEW_PARTS]


def _records(several: Sequence[Wanted], facts: EngineFacts) -> Iterator[Comply]:
    """Yield one act for each set of tests that a record can meet, least demanding first."""
    leaves = [one.leaf for one in several if isinstance(one.leaf, Complied)]
    named = {designation(r): r for leaf in leaves for r in leaf.revisions}
    groups: dict[tuple[bool, ...], tuple[list[str], Compliance]] = {}
    for revision in (_ANOTHER_REVISION, *named.values()):
        record = Compliance(
            number=leaves[0].number,
            revision=revision,
            on=several[0].asked.on,
            hours=facts.axis_now,
        )
        met = tuple(_fits(leaf, record) for leaf in leaves)
        if any(met):
            revisions, _ = groups.setdefault(met, ([], record))
            revisions.append(revision)
    for revisions, record in groups.values():
        any_revision = _ANOTHER_REVISION in revisions
        yield Comply(
            number=record.number,
            revisions=() if any_revision else tuple(revisions),
            record=record,
        )


def _fits(leaf: Complied, record: Compliance) -> bool:
    revision = record.revision
    assert isinstance(revision, str)
    on = UNKNOWN if isinstance(record.on, Unknown) else record.on.toordinal()
    return record_value(leaf, designation(revision), on) == YES


def _fits_of(
    ways: Sequence[Way],
    *,
    role: str,
    on: date | Unknown,
    instead: PartFacts | None = None,
) -> list[Fit]:
    place = "" if instead is None else instead.place
    made = [(way, new_part(way, role=role, place=place, on=on)) for way in ways]
    return [
        Fit(way=way, part=part, instead=instead)
        for way, part in made
        if part is not None
    ]


def _is_full(role: str, facts: EngineFacts, others: Sequence[PartFacts]) -> bool:
    """Return whether all parts of a role are known; then so are those left of them."""
    held = _held(role, facts)
    return held is not None and len(facts.parts) - len(others) >= held


def _held(role: str, facts: EngineFacts) -> int | None:
    return {plain_text(name): n for name, n in facts.role_counts.items()}.get(role)


def _room(role: str, present: Sequence[PartFacts], facts: EngineFacts) -> int:
    """Return how many more parts can be fitted: one if nobody has said how many go in."""
    held = _held(role, facts)
    if held is None:
        return 0 if present else 1
    return min(max(held - len(present), 0), MOST_ADDED)


def _fewest_first(
    slots: Sequence[Sequence[Fit | Remove]],
) -> Iterator[tuple[Fit | Remove, ...]]:
    """Yield every choice of one or no act for each slot, by how many acts they are."""
    for size in range(len(slots) + 1):
        for chosen in combinations(slots, size):
            yield from product(*chosen)


def _parts_after(
    present: Sequence[PartFacts], acts: Sequence[Fit | Remove]
) -> tuple[PartFacts, ...]:
    gone = {id(a.instead if isinstance(a, Fit) else a.part) for a in acts}
    kept = [one for one in present if id(one) not in gone]
    return (*kept, *(act.part for act in acts if isinstance(act, Fit)))

"""What an open answer hangs on: the unknown facts that can really change it.

A fact is named if two possible worlds that differ in this fact alone have different
answers. What is left of a tree in each case is compared for that, in its one spelling.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from notices.rules.applicability.cases import Case, TooManyError, product_of
from notices.rules.applicability.completions import fact_space
from notices.rules.applicability.deciding import (
    Group,
    RoleTest,
    ThisTest,
    live_groups,
    settle,
    space_of,
    words_for_role,
)
from notices.rules.applicability.leaf_tests import OPEN, Value
from notices.rules.applicability.subjects import EngineSubject
from notices.rules.applicability.trees import (
    Residual,
    Tree,
    joined,
    live,
    residual,
    tests_left,
)


@dataclass(frozen=True, slots=True)
class Analysis:
    """An answer with what it hangs on.

    `values`: the answers of the tests. `hanging`: the tests that an open answer hangs
    on. `missing`: the facts on which it really depends, in words. `sharp`: False if
    there were more cases than are tried. `tried`: the facts whose cases were all tried
    and gave one answer; `values` are then those of the first case, and `assumed` names
    the tests that are answered so.
    """

    value: Value
    values: tuple[Value, ...]
    hanging: tuple[int, ...] = ()
    missing: tuple[str, ...] = ()
    sharp: bool = True
    tried: tuple[str, ...] = ()
    assumed: tuple[int, ...] = ()


def analyse(tree: Tree, subject: Any) -> Analysis:
    """Return the exact answer and, where it is open, the facts it depends on."""
    values = tree.values(subject)
    plain = joined(tree.shape, values)
    if plain != OPEN:
        return Analysis(value=plain, values=tuple(values))
    try:
        return _tried(tree, subject, values)
    except TooManyError:
        hanging = tuple(live(tree.shape, values))
        found = [_missing_of(tree, place, subject)[0] for place in hanging]
        return Analysis(
            value=OPEN,
            values=tuple(values),
            hanging=hanging,
            missing=_once(found),
            sharp=False,
        )


def _tried(tree: Tree, subject: Any, values: list[Value]) -> Analysis:
    """Try all cases of the facts that several tests hang on; TooManyError if too many."""
    groups = [
        Group(places, space_of(tree, places, subject))
        for places in live_groups(tree, values, subject).values()
        if len(places) > 1
    ]
    combinations = product_of([group.space for group in groups])
    settled, forms = list(values), []
    for combination in combinations:
        settle(settled, groups, combination)
        forms.append(residual(tree.shape, settled))
    spaces = [group.space for group in groups]
    tried = tuple(fact for space in spaces for fact in space.facts)
    if len(set(forms)) == 1 and isinstance(forms[0], int):
        settle(settled, groups, combinations[0])
        assumed = tuple(place for group in groups for place in group.places)
        return Analysis(
            value=forms[0], values=tuple(settled), tried=tried, assumed=assumed
        )
    by_place = dict(_telling_facts(groups, combinations, forms))
    sharp = True
    hanging = {place for form in forms for place in tests_left(form)}
    for place in hanging - set(by_place):
        by_place[place], is_sharp = _missing_of(tree, place, subject)
        sharp = sharp and is_sharp
    return Analysis(
        value=OPEN,
        values=tuple(values),
        hanging=tuple(sorted(place for place, facts in by_place.items() if facts)),
        missing=_once(by_place[place] for place in sorted(by_place)),
        sharp=sharp,
    )


def _once(rows: Iterable[Iterable[str]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(fact for row in rows for fact in row))


def _telling_facts(
    groups: Sequence[Group],
    combinations: Sequence[tuple[Case, ...]],
    forms: Sequence[Residual],
) -> Iterable[tuple[int, tuple[str, ...]]]:
    """Yield for each group the facts of which one alone changes what is left.

    They are filed under the first test of the group that they can change.
    """
    for at, group in enumerate(groups):
        facts = tuple(
            fact
            for place, fact in enumerate(group.space.facts)
            if _tells(at, place, combinations, forms)
        )
        yield group.places[0], facts
        yield from ((place, facts) for place in group.places[1:])


def _tells(
    at: int,
    place: int,
    combinations: Sequence[tuple[Case, ...]],
    forms: Sequence[Residual],
) -> bool:
    """Return whether two cases that differ in this fact alone leave different trees."""
    seen: dict[Hashable, Residual] = {}
    for combination, form in zip(combinations, forms, strict=True):
        choice = combination[at].choice
        others = tuple(c.choice for i, c in enumerate(combination) if i != at)
        rest = (others, choice[:place], choice[place + 1 :])
        if seen.setdefault(rest, form) != form:
            return True
    return False


def _missing_of(tree: Tree, place: int, subject: Any) -> tuple[tuple[str, ...], bool]:
    """Return the facts that one open test hangs on, and whether that is exact."""
    test, leaf = tree.tests[place], tree.leaves[place]
    if isinstance(test, RoleTest):
        return _missing_of_role(test, subject)
    if isinstance(test, ThisTest):
        if subject.this is None:
            return ("the part that the provision is about",), True
        found = analyse(test.tree, subject.this)
        return found.missing, found.sharp
    try:
        space = fact_space([leaf], [test], subject)
    except TooManyError as error:
        return error.facts, False
    combinations = [(case,) for case in space.cases]
    values = [case.values[0] for case in space.cases]
    telling = tuple(
        fact
        for at, fact in enumerate(space.facts)
        if OPEN in values or _tells(0, at, combinations, values)
    )
    return telling or space.facts, True


def _missing_of_role(
    test: RoleTest, engine: EngineSubject
) -> tuple[tuple[str, ...], bool]:
    missing: list[str] = []
    sharp = True
    for part in engine.roles.get(test.role, ()):
        found = analyse(test.tree, part)
        if found.value == OPEN:
            missing += found.missing
            sharp = sharp and found.sharp
    if test.may_differ(engine):
        missing.append(words_for_role(test.words))
    return tuple(missing), sharp

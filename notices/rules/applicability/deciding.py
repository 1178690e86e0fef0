"""Decide a tree for one subject exactly, however often it asks about one fact.

The plain three-valued answer is exact as long as no two tests hang on the same facts.
Where they do, the cases of these facts are tried one by one; what is left of the tree in
each case is compared. So an answer is open only if two possible worlds differ, unless
there are more than 64 cases to try together: then the plain answer stands, never wrong.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Any

from notices.rules.applicability.cases import (
    LIMIT,
    Case,
    Space,
    TooManyError,
    product_of,
)
from notices.rules.applicability.completions import fact_space, group_key
from notices.rules.applicability.leaf_tests import (
    NO,
    OPEN,
    YES,
    LeafTest,
    Value,
    at_least_one,
    leaf_test,
)
from notices.rules.applicability.nodes import (
    AllOf,
    Always,
    AnyOf,
    Condition,
    Leaf,
    Not,
    PartWhere,
    ThisPart,
)
from notices.rules.applicability.subjects import EngineSubject, PartSubject
from notices.rules.applicability.trees import (
    Joint,
    Key,
    Shape,
    Tree,
    ask_all,
    ask_any,
    ask_not,
    joined,
    live,
)
from notices.rules.designations import plain_text
from notices.rules.facts import PartFacts

_ASKED_FIRST = ("TypeIn", "Always", "Embodied", "AttributeIn", "Ask", "AircraftIn")
_ASKED_LAST = ("PartWhere", "ThisPart", "SerialIn", "Overhauled")


def tree_of(condition: Condition) -> Tree:
    """Return the condition taken apart, ready to be asked of any number of subjects."""
    leaves: list[Leaf] = []
    tests: list[LeafTest] = []
    shape, root = _compiled(condition, leaves, tests)
    keys = tuple(group_key(leaf) for leaf in leaves)
    return Tree(
        condition=condition,
        leaves=tuple(leaves),
        tests=tuple(tests),
        keys=keys,
        shape=shape,
        root=root,
        repeats=_repeats(keys),
    )


def _compiled(
    condition: Condition, leaves: list[Leaf], tests: list[LeafTest]
) -> tuple[Shape, LeafTest]:
    match condition:
        case AllOf() | AnyOf():
            compiled = [_compiled(m, leaves, tests) for m in condition.members]
            order = sorted(
                range(len(compiled)), key=lambda i: _cost(condition.members[i])
            )
            roots = [compiled[i][1] for i in order]
            shapes = tuple(shape for shape, _ in compiled)
            if isinstance(condition, AllOf):
                return Joint("all", shapes), ask_all(roots)
            return Joint("any", shapes), ask_any(roots)
        case Not():
            shape, root = _compiled(condition.member, leaves, tests)
            return Joint("not", (shape,)), ask_not(root)
        case Always():
            return Joint("always", ()), lambda _: YES
        case PartWhere():
            test: LeafTest = RoleTest(condition)
        case ThisPart():
            test = ThisTest(condition)
        case _:
            test = leaf_test(condition)
    leaves.append(condition)
    tests.append(test)
    return len(leaves) - 1, test


def _cost(condition: Condition) -> int:
    """Return in which order members are asked; it changes speed, never the answer."""
    name = type(condition).__name__
    if name in _ASKED_FIRST:
        return _ASKED_FIRST.index(name)
    return 100 if name in _ASKED_LAST else 50


def _repeats(keys: Sequence[Key]) -> bool:
    about_parts = [k for k in keys if isinstance(k, tuple) and k[0] is PartWhere]
    mixed = ThisPart.__name__ in keys and bool(about_parts)
    return mixed or len(set(keys)) < len(keys)


class ThisTest:
    """The test of the part that a provision is about."""

    __slots__ = ("tree",)

    def __init__(self, leaf: ThisPart) -> None:
        self.tree = tree_of(leaf.where)

    def __call__(self, engine: EngineSubject) -> Value:
        return OPEN if engine.this is None else exact_value(self.tree, engine.this)


class RoleTest:
    """The test of the parts fitted in one role."""

    __slots__ = ("any_part", "every", "role", "tree", "words")

    def __init__(self, leaf: PartWhere) -> None:
        self.words = leaf.role
        self.role = plain_text(leaf.role)
        self.every = leaf.count == "every"
        self.tree = tree_of(leaf.where or Always(always=True))
        self.any_part = exact_value(self.tree, _unrecorded(leaf.role))

    def __call__(self, engine: EngineSubject) -> Value:
        parts = engine.roles.get(self.role, ())
        values = [exact_value(self.tree, part) for part in parts]
        if self.every:
            return self._every(values, engine)
        further = self.may_differ(engine)
        return at_least_one([*values, OPEN if further else NO])

    def _every(self, values: list[Value], engine: EngineSubject) -> Value:
        if NO in values or (not values and _is_complete(self.role, engine)):
            return NO
        if not values and self.any_part == NO:
            return NO
        return OPEN if OPEN in values or self.may_differ(engine) else YES

    def may_differ(self, engine: EngineSubject) -> bool:
        """Return whether parts that are not recorded could change the answer."""
        if self.every:
            parts = engine.roles.get(self.role, ())
            if not parts:
                return not _is_complete(self.role, engine) and self.any_part != NO
            return self.any_part != YES and _vacant(self.role, engine) != 0
        return self.any_part != NO and not _is_complete(self.role, engine)


def _unrecorded(role: str) -> PartSubject:
    """Return a part of which nothing is known."""
    return PartSubject(PartFacts(role=role), "")


def _vacant(role: str, engine: EngineSubject) -> int | None:
    """Return how many parts may be fitted beyond those recorded, None for any number."""
    recorded = len(engine.roles.get(role, ()))
    held = engine.role_counts.get(role)
    if held is not None:
        return max(0, held - recorded)
    return 0 if role in engine.roles_reviewed else None


def _is_complete(role: str, engine: EngineSubject) -> bool:
    """Return whether what is not recorded in this role counts as absent."""
    return role in engine.roles_reviewed or _vacant(role, engine) == 0


def exact_value(tree: Tree, subject: Any) -> Value:
    """Return the exact answer: open only if two possible worlds differ.

    Above the limit of cases it is the plain answer.
    """
    plain = tree.root(subject)
    if plain != OPEN or not tree.repeats:
        return plain
    values = tree.values(subject)
    groups = _repeated_groups(tree, values, subject)
    if not groups:
        return OPEN
    try:
        combinations = product_of([group.space for group in groups])
    except TooManyError:
        return OPEN
    first: Value | None = None
    for combination in combinations:
        settle(values, groups, combination)
        value = joined(tree.shape, values)
        if value == OPEN or first not in (None, value):
            return OPEN
        first = value
    return OPEN if first is None else first


@dataclass(frozen=True, slots=True)
class Group:
    """Tests that hang on the same facts, with the cases of these facts."""

    places: tuple[int, ...]
    space: Space


def settle(
    values: list[Value], groups: Sequence[Group], combination: Sequence[Case]
) -> None:
    for group, case in zip(groups, combination, strict=True):
        for place, value in zip(group.places, case.values, strict=True):
            values[place] = value


def live_groups(
    tree: Tree, values: Sequence[Value], subject: Any
) -> dict[Key, tuple[int, ...]]:
    """Return the tests that keep the tree open, by the facts they hang on."""
    groups: dict[Key, tuple[int, ...]] = {}
    for place in live(tree.shape, values):
        key: Hashable = tree.keys[place]
        if isinstance(tree.leaves[place], ThisPart):
            part = subject.this
            key = (PartWhere, part.role) if part is not None else (ThisPart, place)
        groups[key] = (*groups.get(key, ()), place)
    return groups


def _repeated_groups(tree: Tree, values: Sequence[Value], subject: Any) -> list[Group]:
    """Return the groups with several open tests; none if their cases are too many."""
    groups = []
    for places in live_groups(tree, values, subject).values():
        if len(places) > 1:
            try:
                groups.append(Group(places, space_of(tree, places, subject)))
            except TooManyError:
                return []
    return groups


def space_of(tree: Tree, places: Sequence[int], subject: Any) -> Space:
    """Return the cases behind several tests of one group."""
    leaves = [tree.leaves[place] for place in places]
    if isinstance(leaves[0], PartWhere | ThisPart):
        return _role_space([tree.tests[place] for place in places], subject)
    return fact_space(leaves, [tree.tests[place] for place in places], subject)


# Parts: the cases of one part, and of all parts of a role.


def _part_space(part: PartSubject, trees: Sequence[Tree]) -> Space:
    """Return the cases of one part, with the answer of every tree in each."""
    rows = [tree.values(part) for tree in trees]
    groups: dict[Key, list[tuple[int, int]]] = {}
    for at, (tree, row) in enumerate(zip(trees, rows, strict=True)):
        for place in live(tree.shape, row):
            groups.setdefault(tree.keys[place], []).append((at, place))
    spaces = [
        fact_space(
            [trees[at].leaves[place] for at, place in members],
            [trees[at].tests[place] for at, place in members],
            part,
        )
        for members in groups.values()
    ]
    cases = []
    for combination in product_of(spaces):
        for members, case in zip(groups.values(), combination, strict=True):
            for (at, place), value in zip(members, case.values, strict=True):
                rows[at][place] = value
        answers = [
            joined(tree.shape, row) for tree, row in zip(trees, rows, strict=True)
        ]
        choice = tuple(value for case in combination for value in case.choice)
        cases.append(Case(choice, tuple(answers)))
    return Space(tuple(f for space in spaces for f in space.facts), tuple(cases))


def _role_space(tests: Sequence[Any], engine: EngineSubject) -> Space:
    """Return the cases of all parts of one role, for several tests of the role."""
    role = next(
        (test.role for test in tests if isinstance(test, RoleTest)),
        engine.this.role if engine.this is not None else "",
    )
    parts = list(engine.roles.get(role, ()))
    if engine.this is not None and engine.this not in parts:
        parts.append(engine.this)
    spaces, asked = [], []
    for part in parts:
        places = [i for i, test in enumerate(tests) if _looks_at(test, part, engine)]
        spaces.append(_part_space(part, [tests[i].tree for i in places]))
        asked.append(places)
    further = _further_space(tests, role, engine)
    cases = []
    for *chosen, rest in product_of([*spaces, further]):
        rows = [
            dict(zip(places, case.values, strict=True))
            for places, case in zip(asked, chosen, strict=True)
        ]
        values = tuple(
            _role_value(test, [row[i] for row in rows if i in row], rest.values[i])
            for i, test in enumerate(tests)
        )
        choice = tuple(value for case in (*chosen, rest) for value in case.choice)
        cases.append(Case(choice, values))
    facts = tuple(fact for space in (*spaces, further) for fact in space.facts)
    return Space(facts, tuple(cases))


def _looks_at(test: Any, part: PartSubject, engine: EngineSubject) -> bool:
    if isinstance(test, ThisTest):
        return part is engine.this
    return part in engine.roles.get(test.role, ())


def _role_value(test: Any, values: list[Value], further: Value | None) -> Value:
    """Return the answer from the parts recorded and, unless None, from further ones."""
    every = isinstance(test, RoleTest) and test.every
    found = values if further is None else [*values, further]
    if not every:
        return at_least_one(found)
    if not found or NO in found:
        return NO
    return OPEN if OPEN in found else YES


def _further_space(tests: Sequence[Any], role: str, engine: EngineSubject) -> Space:
    """Return what parts that are not recorded could add, as one fact.

    The value of a case is None for a test that no further part bears on.
    """
    roles = [test for test in tests if isinstance(test, RoleTest)]
    nothing = tuple(None for _ in tests)
    most = _vacant(role, engine)
    open_some = not _is_complete(role, engine)
    if not roles or (most == 0 and not open_some):
        return Space((), (Case((), nothing),))  # type: ignore[arg-type]  # None: see above
    places = [
        i
        for i, test in enumerate(tests)
        if isinstance(test, RoleTest) and (test.every or open_some)
    ]
    fact = words_for_role(roles[0].words)
    single = _part_space(_unrecorded(role), [tests[i].tree for i in places])
    rows = {case.values for case in single.cases}
    found = _any_number(rows, [tests[i] for i in places], most)
    if len(found) > LIMIT:
        raise TooManyError((fact,))
    cases = []
    for index, row in enumerate(found):
        values: list[Value | None] = [None] * len(tests)
        for place, value in zip(places, row or (), strict=row is not None):
            values[place] = value
        cases.append(Case((index,), tuple(values)))  # type: ignore[arg-type]  # None: see above
    return Space((fact,), tuple(cases))


def _any_number(
    rows: set[tuple[Value, ...]], tests: Sequence[RoleTest], most: int | None
) -> list[tuple[Value, ...] | None]:
    """Return the joined answers of no further part (None), one, two, ... up to `most`."""
    found: list[tuple[Value, ...] | None] = [None]
    newest: list[tuple[Value, ...] | None] = [None]
    rounds = 0
    while newest and (most is None or rounds < most) and len(found) <= LIMIT:
        rounds += 1
        joined_rows = {
            row if so_far is None else _with_part(so_far, row, tests)
            for so_far in newest
            for row in rows
        }
        newest = [row for row in sorted(joined_rows) if row not in found]
        found += newest
    return found


def _with_part(
    so_far: tuple[Value, ...], row: tuple[Value, ...], tests: Sequence[RoleTest]
) -> tuple[Value, ...]:
    return tuple(
        _role_value(test, [one, other], None)
        for test, one, other in zip(tests, so_far, row, strict=True)
    )


def words_for_role(role: str) -> str:
    """Return the words for not knowing all parts of a role."""
    return f"which parts are fitted as {role}"

"""A condition taken apart: its tests in a row, and how their answers join."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from notices.rules.applicability.leaf_tests import NO, OPEN, YES, LeafTest, Value
from notices.rules.applicability.nodes import Condition, Leaf

Key = Hashable
"""What a test asks about: two tests with one key hang on the same facts."""


@dataclass(frozen=True, slots=True)
class Joint:
    """How answers join. A bare number instead stands for the test at that place."""

    kind: Literal["all", "any", "not", "always"]
    members: tuple[Shape, ...]


Shape = Joint | int
Residual = Value | tuple[Any, ...]
"""What is left of a tree once some answers are in: settled, or a form with one spelling.

Two trees in which every fact is tested once ask the same exactly if they are spelled
alike: negations at the tests, no nested joint of its parent's kind, members unordered.
"""


@dataclass(frozen=True, slots=True, eq=False)
class Tree:
    """A condition ready to be asked. `leaves`, `tests`, `keys` run side by side.

    `root` gives the plain three-valued answer; `repeats` says that two tests hang on
    the same facts, so that the plain answer may be less sharp than it could be.
    """

    condition: Condition
    leaves: tuple[Leaf, ...]
    tests: tuple[LeafTest, ...]
    keys: tuple[Key, ...]
    shape: Shape
    root: LeafTest
    repeats: bool

    def values(self, subject: Any) -> list[Value]:
        """Return the answer of every test."""
        return [test(subject) for test in self.tests]


def joined(shape: Shape, values: Sequence[Value]) -> Value:
    """Return the three-valued answer of a shape, given the answers of its tests."""
    if isinstance(shape, int):
        return values[shape]
    match shape.kind:
        case "always":
            return YES
        case "not":
            return negated(joined(shape.members[0], values))
    settling = NO if shape.kind == "all" else YES
    answer = YES - settling
    for member in shape.members:
        value = joined(member, values)
        if value == settling:
            return settling
        if value == OPEN:
            answer = OPEN
    return answer


def negated(value: Value) -> Value:
    """Return three-valued "not"."""
    return OPEN if value == OPEN else YES - value


def live(shape: Shape, values: Sequence[Value]) -> Iterator[int]:
    """Yield the tests that keep an open shape open, from left to right."""
    if joined(shape, values) != OPEN:
        return
    if isinstance(shape, int):
        yield shape
        return
    for member in shape.members:
        yield from live(member, values)


def residual(
    shape: Shape, values: Sequence[Value], *, negate: bool = False
) -> Residual:
    """Return what is left of the shape, in the one spelling of `Residual`."""
    if isinstance(shape, int):
        if values[shape] == OPEN:
            return ("test", shape, negate)
        return negated(values[shape]) if negate else values[shape]
    if shape.kind == "always":
        return NO if negate else YES
    if shape.kind == "not":
        return residual(shape.members[0], values, negate=not negate)
    kind = shape.kind if not negate else ("any" if shape.kind == "all" else "all")
    return _joint_residual(kind, shape.members, values, negate)


def _joint_residual(
    kind: str, members: Sequence[Shape], values: Sequence[Value], negate: bool
) -> Residual:
    settling = NO if kind == "all" else YES
    left: set[Residual] = set()
    for member in members:
        part = residual(member, values, negate=negate)
        if part == settling:
            return settling
        if isinstance(part, int):
            continue
        left.update(part[1] if part[0] == kind else (part,))
    if not left:
        return YES - settling
    return left.pop() if len(left) == 1 else (kind, frozenset(left))


def tests_left(form: Residual) -> Iterator[int]:
    """Yield the places of the tests in what is left."""
    if isinstance(form, int):
        return
    if form[0] == "test":
        yield form[1]
        return
    for member in form[1]:
        yield from tests_left(member)


def deciding(shape: Shape, values: Sequence[Value]) -> list[int]:
    """Return a smallest row of tests that settles a settled shape, left to right."""
    if isinstance(shape, int):
        return [shape]
    settling = {"all": NO, "any": YES}.get(shape.kind)
    found = [deciding(m, values) for m in shape.members]
    if settling is None or joined(shape, values) != settling:
        return [place for places in found for place in places]
    settled = [
        places
        for member, places in zip(shape.members, found, strict=True)
        if joined(member, values) == settling
    ]
    return min(settled, key=len)


def ask_all(tests: Sequence[LeafTest]) -> LeafTest:
    """Return "all of these" as one test, the cheapest asked first."""

    def test(subject: Any) -> Value:
        answer = YES
        for member in tests:
            value = member(subject)
            if value == NO:
                return NO
            if value < 0:
                answer = OPEN
        return answer

    return test


def ask_any(tests: Sequence[LeafTest]) -> LeafTest:
    """Return "any of these" as one test."""

    def test(subject: Any) -> Value:
        answer = NO
        for member in tests:
            value = member(subject)
            if value == YES:
                return YES
            if value < 0:
                answer = OPEN
        return answer

    return test


def ask_not(member: LeafTest) -> LeafTest:
    """Return "not this" as one test."""

    def test(subject: Any) -> Value:
        value = member(subject)
        return OPEN if value < 0 else YES - value

    return test

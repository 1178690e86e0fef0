"""Cases: what unknown facts can be, and the answers that a group of tests gives then.

A space lists cases: one value for each unknown fact. Values are picked so that every
possible world answers as one of the cases does: the ends of ranges and periods, one
value between, one value that nothing names.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from typing import Any, Final

from notices.rules.applicability.leaf_tests import (
    LeafTest,
    Value,
    day_window,
)
from notices.rules.applicability.nodes import Leaf
from notices.rules.applicability.subjects import ENDLESS, Subject

LIMIT: Final = 64
"""Most cases that are tried together."""

UNNAMED: Final = "\uffff"
"""Stands for a text that no rule names."""


class TooManyError(Exception):
    """More cases than are tried. `facts`: the unknown facts behind them."""

    def __init__(self, facts: Iterable[str]) -> None:
        super().__init__("too many cases")
        self.facts = tuple(facts)


@dataclass(frozen=True, slots=True)
class Case:
    """`choice`: a value for each unknown fact; `values`: the answers it gives."""

    choice: tuple[Hashable, ...]
    values: tuple[Value, ...]


@dataclass(frozen=True, slots=True)
class Space:
    """The cases of one group of facts; `facts` names them, in words."""

    facts: tuple[str, ...]
    cases: tuple[Case, ...]


def product_of(spaces: Sequence[Space]) -> list[tuple[Case, ...]]:
    """Return every combination of cases; TooManyError above the limit."""
    if prod(len(space.cases) for space in spaces) > LIMIT:
        raise TooManyError(fact for space in spaces for fact in space.facts)
    return list(product(*(space.cases for space in spaces)))


class GroupTests:
    """The tests of one group, to be asked of subjects in which a fact is settled."""

    def __init__(
        self, leaves: Sequence[Leaf], tests: Sequence[LeafTest], subject: Subject
    ) -> None:
        self.leaves = leaves
        self.subject = subject
        self.tests = tests

    def values(self, subject: Subject) -> tuple[Value, ...]:
        """Return the answers for this subject."""
        return tuple(test(subject) for test in self.tests)

    def space(self, words: str, candidates: Iterable[dict[str, Any]]) -> Space:
        """Return the cases of one fact: one for each row of answers."""
        settled = self.subject.with_()
        rows: dict[tuple[Value, ...], None] = {}
        for known in candidates:
            settled.settle(known)
            rows[self.values(settled)] = None
        return Space((words,), tuple(Case((i,), row) for i, row in enumerate(rows)))


def limited(facts: tuple[str, ...], cases: Sequence[Case]) -> Space:
    if len(cases) > LIMIT:
        raise TooManyError(facts)
    return Space(facts, tuple(cases))


def named_values(texts: Iterable[str]) -> list[str]:
    return [*dict.fromkeys(texts), UNNAMED]


def floors(windows: Iterable[tuple[int, int]], known: Iterable[int] = ()) -> list[int]:
    """Return the least value of each stretch within which no window begins or ends."""
    starts = {0, *known}
    for low, high in windows:
        starts.add(low)
        if high < ENDLESS:
            starts.add(high + 1)
    return sorted(starts)


def days_apart(periods: Iterable[Any], known: Iterable[int] = ()) -> list[int]:
    windows = (day_window(p) for p in periods if not isinstance(p, bool | str))
    return floors(windows, known)

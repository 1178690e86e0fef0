"""What unknown dates, overhauls and records can be.

Manufacture, shipping and overhauls stand in this order in every case, unless the dates
that are recorded already contradict it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from typing import Any

from notices.rules.applicability.bounds import OverhaulTest
from notices.rules.applicability.cases import (
    LIMIT,
    UNNAMED,
    Case,
    GroupTests,
    Space,
    TooManyError,
    days_apart,
    limited,
    named_values,
)
from notices.rules.applicability.leaf_tests import (
    Value,
    at_least_one,
    overhauls_meet,
    record_value,
)
from notices.rules.applicability.nodes import (
    Built,
    Complied,
    Leaf,
    Overhauled,
    Shipped,
)
from notices.rules.applicability.subjects import (
    ENDLESS,
    EngineSubject,
    History,
    Subject,
)
from notices.rules.designations import designation, plain_text
from notices.rules.facts import Unknown


def dates_space(tests: GroupTests, subject: Subject) -> Space:
    """Return the cases of the unknown dates and overhauls that the tests look at."""
    axes = _date_axes(tests.leaves, subject)
    facts = tuple(subject.of_it(axis.words) for axis in axes)
    if prod(len(axis.options) for axis in axes) > LIMIT * LIMIT:
        raise TooManyError(facts)
    in_order = _is_ordered(subject)
    cases = []
    for choice in product(*(axis.options for axis in axes)):
        settled = subject
        for axis, option in zip(axes, choice, strict=True):
            settled = axis.settle(settled, option)
        if not in_order or _is_ordered(settled):
            cases.append(Case(choice, tests.values(settled)))
    return limited(facts, cases)


def _is_ordered(subject: Subject) -> bool:
    done: History = () if isinstance(subject.overhauls, Unknown) else subject.overhauls
    line = [subject.built, subject.shipped, *(on for on, _ in done)]
    known = [day for day in line if not isinstance(day, Unknown)]
    return known == sorted(known)


@dataclass(frozen=True, slots=True)
class _Axis:
    """One unknown date or name: its words, what it can be, and how to settle it."""

    words: str
    options: Sequence[Hashable]
    settle: Callable[[Subject, Any], Subject]


def _date_axes(leaves: Sequence[Leaf], subject: Subject) -> list[_Axis]:
    overhaul_tests = [f.test for f in leaves if isinstance(f, Overhauled)]
    periods = [f.period for f in leaves if isinstance(f, Built | Shipped)]
    periods += [
        test.period
        for test in overhaul_tests
        if isinstance(test, OverhaulTest) and test.period
    ]
    known = [
        day for day in (subject.built, subject.shipped) if not isinstance(day, Unknown)
    ]
    if not isinstance(subject.overhauls, Unknown):
        known += [on for on, _ in subject.overhauls if not isinstance(on, Unknown)]
    days = days_apart(periods, known)
    axes = []
    if any(isinstance(f, Built) for f in leaves) and isinstance(subject.built, Unknown):
        axes.append(_Axis("date of manufacture", days, lambda s, on: s.with_(built=on)))
    if any(isinstance(f, Shipped) for f in leaves) and isinstance(
        subject.shipped, Unknown
    ):
        axes.append(_Axis("shipping date", days, lambda s, on: s.with_(shipped=on)))
    if not overhaul_tests:
        return axes
    if isinstance(subject.overhauls, Unknown):
        return [*axes, _whole_history_axis(overhaul_tests, days, subject)]
    return [*axes, *_overhaul_axes(overhaul_tests, days, subject.overhauls)]


def _overhaul_axes(
    tests: Sequence[OverhaulTest | bool], days: Sequence[int], done: History
) -> list[_Axis]:
    """Return what is not known of recorded overhauls, as far as a test looks at it."""
    dated = any(isinstance(t, OverhaulTest) and t.period for t in tests)
    named = _whose(tests)
    any_of_them = any(isinstance(t, OverhaulTest) and t.which == "any" for t in tests)
    axes = []
    for index, (on, by) in enumerate(done):
        is_last = index == len(done) - 1
        if not is_last and not any_of_them:
            continue
        which = "the last overhaul" if is_last else f"overhaul {index + 1}"
        if isinstance(on, Unknown) and dated:
            axes.append(_Axis(f"date of {which}", days, _settle_overhaul(index, 0)))
        if isinstance(by, Unknown) and named:
            words = f"who did {which}"
            axes.append(_Axis(words, [*named, UNNAMED], _settle_overhaul(index, 1)))
    return axes


def _settle_overhaul(index: int, place: int) -> Callable[[Subject, Any], Subject]:
    def settle(subject: Subject, value: Any) -> Subject:
        done = subject.overhauls
        assert not isinstance(done, Unknown)
        on, by = done[index]
        one = (value, by) if place == 0 else (on, value)
        return subject.with_(overhauls=(*done[:index], one, *done[index + 1 :]))

    return settle


def _whose(tests: Sequence[OverhaulTest | bool]) -> list[str]:
    names = [
        plain_text(name)
        for test in tests
        if isinstance(test, OverhaulTest)
        for name in (*test.by, *test.not_by)
    ]
    return list(dict.fromkeys(names))


def _whole_history_axis(
    tests: Sequence[OverhaulTest | bool], days: Sequence[int], subject: Subject
) -> _Axis:
    """Return one history of overhauls for each row of answers, as one fact.

    Of histories with the same answers the one that begins last is kept: whatever
    manufacture and shipping go with another of them go with it, too.
    """
    words = "overhaul history"
    whose = [*_whose(tests), UNNAMED]
    known: list[History] = [()]
    seen = {_history_mark((), tests, subject)}
    for done in known:
        for on, by in product(days, whose):
            longer: History = (*done, (on, by))
            mark = _history_mark(longer, tests, subject)
            if _in_order(longer) and mark not in seen:
                seen.add(mark)
                known.append(longer)
        if len(known) > LIMIT * LIMIT:
            raise TooManyError((subject.of_it(words),))
    latest: dict[Hashable, History] = {}
    for done in sorted(known, key=_first_day):
        latest[_history_mark(done, tests, subject)[1]] = done
    return _Axis(words, [*latest.values()], lambda s, done: s.with_(overhauls=done))


def _first_day(done: History) -> int:
    """Return the day of the first overhaul, far out where there is none."""
    first = done[0][0] if done else ENDLESS
    assert not isinstance(first, Unknown)
    return first


def _in_order(done: History) -> bool:
    days = [on for on, _ in done[-2:] if not isinstance(on, Unknown)]
    return days == sorted(days)


def _history_mark(
    done: History, tests: Sequence[OverhaulTest | bool], subject: Subject
) -> tuple[Hashable, Hashable]:
    answers = tuple(overhauls_meet(test, done, subject) for test in tests)
    return (_first_day(done), done[-1][0] if done else 0), answers


_Rows = list[tuple[tuple[Hashable, ...], tuple[Value, ...]]]
"""Choices with the answers they give."""


def complied_space(leaves: Sequence[Leaf], engine: EngineSubject) -> Space:
    tests = [leaf for leaf in leaves if isinstance(leaf, Complied)]
    number = tests[0].number
    revisions = named_values(designation(r) for test in tests for r in test.revisions)
    days = days_apart(test.when for test in tests if test.when is not None)
    rows: list[_Rows] = []
    facts: list[str] = []
    for index, (revision, on) in enumerate(
        engine.complied.get(designation(number), ())
    ):
        record = f"record {index + 1} of compliance with {number}"
        revision_open = isinstance(revision, Unknown) and any(
            t.revisions for t in tests
        )
        day_open = isinstance(on, Unknown) and any(t.when for t in tests)
        facts += [f"revision in {record}"] * revision_open + [
            f"date of {record}"
        ] * day_open
        rows.append(
            [
                ((r,) * revision_open + (d,) * day_open, _record_row(tests, r, d))
                for r in (revisions if revision_open else [revision])
                for d in (days if day_open else [on])
            ]
        )
    if not engine.history_reviewed:
        facts.append(f"whether {number} was complied with")
        rows.append(_unrecorded_rows(tests, revisions, days))
    if prod(len(row) for row in rows) > LIMIT:
        raise TooManyError(facts)
    return Space(
        tuple(facts),
        tuple(
            Case(
                tuple(value for choice, _ in chosen for value in choice),
                tuple(
                    at_least_one(list(c))
                    for c in zip(*(v for _, v in chosen), strict=True)
                ),
            )
            for chosen in product(*rows)
        ),
    )


def _record_row(tests: Sequence[Complied], revision: Any, on: Any) -> tuple[Value, ...]:
    return tuple(record_value(test, revision, on) for test in tests)


def _unrecorded_rows(
    tests: Sequence[Complied], revisions: Sequence[str], days: Sequence[int]
) -> _Rows:
    """Return the answers that any number of records not known of could give."""
    single = {_record_row(tests, r, d) for r in revisions for d in days}
    found = [tuple(0 for _ in tests)]
    for so_far in found:
        for row in sorted(single):
            both = tuple(max(pair) for pair in zip(so_far, row, strict=True))
            if both not in found:
                found.append(both)
        if len(found) > LIMIT:
            break
    return [((index,), row) for index, row in enumerate(found)]

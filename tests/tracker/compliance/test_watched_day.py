"""A watched day answers as a date does, and says how long its answers stay the same."""

from __future__ import annotations

import copy
import operator
import pickle
from collections.abc import Callable
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.compliance.findings.watched_day import WatchedDay

COMPARISONS = (
    operator.lt,
    operator.le,
    operator.gt,
    operator.ge,
    operator.eq,
    operator.ne,
)
NEAR = st.dates(date(2026, 2, 1), date(2026, 4, 1))
TODAY = date(2026, 3, 1)


@given(
    day=NEAR,
    asked=st.lists(st.tuples(st.sampled_from(COMPARISONS), NEAR, st.booleans())),
)
def test_the_noted_day_is_the_first_on_which_a_comparison_turns(
    day: date, asked: list[tuple[Callable[[date, date], bool], date, bool]]
) -> None:
    def answers(on: date) -> list[bool]:
        return [
            compare(other, on) if turned else compare(on, other)
            for compare, other, turned in asked
        ]

    watched = WatchedDay(day)
    now = answers(watched)
    assert now == answers(day)
    days = (day + timedelta(days=ahead) for ahead in range(1, 100))
    assert watched.changes_on == next((d for d in days if answers(d) != now), None)


@given(
    day=NEAR,
    asked=st.lists(st.tuples(st.sampled_from(COMPARISONS), NEAR, st.booleans())),
)
def test_of_its_ordinal_no_comparison_turns_before_the_noted_day(
    day: date, asked: list[tuple[Callable[[int, int], bool], date, bool]]
) -> None:
    def answers(on: date) -> list[bool]:
        number = on.toordinal()
        return [
            compare(other.toordinal(), number)
            if turned
            else compare(number, other.toordinal())
            for compare, other, turned in asked
        ]

    watched = WatchedDay(day)
    now = answers(watched)
    assert now == answers(day)
    days = (day + timedelta(days=ahead) for ahead in range(1, 100))
    turned = next((d for d in days if answers(d) != now), None)
    assert turned is None or (watched.changes_on or date.max) <= turned


@pytest.mark.parametrize(
    "read",
    [
        lambda day: day - date(2026, 1, 1),
        lambda day: date(2026, 12, 1) - day,
        lambda day: day + timedelta(days=2),
        lambda day: timedelta(days=2) + day,
        lambda day: day.year,
        lambda day: day.month,
        lambda day: day.day,
        lambda day: day.toordinal() + 1,
        lambda day: 800_000 - day.toordinal(),
        lambda day: str(day.toordinal()),
        lambda day: day.toordinal() < 1e9,
        lambda day: day.isoformat(),
        lambda day: day.replace(day=9),
        lambda day: day.weekday(),
        lambda day: f"{day:%d.%m.}",
        str,
        copy.deepcopy,
        lambda day: pickle.loads(pickle.dumps(day)),  # noqa: S301 - made a moment before
    ],
)
def test_who_reads_the_date_itself_may_read_another_one_tomorrow(
    read: Callable[[date], object],
) -> None:
    watched = WatchedDay(TODAY)
    assert read(watched) == read(TODAY)
    assert watched.changes_on == date(2026, 3, 2)


@pytest.mark.parametrize(
    "ask",
    [
        lambda day: day == day,
        lambda day: (day, 1) == (day, 1),
        lambda day: day is None,
        lambda day: day != "today",
        lambda day: day <= date.max,
        lambda day: {day: 1}[day],
        lambda day: day.toordinal() < 10_000_000,
        lambda day: isinstance(day, date),
    ],
)
def test_what_hangs_on_no_other_day_is_not_noted(
    ask: Callable[[date], object],
) -> None:
    watched = WatchedDay(TODAY)
    assert ask(watched) == ask(TODAY)
    assert watched.changes_on is None


@pytest.mark.parametrize(
    ("ask", "changes_on"),
    [
        (lambda day: max(day, date(2026, 3, 9)), date(2026, 3, 10)),
        (lambda day: sorted([date(2026, 3, 9), day]), date(2026, 3, 9)),
        (lambda day: (day, 2) < (date(2026, 3, 9), 1), date(2026, 3, 9)),
    ],
)
def test_what_compares_on_its_behalf_is_noted(
    ask: Callable[[date], object], changes_on: date
) -> None:
    watched = WatchedDay(TODAY)
    assert ask(watched) == ask(TODAY)
    assert watched.changes_on is not None
    assert watched.changes_on <= changes_on

"""What SQL tells of a mixed tree without looking at it is what the tree itself says."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from typing import Any

from hypothesis import example, given, settings
from hypothesis import strategies as st

from notices.rules.compliance_time import (
    Brief,
    DuePoint,
    Lead,
    Rate,
    State,
    brief_at,
    state_at,
)
from notices.rules.facts import UNKNOWN, Hours
from notices.rules.times.points import Branch, Leaf, PointKind, Tree
from tracker.compliance.findings.columns import first_change, point_columns

DAY = date(2026, 11, 24)
LEAD_HOURS, LEAD_DAYS = 2500, 60
LEAD = Lead(hours=Hours(LEAD_HOURS), days=LEAD_DAYS)
HOURS = st.integers(min_value=0, max_value=20_000).map(Hours)
DAYS = st.integers(min_value=-200, max_value=200).map(lambda n: DAY + timedelta(days=n))


def by_hours(hours: Hours) -> Leaf:
    return Leaf(kind=PointKind.POINT, hours=hours)


def by_day(on: date) -> Leaf:
    return Leaf(kind=PointKind.POINT, on=on)


NOT_KNOWN = Leaf(kind=PointKind.UNKNOWN, missing=("why",))
AHEAD = Leaf(kind=PointKind.EVENT_AHEAD, event="overhaul")
LEAVES: st.SearchStrategy[Tree] = st.one_of(
    HOURS.map(by_hours),
    DAYS.map(by_day),
    st.builds(
        lambda hours, on: Leaf(kind=PointKind.POINT, hours=hours, on=on, event="x"),
        HOURS,
        DAYS,
    ),
    HOURS.map(
        lambda low: Leaf(
            kind=PointKind.POINT,
            hours=Hours(low + 500),
            estimated=True,
            lowest_hours=low,
        )
    ),
    HOURS.map(
        lambda hours: Leaf(
            kind=PointKind.FURTHER_FLIGHT, event="further flight", from_hours=hours
        )
    ),
    st.sampled_from(
        [
            NOT_KNOWN,
            AHEAD,
            Leaf(kind=PointKind.WAITING, event="oil change"),
            Leaf(kind=PointKind.NOTHING_DUE),
        ]
    ),
)


def _joined(trees: st.SearchStrategy[Tree]) -> st.SearchStrategy[Tree]:
    return st.builds(
        lambda joined, members: Branch(joined=joined, members=tuple(members)),
        st.sampled_from(["first_of", "last_of", "one_of"]),
        st.lists(trees, min_size=2, max_size=3),
    )


TREES: st.SearchStrategy[Tree] = st.recursive(LEAVES, _joined, max_leaves=6)
LATE_GRACE = Branch(joined="last_of", members=(by_hours(Hours(1)), by_day(date.max)))
HALF_KNOWN = Branch(
    joined="last_of",
    members=(
        by_hours(Hours(20_000)),
        Branch(joined="first_of", members=(NOT_KNOWN, by_day(DAY))),
    ),
)


ROOM = st.integers(min_value=1, max_value=10_000)


@settings(max_examples=400)
@given(
    tree=TREES,
    until=st.none() | TREES,
    hours=HOURS,
    room=ROOM,
    tolerance=st.sampled_from([0, 1000]),
)
@example(tree=LATE_GRACE, until=None, hours=Hours(9000), room=1, tolerance=0)
@example(tree=HALF_KNOWN, until=None, hours=Hours(100), room=1, tolerance=0)
def test_before_its_first_change_a_tree_stands_as_it_did_at_first(
    tree: Tree, until: Tree | None, hours: Hours, room: int, tolerance: int
) -> None:
    point = DuePoint(tree=tree, until=until, tolerance_hours=Hours(tolerance))
    mark, on = first_change(point)
    if mark is not None:
        hours = Hours(mark - LEAD_HOURS - room)
    told = state_at(point, on=_day_before(on, room), hours=hours, lead=LEAD).state
    assert told is _at_first(point)


@settings(max_examples=200)
@given(tree=TREES, room=ROOM)
def test_without_a_reading_a_tree_without_hours_is_told_so_too(
    tree: Tree, room: int
) -> None:
    point = DuePoint(tree=tree)
    on = _day_before(first_change(point)[1], room)
    told = state_at(point, on=on, hours=UNKNOWN, lead=LEAD).state
    # A tree with hours in it is looked at, whatever the day.
    has_hours = point.overdue_hours is not None
    assert has_hours or point.further_flight or told is _at_first(point)


@settings(max_examples=300)
@given(tree=TREES, until=st.none() | TREES, hours=HOURS, a_day=st.integers(0, 500))
def test_in_brief_the_same_is_said_from_the_stored_point(
    tree: Tree, until: Tree | None, hours: Hours, a_day: int
) -> None:
    point = DuePoint(tree=tree, until=until)
    upper = Fraction(a_day)
    asked: dict[str, Any] = {
        "on": DAY,
        "hours": hours,
        "lead": LEAD,
        "rate": Rate(a_day=upper, low=upper, high=upper),
        "reading_on": DAY - timedelta(days=20),
    }
    brief = brief_at(DuePoint.from_json(point.to_json(), bare=True), **asked)
    due = state_at(point, **asked)
    assert brief == Brief(
        state=due.state,
        further_flight=due.further_flight,
        may_be_overdue=due.may_be_overdue,
    )


def _day_before(on: date | None, room: int) -> date:
    """A day before the lead begins, as `states.told_by_point` counts it in SQL."""
    if on is None:
        return DAY
    return on - timedelta(days=LEAD_DAYS + room % 1000 + 1)


def _at_first(point: DuePoint) -> State:
    """The state by columns: undetermined if doubtful, nothing due, else outstanding."""
    if point_columns(point, zero=0)["doubtful"]:
        return State.UNDETERMINED
    return state_at(point, on=date.min, hours=Hours(-(10**12))).state


def test_a_grace_period_is_not_near_because_one_half_ran_out_long_ago() -> None:
    assert first_change(DuePoint(tree=LATE_GRACE)) == (None, date.max)


def test_a_half_that_is_not_known_is_looked_at_when_it_may_change() -> None:
    assert first_change(DuePoint(tree=HALF_KNOWN)) == (None, DAY)

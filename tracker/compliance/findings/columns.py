"""The columns of a finding by which SQL tells its state, taken from its due point."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any, Final

from notices.rules.compliance_time import DuePoint
from notices.rules.facts import Hours
from notices.rules.times.points import Leaf, PointKind, Tree, branches, leaves
from notices.rules.times.standing import Moment, Standing, standing
from tracker.compliance.models import ToldBy

_BEFORE_ALL: Final = Moment(on=date.min, hours=Hours(-(10**12)))
Mark = tuple[Hours | None, date | None]
"""Hours and a day; None where it is not by that kind."""

_NEVER: Final[Mark] = (None, None)
_FIRST: Final = frozenset(
    {
        PointKind.POINT,
        PointKind.EVENT_AHEAD,
        PointKind.FURTHER_FLIGHT,
        PointKind.UNKNOWN,
    }
)


def point_columns(point: DuePoint, *, zero: int) -> dict[str, Any]:
    """Return the columns of an open finding. `zero`: of the core's hours on the axis."""

    def on_axis(hours: Hours | None) -> int | None:
        return None if hours is None else hours + zero

    told_by = _told_by(point)
    hours, on = point.earliest_hours, point.earliest_date
    if told_by == ToldBy.POINT:
        hours, on = first_change(point)
    overdue = point.overdue_hours
    if point.further_flight:
        overdue = point.further_flight_hours
    return {
        "told_by": told_by,
        "fixed": point.undetermined,
        "doubtful": _is_doubtful(point),
        "further_flight": point.further_flight,
        "earliest_hours": on_axis(hours),
        "earliest_date": on,
        "overdue_hours": on_axis(overdue),
        "overdue_date": point.overdue_date,
        "latest_hours": on_axis(point.latest_hours),
        "latest_date": point.latest_date,
    }


def closed_columns() -> dict[str, Any]:
    """Return the columns of a finding under which nothing is open."""
    return {
        "told_by": ToldBy.FIRST,
        "fixed": False,
        "doubtful": False,
        "further_flight": False,
        "earliest_hours": None,
        "earliest_date": None,
        "overdue_hours": None,
        "overdue_date": None,
        "latest_hours": None,
        "latest_date": None,
    }


def first_change(point: DuePoint) -> Mark:
    """Return hours and a day: before either is near, the state is what it is now.

    Told for a mixed tree from the members that decide, so that a grace period of which
    one half ran out long ago is not looked at every day.
    """
    trees = [tree for tree in (point.tree, point.until) if tree is not None]
    return _least([_change(tree) for tree in trees])


def _change(tree: Tree) -> Mark:
    if isinstance(tree, Leaf):
        if tree.kind is PointKind.FURTHER_FLIGHT:
            return tree.from_hours, None
        return tree.earliest_hours, tree.on
    members: Sequence[Tree] = tree.members
    if tree.joined == "first_of":
        return _least([_change(member) for member in members])
    if tree.joined == "last_of":
        at_first = [standing(member, _BEFORE_ALL) for member in members]
        if Standing.NOTHING in at_first:
            return _NEVER
        if Standing.UNKNOWN in at_first:
            # Not known until every member of that kind has changed.
            told = zip(members, at_first, strict=True)
            members = [one for one, now in told if now is Standing.UNKNOWN]
    return _latest([_change(member) for member in members])


def _least(marks: Sequence[Mark]) -> Mark:
    hours = [hours for hours, _ in marks if hours is not None]
    days = [on for _, on in marks if on is not None]
    return min(hours, default=None), min(days, default=None)


def _latest(marks: Sequence[Mark]) -> Mark:
    """Return one of the marks, all of which must be reached: the latest, if it shows."""
    if _NEVER in marks:
        return _NEVER
    by_day = [mark for mark in marks if mark[0] is None]
    if by_day:
        return max(by_day, key=lambda mark: mark[1] or date.min)
    by_hours = [mark for mark in marks if mark[1] is None]
    return max(by_hours or marks[:1], key=lambda mark: mark[0] or Hours(0))


def _told_by(point: DuePoint) -> ToldBy:
    if point.undetermined or point.until is not None or point.tree is None:
        return ToldBy.POINT
    found = list(leaves(point.tree))
    joined = {branch.joined for branch in branches(point.tree)}
    if joined <= {"first_of"} and all(leaf.kind in _FIRST for leaf in found):
        return ToldBy.FIRST
    if joined == {"last_of"} and _is_plain(point, found):
        return ToldBy.LAST
    return ToldBy.POINT


def _is_plain(point: DuePoint, found: list[Leaf]) -> bool:
    """Whether every leaf is one exact limit, of hours or of a date, without tolerance."""
    if point.tolerance_hours or point.tolerance_days:
        return False
    return all(
        leaf.kind is PointKind.POINT
        and not leaf.estimated
        and (leaf.hours is None) != (leaf.on is None)
        for leaf in found
    )


def _is_doubtful(point: DuePoint) -> bool:
    """Whether it is undetermined as long as no known limit is near."""
    trees: list[Tree] = [tree for tree in (point.tree, point.until) if tree is not None]
    unknown = Standing.UNKNOWN
    return point.undetermined or any(standing(t, _BEFORE_ALL) is unknown for t in trees)

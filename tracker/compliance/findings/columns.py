"""The columns of a finding by which SQL tells its state, taken from its due point."""

from __future__ import annotations

from datetime import date
from typing import Any, Final

from notices.rules.compliance_time import DuePoint
from notices.rules.facts import Hours
from notices.rules.times.points import Leaf, PointKind, Tree, branches, leaves
from notices.rules.times.standing import Moment, Standing, standing
from tracker.compliance.models import ToldBy

_BEFORE_ALL: Final = Moment(on=date.min, hours=Hours(-(10**12)))
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
    overdue = point.overdue_hours
    if point.further_flight:
        overdue = point.further_flight_hours
    return {
        "told_by": told_by,
        "fixed": point.undetermined,
        "doubtful": _is_doubtful(point),
        "further_flight": point.further_flight,
        "earliest_hours": on_axis(point.earliest_hours),
        "earliest_date": point.earliest_date,
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

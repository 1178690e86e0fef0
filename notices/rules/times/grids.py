"""The grid of a repeat: from where each limit of the interval runs after each record.

Under restart "done" it runs from the record. Under "planned" it runs from the planned
point where the work was done inside the tolerance, so that an overrun is paid back
(14 CFR 91.409(b)); outside it runs from the record. Judged limit by limit. A grid of
months counts from its origin: 31 January, 28 February, 31 March.

Where the time is by cases, it is not known which case held in an interval that has
ended, so a record may answer one of several planned points. The next interval then runs
from the earliest that any of them gives: the grid is never kept for work done early
on a point that may not have been the planned one, and an overrun is paid back where it
may be one. No point falls later by that than by what really held.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final

from notices.rules.facts import Hours, Unknown
from notices.rules.months import last_day_in_time
from notices.rules.times.actions import Action, Tolerance
from notices.rules.times.history import Done
from notices.rules.times.limits import DaysLimit, HoursLimit, MonthsLimit
from notices.rules.times.points import (
    Branch,
    Leaf,
    PointKind,
    Tree,
    branches,
    folded_hours,
    folded_on,
    leaves,
)
from notices.rules.times.situations import Place

CASE: Final = "?"
"""Stands in the path of a limit for the case it belongs to."""

GridLimit = HoursLimit | MonthsLimit | DaysLimit


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """The planned point of one limit. `on` is `months` after `origin` in a month grid."""

    hours: Hours | None = None
    on: date | None = None
    origin: date | None = None
    months: int = 0

    @property
    def kind(self) -> str:
        """The key under which points of its kind are kept."""
        return "date" if self.hours is None else "hours"


Steps = tuple[Step, ...]
"""The planned points that one limit may have had, each once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """The grid at one record. `before`: the planned points that the record may answer.

    `after` is filled with the next ones, by the path of each limit in the repeat.
    """

    action: Action
    record: Done
    place: Place
    before: Mapping[str, Steps] = field(default_factory=dict)
    after: dict[str, Steps] = field(default_factory=dict)

    def next_leaf(self, limit: GridLimit, path: str) -> Leaf:
        """Return the next point of a limit counted from the last record."""
        planned = self._planned(limit, path)
        if isinstance(limit, HoursLimit):
            return self._next_hours(limit, path, planned)
        return self._next_date(limit, path, planned)

    def _planned(self, limit: GridLimit, path: str) -> Steps:
        """Return the points of this limit; by cases those of every case of its kind."""
        kind = kind_of(limit)
        if CASE not in path:
            return self.before.get(path) or self.before.get(kind) or ()
        every = (steps for key, steps in self.before.items() if CASE in key)
        found = _each_once(
            step for steps in every for step in steps if step.kind == kind
        )
        return found or self.before.get(kind) or ()

    def _next_hours(self, limit: HoursLimit, path: str, planned: Steps) -> Leaf:
        place = self.place
        if isinstance(place.hours, Unknown):
            return Leaf(
                kind=PointKind.UNKNOWN, limit=limit, missing=(place.missing_hours,)
            )
        starts: tuple[Hours, ...] = (place.hours,)
        lowest = place.lowest
        if planned and not place.estimated:
            tolerance = self._tolerance
            allowed = None if tolerance is None else tolerance.hours
            starts = tuple(
                step.hours
                if step.hours is not None
                and self._stays(place.hours - step.hours, allowed)
                else place.hours
                for step in planned
            )
        start = min(starts)
        due = Hours(start + limit.hours)
        self.after[path] = _each_once(
            Step(hours=Hours(one + limit.hours)) for one in starts
        )
        return Leaf(
            kind=PointKind.POINT,
            limit=limit,
            hours=due,
            estimated=place.estimated,
            lowest_hours=None if lowest is None else Hours(lowest + limit.hours),
            from_hours=start,
        )

    def _next_date(
        self, limit: MonthsLimit | DaysLimit, path: str, planned: Steps
    ) -> Leaf:
        place = self.place
        if isinstance(place.on, Unknown):
            return Leaf(
                kind=PointKind.UNKNOWN, limit=limit, missing=(place.missing_on,)
            )
        done = Step(on=place.on, origin=place.on)
        tolerance = self._tolerance
        allowed = None if tolerance is None else tolerance.days
        starts = [
            step
            if step.on is not None and self._stays((place.on - step.on).days, allowed)
            else done
            for step in planned
        ]
        nexts = [(_later(start, limit), start) for start in starts or [done]]
        self.after[path] = _each_once(step for step, _ in nexts)
        step, start = min(nexts, key=lambda one: one[0].on or date.max)
        return Leaf(kind=PointKind.POINT, limit=limit, on=step.on, from_on=start.on)

    @property
    def _tolerance(self) -> Tolerance | None:
        return self.action.tolerance

    def _stays(self, over: int, allowed: int | None) -> bool:
        """Return whether the grid stays, for work done `over` past its point."""
        tolerance = self.action.tolerance
        if self.action.restart != "planned":
            return False
        if over == 0:
            return True
        if tolerance is None or allowed is None or abs(over) > allowed:
            return False
        if over < 0:
            return tolerance.early
        return self.record.en_route or not tolerance.en_route


def _each_once(steps: Iterable[Step]) -> Steps:
    return tuple(dict.fromkeys(steps))


def kind_of(limit: GridLimit) -> str:
    """Return the key under which an initial point answers for a limit of its kind."""
    return "hours" if isinstance(limit, HoursLimit) else "date"


def _later(start: Step, limit: MonthsLimit | DaysLimit) -> Step:
    assert start.on is not None
    if isinstance(limit, DaysLimit):
        on = days_later(start.on, limit.days)
        return Step(on=on, origin=on)
    origin = start.origin or start.on
    months = start.months + limit.months
    on = months_later(origin, months, calendar=limit.calendar)
    return Step(on=on, origin=origin, months=months)


def days_later(start: date, days: int) -> date:
    """Return the date so many days later, the last of the calendar beyond its end."""
    return start + timedelta(days=min(days, (date.max - start).days))


def months_later(start: date, months: int, *, calendar: bool) -> date:
    """Return the date so many months later, the last of the calendar beyond its end."""
    try:
        return last_day_in_time(start, months, calendar=calendar)
    except OverflowError:
        return date.max


def first_steps(tree: Tree) -> dict[str, Steps]:
    """Return the planned points of an initial time, by kind.

    Limits on one axis collapse into one point. Only where it has one point of a kind
    can that point stand for a repeat's limit. Where it is not known which of several
    holds, each of its limits may be that point.
    """
    steps: dict[str, Steps] = {}
    may_be_any = any(branch.joined == "one_of" for branch in branches(tree))
    for axis in ("hours", "date"):
        parts: list[Tree] = (
            [leaf for leaf in leaves(tree) if _axis(leaf) == axis]
            if may_be_any
            else list(_on_one_axis(tree, axis))
        )
        if parts and (may_be_any or len(parts) == 1):
            steps[axis] = _each_once(_first_step(part, axis) for part in parts)
    return steps


def _first_step(tree: Tree, axis: str) -> Step:
    return Step(hours=folded_hours(tree)) if axis == "hours" else _first_date(tree)


def _on_one_axis(tree: Tree, axis: str) -> Iterator[Tree]:
    """Yield the largest parts of the tree whose leaves are all points on this axis."""
    if all(_axis(leaf) == axis for leaf in leaves(tree)):
        yield tree
    elif isinstance(tree, Branch):
        for member in tree.members:
            yield from _on_one_axis(member, axis)


def _axis(leaf: Leaf) -> str | None:
    if leaf.kind is not PointKind.POINT or leaf.event is not None:
        return None
    return "date" if leaf.hours is None else "hours"


def _first_date(tree: Tree) -> Step:
    if isinstance(tree, Leaf) and isinstance(tree.limit, MonthsLimit):
        return Step(on=tree.on, origin=tree.from_on, months=tree.limit.months)
    on = folded_on(tree)
    return Step(on=on, origin=on)

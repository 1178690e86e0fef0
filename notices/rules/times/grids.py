"""The grid of a repeat: from where each limit of the interval runs after each record.

Under restart "done" it runs from the record. Under "planned" it runs from the planned
point where the work was done inside the tolerance, so that an overrun is paid back
(14 CFR 91.409(b)); outside it runs from the record. Judged limit by limit. A grid of
months counts from its origin: 31 January, 28 February, 31 March.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

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
    folded_hours,
    folded_on,
    leaves,
)
from notices.rules.times.situations import Place

GridLimit = HoursLimit | MonthsLimit | DaysLimit


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """The planned point of one limit. `on` is `months` after `origin` in a month grid."""

    hours: Hours | None = None
    on: date | None = None
    origin: date | None = None
    months: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """The grid at one record. `before`: the planned points that the record answers.

    `after` is filled with the next ones, by the path of each limit in the repeat.
    """

    action: Action
    record: Done
    place: Place
    before: Mapping[str, Step] = field(default_factory=dict)
    after: dict[str, Step] = field(default_factory=dict)

    def next_leaf(self, limit: GridLimit, path: str) -> Leaf:
        """Return the next point of a limit counted from the last record."""
        planned = self.before.get(path) or self.before.get(kind_of(limit))
        if isinstance(limit, HoursLimit):
            return self._next_hours(limit, path, planned)
        return self._next_date(limit, path, planned)

    def _next_hours(self, limit: HoursLimit, path: str, planned: Step | None) -> Leaf:
        place = self.place
        if isinstance(place.hours, Unknown):
            return Leaf(
                kind=PointKind.UNKNOWN, limit=limit, missing=(place.missing_hours,)
            )
        start, lowest = place.hours, place.lowest
        if planned is not None and planned.hours is not None and not place.estimated:
            tolerance = self._tolerance
            allowed = None if tolerance is None else tolerance.hours
            if self._stays(place.hours - planned.hours, allowed):
                start = planned.hours
        due = Hours(start + limit.hours)
        self.after[path] = Step(hours=due)
        return Leaf(
            kind=PointKind.POINT,
            limit=limit,
            hours=due,
            estimated=place.estimated,
            lowest_hours=None if lowest is None else Hours(lowest + limit.hours),
            from_hours=start,
        )

    def _next_date(
        self, limit: MonthsLimit | DaysLimit, path: str, planned: Step | None
    ) -> Leaf:
        place = self.place
        if isinstance(place.on, Unknown):
            return Leaf(
                kind=PointKind.UNKNOWN, limit=limit, missing=(place.missing_on,)
            )
        start = Step(on=place.on, origin=place.on)
        if planned is not None and planned.on is not None:
            tolerance = self._tolerance
            allowed = None if tolerance is None else tolerance.days
            if self._stays((place.on - planned.on).days, allowed):
                start = planned
        step = _later(start, limit)
        self.after[path] = step
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


def first_steps(tree: Tree) -> dict[str, Step]:
    """Return the planned points of an initial time, by kind.

    Limits on one axis collapse into one point. Only where it has one point of a kind
    can that point stand for a repeat's limit.
    """
    steps: dict[str, Step] = {}
    by_hours = list(_on_one_axis(tree, "hours"))
    if len(by_hours) == 1:
        steps["hours"] = Step(hours=folded_hours(by_hours[0]))
    by_date = list(_on_one_axis(tree, "date"))
    if len(by_date) == 1:
        steps["date"] = _first_date(by_date[0])
    return steps


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

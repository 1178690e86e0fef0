"""On which day a tree of points will be reached, as the engine is run."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from math import floor

from notices.rules.facts import Hours
from notices.rules.times.due_states import Forecast
from notices.rules.times.history import Rate
from notices.rules.times.points import Leaf, PointKind, Tree

NEVER = date.max


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """Hours on a day, and hundredths a day from then on."""

    on: date
    hours: Hours | None
    a_day: Fraction | None


def forecast(tree: Tree, on: date, hours: Hours | None, rate: Rate | None) -> Forecast:
    """Return the day on which the tree is reached, and its range.

    `on`: the day of `hours`. Each day is None where it cannot be said: no utilisation
    to go by, hours that are not known, an event, or an engine that is not run.
    """
    days = [
        _reached(tree, _Run(on=on, hours=hours, a_day=a_day))
        for a_day in (
            (None, None, None) if rate is None else (rate.a_day, rate.high, rate.low)
        )
    ]
    said = [None if day == NEVER else day for day in days]
    return Forecast(on=said[0], earliest=said[1], latest=said[2])


def _reached(tree: Tree, run: _Run) -> date | None:
    """Return the day, NEVER where it is not reached so, None where nobody can say."""
    if isinstance(tree, Leaf):
        return _leaf_reached(tree, run)
    days = [_reached(member, run) for member in tree.members]
    known = [day for day in days if day is not None]
    if len(known) < len(days):
        return None
    return max(known) if tree.joined == "last_of" else min(known)


def _leaf_reached(leaf: Leaf, run: _Run) -> date | None:
    if leaf.kind in (PointKind.EVENT_AHEAD, PointKind.WAITING, PointKind.NOTHING_DUE):
        return NEVER
    if leaf.kind is not PointKind.POINT:
        return None
    by_hours = NEVER if leaf.hours is None else _by_hours(leaf.hours, run)
    if by_hours is None:
        return None
    return by_hours if leaf.on is None else min(leaf.on, by_hours)


def _by_hours(due: Hours, run: _Run) -> date | None:
    if run.hours is None or run.a_day is None:
        return None
    if due <= run.hours:
        return run.on
    if run.a_day == 0:
        return NEVER
    days = floor((due - run.hours) / run.a_day)
    return run.on + timedelta(days=min(days, (date.max - run.on).days))

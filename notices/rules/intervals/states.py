"""How an engine stands to its overhaul interval on a day.

Past an interval that is law in its operation an engine is overdue. Past one that is only
recommended it is past the recommended interval and nothing more (in the United States,
for private operation: FAA Notice N 8900.410); where it is not known whether it is law,
that is undetermined.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from notices.rules.facts import UNKNOWN, Hours, Unknown
from notices.rules.intervals.results import OverhaulPoint
from notices.rules.intervals.wording import (
    PAST_IN_DOUBT,
    PAST_RECOMMENDED,
    overhaul_sentence,
)
from notices.rules.times.day_states import state_at
from notices.rules.times.due_points import DuePoint
from notices.rules.times.due_states import Due
from notices.rules.times.history import Rate
from notices.rules.times.limits import HoursLimit
from notices.rules.times.points import Branch, Leaf, PointKind, Tree, leaves
from notices.rules.times.standing import Lead, Moment, Standing, standing
from notices.rules.times.states import State


@dataclass(frozen=True, slots=True, kw_only=True)
class OverhaulDue:
    """An engine's overhaul interval seen from a day.

    `due`: as for an action, but never overdue by what is only recommended; then it
    stays outstanding, and `is_past` says that the interval is exceeded.
    `used`, `used_years`: shares of the interval, above 1 once past, None where not known.
    """

    due: Due
    point: OverhaulPoint
    is_past: bool
    used: Fraction | None = None
    used_years: Fraction | None = None

    @property
    def word(self) -> str:
        """The state in a word, with what is past and only recommended named so."""
        if not self.is_past or self.due.state is State.OVERDUE:
            return self.due.state.value
        if self.due.state is State.UNDETERMINED:
            return PAST_IN_DOUBT
        return PAST_RECOMMENDED

    @property
    def sentence(self) -> str:
        """What explains it."""
        return overhaul_sentence(self)


def overhaul_at(
    point: OverhaulPoint,
    *,
    on: date,
    hours: Hours | Unknown,
    lead: Lead | None = None,
    rate: Rate | None = None,
    reading_on: date | None = None,
    meter: str | None = None,
) -> OverhaulDue:
    """Return how the engine stands on a day; the arguments are those of `state_at`."""

    def seen(due_point: DuePoint) -> Due:
        return state_at(
            due_point,
            on=on,
            hours=hours,
            lead=lead,
            rate=rate,
            reading_on=reading_on,
            meter=meter,
        )

    due = seen(point.point)
    is_past = due.state is State.OVERDUE
    law = None if point.law is None else seen(point.law)
    if is_past:
        due = _past(due, law, None if point.doubtful is None else point.doubtful.tree)
    elif due.may_be_overdue and (law is None or not law.may_be_overdue):
        due = replace(due, may_be_overdue=False)
    return _with_sentence(
        OverhaulDue(
            due=due,
            point=point,
            is_past=is_past,
            used=_used_hours(point, hours),
            used_years=_used_years(point, on),
        )
    )


def _past(due: Due, law: Due | None, doubtful: Tree | None) -> Due:
    """Return the result past the interval: overdue only by what is law."""
    if law is not None and law.state is State.OVERDUE:
        return due
    now = UNKNOWN if due.hours_now is None else due.hours_now
    moment = Moment(on=due.asked_on, hours=now)
    if doubtful is not None and _may_be_past(doubtful, moment):
        return replace(due, state=State.UNDETERMINED, if_it_applies=State.OVERDUE)
    may_be = law is not None and law.may_be_overdue
    return replace(due, state=State.OUTSTANDING, may_be_overdue=may_be)


def _may_be_past(tree: Tree, moment: Moment) -> bool:
    """Return whether a limit may be past, whichever of several points holds."""
    if isinstance(tree, Branch):
        return any(_may_be_past(member, moment) for member in tree.members)
    return standing(tree, moment) in (Standing.PAST, Standing.UNKNOWN)


def _with_sentence(answer: OverhaulDue) -> OverhaulDue:
    """Return the answer whose due result says the same as the answer."""
    return replace(answer, due=replace(answer.due, own_sentence=answer.sentence))


def _used_hours(point: OverhaulPoint, hours: Hours | Unknown) -> Fraction | None:
    """Return the share of the hours used, of the limit that falls first."""
    leaf = _chosen(point, by_hours=True)
    if leaf is None or isinstance(hours, Unknown) or leaf.from_hours is None:
        return None
    assert leaf.hours is not None
    return Fraction(hours - leaf.from_hours, leaf.hours - leaf.from_hours)


def _used_years(point: OverhaulPoint, on: date) -> Fraction | None:
    """Return the share of the years used, counted in days."""
    leaf = _chosen(point, by_hours=False)
    if leaf is None or leaf.from_on is None:
        return None
    assert leaf.on is not None
    if leaf.on == leaf.from_on:
        return None  # the calendar ends before the interval does
    return Fraction((on - leaf.from_on).days, (leaf.on - leaf.from_on).days)


def _chosen(point: OverhaulPoint, *, by_hours: bool) -> Leaf | None:
    tree = point.point.tree
    assert tree is not None
    wanted = point.point.hours if by_hours else point.point.on
    for leaf in leaves(tree):
        if (
            leaf.kind is PointKind.POINT
            and isinstance(leaf.limit, HoursLimit) is by_hours
        ):
            at = leaf.hours if by_hours else leaf.on
            if at == wanted:
                return leaf
    return None

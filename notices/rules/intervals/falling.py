"""Where the limits of an interval fall for one engine: on its hours and on the calendar.

What counts from overhaul counts from new where the engine was never overhauled, or was
rebuilt by its maker since. A maker's rebuild lets a new record begin (14 CFR 91.421):
from then on hours since new are counted, and, by the same reason, years.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from notices.rules.designations import plain_text
from notices.rules.facts import UNKNOWN, Hours, Unknown
from notices.rules.intervals.provisions import Interval, Since
from notices.rules.times.limits import Anchor, DateAnchor, HoursLimit, MonthsLimit
from notices.rules.times.occurrences import engine_overhauls
from notices.rules.times.placing import placed
from notices.rules.times.points import Leaf, PointKind
from notices.rules.times.situations import Situation

MONTHS_IN_A_YEAR = 12
_NO_REBUILD_DATE = "date of the maker's rebuild"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """One limit of one provision, with its point. `figure`: hours or years as published.

    `since`: from what it really counts. `binds`: whether it is law in the engine's
    operation.
    """

    id: str
    figure: int
    since: Since
    leaf: Leaf
    binds: bool | Unknown

    @property
    def is_known(self) -> bool:
        return self.leaf.kind is PointKind.POINT

    @property
    def at(self) -> int:
        """Where a known one falls; an estimate at the earliest."""
        if self.leaf.on is not None and self.leaf.hours is None:
            return self.leaf.on.toordinal()
        earliest = self.leaf.earliest_hours
        assert earliest is not None
        return earliest


def hours_leaf(hours: Hours, since: Since, now: Situation) -> Leaf:
    """Return the point of so many hours on the engine's axis."""
    return _leaf(HoursLimit(hours=hours, after=counted_from(since, now)), now)


def years_leaf(years: int, since: Since, now: Situation) -> Leaf:
    """Return the point of so many years: the same day of the year, 29 to 28 February."""
    months = MONTHS_IN_A_YEAR * years
    after: Anchor = counted_from(since, now)
    rebuilt = now.facts.rebuilt
    if after == "new" and rebuilt is True:
        limit = MonthsLimit(months=months, after=after)
        return Leaf(kind=PointKind.UNKNOWN, limit=limit, missing=(_NO_REBUILD_DATE,))
    if after == "new" and isinstance(rebuilt, date):
        after = DateAnchor(on=rebuilt)
    return _leaf(MonthsLimit(months=months, after=after), now)


def counted_from(since: Since, now: Situation) -> Since:
    """Return from what an interval really counts: from new where never overhauled."""
    if since == "new":
        return since
    done = engine_overhauls(now)
    if isinstance(done, Unknown):
        return since
    rebuilt = now.facts.rebuilt
    is_rebuilt_since = (
        isinstance(rebuilt, date)
        and bool(done)
        and isinstance(done[-1].on, date)
        and done[-1].on < rebuilt
    )
    return "new" if not done or is_rebuilt_since else since


def binds(one: Interval, now: Situation) -> bool | Unknown:
    """Return whether a provision is law in the operation of the engine."""
    if one.binding is True or not one.binding:
        return one.binding is True
    uses = now.facts.operation
    if isinstance(uses, Unknown):
        return UNKNOWN
    named = {plain_text(use) for use in one.binding}
    return not named.isdisjoint(plain_text(use) for use in uses)


def falls(one: Interval, now: Situation) -> tuple[Fall | None, Fall | None]:
    """Return the limit in hours and the limit in years, each noted with its provision."""
    hours = years = None
    since, law = counted_from(one.since, now), binds(one, now)
    if one.hours is not None:
        leaf = replace(hours_leaf(one.hours, since, now), note=one.id)
        hours = Fall(id=one.id, figure=one.hours, since=since, leaf=leaf, binds=law)
    if one.years is not None:
        leaf = replace(years_leaf(one.years, since, now), note=one.id)
        years = Fall(id=one.id, figure=one.years, since=since, leaf=leaf, binds=law)
    return hours, years


def _leaf(limit: HoursLimit | MonthsLimit, now: Situation) -> Leaf:
    tree = placed(limit, now)
    assert isinstance(tree, Leaf)
    return tree

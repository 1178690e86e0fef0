"""How an engine is run: the share of its fuel that was leaded, and what that moves.

Whether a share that lies exactly on a threshold has passed it is what the rule's own
test says (`over` 0.3 is false at 0.3). Which share shortens which interval is the
engine maker's to say: no such figure stands here.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from itertools import pairwise, takewhile
from typing import Final, Literal

from notices.rules.applicability.bounds import ShareBounds
from notices.rules.conditions import Condition, LeadedShareIn, leaves_of
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, Hours, Unknown
from notices.rules.fuel import (
    LITRES_IN_US_GALLON,
    Fuel,
    exact_number,
    exact_share,
    fuel,
    leaded_of,
)
from notices.rules.times.actions import Action
from notices.rules.times.due_points import DuePoint
from notices.rules.times.history import History
from notices.rules.times.limits import Cases, FirstOf, LastOf, Time
from notices.rules.times.outlooks import due_point

__all__ = [
    "LEAST_LITRES_AN_HOUR",
    "LITRES_IN_US_GALLON",
    "Ahead",
    "Crossing",
    "Fuel",
    "Mix",
    "PointAt",
    "ShareClass",
    "Source",
    "Threshold",
    "ahead",
    "crossings",
    "exact_number",
    "exact_share",
    "fuel",
    "leaded_of",
    "mix_since",
    "moves_limit",
    "point_at",
    "points_by_share",
    "share_classes",
    "since_last_done",
    "thresholds",
]

Source = Literal["records", "declared", "unknown"]

LEAST_LITRES_AN_HOUR: Final = 2
"""Less than any piston engine of an aircraft burns (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """The leaded share by volume over a window, and what it rests on.

    `source`: fuel records, the owner's declared habit where they do not tell, or
    nothing. `count`, `first_on`, `last_on`: the records inside the window.
    `too_little_for`: the hours run, where the records are too little to be their fuel;
    None where they tell.
    """

    share: Fraction | Unknown = UNKNOWN
    source: Source = "unknown"
    litres: Fraction = Fraction(0)
    leaded_litres: Fraction = Fraction(0)
    count: int = 0
    first_on: date | None = None
    last_on: date | None = None
    too_little_for: Hours | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Threshold:
    """A share at which a test changes its answer.

    `inclusive`: whether a share of exactly this has passed it, as with `from` and
    `under`; with `over` and `to` it has not.
    """

    share: Fraction
    inclusive: bool

    def passed_by(self, share: Fraction) -> bool:
        """Return whether the share lies on the far side."""
        return share > self.share or (self.inclusive and share == self.share)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareClass:
    """Shares for which every test answers alike. `bounds`: None for all shares.

    `some`: one of its shares, which stands for all.
    """

    bounds: ShareBounds | None
    some: Fraction

    def holds(self, share: Fraction) -> bool:
        """Return whether the share is one of them."""
        return self.bounds is None or self.bounds.holds(share)


@dataclass(frozen=True, slots=True, kw_only=True)
class PointAt:
    """Where an action falls due for every share of one class."""

    shares: ShareClass
    point: DuePoint


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """A record of fuel with which the running share came to the other side.

    `index`: of the record in the sequence that was given. `before`: as long as the
    records do not tell, the declared habit, where there is one, which `was_declared`
    says.
    """

    on: date
    index: int
    threshold: Threshold
    before: Fraction | Unknown
    after: Fraction
    was_declared: bool = False

    @property
    def upward(self) -> bool:
        """Whether the share has passed the threshold with this record."""
        return self.threshold.passed_by(self.after)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """How much more of one fuel brings the share to the other side of a threshold.

    `litres`: exact, None if it never will. `beyond`: after these litres the share lies
    exactly on the threshold and every further drop passes it; else they suffice.
    `hours`: hours run on these litres, None where the consumption is not known.
    """

    threshold: Threshold
    upward: bool
    litres: Fraction | None
    beyond: bool = False
    hours: Fraction | None = None


def mix_since(
    records: Sequence[Fuel],
    *,
    since: date | Unknown | None,
    since_hours: Hours | Unknown = UNKNOWN,
    on: date,
    hours_now: Hours | Unknown = UNKNOWN,
    declared: Fraction | Unknown = UNKNOWN,
) -> Mix:
    """Return the leaded share by volume of the fuel taken on since the action was done.

    `since`: the day it was last done, None where never (then all fuel counts), unknown
    where the record has no date. `since_hours`: the hours then, or when the engine was
    new. Fuel of that day counts unless hours show that it was taken on before. Fuel
    later than `on` is a plan and does not count. `hours_now`: by the last reading.
    `declared` stands in where there is no record, or too little for the hours run. A
    record without a place before or after leaves the share unknown.
    """
    placed = _window(records, since=since, since_hours=since_hours, on=on)
    if placed is None:
        return Mix()
    inside = [one for _, one in placed]
    share, source = declared, _source_of(declared)
    if not inside:
        return Mix(share=share, source=source)
    litres = sum((one.litres for one in inside), Fraction(0))
    leaded = sum((one.leaded_litres for one in inside), Fraction(0))
    short = _too_little_for(litres, since_hours, hours_now)
    if short is None:
        share, source = leaded / litres, "records"
    return Mix(
        share=share,
        source=source,
        litres=litres,
        leaded_litres=leaded,
        count=len(inside),
        first_on=inside[0].on,
        last_on=inside[-1].on,
        too_little_for=short,
    )


def _source_of(declared: Fraction | Unknown) -> Source:
    return "unknown" if isinstance(declared, Unknown) else "declared"


def _too_little_for(
    litres: Fraction, since: Hours | Unknown, until: Hours | Unknown
) -> Hours | None:
    """Return the hours run, where so few litres cannot be the fuel of them."""
    if isinstance(since, Unknown) or isinstance(until, Unknown):
        return None
    run = Hours(until - since)
    return run if litres * 100 < LEAST_LITRES_AN_HOUR * run else None


def _window(
    records: Sequence[Fuel],
    *,
    since: date | Unknown | None,
    since_hours: Hours | Unknown,
    on: date,
) -> list[tuple[int, Fuel]] | None:
    """Return the records inside with their index, by day; None where one has no place."""
    inside: list[tuple[int, Fuel]] = []
    for index, one in enumerate(records):
        if one.on > on:
            continue
        after = _is_after(one, since, since_hours)
        if isinstance(after, Unknown):
            return None
        if after:
            inside.append((index, one))
    return sorted(inside, key=lambda placed: placed[1].on)


def _is_after(
    one: Fuel, since: date | Unknown | None, since_hours: Hours | Unknown
) -> bool | Unknown:
    if since is None:
        return True
    if not isinstance(since, Unknown) and one.on != since:
        return one.on > since
    if isinstance(one.hours, Unknown) or isinstance(since_hours, Unknown):
        return UNKNOWN if isinstance(since, Unknown) else True
    return one.hours >= since_hours


def thresholds(rule: Action | Time | Condition) -> tuple[Threshold, ...]:
    """Return the shares at which a test of the leaded share changes its answer, rising."""
    found = {
        threshold
        for condition in _conditions_in(rule)
        for leaf in leaves_of(condition)
        if isinstance(leaf, LeadedShareIn)
        for threshold in _thresholds_of(leaf.bounds)
    }
    return tuple(sorted(found, key=_rank))


def _thresholds_of(bounds: ShareBounds) -> Iterator[Threshold]:
    """Yield the ends of the bounds that some shares have passed and others not."""
    ends = (
        (bounds.first, True),
        (bounds.over, False),
        (bounds.to, False),
        (bounds.under, True),
    )
    for share, inclusive in ends:
        if share is None:
            continue
        threshold = Threshold(share=share, inclusive=inclusive)
        if threshold.passed_by(Fraction(1)) and not threshold.passed_by(Fraction(0)):
            yield threshold


def _conditions_in(rule: Action | Time | Condition) -> Iterator[Condition]:
    match rule:
        case Action():
            if rule.when is not None:
                yield rule.when
            yield from (end for end in rule.ends_with if not isinstance(end, str))
            within = None if rule.credit is None else rule.credit.within
            for time in (rule.initial, rule.repeat, rule.until, within):
                if time is not None:
                    yield from _conditions_in(time)
        case FirstOf() | LastOf():
            for member in rule.members:
                yield from _conditions_in(member)
        case Cases():
            for case in rule.cases:
                yield case.when
                yield from _conditions_in(case.then)
            if rule.otherwise is not None:
                yield from _conditions_in(rule.otherwise)
        case _ if isinstance(rule, Condition):
            yield rule


def share_classes(thresholds: Sequence[Threshold]) -> tuple[ShareClass, ...]:
    """Return the classes between thresholds in rising order, from 0 to 1."""
    low, high = (
        Threshold(share=Fraction(0), inclusive=True),
        Threshold(share=Fraction(1), inclusive=False),
    )
    return tuple(
        ShareClass(
            bounds=_between(
                None if below is low else below, None if above is high else above
            ),
            some=(below.share + above.share) / 2,
        )
        for below, above in pairwise((low, *thresholds, high))
    )


def _between(below: Threshold | None, above: Threshold | None) -> ShareBounds | None:
    """Return the shares that have passed the one threshold and not the other."""
    if below is None and above is None:
        return None
    ends: dict[str, Fraction] = {}
    if below is not None:
        ends["first" if below.inclusive else "over"] = below.share
    if above is not None:
        ends["under" if above.inclusive else "to"] = above.share
    return ShareBounds(**ends)


def points_by_share(
    action: Action, facts: EngineFacts, asked: Asked, history: History
) -> tuple[PointAt, ...]:
    """Return where the action falls due in each class of shares it tells apart."""
    return tuple(
        PointAt(
            shares=shares,
            point=due_point(
                action, facts, replace(asked, leaded_share=shares.some), history
            ),
        )
        for shares in share_classes(thresholds(action))
    )


def point_at(points: Sequence[PointAt], share: Fraction | Unknown) -> DuePoint | None:
    """Return the point of the class that holds the share, None where it is unknown."""
    if isinstance(share, Unknown):
        return None
    return next((one.point for one in points if one.shares.holds(share)), None)


def moves_limit(crossing: Crossing, points: Sequence[PointAt]) -> bool:
    """Return whether the action falls due elsewhere by the share after a crossing.

    Where the share before is not known: elsewhere than with some lesser share, as only
    what is passed counts as crossed then.
    """
    now = point_at(points, crossing.after)
    if now is None:
        return False
    before = point_at(points, crossing.before)
    if before is not None:
        return before.tree != now.tree
    lesser = takewhile(lambda one: not one.shares.holds(crossing.after), points)
    return any(one.point.tree != now.tree for one in lesser)


def since_last_done(
    point: DuePoint, history: History, facts: EngineFacts
) -> tuple[date | Unknown | None, Hours | Unknown]:
    """Return the day and hours of the last record that counts, for `mix_since`.

    None and the hours when it was new where the action was never done.
    """
    hours = UNKNOWN if point.last_hours is None else point.last_hours
    if point.last_on is not None:
        return point.last_on, hours
    is_done = point.last_hours is not None or isinstance(history.done, Unknown)
    return (UNKNOWN, hours) if is_done else (None, facts.axis_new)


def crossings(
    records: Sequence[Fuel],
    thresholds: Iterable[Threshold],
    *,
    since: date | Unknown | None,
    since_hours: Hours | Unknown = UNKNOWN,
    on: date,
    hours_now: Hours | Unknown = UNKNOWN,
    declared: Fraction | Unknown = UNKNOWN,
) -> tuple[Crossing, ...]:
    """Return each record with which the running share came to the other side.

    The window is that of `mix_since`; fuel of one day is taken in the order given. From
    an unknown share only a threshold that is passed counts as crossed. Nothing is
    crossed where the share is not one by records, nor by a record up to which they are
    too little for the hours then.
    """
    placed = _window(records, since=since, since_hours=since_hours, on=on) or []
    taken = sum((one.litres for _, one in placed), Fraction(0))
    if _too_little_for(taken, since_hours, hours_now) is not None:
        return ()
    rising = sorted(thresholds, key=_rank)
    found: list[Crossing] = []
    litres = leaded = Fraction(0)
    before = declared
    was_declared = not isinstance(declared, Unknown)
    stood = _passed(rising, before)
    for index, one in placed:
        litres += one.litres
        leaded += one.leaded_litres
        if _too_little_for(litres, since_hours, one.hours) is not None:
            continue
        after = leaded / litres
        stands = _passed(rising, after)
        for threshold in rising[min(stood, stands) : max(stood, stands)]:
            found.append(
                Crossing(
                    on=one.on,
                    index=index,
                    threshold=threshold,
                    before=before,
                    after=after,
                    was_declared=was_declared,
                )
            )
        before, stood, was_declared = after, stands, False
    return tuple(found)


def _rank(threshold: Threshold) -> tuple[Fraction, bool]:
    return threshold.share, not threshold.inclusive


def _passed(rising: Sequence[Threshold], share: Fraction | Unknown) -> int:
    """Return how many of these a share has passed, none where it is not known."""
    if isinstance(share, Unknown):
        return 0
    return bisect_left(rising, True, key=lambda one: not one.passed_by(share))


def ahead(
    mix: Mix,
    thresholds: Iterable[Threshold],
    *,
    next_leaded: Fraction,
    litres_an_hour: Fraction | None = None,
) -> tuple[Ahead, ...]:
    """Return for each threshold how much more fuel brings the share across, soonest first.

    Adding x litres of leaded share s to V litres of which L are leaded gives the share
    t = (L + s x) / (V + x), so x = (t V - L) / (s - t). `next_leaded`: s. Nothing can
    be said without records: of a declared habit the litres are not known.
    `litres_an_hour`: what the engine burns, more than 0.
    """
    if litres_an_hour is not None and litres_an_hour <= 0:
        raise ValueError("An engine that runs burns more than 0 litres an hour.")
    if mix.source != "records":
        return ()
    found = [
        _ahead_of(mix, threshold, next_leaded, litres_an_hour)
        for threshold in thresholds
    ]
    return tuple(sorted(found, key=lambda one: (one.litres is None, one.litres or 0)))


def _ahead_of(
    mix: Mix, threshold: Threshold, added: Fraction, litres_an_hour: Fraction | None
) -> Ahead:
    assert not isinstance(mix.share, Unknown)
    upward = not threshold.passed_by(mix.share)
    # Fuel leads no further than to its own share, and comes near that without end.
    if threshold.share == added or (added > threshold.share) is not upward:
        return Ahead(threshold=threshold, upward=upward, litres=None)
    litres = (threshold.share * mix.litres - mix.leaded_litres) / (
        added - threshold.share
    )
    return Ahead(
        threshold=threshold,
        upward=upward,
        litres=litres,
        beyond=threshold.inclusive is not upward,
        hours=None if litres_an_hour is None else litres / litres_an_hour,
    )

"""A compliance time placed for one engine: its tree with a point at each limit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import assert_never

from notices.rules.applicability.nodes import AllOf, Condition, Not
from notices.rules.evaluate import CompiledCondition, Outcome, compile_condition
from notices.rules.facts import Hours, Unknown
from notices.rules.times.anchors import effective_place, event_place, places
from notices.rules.times.due_points import one_of
from notices.rules.times.grids import CASE, Grid, days_later, months_later
from notices.rules.times.history import Event
from notices.rules.times.limits import (
    FURTHER_FLIGHT,
    Anchor,
    Cases,
    DateLimit,
    DaysLimit,
    EventLimit,
    FirstOf,
    HoursLimit,
    LastOf,
    Limit,
    MonthsLimit,
    Time,
    UnknownLimit,
    event_key,
)
from notices.rules.times.occurrences import lies_after, recorded
from notices.rules.times.points import Leaf, PointKind, Tree, join, same_points
from notices.rules.times.situations import Place, Situation, Waiting

NO_EFFECTIVE_DATE = "without an effective date any recorded one counts"


def placed(
    time: Time, now: Situation, grid: Grid | None = None, path: str = ""
) -> Tree:
    """Return the tree of points of a time.

    `grid`: in a repeat, from where the limits counted from the last record run.
    `path`: where in the repeat the time stands, by which the grid keeps its points.
    """
    match time:
        case FirstOf():
            return join("first_of", _members(time.members, now, grid, path))
        case LastOf():
            return join("last_of", _members(time.members, now, grid, path))
        case Cases():
            return _of_cases(time, now, grid, path)
        case _:
            return _of_limit(time, now, grid, path)


def _members(
    members: Sequence[Time], now: Situation, grid: Grid | None, path: str
) -> tuple[Tree, ...]:
    return tuple(
        placed(member, now, grid, f"{path}.{index}")
        for index, member in enumerate(members)
    )


def _of_cases(time: Cases, now: Situation, grid: Grid | None, path: str) -> Tree:
    """Return the tree of the case that holds, or of those that still may.

    Read from the top: a case may hold only where none above it does.
    """
    open_above: list[Condition] = []
    possible: list[Tree] = []
    missing: list[str] = []
    for index, (case, alone) in enumerate(zip(time.cases, time.compiled, strict=True)):
        outcome = alone.outcome_of(now.subject_of_cases)
        if outcome is Outcome.DOES_NOT_APPLY:
            continue
        here = _none_of(open_above, case.when) if open_above else alone
        lacking = _missing_if_possible(here, now)
        if lacking is None:
            continue
        possible.append(placed(case.then, now, grid, f"{path}{CASE}{index}"))
        missing.extend(lacking)
        if outcome is Outcome.APPLIES:
            break
        open_above.append(case.when)
    else:
        if _may_hold_none(open_above, now):
            possible.append(_otherwise(time, now, grid, path))
    return _one_possible(possible, missing)


def _may_hold_none(open_above: Sequence[Condition], now: Situation) -> bool:
    if not open_above:
        return True
    outcome = _none_of(open_above).outcome_of(now.subject_of_cases)
    return outcome is not Outcome.DOES_NOT_APPLY


def _none_of(above: Sequence[Condition], *but: Condition) -> CompiledCondition:
    """Return that none above holds, but these do."""
    denied = tuple(Not(member=condition) for condition in above)
    return compile_condition(AllOf(members=(*denied, *but)))


def _missing_if_possible(
    condition: CompiledCondition, now: Situation
) -> tuple[str, ...] | None:
    """Return what is lacking to say that it holds, None where it cannot hold."""
    outcome = condition.outcome_of(now.subject_of_cases)
    if outcome is Outcome.DOES_NOT_APPLY:
        return None
    if outcome is Outcome.APPLIES:
        return ()
    return condition.missing_of(now.subject_of_cases)


def _otherwise(time: Cases, now: Situation, grid: Grid | None, path: str) -> Tree:
    if time.otherwise is None:
        return Leaf(kind=PointKind.NOTHING_DUE, note="no case holds")
    return placed(time.otherwise, now, grid, f"{path}{CASE}else")


def _one_possible(possible: Sequence[Tree], missing: Sequence[str]) -> Tree:
    distinct: list[Tree] = []
    for tree in possible:
        if not any(same_points(tree, other) for other in distinct):
            distinct.append(tree)
    if len(distinct) == 1:
        return distinct[0]
    return one_of(tuple(distinct), tuple(dict.fromkeys(missing)))


def _of_limit(limit: Limit, now: Situation, grid: Grid | None, path: str) -> Tree:
    match limit:
        case DateLimit():
            return Leaf(kind=PointKind.POINT, limit=limit, on=limit.on)
        case UnknownLimit():
            return Leaf(kind=PointKind.UNKNOWN, limit=limit, missing=(limit.why,))
        case EventLimit():
            return _of_event(limit, now)
        case HoursLimit() | MonthsLimit() | DaysLimit():
            if grid is not None and limit.after == "last done":
                return grid.next_leaf(limit, path)
            return _counted(limit, now)
        case _:
            assert_never(limit)


def _counted(limit: HoursLimit | MonthsLimit | DaysLimit, now: Situation) -> Tree:
    starts = places(limit.after, now)
    if isinstance(starts, Waiting):
        return Leaf(kind=PointKind.WAITING, limit=limit, event=starts.event)
    return join("first_of", tuple(_from_place(limit, start) for start in starts))


def _from_place(limit: HoursLimit | MonthsLimit | DaysLimit, start: Place) -> Leaf:
    if isinstance(limit, HoursLimit):
        return _hours_from(limit, start)
    if isinstance(start.on, Unknown):
        return _unknown(limit, start.missing_on)
    if isinstance(limit, DaysLimit):
        on = days_later(start.on, limit.days)
    else:
        on = months_later(start.on, limit.months, calendar=limit.calendar)
    return Leaf(kind=PointKind.POINT, limit=limit, on=on, from_on=start.on)


def _hours_from(limit: HoursLimit, start: Place) -> Leaf:
    if isinstance(start.hours, Unknown):
        return _unknown(limit, start.missing_hours)
    lowest = start.lowest
    return Leaf(
        kind=PointKind.POINT,
        limit=limit,
        hours=Hours(start.hours + limit.hours),
        estimated=start.estimated,
        lowest_hours=None if lowest is None else Hours(lowest + limit.hours),
        from_hours=start.hours,
        from_on=None if isinstance(start.on, Unknown) else start.on,
    )


def _unknown(limit: Limit, missing: str) -> Leaf:
    return Leaf(kind=PointKind.UNKNOWN, limit=limit, missing=(missing,))


def _of_event(limit: EventLimit, now: Situation) -> Leaf:
    after = now.default_after if limit.after is None else limit.after
    starts = places(after, now)
    if isinstance(starts, Waiting):
        return Leaf(kind=PointKind.WAITING, limit=limit, event=starts.event)
    if event_key(limit.name) == FURTHER_FLIGHT:
        return _further_flight(limit, after, starts)
    events = recorded(limit.name, now)
    if isinstance(events, Unknown):
        return _unknown(limit, f"whether and when there was: {limit.name}")
    counts_any = limit.after is None and _has_no_effective(after, now)
    if counts_any:
        note = NO_EFFECTIVE_DATE
        reached = events[0] if events else None
        return _reached(limit, reached, now, note)
    return _first_after(limit, events, starts, now, within_day=after != "effective")


def _has_no_effective(after: object, now: Situation) -> bool:
    return after == "effective" and effective_place(now).is_nowhere


def _further_flight(limit: EventLimit, after: Anchor, starts: Sequence[Place]) -> Leaf:
    """Return the point before further flight.

    Without an effective date it is due all the same; after an event of which nobody
    has said whether it happened, it is not known to be.
    """
    if after != "effective" and all(start.is_nowhere for start in starts):
        return _unknown(limit, starts[0].missing_on)
    hours = [start.hours for start in starts if not isinstance(start.hours, Unknown)]
    days = [start.on for start in starts if not isinstance(start.on, Unknown)]
    return Leaf(
        kind=PointKind.FURTHER_FLIGHT,
        limit=limit,
        event=FURTHER_FLIGHT,
        from_hours=min(hours, default=None),
        from_on=min(days, default=None),
        estimated=any(start.estimated for start in starts),
    )


def _first_after(
    limit: EventLimit,
    events: Sequence[Event],
    starts: Sequence[Place],
    now: Situation,
    *,
    within_day: bool,
) -> Leaf:
    """Return the point of the first event strictly after the earliest start."""
    for event in events:
        answers = {lies_after(event, start, within_day=within_day) for start in starts}
        if True in answers:
            return _reached(limit, event, now)
        if None in answers:
            return _unknown(limit, _what_is_not_known(event, starts))
    return _reached(limit, None, now)


def _what_is_not_known(event: Event, starts: Sequence[Place]) -> str:
    for start in starts:
        if start.is_nowhere:
            return start.missing_on
    return f"date of the event: {event.name}"


def _reached(
    limit: EventLimit, event: Event | None, now: Situation, note: str = ""
) -> Leaf:
    if event is None:
        return Leaf(
            kind=PointKind.EVENT_AHEAD, limit=limit, event=limit.name, note=note
        )
    place = event_place(event, now)
    if place.is_nowhere:
        return _unknown(limit, place.missing_on)
    hours, on = place.hours, place.on
    return Leaf(
        kind=PointKind.POINT,
        limit=limit,
        hours=None if isinstance(hours, Unknown) else hours,
        on=None if isinstance(on, Unknown) else on,
        event=event.name,
        estimated=place.estimated,
        lowest_hours=place.lowest,
        note=note,
    )

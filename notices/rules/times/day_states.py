"""The state of an action on a day: its due point seen from the day and the hours now."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from math import ceil
from typing import Any, Final

from notices.rules.facts import Hours, Unknown
from notices.rules.times.due_points import DuePoint
from notices.rules.times.due_states import Due, Forecast
from notices.rules.times.forecasts import forecast
from notices.rules.times.history import Rate
from notices.rules.times.points import Allowance, PointKind, Tree, leaves
from notices.rules.times.standing import Lead, Moment, Standing, standing
from notices.rules.times.states import State

_STATES: Final = {
    Standing.PAST: State.OVERDUE,
    Standing.COMING: State.COMING_DUE,
    Standing.AHEAD: State.OUTSTANDING,
    Standing.UNKNOWN: State.UNDETERMINED,
    Standing.NOTHING: State.NOTHING_DUE,
}
_SHUT: Final = (
    State.TERMINATED,
    State.COMPLIED_WITH,
    State.DOES_NOT_APPLY,
    State.NOTHING_DUE,
)
_NO_BASIS: Final = Forecast(on=None, earliest=None, latest=None)


def state_at(
    point: DuePoint,
    *,
    on: date,
    hours: Hours | Unknown,
    lead: Lead | None = None,
    en_route: bool = False,
    rate: Rate | None = None,
    reading_on: date | None = None,
    meter: str | None = None,
) -> Due:
    """Return the state on a day.

    `hours`: on the engine's axis by the last reading, taken on `reading_on` (None: as
    of `on`) from `meter`. `lead`: when something is coming due; None, never.
    `en_route`: under way to where the work can be done. `rate`: utilisation, for the
    forecast and for what may have been passed since the reading.
    """
    moment = Moment(
        on=on,
        hours=hours,
        allowance=point.allowance(en_route=en_route),
        lead=lead or Lead(),
    )
    now, open_state, state = _states(point, moment)
    shown: dict[str, Any] = {}
    if point.tree is not None and open_state not in _SHUT:
        read = _Read(on=reading_on, rate=rate)
        past = now is Standing.PAST
        shown = _shown(point, point.tree, moment, on, read, past=past)
        shown["inside_tolerance"] = not past and _is_past_bare(point.tree, moment)
    return Due(
        state=state,
        point=point,
        asked_on=on,
        hours_now=None if isinstance(hours, Unknown) else hours,
        reading_on=reading_on,
        meter=meter,
        late=point.late,
        events=point.events,
        missing=_missing(point, moment, state),
        if_it_applies=open_state if point.undetermined else None,
        limits=point.tree,
        **shown,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """As much of a result as tells where it stands in a list."""

    state: State
    further_flight: bool = False
    may_be_overdue: bool = False


def brief_at(
    point: DuePoint,
    *,
    on: date,
    hours: Hours | Unknown,
    lead: Lead,
    rate: Rate | None,
    reading_on: date | None,
) -> Brief:
    """Return what `state_at` says of these, and nothing that is only shown."""
    allowance = point.allowance(en_route=False)
    moment = Moment(on=on, hours=hours, allowance=allowance, lead=lead)
    now, open_state, state = _states(point, moment)
    if point.tree is None or open_state in _SHUT:
        return Brief(state=state)
    read = _Read(on=reading_on, rate=rate)
    return Brief(
        state=state,
        further_flight=point.further_flight,
        may_be_overdue=now is not Standing.PAST
        and not point.further_flight
        and _may_be_past(point.tree, moment, on, read),
    )


def _states(point: DuePoint, moment: Moment) -> tuple[Standing | None, State, State]:
    """Return how the tree stands, the state if it is open, and the state."""
    now = None
    if point.closed is None and point.tree is not None:
        now = standing(point.tree, moment)
    open_state = _open_state(point, moment, now)
    return now, open_state, State.UNDETERMINED if point.undetermined else open_state


def _open_state(point: DuePoint, moment: Moment, now: Standing | None) -> State:
    """Return the state there is if every open question is answered against it.

    `now`: how the tree stands, None where nothing is open.
    """
    if now is None:
        return State(point.closed or "nothing due")
    if point.until is None:
        return _STATES[now]
    bare = replace(moment, allowance=Allowance(), lead=Lead())
    match standing(point.until, bare):
        case Standing.UNKNOWN:
            return State.UNDETERMINED
        case Standing.PAST if now is Standing.UNKNOWN:
            # What is not known may have fallen due before the end.
            return State.UNDETERMINED
        case Standing.PAST if now is not Standing.PAST:
            return State.TERMINATED
    return _STATES[now]


def _missing(point: DuePoint, moment: Moment, state: State) -> tuple[str, ...]:
    if state in (State.DOES_NOT_APPLY, State.TERMINATED, State.COMPLIED_WITH):
        return ()
    missing = point.all_missing
    by_hours = point.tree is not None and any(
        leaf.kind is PointKind.POINT and leaf.hours is not None
        for leaf in leaves(point.tree)
    )
    if by_hours and isinstance(moment.hours, Unknown):
        missing += ("time since new",)
    return tuple(dict.fromkeys(missing))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Read:
    """When the hours were read, and how the engine is run."""

    on: date | None
    rate: Rate | None


def _shown(
    point: DuePoint, tree: Tree, moment: Moment, on: date, read: _Read, *, past: bool
) -> dict[str, Any]:
    """Return the fields of a result that has a point which is not shut."""
    hours, last_day, flight = point.hours, point.on, point.further_flight
    remaining = None
    if flight:
        remaining = Hours(0)
    elif hours is not None and not isinstance(moment.hours, Unknown):
        remaining = Hours(hours - moment.hours)
    return {
        "hours": hours,
        "on": last_day,
        "which": point.which,
        "remaining_hours": remaining,
        "remaining_days": None if last_day is None else (last_day - on).days,
        "forecast": None if past else _forecast(tree, moment, on, read),
        "estimated": point.estimated,
        "candidates": point.candidates,
        "may_be_overdue": not past
        and not flight
        and _may_be_past(tree, moment, on, read),
        "further_flight": flight,
    }


def _forecast(tree: Tree, moment: Moment, on: date, read: _Read) -> Forecast | None:
    hours = None if isinstance(moment.hours, Unknown) else moment.hours
    found = forecast(tree, read.on or on, hours, read.rate)
    return None if found == _NO_BASIS else found


def _is_past_bare(tree: Tree, moment: Moment) -> bool:
    """Return whether it would be past if nothing were allowed beyond its limits."""
    if moment.allowance == Allowance():
        return False
    return standing(tree, replace(moment, allowance=Allowance())) is Standing.PAST


def _may_be_past(tree: Tree, moment: Moment, on: date, read: _Read) -> bool:
    """Return whether the upper rate could have passed the limit since the reading."""
    if read.rate is None or read.on is None or isinstance(moment.hours, Unknown):
        return False
    days = max((on - read.on).days, 0)
    by_now = Hours(moment.hours + ceil(read.rate.high * days))
    later = Moment(
        on=moment.on, hours=by_now, allowance=moment.allowance, lead=moment.lead
    )
    return standing(tree, later) is Standing.PAST

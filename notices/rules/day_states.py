"""The state of an action on a day: its due point seen from the day and the hours now."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from math import ceil

from notices.rules.due_points import DuePoint
from notices.rules.due_states import Due, Forecast, State
from notices.rules.facts import Hours, Unknown
from notices.rules.forecasts import forecast
from notices.rules.history import Rate
from notices.rules.points import Allowance, PointKind, Tree, leaves
from notices.rules.standing import Lead, Moment, Standing, standing
from notices.rules.wording import due_sentence

_STATES = {
    Standing.PAST: State.OVERDUE,
    Standing.COMING: State.COMING_DUE,
    Standing.AHEAD: State.OUTSTANDING,
    Standing.UNKNOWN: State.UNDETERMINED,
    Standing.NOTHING: State.NOTHING_DUE,
}


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

    `hours`: TSN by the last reading, taken on `reading_on` (None: as of `on`) from
    `meter`. `lead`: when something is coming due; None, never. `en_route`: under way to
    where the work can be done. `rate`: utilisation, for the forecast and for what may
    have been passed since the reading.
    """
    moment = Moment(
        on=on,
        hours=hours,
        allowance=point.allowance(en_route=en_route),
        lead=lead or Lead(),
    )
    open_state = _open_state(point, moment)
    state = State.UNDETERMINED if point.undetermined else open_state
    due = Due(
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
    )
    if point.tree is not None and open_state not in (
        State.TERMINATED,
        State.COMPLIED_WITH,
        State.DOES_NOT_APPLY,
        State.NOTHING_DUE,
    ):
        due = _with_point(due, point.tree, moment, rate)
    return replace(due, sentence=due_sentence(due))


def _open_state(point: DuePoint, moment: Moment) -> State:
    """Return the state there is if every open question is answered against it."""
    if point.closed is not None or point.tree is None:
        return State(point.closed or "nothing due")
    now = standing(point.tree, moment)
    if point.until is None:
        return _STATES[now]
    bare = replace(moment, allowance=Allowance(), lead=Lead())
    match standing(point.until, bare):
        case Standing.UNKNOWN:
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


def _with_point(due: Due, tree: Tree, moment: Moment, rate: Rate | None) -> Due:
    point, on = due.point, due.asked_on
    now_hours, hours = due.hours_now, point.hours
    remaining = None
    if point.further_flight:
        remaining = Hours(0)
    elif hours is not None and now_hours is not None:
        remaining = Hours(hours - now_hours)
    is_past = standing(tree, moment) is Standing.PAST
    return replace(
        due,
        hours=hours,
        on=point.on,
        which=point.which,
        remaining_hours=remaining,
        remaining_days=None if point.on is None else (point.on - on).days,
        forecast=None if is_past else _forecast(due, tree, rate),
        estimated=point.estimated,
        candidates=point.candidates,
        may_be_overdue=not is_past and _may_be_past(due, tree, moment, rate),
        further_flight=point.further_flight,
    )


def _forecast(due: Due, tree: Tree, rate: Rate | None) -> Forecast | None:
    found = forecast(tree, due.reading_on or due.asked_on, due.hours_now, rate)
    return None if found == Forecast(on=None, earliest=None, latest=None) else found


def _may_be_past(due: Due, tree: Tree, moment: Moment, rate: Rate | None) -> bool:
    """Return whether the upper rate could have passed the limit since the reading."""
    if rate is None or due.reading_on is None or due.hours_now is None:
        return False
    days = max((due.asked_on - due.reading_on).days, 0)
    by_now = Hours(due.hours_now + ceil(rate.high * days))
    return standing(tree, replace(moment, hours=by_now)) is Standing.PAST

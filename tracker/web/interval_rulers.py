"""The overhaul interval of an engine on its ruler of hours and its ruler of dates."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from notices.rules.compliance_time import Due, State
from notices.rules.overhaul import Holding, Offer
from notices.rules.times.limits import MonthsLimit
from notices.rules.times.points import Leaf
from tracker.compliance.overhauls import Overhaul, Provided
from tracker.figures.dates import DateMark, DatesRuler
from tracker.figures.intervals import Further, Interval
from tracker.figures.ruler import HoursRuler
from tracker.figures.wording import day, hours
from tracker.web.overhauls import shape_of
from tracker.web.rulers import Rulers


def hours_interval(overhaul: Overhaul) -> Interval | None:
    """Return the band on the ruler of hours; None without a limit in hours."""
    leaf, end = _leaf(overhaul, by_hours=True), overhaul.now.hours
    if leaf is None or leaf.from_hours is None or end is None:
        return None
    plain = overhaul.plain.hours
    return Interval(
        start=leaf.from_hours,
        end=end,
        state=_state_of_end(overhaul, past=_is_past(overhaul.due.due.remaining_hours)),
        recommended=overhaul.found.point.hours_bind is False,
        start_name="overhauled" if leaf.from_hours > 0 else "",
        start_note=_start_note(leaf),
        held_from=plain if plain is not None and plain < end else None,
        further=_further(
            [(one.with_it.hours, one) for one in _lengthening(overhaul)], end
        ),
    )


def dates_interval(overhaul: Overhaul) -> Interval | None:
    """Return the band on the ruler of dates; None without a limit in years."""
    leaf, end = _leaf(overhaul, by_hours=False), overhaul.now.on
    if leaf is None or leaf.from_on is None or end is None:
        return None
    plain = overhaul.plain.on
    return Interval(
        start=leaf.from_on.toordinal(),
        end=end.toordinal(),
        state=_state_of_end(overhaul, past=_is_past(overhaul.due.due.remaining_days)),
        recommended=overhaul.found.point.years_bind is False,
        start_name=_start_name(leaf),
        held_from=plain.toordinal() if plain is not None and plain < end else None,
        further=_further(
            [
                (on.toordinal(), one)
                for one in _lengthening(overhaul)
                if (on := one.with_it.on) is not None
            ],
            end.toordinal(),
        ),
    )


def _leaf(overhaul: Overhaul, *, by_hours: bool) -> Leaf | None:
    """The limit of a kind that counts, with where it is counted from."""
    point = overhaul.found.point
    name = point.from_hours if by_hours else point.from_years
    if name is None:
        return None
    fall = overhaul.found.falls[name][0 if by_hours else 1]
    return None if fall is None else fall.leaf


def _is_past(remaining: int | None) -> bool:
    return remaining is not None and remaining < 0


def _state_of_end(overhaul: Overhaul, *, past: bool) -> str:
    """The state at one of two ends: the other one may be what has been passed."""
    if overhaul.due.is_past and not past:
        return State.OUTSTANDING.value
    return shape_of(overhaul)


def _start_note(leaf: Leaf) -> str:
    on = f", {day(leaf.from_on)}" if leaf.from_on is not None else ""
    return f"{hours(leaf.from_hours)}{on}" if leaf.from_hours is not None else ""


def _start_name(leaf: Leaf) -> str:
    limit = leaf.limit
    if isinstance(limit, MonthsLimit) and limit.after == "overhaul":
        return "overhauled"
    is_made = isinstance(limit, MonthsLimit) and limit.after == "new"
    return "made" if is_made else "rebuilt by its maker"


def _lengthening(overhaul: Overhaul) -> list[Provided]:
    """The extensions within reach that would lengthen the interval."""
    return [
        one
        for one in overhaul.offers
        if one.holding is Holding.WITHIN_REACH and one.lengthens
    ]


def _further(
    ends: Iterable[tuple[int | None, Provided]], now: int
) -> tuple[Further, ...]:
    """Where the interval would end with each, beyond where it ends; the cheapest way."""
    found: dict[int, str] = {}
    for at, one in ends:
        if at is not None and at > now:
            found.setdefault(at, _with(one))
    return tuple(Further(at, note) for at, note in sorted(found.items()))


def _with(one: Provided) -> str:
    assert isinstance(one.said, Offer)
    numbers = [step.number for step in one.said.reach[0].steps if step.number]
    return f"with {' and '.join(numbers)}" if numbers else ""


def with_interval(rulers: Rulers, overhaul: Overhaul | None) -> Rulers:
    """Return rulers of what is due with the band of the interval on both."""
    if overhaul is None:
        return rulers
    return Rulers(
        hours=replace(rulers.hours, interval=hours_interval(overhaul)),
        dates=replace(rulers.dates, interval=dates_interval(overhaul)),
    )


def drawn(overhaul: Overhaul) -> tuple[HoursRuler, DatesRuler]:
    """Return both rulers with nothing but the interval on them."""
    subject = f"engine {overhaul.engine}"
    return (
        HoursRuler(
            id="interval-hours",
            subject=subject,
            now=overhaul.due.due.hours_now,
            interval=hours_interval(overhaul),
            life_alone=True,
        ),
        DatesRuler(
            id="interval-dates",
            subject=subject,
            today=overhaul.on,
            marks=_forecast_marks(overhaul.due.due),
            interval=dates_interval(overhaul),
            whole=True,
        ),
    )


def _forecast_marks(due: Due) -> tuple[DateMark, ...]:
    """When its end is reached as the engine is run, if hours reach it before the date."""
    forecast = due.forecast
    if forecast is None or forecast.on is None or forecast.on == due.on:
        return ()
    first, last = forecast.earliest, forecast.latest
    mark = DateMark(
        name="end, forecast",
        on=forecast.on,
        state=State.OUTSTANDING.value,
        estimated=True,
        span=None if first is None or last is None else (first, last),
    )
    return (mark,)

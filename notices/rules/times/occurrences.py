"""What has happened to an engine: which events there were, and which lie after which."""

from __future__ import annotations

from notices.rules.errors import Fault, RuleError
from notices.rules.facts import UNKNOWN, Hours, Unknown
from notices.rules.times.history import Event
from notices.rules.times.limits import event_key
from notices.rules.times.situations import Place, Situation, is_later


def engine_overhauls(now: Situation) -> tuple[Event, ...] | Unknown:
    """Return the engine's overhauls, from its facts and its events, oldest first.

    Raises RuleError where the two contradict each other.
    """
    events, overhauls = now.history.events, now.facts.overhauls
    noted: list[Event] = []
    if not isinstance(events, Unknown):
        noted = [one for one in events if event_key(one.name) == "overhaul"]
    if isinstance(overhauls, Unknown):
        return UNKNOWN if isinstance(events, Unknown) else in_order(noted)
    if not overhauls and noted:
        raise RuleError([Fault("events", _contradiction("that it never was"))])
    kept = [
        Event(name="overhaul", on=one.on, hours=one.hours)
        for one in overhauls
        if isinstance(now.asked.on, Unknown) or not is_later(one.on, now.asked.on)
    ]
    for event in noted:
        if any(_disagree(event, one) for one in kept):
            raise RuleError([Fault("events", _contradiction("otherwise"))])
    known = {(one.on, one.hours) for one in kept}
    return in_order(kept + [e for e in noted if (e.on, e.hours) not in known])


def _contradiction(said: str) -> str:
    return (
        "An event says that the engine was overhauled, and the engine's own data say "
        f"{said}. Correct the one that is wrong."
    )


def _disagree(one: Event, other: Event) -> bool:
    known = not any(
        isinstance(value, Unknown)
        for value in (one.on, one.hours, other.on, other.hours)
    )
    return known and (one.on == other.on) != (one.hours == other.hours)


def in_order(events: list[Event]) -> tuple[Event, ...]:
    """Return the events oldest first, by date, by hours where a date is unknown."""
    if all(not isinstance(one.on, Unknown) for one in events):
        return tuple(sorted(events, key=lambda one: (one.on, _number(one.hours))))
    if all(not isinstance(one.hours, Unknown) for one in events):
        return tuple(sorted(events, key=lambda one: _number(one.hours)))
    return tuple(events)


def _number(hours: Hours | Unknown) -> int:
    return -1 if isinstance(hours, Unknown) else hours


def recorded(name: str, now: Situation) -> tuple[Event, ...] | Unknown:
    """Return the events of this name, UNKNOWN where nobody has said."""
    key = event_key(name)
    if key == "overhaul":
        return engine_overhauls(now)
    if isinstance(now.history.events, Unknown):
        return UNKNOWN
    return in_order([e for e in now.history.events if event_key(e.name) == key])


def lies_after(event: Event, place: Place, *, within_day: bool) -> bool | None:
    """Return whether the event lies strictly after the place, None if not known.

    By date; by hours if a date is unknown. `within_day`: on one day, more hours are
    later (work and a strike on one day).
    """
    hours_known = not isinstance(event.hours, Unknown) and not isinstance(
        place.hours, Unknown
    )
    days_known = not isinstance(event.on, Unknown) and not isinstance(place.on, Unknown)
    by_hours = event.on == place.on and within_day and hours_known
    if days_known and not by_hours:
        return event.on > place.on  # type: ignore[operator]  # days_known has said so
    if not hours_known or place.estimated:
        return None
    return event.hours > place.hours  # type: ignore[operator]  # hours_known has said so

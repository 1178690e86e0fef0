"""What a limit is counted from, placed on the calendar and on the engine's hours.

All hours are brought to one axis, the TSN of the engine: a part that has run 700 h on
an engine that has run 100 h was new at minus 600 h. A maker's rebuild starts a new zero
on that axis; the axis itself is never reset.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from math import floor

from notices.rules.errors import Fault, RuleError
from notices.rules.facts import (
    UNKNOWN,
    Asked,
    EngineFacts,
    Hours,
    Overhaul,
    PartFacts,
    Unknown,
)
from notices.rules.history import Done, Event, History, hours_on
from notices.rules.limits import Anchor, DateAnchor, EventAnchor, PartAnchor, event_key
from notices.rules.phrases import date_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One place in time. `estimated`: the hours are, between `lowest` and `highest`.

    `missing_on`, `missing_hours`: what is lacking where the one or the other is unknown.
    """

    on: date | Unknown = UNKNOWN
    hours: Hours | Unknown = UNKNOWN
    estimated: bool = False
    lowest: Hours | None = None
    highest: Hours | None = None
    missing_on: str = ""
    missing_hours: str = ""

    @property
    def is_nowhere(self) -> bool:
        return isinstance(self.on, Unknown) and isinstance(self.hours, Unknown)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """The anchor is an event that has not happened."""

    event: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """One engine with its past, and the record from which the next interval runs.

    `last`: None where there is none, UNKNOWN where nobody has said.
    `default_after`: what an event limit without `after` counts from.
    """

    facts: EngineFacts
    asked: Asked
    history: History
    last: Done | Unknown | None = None
    default_after: Anchor = "effective"

    def after_record(self, record: Done) -> Situation:
        """Return the situation in which the interval after `record` runs."""
        asked = replace(self.asked, result=record.result)
        return replace(self, asked=asked, last=record, default_after="last done")


def places(anchor: Anchor, now: Situation) -> tuple[Place, ...] | Waiting:
    """Return where the anchor lies: several places where it names several parts."""
    part = now.asked.part
    match anchor:
        case "effective":
            return (effective_place(now),)
        case "new" | "manufacture":
            return (_engine_new(now) if part is None else _part_new(part, now),)
        case "overhaul":
            return (_engine_overhaul(now) if part is None else _overhauled(part, now),)
        case "last done":
            return (_last_done(now),)
        case DateAnchor():
            return (
                _filled(Place(on=anchor.on), now, f"hours on {date_words(anchor.on)}"),
            )
        case EventAnchor():
            return _latest_event(anchor, now)
        case PartAnchor():
            return _of_parts(anchor, now)
        case _:
            raise AssertionError(anchor)


def _filled(place: Place, now: Situation, missing_hours: str) -> Place:
    """Return the place with hours from the readings, where it has a date only."""
    if not isinstance(place.hours, Unknown):
        return place
    found = None
    if not isinstance(place.on, Unknown):
        found = hours_on(now.history.readings, place.on)
    if found is None:
        return replace(place, missing_hours=missing_hours)
    return replace(
        place,
        hours=Hours(floor(found.hours)),
        estimated=not found.is_read,
        lowest=None if found.is_read else found.lowest,
        highest=None if found.is_read else found.highest,
    )


def effective_place(now: Situation) -> Place:
    """Return the effective date with the hours on it.

    Hours come, in this order, from what was noted, from 0 for what was made later, and
    from the readings. On a part, the engine's axis serves only where the part stayed
    fitted since.
    """
    history, facts = now.history, now.facts
    on: date | Unknown = (
        UNKNOWN if history.effective_on is None else history.effective_on
    )
    noted = history.effective_hours
    if isinstance(noted, Unknown):
        noted = facts.at_effective.new
    place = Place(on=on, hours=noted, missing_on="effective date")
    if now.asked.part is not None:
        return _part_effective(now.asked.part, place, now)
    if isinstance(noted, Unknown) and _is_later(facts.built, on):
        zero = _engine_new(now)
        return replace(zero, on=on, missing_hours="hours at the effective date")
    return _filled(place, now, "hours at the effective date")


def _is_later(built: date | Unknown, on: date | Unknown) -> bool:
    known = not isinstance(built, Unknown) and not isinstance(on, Unknown)
    return known and built > on  # type: ignore[operator]  # both are dates here


def _part_effective(part: PartFacts, place: Place, now: Situation) -> Place:
    if _is_later(part.built, place.on):
        return replace(_part_new(part, now), on=place.on)
    filled = _filled(place, now, "hours at the effective date")
    stayed = _stayed_fitted(part, filled, now)
    if stayed is True:
        return filled
    lacking = f"hours of the {part.role} at the effective date"
    if stayed is None:
        lacking = f"when the {part.role} was fitted"
    return Place(on=place.on, missing_on=place.missing_on, missing_hours=lacking)


def _stayed_fitted(part: PartFacts, since: Place, now: Situation) -> bool | None:
    if part.fitted == "new":
        return True
    if isinstance(part.fitted, date) and not isinstance(since.on, Unknown):
        return part.fitted <= since.on
    fitted = _minus(now.facts.hours.new, part.hours.fitted)
    if isinstance(fitted, Unknown) or isinstance(since.hours, Unknown):
        return None
    return fitted <= since.hours


def _minus(hours: Hours | Unknown, less: Hours | Unknown) -> Hours | Unknown:
    if isinstance(hours, Unknown) or isinstance(less, Unknown):
        return UNKNOWN
    return Hours(hours - less)


def _engine_new(now: Situation) -> Place:
    """Return the zero of the axis, or the maker's rebuild that set a new one."""
    facts = now.facts
    place = Place(on=facts.built, hours=Hours(0), missing_on="date of manufacture")
    if facts.rebuilt is None or isinstance(facts.rebuilt, Unknown):
        return place
    lacking = "hours at the maker's rebuild"
    if facts.rebuilt is True:
        return replace(place, hours=UNKNOWN, missing_hours=lacking)
    rebuilt = Place(on=facts.rebuilt, hours=_noted_rebuild(facts.rebuilt, now))
    return replace(
        _filled(rebuilt, now, lacking), on=facts.built, missing_on=place.missing_on
    )


def _noted_rebuild(on: date, now: Situation) -> Hours | Unknown:
    events = now.history.events
    for event in () if isinstance(events, Unknown) else events:
        if event_key(event.name) == "rebuild" and event.on == on:
            return event.hours
    overhauls = now.facts.overhauls
    for done in () if isinstance(overhauls, Unknown) else overhauls:
        if done.on == on:
            return done.hours
    return UNKNOWN


def _engine_overhaul(now: Situation) -> Place:
    events = engine_overhauls(now)
    kept = now.facts.hours
    by_tso = _minus(kept.new, kept.overhaul)
    if isinstance(events, Unknown):
        return Place(
            hours=by_tso,
            missing_on="date of the last overhaul",
            missing_hours="hours at the last overhaul",
        )
    if not events:
        return _engine_new(now)
    last = events[-1]
    hours = by_tso if isinstance(last.hours, Unknown) else last.hours
    place = Place(on=last.on, hours=hours, missing_on="date of the last overhaul")
    return _filled(place, now, "hours at the last overhaul")


def _part_new(part: PartFacts, now: Situation) -> Place:
    hours = _minus(now.facts.hours.new, part.hours.new)
    place = Place(on=part.built, hours=hours)
    if isinstance(hours, Unknown) and part.fitted == "new":
        place = replace(_engine_new(now), on=part.built)
    return replace(
        place,
        missing_on=f"date of manufacture of the {part.role}",
        missing_hours=_lacking(part.hours.new, f"hours since new of the {part.role}"),
    )


def _lacking(part_hours: Hours | Unknown, what: str) -> str:
    return what if isinstance(part_hours, Unknown) else "time since new of the engine"


def _overhauled(part: PartFacts, now: Situation) -> Place:
    if part.overhauls == ():
        return _part_new(part, now)
    on: date | Unknown = UNKNOWN
    if not isinstance(part.overhauls, Unknown):
        on = _latest(part.overhauls).on
    return Place(
        on=on,
        hours=_minus(now.facts.hours.new, part.hours.overhaul),
        missing_on=f"date of the last overhaul of the {part.role}",
        missing_hours=_lacking(
            part.hours.overhaul, f"hours since overhaul of the {part.role}"
        ),
    )


def _latest(overhauls: tuple[Overhaul, ...]) -> Overhaul:
    return overhauls[-1]


def _fitted(part: PartFacts, now: Situation) -> Place:
    if part.fitted == "new":
        return _engine_new(now)
    place = Place(
        on=part.fitted,
        hours=_minus(now.facts.hours.new, part.hours.fitted),
        missing_on=f"when the {part.role} was fitted",
    )
    lacking = _lacking(part.hours.fitted, f"hours since the {part.role} was fitted")
    return _filled(place, now, lacking)


def _of_parts(anchor: PartAnchor, now: Situation) -> tuple[Place, ...] | Waiting:
    role = anchor.role.casefold()
    asked = now.asked.part
    if asked is not None and asked.role.casefold() == role:
        parts: tuple[PartFacts, ...] = (asked,)
    else:
        parts = tuple(p for p in now.facts.parts if p.role.casefold() == role)
    found = {"new": _part_new, "fitted": _fitted, "overhaul": _overhauled}
    placed = tuple(found[anchor.since](part, now) for part in parts)
    if parts == (asked,):
        return placed
    counts = {key.casefold(): n for key, n in now.facts.role_counts.items()}
    reviewed = {key.casefold() for key in now.facts.roles_reviewed}
    if not parts and role in reviewed:
        return Waiting(event=f"{anchor.role} fitted")
    if role not in reviewed and len(parts) < counts.get(role, 1):
        lacking = f"{anchor.role} fitted"
        placed += (Place(missing_on=lacking, missing_hours=lacking),)
    return placed


def _last_done(now: Situation) -> Place:
    """Return the last record, on the engine's axis also where a part has moved."""
    last = now.last
    if last is None or isinstance(last, Unknown):
        lacking = "when it was last done"
        return Place(missing_on=lacking, missing_hours=lacking)
    return record_place(last, now)


def record_place(record: Done, now: Situation) -> Place:
    """Return where a record lies."""
    day = "" if isinstance(record.on, Unknown) else f" of {date_words(record.on)}"
    lacking = f"hours at the record{day}"
    place = Place(on=record.on, hours=record.hours, missing_on="date of the record")
    part = now.asked.part
    if part is None:
        return _filled(place, now, lacking)
    if not isinstance(record.part_hours, Unknown):
        zero = _part_new(part, now).hours
        hours: Hours | Unknown = UNKNOWN
        if not isinstance(zero, Unknown):
            hours = Hours(zero + record.part_hours)
        return replace(place, hours=hours, missing_hours=lacking)
    if isinstance(part.fitted, date) and _is_later(part.fitted, record.on):
        lacking = f"hours of the {part.role} at the record{day}"
        return replace(place, hours=UNKNOWN, missing_hours=lacking)
    return _filled(place, now, lacking)


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
        if isinstance(now.asked.on, Unknown) or not _is_later(one.on, now.asked.on)
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


def _latest_event(anchor: EventAnchor, now: Situation) -> tuple[Place, ...] | Waiting:
    events = recorded(anchor.name, now)
    if isinstance(events, Unknown):
        return (_unsaid(anchor.name),)
    if anchor.after is not None:
        since = places(anchor.after, now)
        if isinstance(since, Waiting):
            return since
        within_day = anchor.after != "effective"
        answers = [
            lies_after(event, since[0], within_day=within_day) for event in events
        ]
        if any(answer is None for answer in answers):
            return (_unsaid(anchor.name),)
        events = tuple(e for e, later in zip(events, answers, strict=True) if later)
    if not events:
        return Waiting(event=anchor.name)
    return (event_place(events[-1], now),)


def _unsaid(name: str) -> Place:
    lacking = f"whether and when there was: {name}"
    return Place(missing_on=lacking, missing_hours=lacking)


def event_place(event: Event, now: Situation) -> Place:
    """Return where an event lies, with hours from the readings where it has none."""
    place = Place(
        on=event.on, hours=event.hours, missing_on=f"date of the event: {event.name}"
    )
    return _filled(place, now, f"hours at the event: {event.name}")

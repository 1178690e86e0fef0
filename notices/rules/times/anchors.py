"""What a limit is counted from, placed on the calendar and on the engine's hours.

All hours are brought to one axis, the hours kept for the engine: a part that has run
700 h on an engine that has run 100 h was new at minus 600 h. A maker's rebuild starts
a new zero on that axis; the axis itself is never reset. Where TSN is not known, neither
is that zero, and what is counted from other marks on the axis still has its place.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from notices.rules.facts import (
    UNKNOWN,
    Hours,
    Overhaul,
    PartFacts,
    Unknown,
)
from notices.rules.phrases import date_words
from notices.rules.times.history import Done, Event
from notices.rules.times.limits import (
    Anchor,
    DateAnchor,
    EventAnchor,
    PartAnchor,
    event_key,
)
from notices.rules.times.occurrences import engine_overhauls, lies_after, recorded
from notices.rules.times.situations import Place, Situation, Waiting, filled, is_later


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
                filled(Place(on=anchor.on), now, f"hours on {date_words(anchor.on)}"),
            )
        case EventAnchor():
            return _latest_event(anchor, now)
        case PartAnchor():
            return _of_parts(anchor, now)
        case _:
            raise AssertionError(anchor)


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
        noted = _plus(facts.axis_new, facts.at_effective.new)
    place = Place(on=on, hours=noted, missing_on="effective date")
    if now.asked.part is not None:
        return _part_effective(now.asked.part, place, now)
    if isinstance(noted, Unknown) and is_later(facts.built, on):
        return replace(_engine_new(now), on=on)
    return filled(place, now, "hours at the effective date")


def _part_effective(part: PartFacts, place: Place, now: Situation) -> Place:
    if is_later(part.built, place.on):
        return replace(_part_new(part, now), on=place.on)
    place = filled(place, now, "hours at the effective date")
    stayed = _stayed_fitted(part, place, now)
    if stayed is True:
        return place
    lacking = f"hours of the {part.role} at the effective date"
    if stayed is None:
        lacking = f"when the {part.role} was fitted"
    return Place(on=place.on, missing_on=place.missing_on, missing_hours=lacking)


def _stayed_fitted(part: PartFacts, since: Place, now: Situation) -> bool | None:
    if part.fitted == "new":
        return True
    if isinstance(part.fitted, date) and not isinstance(since.on, Unknown):
        return part.fitted <= since.on
    fitted = _minus(now.facts.axis_now, part.hours.fitted)
    if isinstance(fitted, Unknown) or isinstance(since.hours, Unknown):
        return None
    return fitted <= since.hours


def _minus(hours: Hours | Unknown, less: Hours | Unknown) -> Hours | Unknown:
    if isinstance(hours, Unknown) or isinstance(less, Unknown):
        return UNKNOWN
    return Hours(hours - less)


def _plus(hours: Hours | Unknown, more: Hours | Unknown) -> Hours | Unknown:
    if isinstance(hours, Unknown) or isinstance(more, Unknown):
        return UNKNOWN
    return Hours(hours + more)


def _engine_new(now: Situation) -> Place:
    """Return where TSN was 0: when it was made, or at the maker's last rebuild."""
    facts = now.facts
    place = Place(
        on=facts.built,
        hours=facts.axis_new,
        missing_on="date of manufacture",
        missing_hours="time since new of the engine",
    )
    if facts.axis is not None:
        return place
    if facts.rebuilt is None or isinstance(facts.rebuilt, Unknown):
        return place
    lacking = "hours at the maker's rebuild"
    if facts.rebuilt is True:
        return replace(place, hours=UNKNOWN, missing_hours=lacking)
    rebuilt = Place(on=facts.rebuilt, hours=_noted_rebuild(facts.rebuilt, now))
    return replace(
        filled(rebuilt, now, lacking), on=facts.built, missing_on=place.missing_on
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
    by_tso = _minus(now.facts.axis_now, now.facts.hours.overhaul)
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
    return filled(place, now, "hours at the last overhaul")


def _part_new(part: PartFacts, now: Situation) -> Place:
    hours = _minus(now.facts.axis_now, part.hours.new)
    lacking_on = f"date of manufacture of the {part.role}"
    if isinstance(hours, Unknown) and part.fitted == "new":
        return replace(_engine_new(now), on=part.built, missing_on=lacking_on)
    return Place(
        on=part.built,
        hours=hours,
        missing_on=lacking_on,
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
        hours=_minus(now.facts.axis_now, part.hours.overhaul),
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
        hours=_minus(now.facts.axis_now, part.hours.fitted),
        missing_on=f"when the {part.role} was fitted",
    )
    lacking = _lacking(part.hours.fitted, f"hours since the {part.role} was fitted")
    return filled(place, now, lacking)


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
        return filled(place, now, lacking)
    if not isinstance(record.part_hours, Unknown):
        zero = _part_new(part, now).hours
        hours = _plus(zero, record.part_hours)
        return replace(place, hours=hours, missing_hours=lacking)
    if isinstance(part.fitted, date) and is_later(part.fitted, record.on):
        lacking = f"hours of the {part.role} at the record{day}"
        return replace(place, hours=UNKNOWN, missing_hours=lacking)
    return filled(place, now, lacking)


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
    return filled(place, now, f"hours at the event: {event.name}")

"""What is due as an iCalendar stream (RFC 5545): tasks, and days in a calendar.

Each open finding is a task (VTODO); where its day is known or foreseen, it is also an
event of that whole day (VEVENT), for programs that show no tasks. Both have a UID of
their own, which stays for as long as the finding does. Dates only, so that no time zone
is needed. SEQUENCE and DTSTAMP come from the moment at which the engine was last
evaluated or the finding last changed: no due point and no forecast moves without one of
the two. What only the passing of a day changes, the word of the state, moves neither.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final

from django.conf import settings
from django.urls import reverse
from icalendar import Calendar, Event, Todo

from notices.models import Provision
from notices.rules.applicability.wording import sentence
from notices.rules.compliance_time import State
from tracker.compliance.due import DueRow, due_list
from tracker.compliance.states import FURTHER_FLIGHT, WORDS
from tracker.figures.due_words import point_words, state_words
from tracker.figures.wording import grouped, listed, long_day
from tracker.print.sheet import SHORT_CAUTION
from tracker.watch.links.calendars import Opened
from tracker.watch.outbox import one_line

MOST: Final = 500
"""So many items with a state that is known, and so many undetermined, at most: it is
written anew whenever a program asks."""
EPOCH: Final = datetime(2020, 1, 1, tzinfo=UTC)
"""SEQUENCE counts seconds from here; as an integer of 32 bits it lasts until 2088."""
URGENT: Final = (FURTHER_FLIGHT, State.OVERDUE.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """The day of an item; `foreseen`: by hours, as the engine is run."""

    on: date
    foreseen: bool


def feed_of(opened: Opened, on: date) -> bytes:
    """Return the stream of what an address shows on a day. Six queries, or ten."""
    undetermined = State.UNDETERMINED.value
    rows: list[DueRow] = []
    left_out = 0
    for states in ([word for word in WORDS if word != undetermined], [undetermined]):
        page = due_list(opened.viewer, on, states=states, owner=opened.owner, size=MOST)
        rows += page.rows
        left_out += page.total - len(page.rows)
    calendar = _calendar(opened, left_out)
    for row in rows:
        if row.provision.kind != Provision.Kind.PROHIBITION:
            for component in _components(row):
                calendar.add_component(component)
    written: bytes = calendar.to_ical()
    return written


def day_of(row: DueRow) -> Day | None:
    """Return the day on which it is due, None where nobody can say one."""
    due = row.due
    if row.word in (FURTHER_FLIGHT, State.UNDETERMINED.value):
        return None
    if due.forecast is not None and due.forecast.on is not None:
        return Day(on=due.forecast.on, foreseen=due.forecast.on != due.on)
    if due.on is None or due.which == "last":
        return None
    return Day(on=due.on, foreseen=False)


def _calendar(opened: Opened, left_out: int) -> Calendar:
    calendar = Calendar()
    calendar.add("prodid", "-//Engine notice and overhaul tracker//Due and open//EN")
    calendar.add("version", "2.0")
    name = f"Due and open, {opened.viewer.station.name}"
    calendar.add("name", one_line(name))
    said = [SHORT_CAUTION]
    if left_out:
        said.insert(0, f"Left out, as others press more: {grouped(left_out)}.")
    calendar.add("description", " ".join(said))
    calendar.add("refresh-interval", timedelta(hours=6), {"VALUE": "DURATION"})
    return calendar


def _components(row: DueRow) -> Iterable[Todo | Event]:
    day = day_of(row)
    common = _common(row, day)
    yield _todo(row, day, common)
    if day is not None and day.on < date.max:  # after which there is no exclusive end
        yield _event(row, day, common)


def _todo(row: DueRow, day: Day | None, common: Mapping[str, Any]) -> Todo:
    todo = Todo()
    todo.add("uid", f"{row.finding.public_id}-task")
    todo.add("status", "NEEDS-ACTION")
    if row.word in URGENT:
        todo.add("priority", 1)
    if day is not None:
        todo.add("due", day.on)
    for name, value in common.items():
        todo.add(name, value)
    return todo


def _event(row: DueRow, day: Day, common: Mapping[str, Any]) -> Event:
    event = Event()
    event.add("uid", f"{row.finding.public_id}-day")
    event.add("status", "TENTATIVE" if day.foreseen else "CONFIRMED")
    event.add("transp", "TRANSPARENT")
    event.add("dtstart", day.on)
    event.add("dtend", day.on + timedelta(days=1))
    for name, value in common.items():
        event.add(name, value)
    return event


def _common(row: DueRow, day: Day | None) -> dict[str, Any]:
    """What the task and the event of an item both say."""
    changed = _changed_at(row)
    page = reverse("web:engine", args=[row.engine.public_id])
    return {
        "dtstamp": changed,
        "last-modified": changed,
        "sequence": max(int((changed - EPOCH).total_seconds()), 0),
        "summary": one_line(_summary(row, day)),
        "description": "\n".join(map(one_line, _lines(row, day))),
        "categories": [row.publication.kind, row.word],
        "url": f"{settings.BASE_URL}{page}",
    }


def _changed_at(row: DueRow) -> datetime:
    standing = getattr(row.engine, "standing", None)
    moments: list[datetime] = [row.finding.changed_at]
    if standing is not None:
        moments.append(standing.evaluated_at)
    return max(moments).astimezone(UTC)


def _summary(row: DueRow, day: Day | None) -> str:
    engine = row.engine
    name = engine.registration or f"{engine.engine_type} {engine.serial}"
    forecast = " (forecast)" if day is not None and day.foreseen else ""
    if row.word in (*URGENT, State.UNDETERMINED.value):
        forecast += f": {row.word}"
    return f"{name}, {row.publication.number}{forecast}"


def _lines(row: DueRow, day: Day | None) -> Iterable[str]:
    """What is to be done, by when, why, and what it is worth."""
    engine, due = row.engine, row.due
    yield f"{engine.engine_type}, serial {engine.serial}"
    document = f"{row.publication.number} revision {row.revision.label}"
    part = f" ({row.part})" if row.part else ""
    yield f"{document}: {row.provision.title}{part}"
    when, also = point_words(due, row.word)
    yield f"State: {state_words(due, row.word)}. Due: {' '.join([when, also]).strip()}"
    if day is not None and day.foreseen:
        yield _foreseen_words(row, day)
    if row.sentence:
        yield row.sentence
    if row.reasons:
        yield f"Why: {' '.join(row.reasons)}"
    if row.missing:
        yield f"{sentence(f'Not known: {listed(row.missing)}')} Treat it as open."
    yield SHORT_CAUTION


def _foreseen_words(row: DueRow, day: Day) -> str:
    forecast = row.forecast
    span = ""
    if forecast is not None and forecast.earliest and forecast.latest:
        span = f", from {long_day(forecast.earliest)} to {long_day(forecast.latest)}"
    read = row.due.reading_on
    by = f", by the reading of {long_day(read)}" if read else ""
    return f"{long_day(day.on)} is a forecast, as the engine is run{by}{span}."

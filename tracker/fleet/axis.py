"""What is known of an engine's axis of hours, and whether one more mark fits on it.

Hours never fall from one day to the next, and a day has 24 of them. Readings, and the
hours noted at overhauls, events, part fittings and with fuel, are all marks on the one
axis.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from tracker.fleet.entries import MOST_HOURS, in_hours
from tracker.fleet.errors import Refused
from tracker.fleet.models import (
    Engine,
    FuelRecord,
    NamedEvent,
    Overhaul,
    PartFitting,
    Reading,
)

DAY = 2400
"""Hundredths of an hour in a day."""


class ReadingRefused(Refused):
    """Hours that cannot be right beside what is recorded already."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Hours that the axis showed on a day, and what says so."""

    on: date
    hours: int
    said_by: str

    def __str__(self) -> str:
        return f"{in_hours(self.hours)} on {self.on} ({self.said_by})"


def marks_of(
    engines: Iterable[Engine], *, without: Reading | None = None
) -> dict[int, list[Mark]]:
    """Return the marks of engines by their key, by date. Five queries.

    `without`: a reading that is about to be corrected.
    """
    wanted = list(engines)
    readings = Reading.objects.valid().filter(engine__in=wanted)
    if without is not None:
        readings = readings.exclude(pk=without.pk)
    marks: dict[int, list[Mark]] = {engine.pk: [] for engine in wanted}
    for reading in readings:
        marks[reading.engine_id].append(
            Mark(on=reading.on, hours=reading.hours, said_by="reading")
        )
    done = Overhaul.objects.valid().filter(engine__in=wanted, hours__isnull=False)
    for overhaul in done:
        marks[overhaul.engine_id].append(
            Mark(on=overhaul.on, hours=overhaul.hours, said_by=overhaul.kind)
        )
    events = NamedEvent.objects.valid().filter(engine__in=wanted, hours__isnull=False)
    for event in events:
        marks[event.engine_id].append(
            Mark(on=event.on, hours=event.hours, said_by=event.name)
        )
    fuelled = FuelRecord.objects.valid().filter(engine__in=wanted, hours__isnull=False)
    for fuel in fuelled:
        marks[fuel.engine_id].append(
            Mark(on=fuel.on, hours=fuel.hours, said_by="fuel taken on")
        )
    _add_fittings(marks)
    for found in marks.values():
        found.sort(key=lambda mark: (mark.on, mark.hours))
    return marks


def check_fits(
    engine: Engine,
    *,
    on: date,
    hours: int,
    field: str,
    without: Reading | None = None,
) -> None:
    """Raise ReadingRefused, with both neighbours, if these hours cannot be on that day."""
    if engine.built is not None and on < engine.built:
        raise ReadingRefused(
            "on", f"{on} is before the engine was made, {engine.built}. Check the date."
        )
    against = why_not(
        marks_of([engine], without=without)[engine.pk], on=on, hours=hours
    )
    if against is not None:
        raise ReadingRefused(field, against)


def why_not(marks: Sequence[Mark], *, on: date, hours: int) -> str | None:
    """Return why these hours cannot be on that day beside the marks; None if they can."""
    low, high = _bounds(marks, on)
    if low <= hours <= high:
        return None
    return _refusal(marks, on, hours, low, high)


def _add_fittings(marks: dict[int, list[Mark]]) -> None:
    """The engines' hours noted at part changes; a later row corrects one of its day."""
    met = PartFitting.objects.filter(engine__in=list(marks)).values("part")
    rows = PartFitting.objects.filter(part__in=met).order_by("recorded_at", "pk")
    standing = {
        (row.part_id, row.day or row.true_from, row.engine_id, row.removed): row
        for row in rows
    }
    for row in standing.values():
        on = row.day
        if row.engine_id in marks and row.engine_hours is not None and on is not None:
            marks[row.engine_id].append(
                Mark(on=on, hours=row.engine_hours, said_by="part change")
            )


def _bounds(marks: Sequence[Mark], on: date) -> tuple[int, int]:
    """Return the least and the greatest hours possible on a day beside all marks."""
    low, high = 0, MOST_HOURS
    for mark in marks:
        days = (on - mark.on).days
        run = DAY * max(abs(days), 1)
        low = max(low, mark.hours if days > 0 else mark.hours - run)
        high = min(high, mark.hours if days < 0 else mark.hours + run)
    return low, high


def _refusal(marks: Sequence[Mark], on: date, hours: int, low: int, high: int) -> str:
    before = next((mark for mark in reversed(marks) if mark.on <= on), None)
    after = next((mark for mark in marks if mark.on > on), None)
    beside = " and ".join(
        f"{word} it {mark}"
        for word, mark in (("before", before), ("after", after))
        if mark
    )
    possible = (
        f"Only {in_hours(low)} to {in_hours(high)} are possible there: hours never fall, "
        "and a day has 24."
        if low <= high
        else "These two do not go together; correct one of them first."
    )
    return (
        f"{in_hours(hours)} on {on} cannot be right. Known is {beside}. {possible} "
        "Read the meter again; record a change of meter, or correct the reading that "
        "is wrong."
        if beside
        else f"{in_hours(hours)} on {on} cannot be right."
    )

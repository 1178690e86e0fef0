"""What is known of an engine's past on the day it is entered, checked and made rows.

Nothing else is kept of a new engine yet, so a whole fleet's past is written at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Final

from django.db import models

from notices.rules.designations import designation
from tracker.accounts.models import Station
from tracker.fleet.axis import Mark, why_not
from tracker.fleet.entries import checked_day, checked_hours, checked_text
from tracker.fleet.errors import Refused
from tracker.fleet.models import (
    Engine,
    Meter,
    MeterKind,
    Modification,
    Overhaul,
    Reading,
    Review,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstReading:
    """The first reading of the first meter; the engine's hours are what it shows."""

    on: date
    shown: int
    kind: str = MeterKind.TIME_IN_SERVICE


@dataclass(frozen=True, slots=True, kw_only=True)
class LastOverhaul:
    on: date
    hours: int | None = None
    done_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryReview:
    on: date
    person: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstPast:
    """None, or nothing embodied: nothing is said of it. `source`: of the modifications."""

    reading: FirstReading | None = None
    overhaul: LastOverhaul | None = None
    embodied: tuple[str, ...] = ()
    source: str = ""
    review: HistoryReview | None = None


NOTHING_SAID: Final = FirstPast()


def checked_past(
    station: Station, past: FirstPast, *, built: date | None, at: datetime
) -> FirstPast:
    """Return the past as it will be kept; Refused with the field that cannot be."""
    for said in (past.reading, past.overhaul, past.review):
        if said is not None:
            checked_day(station, "on", said.on, at)
            if built is not None and said.on < built:
                raise Refused(
                    "on", f"{said.on} is before the engine was made, {built}."
                )
    if past.reading is not None and past.reading.kind not in MeterKind.values:
        raise Refused("kind", f'"{past.reading.kind}" is not a kind of meter.')
    _check_axis(past)
    return replace(
        past,
        embodied=_single_modifications(past),
        source=checked_text(Modification, "source", past.source),
        overhaul=past.overhaul
        and replace(
            past.overhaul, done_by=checked_text(Overhaul, "by", past.overhaul.done_by)
        ),
        review=past.review
        and replace(
            past.review,
            person=checked_text(Review, "person", past.review.person, required=True),
        ),
    )


def rows_of_past(
    engine: Engine, past: FirstPast, true_from: date, stamp: Mapping[str, object]
) -> list[models.Model]:
    """Return the rows to create, in an order in which they can be; sets the hours."""
    about = {"engine": engine, **stamp}
    rows: list[models.Model] = []
    if past.reading is not None:
        read = past.reading
        meter = Meter(**about, kind=read.kind, started_on=read.on, offset=0)
        reading = Reading(
            **about, meter=meter, on=read.on, shown=read.shown, hours=read.shown
        )
        rows += [meter, reading]
        engine.hours_now, engine.read_on = read.shown, read.on
    if past.overhaul is not None:
        done = past.overhaul
        rows.append(Overhaul(**about, on=done.on, hours=done.hours, by=done.done_by))
    rows += [
        Modification(
            **about,
            true_from=true_from,
            designation=name,
            designation_key=designation(name),
            source=past.source,
        )
        for name in past.embodied
    ]
    if past.review is not None:
        on, person = past.review.on, past.review.person
        rows.append(Review(**about, true_from=on, scope=Review.HISTORY, person=person))
    return rows


def _check_axis(past: FirstPast) -> None:
    """The reading and the overhaul are the only marks; each must fit beside the other."""
    if past.overhaul is not None:
        checked_hours("hours", past.overhaul.hours)
    if past.reading is None:
        return
    checked_hours("shown", past.reading.shown)
    if past.overhaul is None or past.overhaul.hours is None:
        return
    overhaul = Mark(on=past.overhaul.on, hours=past.overhaul.hours, said_by="overhaul")
    against = why_not([overhaul], on=past.reading.on, hours=past.reading.shown)
    if against is not None:
        raise Refused("shown", against)


def _single_modifications(past: FirstPast) -> tuple[str, ...]:
    found: dict[str, str] = {}
    for name in past.embodied:
        shown = checked_text(Modification, "designation", name, required=True)
        key = designation(shown)
        if not key or ";" in shown:
            raise Refused("designation", f'"{shown}" does not name one modification.')
        found.setdefault(key, shown)
    return tuple(found.values())

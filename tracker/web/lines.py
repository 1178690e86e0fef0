"""A finding as one line of a table: when it is due, in words, and its place in days."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.utils.safestring import SafeString

from notices.models import Provision
from notices.rules.compliance_time import Due
from tracker.accounts.models import Station
from tracker.compliance.due import DueRow
from tracker.compliance.states import rate_from
from tracker.figures.due_words import doubt_words, point_words, state_words
from tracker.figures.lanes import Lane, days_scale, lane, lane_head
from tracker.figures.scale import Scale
from tracker.figures.wording import day, due_hours, used_hours

AHEAD: Final = 90


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One row of a table. `said`: its state as the list says it. `when` is its due
    point, `also` a second one beside it. `doubt`: that the meter must be read;
    `grounds`: why this one of several limits holds.

    `brief`: the part, the last record, a tolerance, in one line. `lane`: its place on
    the scale of days, None where the table has no such column.
    """

    row: DueRow
    said: str
    when: str
    also: str
    brief: str
    doubt: str
    grounds: str
    lane: SafeString | None = None

    @property
    def is_standing(self) -> bool:
        """A prohibition: in force, never completed."""
        return self.row.provision.kind == Provision.Kind.PROHIBITION


@dataclass(frozen=True, slots=True, kw_only=True)
class WithLanes:
    head: SafeString
    rows: tuple[Shown, ...]


def shown(rows: Iterable[DueRow]) -> tuple[Shown, ...]:
    return tuple(_shown(row) for row in rows)


def with_lanes(rows: Iterable[DueRow], station: Station, on: date) -> WithLanes:
    """Return the rows with their places on one scale of days, and its head."""
    scale = days_scale(max(AHEAD, station.lead_days))
    return WithLanes(
        head=lane_head(scale),
        rows=tuple(_shown(row, lane(_lane(row, scale, on), scale)) for row in rows),
    )


def brief_words(due: Due, part: str) -> str:
    """Return the part, the last record, a tolerance and what is doubtful, in one line."""
    said = [f"{part[:1].upper()}{part[1:]}"] if part else []
    said += _last_done(due)
    if due.late is not None and due.late.hours:
        said.append(f"The last record was {used_hours(due.late.hours)} late")
    if len(due.candidates) > 1:
        said.append(f"The earliest of {len(due.candidates)} points that it may have")
    said += _tolerance(due)
    if doubt := doubt_words(due):
        said.append(doubt)
    return ". ".join(said) + ("." if said else "")


def _shown(row: DueRow, place: SafeString | None = None) -> Shown:
    stands = row.provision.kind == Provision.Kind.PROHIBITION
    when, also = point_words(row.due, row.word, stands=stands)
    return Shown(
        row=row,
        said=state_words(row.due, row.word),
        when=when,
        also=also,
        brief=brief_words(row.due, row.part),
        doubt=doubt_words(row.due),
        grounds=" ".join(row.due.point.grounds),
        lane=place,
    )


def _last_done(due: Due) -> list[str]:
    point = due.point
    at = [] if point.last_hours is None else [f"at {used_hours(point.last_hours)}"]
    on = [] if point.last_on is None else [f"on {day(point.last_on)}"]
    return [f"Last done {' '.join([*at, *on])}"] if at or on else []


def _tolerance(due: Due) -> list[str]:
    point = due.point
    sizes = [due_hours(point.tolerance_hours)] if point.tolerance_hours else []
    sizes += [f"{point.tolerance_days} days"] if point.tolerance_days else []
    if not sizes:
        return []
    where = ", under way only" if point.tolerance_en_route else ""
    size = f"{' or '.join(sizes)}{where}"
    if due.inside_tolerance:
        return [f"Past its limit, inside the tolerance of {size}"]
    return [f"Tolerance {size}"]


def _lane(row: DueRow, scale: Scale, on: date) -> Lane:
    """By date where there is one, else by forecast; past hours by the mean rate."""
    by_date, by_hours = row.remaining_days, _days_by_hours(row, on)
    known = [days for days in (by_date, by_hours) if days is not None]
    forecast = row.forecast
    span = None
    if (
        known
        and min(known) == by_hours
        and forecast is not None
        and by_hours != by_date
    ):
        span = tuple(
            min(max((end - on).days, scale.low), scale.high)
            for end in (forecast.earliest, forecast.latest)
            if end is not None
        )
    return Lane(
        state=row.word,
        days=min(known) if known else None,
        span=(span[0], span[1]) if span and len(span) == 2 else None,
    )


def _days_by_hours(row: DueRow, on: date) -> int | None:
    if row.forecast is not None and row.forecast.on is not None:
        return (row.forecast.on - on).days
    left = row.remaining_hours
    rate = rate_from(getattr(row.engine, "standing", None))
    if left is None or left >= 0 or rate is None or rate.a_day == 0:
        return None
    return int(left / rate.a_day)

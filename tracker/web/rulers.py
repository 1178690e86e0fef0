"""Findings and records of one engine -> its ruler of hours and its ruler of dates."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from notices.models import Provision
from notices.rules.compliance_time import Due
from notices.rules.times.points import folded_hours, folded_on
from tracker.compliance.due import DueRow
from tracker.compliance.models import Record
from tracker.compliance.states import FURTHER_FLIGHT, WORDS
from tracker.compliance.summary import Line
from tracker.figures.caption import OffScale
from tracker.figures.dates import DateMark, DateRecord, DatesRuler
from tracker.figures.due_words import MAY_BE, state_words
from tracker.figures.ruler import HoursMark, HoursRecord, HoursRuler
from tracker.figures.states import is_past

ONCE_A_YEAR: Final = timedelta(days=366)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """What is open, as a ruler shows it: a name, a word, and its due result.

    `stands`: a prohibition; it is in force and never falls due.
    """

    name: str
    word: str
    due: Due
    stands: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What was done: a short name, its day and its hours as TSN, if they are known."""

    name: str
    on: date
    hours: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rulers:
    hours: HoursRuler
    dates: DatesRuler


def items_of(rows: Iterable[DueRow]) -> list[Item]:
    """Return what is open of the findings of an engine."""
    listed = [row for row in rows if row.word in WORDS]
    return [
        Item(
            name=name,
            word=_word(row.due, row.word),
            due=row.due,
            stands=_stands(row.provision),
        )
        for row, name in zip(listed, _names(listed), strict=True)
    ]


def items_of_lines(lines: Iterable[Line]) -> list[Item]:
    """Return what is open of the lines of a status."""
    listed = [line for line in lines if line.state in WORDS]
    return [
        Item(
            name=name,
            word=_word(line.due, line.state),
            due=line.due,
            stands=_stands(line.provision),
        )
        for line, name in zip(listed, _names(listed), strict=True)
    ]


def _word(due: Due, word: str) -> str:
    """Return the state as every list says it, where a mark has its shape."""
    said = state_words(due, word)
    return said if said == MAY_BE else word


def works_of(records: Iterable[Record], zero: int, on: date) -> list[Work]:
    """Return the work of records, all of them valid, of the last year before a day."""
    return [
        Work(
            name=record.document_number or "work",
            on=record.on,
            hours=None if record.hours is None else record.hours - zero,
        )
        for record in records
        if record.on >= on - ONCE_A_YEAR
    ]


def rulers_of(
    subject: str,
    items: Sequence[Item],
    works: Sequence[Work],
    *,
    now: int | None,
    today: date,
) -> Rulers:
    """Return both rulers. `now`: hours on the axis on which the due results count.

    What has a place on one of the two stands there; the rest is listed under the
    first, so that nothing is silent.
    """
    due_hours = [item for item in items if _stands_on_hours(item)]
    due_dates = [item for item in items if _stands_on_dates(item)]
    without = [item for item in items if item.due.hours is None and item.due.on is None]
    return Rulers(
        hours=HoursRuler(
            id="hours",
            subject=subject,
            now=now,
            marks=tuple(_hours_mark(item) for item in due_hours),
            records=_hours_records(works),
            off_scale=tuple(_off_scale(item) for item in without),
        ),
        dates=DatesRuler(
            id="dates",
            subject=subject,
            today=today,
            marks=tuple(_date_mark(item) for item in due_dates),
            records=_date_records(works),
        ),
    )


def _stands_on_hours(item: Item) -> bool:
    """What is overdue by date alone is not drawn as overdue where hours are left."""
    due = item.due
    return due.hours is not None and not (
        is_past(item.word)
        and _past(due.remaining_days)
        and not (_past(due.remaining_hours) or due.may_be_overdue)
    )


def _stands_on_dates(item: Item) -> bool:
    due = item.due
    return due.on is not None and not (
        is_past(item.word)
        and (_past(due.remaining_hours) or due.may_be_overdue)
        and not _past(due.remaining_days)
    )


def _past(remaining: int | None) -> bool:
    return remaining is not None and remaining < 0


def _names(listed: Sequence[DueRow] | Sequence[Line]) -> list[str]:
    """The number of the document; with more where it would not tell two apart."""
    known = Counter((row.publication.number, row.provision.pk) for row in listed)
    shared = Counter(row.publication.number for row in listed)
    names = []
    for row in listed:
        number = row.publication.number
        if known[number, row.provision.pk] > 1 and row.part:
            names.append(f"{number} {_short(row.part)}")
        elif shared[number] > 1:
            names.append(
                f"{number} {row.provision.title[:1].lower()}{row.provision.title[1:]}"
            )
        else:
            names.append(number)
    return names


def _short(part: str) -> str:
    """Role and place of a part, or its number where no place is recorded."""
    return ", ".join(part.split(", ")[:2])


def _stands(provision: Provision) -> bool:
    return provision.kind == Provision.Kind.PROHIBITION


def _hours_mark(item: Item) -> HoursMark:
    due = item.due
    assert due.hours is not None
    places = [folded_hours(tree) for tree in due.candidates]
    candidates = tuple(sorted({at for at in places if at is not None}))
    low = due.point.earliest_hours
    is_range = due.estimated and low is not None and low < due.hours
    return HoursMark(
        name=item.name,
        at=due.hours,
        state=item.word,
        tolerance_to=_allowed(due.hours, due.point.tolerance_hours, due),
        candidates=candidates if len(candidates) > 1 else (),
        estimated=due.estimated,
        span=(low, due.hours) if is_range and low is not None else None,
    )


def _date_mark(item: Item) -> DateMark:
    due = item.due
    assert due.on is not None
    places = [folded_on(tree) for tree in due.candidates]
    candidates = tuple(sorted({on for on in places if on is not None}))
    days = due.point.tolerance_days
    return DateMark(
        name=item.name,
        on=due.on,
        state=item.word,
        tolerance_to=due.on + timedelta(days=days)
        if days and not due.point.tolerance_en_route
        else None,
        candidates=candidates if len(candidates) > 1 else (),
    )


def _allowed(hours: int, tolerance: int, due: Due) -> int | None:
    """Where a tolerance ends that holds without being on the way somewhere."""
    if not tolerance or due.point.tolerance_en_route:
        return None
    return hours + tolerance


def _off_scale(item: Item) -> OffScale:
    if item.stands:
        return OffScale(name=item.name, state=item.word, why="stands, nothing ends it")
    if item.word == FURTHER_FLIGHT:
        return OffScale(name=item.name, state=item.word, why="no hours are left")
    if item.due.events:
        return OffScale(
            name=item.name, state=item.word, why=f"at {' or '.join(item.due.events)}"
        )
    return OffScale(name=item.name, state=item.word, why="due point not known")


def _hours_records(works: Iterable[Work]) -> tuple[HoursRecord, ...]:
    """One mark for all that was done at the same hours."""
    at: dict[int, list[str]] = {}
    for work in works:
        if work.hours is not None and work.hours >= 0:
            at.setdefault(work.hours, []).append(work.name)
    return tuple(
        HoursRecord(name=_several(names), at=hours) for hours, names in at.items()
    )


def _date_records(works: Iterable[Work]) -> tuple[DateRecord, ...]:
    on: dict[date, list[str]] = {}
    for work in works:
        on.setdefault(work.on, []).append(work.name)
    return tuple(DateRecord(name=_several(names), on=day) for day, names in on.items())


def _several(names: Sequence[str]) -> str:
    different = list(dict.fromkeys(names))
    more = len(different) - 1
    return f"{different[0]} and {more} more" if more else different[0]

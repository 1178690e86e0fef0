"""Statuses -> a whole document: one sheet, or several behind a first page that lists them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from tracker.compliance.summary import StatusOfEngine
from tracker.figures.wording import used_hours
from tracker.print.sheet import Cover, Listed, Printed
from tracker.print.status_sheet import (
    NOT_KNOWN,
    aircraft_words,
    as_of_words,
    counts_of,
    made_words,
    sheet_of,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """What a document is made for. `zone`: the reader's time zone, by its name."""

    on: date
    known_at: datetime | None
    made_at: datetime
    zone: str


def document_of(status: StatusOfEngine, making: Making) -> Printed:
    """Return the document of one engine."""
    sheet = sheet_of(status, made_at=making.made_at, zone=making.zone)
    return Printed(title=sheet.title, station=sheet.station, sheets=(sheet,))


def document_of_all(
    statuses: Sequence[StatusOfEngine], whose: str, station: str, making: Making
) -> Printed:
    """Return the document of several. `whose`: "ZZ-RHO", or the name of an owner."""
    cover = cover_of(statuses, whose, station, making)
    sheets = tuple(
        sheet_of(status, made_at=making.made_at, zone=making.zone)
        for status in statuses
    )
    return Printed(title=cover.title, station=station, sheets=sheets, cover=cover)


def cover_of(
    statuses: Sequence[StatusOfEngine], whose: str, station: str, making: Making
) -> Cover:
    zone = ZoneInfo(making.zone)
    return Cover(
        title=f"Compliance status of the engines of {whose}",
        station=station,
        as_of=as_of_words(making.on, making.known_at, making.made_at, zone),
        made=made_words(making.made_at, making.zone),
        engines=tuple(map(_listed, statuses)),
        empty="No engine in care belonged to it on that day.",
    )


def _listed(status: StatusOfEngine) -> Listed:
    return Listed(
        subject=str(status.engine),
        aircraft=aircraft_words(status) or NOT_KNOWN,
        tsn=NOT_KNOWN if status.tsn is None else used_hours(status.tsn),
        counts=counts_of(status),
        note=status.not_yet or _searches(status),
    )


def _searches(status: StatusOfEngine) -> str:
    count = len(status.open_searches)
    if count == 0:
        return ""
    return f"{count} search{'' if count == 1 else 'es'} for documents old or not noted"

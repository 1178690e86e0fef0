"""Checks of single entries: text, dates and hours as a person or a sheet gives them."""

from __future__ import annotations

import unicodedata
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db import models

from tracker.accounts.models import Station
from tracker.fleet.errors import Refused

MOST_HOURS = 100_000_000
"""A million hours in hundredths: no engine comes near it, and sums stay exact."""


def day_at(station: Station, at: datetime) -> date:
    """Return the date of a moment in the station's time zone."""
    return at.astimezone(ZoneInfo(station.time_zone)).date()


def checked_text(
    model: type[models.Model], field: str, value: str, *, required: bool = False
) -> str:
    """Return the text trimmed and on one line; Refused if the column cannot keep it."""
    text = " ".join(unicodedata.normalize("NFC", value).split())
    strange = next((c for c in text if unicodedata.category(c) in {"Cc", "Cs"}), None)
    if strange is not None:
        raise Refused(
            field,
            f"The text {value[:40]!a} holds the control character U+{ord(strange):04X}. "
            "Type it again.",
        )
    if required and not text:
        raise Refused(field, f"The {spoken(field)} is missing.")
    column = model._meta.get_field(field)
    assert isinstance(column, models.CharField)
    longest = column.max_length
    if longest is not None and len(text) > longest:
        raise Refused(
            field,
            f"The {spoken(field)} has {len(text)} characters; at most {longest} are kept.",
        )
    return text


def checked_day(station: Station, field: str, day: date, at: datetime) -> date:
    """Return the day; Refused if it lies ahead at the station."""
    today = day_at(station, at)
    if day > today:
        raise Refused(
            field,
            f"The {spoken(field)} {day} lies after today, {today}. "
            "Enter what has happened, not what is planned.",
        )
    return day


def checked_hours(field: str, hours: int | None) -> int | None:
    """Return hundredths of an hour; Refused if negative or beyond any engine."""
    if hours is not None and not 0 <= hours <= MOST_HOURS:
        raise Refused(
            field,
            f"The {spoken(field)} cannot be {in_hours(hours)}. "
            f"Write a number from 0 to {MOST_HOURS // 100}.",
        )
    return hours


def in_hours(hundredths: int) -> str:
    """Return hours as shown: 51230 is "512.3 h"."""
    sign = "-" if hundredths < 0 else ""
    whole, rest = divmod(abs(hundredths), 100)
    decimals = f"{rest:02}".rstrip("0") or "0"
    return f"{sign}{whole}.{decimals} h"


def spoken(field: str) -> str:
    """Return the name of a column as a person would say it."""
    return WORDS.get(field, field.replace("_", " "))


WORDS = {
    "on": "date",
    "built": "date of manufacture",
    "shipped": "date of shipping",
    "rebuilt": "date of the maker's rebuild",
    "true_from": "date from which it holds",
    "serial": "serial number",
    "number": "part number",
    "change": "change letter",
    "by": "name of who did it",
    "shown": "meter reading",
    "uses": "kind of operation",
    "registry": "state of registry",
}

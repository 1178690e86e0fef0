"""Whether the digest of a day is due: at the owner's hour, once a date, well apart."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

APART: Final = timedelta(hours=12)
"""The least between two digests, whatever an owner does to their hour and zone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Last:
    """The last digest of an owner: the date that it was for, and its moment."""

    day: date
    at: datetime


def digest_day(
    now: datetime, *, zone: ZoneInfo, hour: int, last: Last | None
) -> date | None:
    """Return the date in the zone for which a digest is due now, None if none is.

    An hour that the clock skips that day counts as the moment an hour before its leap,
    so that the date is not left out; of an hour that comes twice, the second counts.
    """
    day = now.astimezone(zone).date()
    if last is not None and (day <= last.day or now < last.at + APART):
        return None
    opens = datetime.combine(day, time(hour, fold=1), tzinfo=zone)
    return day if now.timestamp() >= opens.timestamp() else None

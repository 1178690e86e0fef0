"""A digest asked for at every tick of years, in many zones: what went and what did not."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from tracker.watch.telling.days import APART, Last, digest_day

ZONES: Final = (
    "Africa/Cairo",
    "Africa/Casablanca",
    "America/Asuncion",
    "America/Havana",
    "America/New_York",
    "America/Nuuk",  # skips its hour from 23 to 24, in 2024
    "America/Santiago",
    "America/St_Johns",
    "Antarctica/Troll",  # moves by two hours
    "Asia/Beirut",
    "Asia/Kathmandu",
    "Asia/Tehran",
    "Australia/Adelaide",
    "Australia/Lord_Howe",  # moves by half an hour
    "Europe/London",
    "Pacific/Apia",  # has no 30 December 2011
    "Pacific/Chatham",
    "Pacific/Honolulu",
    "Pacific/Kiritimati",
    "UTC",
)
HOURS: Final = (0, 7, 23)
TICK: Final = timedelta(minutes=15)
COARSE: Final = timedelta(hours=1)
YEARS: Final = 3


@dataclass(frozen=True, slots=True)
class Swept:
    """What a sweep of one zone and hour came to."""

    digests: int
    missing: list[date]
    double: list[date]
    too_near: list[datetime]


def sweep(name: str, hour: int, *, every_tick: bool) -> Swept:
    """Ask at every quarter of an hour, or only so near the moves of the clock."""
    zone = ZoneInfo(name)
    start = datetime(2010 if name == "Pacific/Apia" else 2022, 1, 1, tzinfo=UTC)
    end = start.replace(year=start.year + YEARS)
    ticks = _all_ticks(start, end) if every_tick else _ticks(start, end, zone)
    seen: dict[date, None] = {}
    went: list[Last] = []
    last: Last | None = None
    for now in ticks:
        seen[now.astimezone(zone).date()] = None
        day = digest_day(now, zone=zone, hour=hour, last=last)
        if day is not None:
            last = Last(day=day, at=now)
            went.append(last)
    days = [one.day for one in went]
    whole = list(seen)[1:-1]  # the first and the last date are cut off
    return Swept(
        digests=len(days),
        missing=[day for day in whole if day not in set(days)],
        double=[day for day in set(days) if days.count(day) > 1],
        too_near=[
            two.at for one, two in itertools.pairwise(went) if two.at - one.at < APART
        ],
    )


def _all_ticks(start: datetime, end: datetime) -> Iterator[datetime]:
    now = start
    while now < end:
        yield now
        now += TICK


def _ticks(start: datetime, end: datetime, zone: ZoneInfo) -> Iterable[datetime]:
    """Every hour; every quarter of one within two days of a move of the clock."""
    near = timedelta(days=2)
    now = start
    while now < end:
        yield now
        moves = _offset(now - near, zone) != _offset(now + near, zone)
        now += TICK if moves else COARSE


def _offset(moment: datetime, zone: ZoneInfo) -> timedelta | None:
    return moment.astimezone(zone).utcoffset()

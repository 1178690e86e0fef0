"""One digest for each date of an owner's own days, whatever clocks and owners do."""

from __future__ import annotations

import itertools
import random
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.tracker.watch.telling.sweeping import HOURS, ZONES, sweep
from tracker.watch.telling.days import APART, Last, digest_day

LONDON = ZoneInfo("Europe/London")


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("now", "zone", "hour", "day"),
    [
        # before and from the hour on, all the rest of the day
        ("2026-11-28 06:59", "Europe/London", 7, None),
        ("2026-11-28 07:00", "Europe/London", 7, date(2026, 11, 28)),
        ("2026-11-28 23:59", "Europe/London", 7, date(2026, 11, 28)),
        # the date and the hour are the owner's
        ("2026-11-27 22:00", "Asia/Tokyo", 7, date(2026, 11, 28)),
        ("2026-11-28 11:59", "America/New_York", 7, None),
        ("2026-11-28 12:00", "America/New_York", 7, date(2026, 11, 28)),
        # the clock skips from 1 to 2: an hour before its leap
        ("2026-03-29 00:00", "Europe/London", 1, date(2026, 3, 29)),
        # the hour comes twice: the second one counts
        ("2026-10-25 00:30", "Europe/London", 1, None),
        ("2026-10-25 01:00", "Europe/London", 1, date(2026, 10, 25)),
        # a day that ends at 23 o'clock
        ("2024-03-31 00:00", "America/Nuuk", 23, date(2024, 3, 30)),
    ],
)
def test_the_hour_is_that_of_the_owners_day(now, zone, hour, day) -> None:
    # Moves of clocks: the IANA time zone database.
    assert digest_day(at(now), zone=ZoneInfo(zone), hour=hour, last=None) == day


def test_a_date_has_one_digest_and_two_lie_apart() -> None:
    last = Last(day=date(2026, 11, 28), at=at("2026-11-28 22:00"))

    def day(now: str) -> date | None:
        return digest_day(at(now), zone=LONDON, hour=7, last=last)

    assert day("2026-11-28 23:00") is None
    assert day("2026-11-29 09:59") is None
    assert day("2026-11-29 10:00") == date(2026, 11, 29)


@pytest.mark.parametrize("name", ZONES)
def test_three_years_leave_out_no_date_and_double_none(name: str) -> None:
    for hour in HOURS:
        swept = sweep(name, hour, every_tick=False)
        assert swept.digests > 1090
        assert (swept.missing, swept.double, swept.too_near) == ([], [], [])


def test_a_date_that_never_was_has_no_digest() -> None:
    now, last = at("2011-12-29 00:00"), None
    days = []
    while now < at("2012-01-01 12:00"):
        day = digest_day(now, zone=ZoneInfo("Pacific/Apia"), hour=7, last=last)
        if day is not None:
            last = Last(day=day, at=now)
            days.append(day.isoformat())
        now += timedelta(minutes=15)
    assert days == ["2011-12-28", "2011-12-29", "2011-12-31", "2012-01-01"]


def test_an_owner_who_moves_is_told_no_date_twice_and_never_too_soon() -> None:
    dice = random.Random(20261128)  # noqa: S311 - picks test data
    for _ in range(20):
        now, last = at("2026-01-01 00:00"), None
        went: list[Last] = []
        zone, hour = ZoneInfo("UTC"), 7
        while now < at("2026-07-01 00:00"):
            if dice.random() < 0.01:
                zone, hour = ZoneInfo(dice.choice(ZONES)), dice.randrange(24)
            day = digest_day(now, zone=zone, hour=hour, last=last)
            if day is not None:
                last = Last(day=day, at=now)
                went.append(last)
            now += timedelta(hours=1)
        pairs = list(itertools.pairwise(went))
        assert len(pairs) > 120
        assert all(one.day < two.day for one, two in pairs)
        assert all(two.at - one.at >= APART for one, two in pairs)
        assert all(two.at - one.at <= timedelta(hours=75) for one, two in pairs)


def test_days_without_a_run_end_in_one_digest() -> None:
    last = Last(day=date(2026, 11, 24), at=at("2026-11-24 07:00"))
    now = at("2026-11-28 03:00")
    days = []
    for _ in range(96):
        day = digest_day(now, zone=LONDON, hour=7, last=last)
        if day is not None:
            last = Last(day=day, at=now)
            days.append(day)
        now += timedelta(minutes=15)
    assert days == [date(2026, 11, 28)]

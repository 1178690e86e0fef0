"""What is kept of an engine as a whole: its rate, its interval, when to look again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from fractions import Fraction
from math import ceil

from notices.rules.compliance_time import utilisation
from notices.rules.times.history import YEAR, Rate
from tracker.compliance.facts import EngineFile, days_ahead
from tracker.compliance.findings.watched_day import WatchedDay
from tracker.compliance.intervals import (
    INTERVAL_COLUMNS,
    EngineInterval,
    interval_columns,
)
from tracker.compliance.models import Standing
from tracker.fleet.models import State as ServiceState

AT_ONCE = 1000
_COLUMNS = (
    "evaluated_at",
    "evaluated_for",
    "publications",
    "provisions",
    "zero",
    "meter",
    "rate",
    "hours_a_day",
    "read_on_day",
    "again_on",
    *INTERVAL_COLUMNS,
)
Intervals = Mapping[int, EngineInterval | None]
"""By engine; None where no interval provision concerns it."""

Days = Mapping[int, WatchedDay]
"""The day asked for, by engine: each notes until when the answers for it stay."""


def standing_of(
    file: EngineFile,
    interval: EngineInterval | None,
    *,
    on: date,
    at: datetime,
    counts: tuple[int, int],
    again_on: date | None,
) -> Standing:
    """Return the row, not saved."""
    rate = rate_of(file, on=on)
    publications, provisions = counts
    return Standing(
        engine=file.engine,
        station_id=file.engine.station_id,
        evaluated_at=at,
        evaluated_for=on,
        publications=publications,
        provisions=provisions,
        zero=file.zero,
        meter=file.reading.meter.kind if file.reading else "",
        rate=_rate_to_json(rate),
        hours_a_day=None if rate is None else int(rate.high),
        read_on_day=file.reading.on.toordinal() if file.reading else None,
        again_on=again_on,
        **interval_columns(interval, zero=file.zero),
    )


def again_on(
    files: Mapping[int, EngineFile], days: Days, *, on: date
) -> dict[int, date | None]:
    """Return the first day on which each engine may come to another answer by itself.

    That is when something that was asked of the day turns, a row dated ahead begins
    to hold, or a reading leaves the year by which utilisation goes. Two queries.
    """
    ahead = days_ahead(files, on=on)
    return {
        key: min(
            filter(None, (days[key].changes_on, ahead.get(key), rate_until(file, on))),
            default=None,
        )
        for key, file in files.items()
    }


def bring_forward(days: Days) -> None:
    """After some rules only: the day to look again may come sooner, never later."""
    turning = {key: day.changes_on for key, day in days.items() if day.changes_on}
    sooner = []
    for standing in Standing.objects.filter(engine__in=list(turning)):
        day = turning[standing.pk]
        if standing.again_on is None or day < standing.again_on:
            standing.again_on = day
            sooner.append(standing)
    Standing.objects.bulk_update(sooner, ["again_on"], batch_size=AT_ONCE)


def write_standings(standings: Sequence[Standing]) -> None:
    Standing.objects.bulk_create(
        standings,
        batch_size=AT_ONCE,
        update_conflicts=True,
        unique_fields=["engine"],
        update_fields=list(_COLUMNS),
    )


def write_intervals(files: Iterable[EngineFile], intervals: Intervals) -> None:
    """Write what is said of the interval alone, of engines that were evaluated before."""
    rows = [
        Standing(
            engine=file.engine,
            **interval_columns(intervals.get(file.engine.pk), zero=file.zero),
        )
        for file in files
    ]
    Standing.objects.bulk_update(rows, INTERVAL_COLUMNS, batch_size=AT_ONCE)


def rate_of(file: EngineFile, *, on: date) -> Rate | None:
    """Return the utilisation, its upper end in whole hundredths; None out of service.

    Whole hundredths, rounded up, so that SQL and the exact answer agree.
    """
    if file.engine.state != ServiceState.IN_SERVICE:
        return None
    rate = utilisation(file.readings, on)
    if rate is None:
        return None
    return Rate(a_day=rate.a_day, low=rate.low, high=Fraction(ceil(rate.high)))


def rate_until(file: EngineFile, on: date) -> date | None:
    """Return the day on which the oldest reading no longer counts for utilisation.

    None where that makes no difference: out of service, or with a single reading.
    """
    if file.engine.state != ServiceState.IN_SERVICE:
        return None
    counted = [one.on for one in file.readings if on - YEAR <= one.on <= on]
    if len(set(counted)) < 2:
        return None
    return min(counted) + YEAR + timedelta(days=1)


def _rate_to_json(rate: Rate | None) -> dict[str, str] | None:
    if rate is None:
        return None
    return {"a_day": str(rate.a_day), "low": str(rate.low), "high": str(rate.high)}

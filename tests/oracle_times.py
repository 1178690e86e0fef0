"""Compliance times worked out the slow and obvious way, from their JSON.

Only hours, months, days and dates counted from the effective date are known here;
months come from dateutil. Hours are decimals as fractions, so that nothing rounds.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from fractions import Fraction
from typing import Any

from dateutil.relativedelta import relativedelta


def is_overdue(
    time: dict[str, Any], *, effective: tuple[date, float], now: tuple[date, float]
) -> bool:
    """Say whether a time is past: any member of a first_of, all of a last_of."""
    if "first_of" in time:
        members = time["first_of"]
        return any(is_overdue(m, effective=effective, now=now) for m in members)
    if "last_of" in time:
        members = time["last_of"]
        return all(is_overdue(m, effective=effective, now=now) for m in members)
    day, hours = effective
    if "hours" in time:
        return exact(now[1]) > exact(hours) + exact(time["hours"])
    if "date" in time:
        return now[0].isoformat() > time["date"]
    if "days" in time:
        return now[0] > day + timedelta(days=time["days"])
    end = day + relativedelta(months=time["months"])
    if time.get("calendar"):
        end += relativedelta(day=31)
    return now[0] > end


def exact(number: float) -> Fraction:
    return Fraction(str(number))


def next_hours(
    interval: int,
    records: Sequence[tuple[int, bool]],
    *,
    planned: bool,
    tolerance: int,
    en_route: bool,
    early: bool,
) -> int:
    """Return the next due hours after records (hours, flown en route), from the first.

    Written as a walk along a ruler: each record looks for the mark that it answers.
    """
    mark = records[0][0] + interval
    for at, was_en_route in records[1:]:
        over = at - mark
        keeps = planned and (
            over == 0
            or (0 < over <= tolerance and (was_en_route or not en_route))
            or (0 < -over <= tolerance and early)
        )
        mark = (mark if keeps else at) + interval
    return mark


def planned_month(origin: date, months: int, times: int) -> date:
    """Return the mark number `times` of a grid of months, counted from its origin."""
    return origin + relativedelta(months=months * times)

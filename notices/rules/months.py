"""Months added to a date, plain and to the end of the calendar month.

Plain months keep the day and clip at the month's end (a convention of ours, see
`plus_months`); calendar months run to the last day of the month (14 CFR 91.409(a),
"12 calendar months", in the reading that is common practice: to the end of the month).
"""

from __future__ import annotations

from calendar import monthrange
from datetime import date


def plus_months(start: date, months: int) -> date:
    """Return the same day `months` later, the month's last day where it has no such day.

    31 August and six months is 28 February. `months` may be negative. Raises
    OverflowError outside the years 1 to 9999. Clipping is our convention, no source.
    """
    year, month_index = divmod(start.year * 12 + start.month - 1 + months, 12)
    if not 1 <= year <= 9999:
        raise OverflowError(f"{months} months from {start} leave the calendar.")
    last_day = monthrange(year, month_index + 1)[1]
    return date(year, month_index + 1, min(start.day, last_day))


def end_of_month(day: date) -> date:
    """Return the last day of the month in which `day` lies."""
    return day.replace(day=monthrange(day.year, day.month)[1])


def last_day_in_time(start: date, months: int, *, calendar: bool) -> date:
    """Return the last day on which a limit of `months` from `start` is still met.

    `months`: whole months, 1 or more. `calendar`: to the end of that month.
    Raises ValueError below 1, OverflowError past the year 9999.
    """
    if months < 1:
        raise ValueError(f"A limit has 1 month or more, not {months}.")
    day = plus_months(start, months)
    return end_of_month(day) if calendar else day

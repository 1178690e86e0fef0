"""Own month arithmetic against dateutil, which is in the development lock only."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import example, given
from hypothesis import strategies as st

from notices.rules.months import end_of_month, last_day_in_time, plus_months

DAYS = st.dates(min_value=date(1900, 1, 1), max_value=date(2200, 12, 31))


@given(start=DAYS, months=st.integers(min_value=-1200, max_value=1200))
@example(start=date(2024, 2, 29), months=12)
@example(start=date(2023, 12, 31), months=2)
def test_plain_months_agree_with_dateutil(start: date, months: int) -> None:
    assert plus_months(start, months) == start + relativedelta(months=months)


@given(start=DAYS, months=st.integers(min_value=1, max_value=600))
@example(start=date(2023, 2, 28), months=12)
def test_calendar_months_agree_with_dateutil(start: date, months: int) -> None:
    expected = start + relativedelta(months=months) + relativedelta(day=31)
    assert last_day_in_time(start, months, calendar=True) == expected


@given(day=DAYS)
def test_the_day_after_the_end_of_a_month_is_a_first(day: date) -> None:
    assert (end_of_month(day) + timedelta(days=1)).day == 1
    assert end_of_month(day) >= day


@given(start=DAYS, months=st.integers(min_value=1, max_value=600))
def test_a_calendar_limit_is_never_shorter_than_a_plain_one(
    start: date, months: int
) -> None:
    plain = last_day_in_time(start, months, calendar=False)
    assert last_day_in_time(start, months, calendar=True) >= plain


@pytest.mark.parametrize("months", [0, -1])
def test_a_limit_of_no_months_is_refused(months: int) -> None:
    with pytest.raises(ValueError, match="1 month or more"):
        last_day_in_time(date(2026, 1, 1), months, calendar=False)


def test_months_past_the_calendar_are_refused() -> None:
    with pytest.raises(OverflowError, match="leave the calendar"):
        plus_months(date(9999, 1, 1), 12)

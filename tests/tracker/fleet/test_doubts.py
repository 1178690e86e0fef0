"""A reading far beyond all use before is asked about; the limits are our own."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from tests.factories.accounts import UserFactory
from tests.factories.fleet import EngineFactory
from tracker.accounts.models import User
from tracker.fleet.doubts import doubt_about
from tracker.fleet.meters import add_reading, change_meter, start_meter
from tracker.fleet.models import Engine

AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)


@pytest.fixture
def by(db: None) -> User:
    return UserFactory()


@pytest.fixture
def engine(by: User) -> Engine:
    """An engine that ran 100 h in the 59 days to 1 March: 1.69 h a day, no more."""
    made = EngineFactory(built=date(2020, 1, 1))
    start_meter(
        made, kind="time in service", on=date(2026, 1, 1), shown=10000, at=AT, by=by
    )
    add_reading(made, on=date(2026, 3, 1), shown=20000, at=AT, by=by)
    return made


@pytest.mark.parametrize(
    ("on", "shown", "asked"),
    [
        # up to 10 h more than before, in whatever time
        (date(2026, 3, 2), 21000, False),
        (date(2026, 3, 2), 21001, True),
        (date(2026, 3, 1), 21000, False),
        (date(2026, 3, 1), 21001, True),
        # four times as much as usual: 4 x 100 h / 59 d x 2 d is 13.559 h
        (date(2026, 3, 3), 21355, False),
        (date(2026, 3, 3), 21356, True),
        # 60 d as usual, and 60 d at four times as much, 406.78 h
        (date(2026, 4, 30), 30169, False),
        (date(2026, 4, 30), 60677, False),
        (date(2026, 4, 30), 60678, True),
        # lower than before is refused elsewhere, and nothing to ask about
        (date(2026, 3, 2), 19000, False),
        # between two readings: counted from the one before it
        (date(2026, 1, 2), 11001, False),
        (date(2026, 1, 2), 11201, True),
        # before all of them
        (date(2025, 12, 1), 9000, False),
    ],
)
def test_what_is_far_beyond_the_use_before_is_asked(
    engine: Engine, on: date, shown: int, asked: bool
) -> None:
    assert bool(doubt_about(engine, on=on, shown=shown)) is asked


@pytest.mark.parametrize(("shown", "asked"), [(13600, False), (13601, True)])
def test_without_a_usual_rate_twelve_hours_a_day_are_asked(
    by: User, shown: int, asked: bool
) -> None:
    made = EngineFactory(built=date(2020, 1, 1))
    start_meter(made, kind="tachometer", on=date(2026, 1, 1), shown=10000, at=AT, by=by)
    said = doubt_about(made, on=date(2026, 1, 4), shown=shown)
    assert bool(said) is asked
    assert not asked or "How this engine is usually run is not known yet." in said


def test_it_is_said_in_figures(engine: Engine) -> None:
    assert doubt_about(engine, on=date(2026, 3, 4), shown=27100) == (
        "71.0 h in 3 days, since the reading of 2026-03-01, are 23.7 h a day. Usually "
        "this engine runs up to 1.7 h a day. Read the meter again, and confirm it if it "
        "is right."
    )


def test_the_reading_that_is_corrected_does_not_count(engine: Engine, by: User) -> None:
    wrong = add_reading(engine, on=date(2026, 3, 4), shown=27100, at=AT, by=by)
    at = {"on": date(2026, 3, 5), "shown": 27200}
    assert doubt_about(engine, **at) == ""
    assert "72.0 h in 4 days" in doubt_about(engine, **at, wrong=wrong)


def test_the_first_reading_of_an_engine_is_never_in_question(by: User) -> None:
    assert doubt_about(EngineFactory(), on=date(2026, 3, 4), shown=990000) == ""


def test_the_meter_that_counts_on_that_day_is_meant(engine: Engine, by: User) -> None:
    """A changed meter starts at 0, and its figures are not taken for a jump back."""
    change_meter(
        engine,
        kind="tachometer",
        on=date(2026, 4, 1),
        old_shown=21000,
        shown=0,
        reason="worn",
        at=AT,
        by=by,
    )
    assert doubt_about(engine, on=date(2026, 4, 2), shown=900) == ""
    assert "11.0 h in a day" in doubt_about(engine, on=date(2026, 4, 2), shown=1100)

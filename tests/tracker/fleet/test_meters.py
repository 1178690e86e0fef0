"""Readings: the axis of hours never falls, and a day has 24 hours."""

from __future__ import annotations

import itertools
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from tests.factories.accounts import UserFactory
from tests.factories.fleet import EngineFactory
from tracker.accounts.models import User
from tracker.fleet.errors import Refused
from tracker.fleet.events import add_event, add_overhaul
from tracker.fleet.meters import (
    ReadingRefused,
    add_reading,
    change_meter,
    correct_reading,
    hours_read_on,
    readings_of,
    start_meter,
)
from tracker.fleet.models import Engine, Reading

AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
START = date(2026, 1, 1)


@pytest.fixture
def by(db: None) -> User:
    return UserFactory()


@pytest.fixture
def engine(by: User) -> Engine:
    """An engine that showed 100 h on 1 January and 200 h on 1 March."""
    made = EngineFactory(built=date(2020, 1, 1))
    start_meter(made, kind="time in service", on=START, shown=10000, at=AT, by=by)
    add_reading(made, on=date(2026, 3, 1), shown=20000, at=AT, by=by)
    return made


def test_the_newest_reading_by_date_is_the_engines_hours(engine, by) -> None:
    add_reading(engine, on=date(2026, 2, 1), shown=15000, at=AT, by=by)
    engine.refresh_from_db()
    assert (engine.hours_now, engine.read_on) == (20000, date(2026, 3, 1))
    assert engine.tsn == 20000


@pytest.mark.parametrize(
    ("on", "shown", "said"),
    [
        # lower than the one before, higher than the one after
        (date(2026, 2, 1), 9999, "before it 100.0 h on 2026-01-01"),
        (date(2026, 2, 1), 20001, "after it 200.0 h on 2026-03-01"),
        (date(2026, 4, 1), 19999, "before it 200.0 h on 2026-03-01"),
        (date(2025, 12, 1), 10001, "after it 100.0 h on 2026-01-01"),
        # more than 24 hours a day, in either direction
        (date(2026, 3, 2), 22401, "Only 200.0 h to 224.0 h are possible"),
        (date(2025, 12, 31), 7599, "Only 76.0 h to 100.0 h are possible"),
        # a second reading of one day
        (date(2026, 3, 1), 22401, "Only 176.0 h to 224.0 h are possible"),
        # dates
        (date(2026, 11, 25), 21000, "lies after today, 2026-11-24"),
        (date(2019, 12, 31), 100, "before the engine was made, 2020-01-01"),
        # nonsense
        (date(2026, 4, 1), -1, "cannot be -0.01 h"),
        (date(2026, 4, 1), 10**20, "cannot be"),
    ],
)
def test_an_impossible_reading_is_refused_with_its_neighbours(
    engine, by, on, shown, said
) -> None:
    with pytest.raises(Refused) as refused:
        add_reading(engine, on=on, shown=shown, at=AT, by=by)
    assert said in str(refused.value)
    assert Reading.objects.filter(engine=engine).count() == 2


@pytest.mark.parametrize(
    ("on", "shown"),
    [
        (date(2026, 3, 2), 22400),
        (date(2026, 3, 2), 20000),
        (date(2026, 3, 1), 22400),
        (date(2025, 12, 31), 7600),
        (date(2020, 1, 1), 0),
        (date(2026, 11, 24), 20000),
    ],
)
def test_a_reading_exactly_at_what_is_possible_is_taken(engine, by, on, shown) -> None:
    assert add_reading(engine, on=on, shown=shown, at=AT, by=by).hours == shown


def test_hours_noted_at_an_overhaul_or_event_are_neighbours_too(engine, by) -> None:
    add_overhaul(
        engine, on=date(2026, 4, 1), hours=25000, at=AT, by=by, tested="to limits"
    )
    add_event(engine, "oil change", on=date(2026, 5, 1), hours=26000, at=AT, by=by)
    with pytest.raises(ReadingRefused, match=r"250\.0 h on 2026-04-01 \(overhaul\)"):
        add_reading(engine, on=date(2026, 4, 10), shown=24900, at=AT, by=by)
    with pytest.raises(ReadingRefused, match=r"260\.0 h on 2026-05-01 \(oil change\)"):
        add_reading(engine, on=date(2026, 4, 10), shown=26100, at=AT, by=by)


def test_an_overhaul_with_impossible_hours_is_refused(engine, by) -> None:
    with pytest.raises(Refused, match=r"before it 100\.0 h on 2026-01-01") as refused:
        add_overhaul(
            engine, on=date(2026, 2, 1), hours=9000, at=AT, by=by, tested="to limits"
        )
    assert refused.value.field == "hours"


def test_a_changed_meter_starts_low_and_the_axis_runs_on(engine, by) -> None:
    first = change_meter(
        engine,
        kind="tachometer",
        on=date(2026, 4, 1),
        old_shown=21000,
        shown=50,
        reason="indicator broken",
        at=AT,
        by=by,
    )
    assert (first.shown, first.hours, first.meter.kind) == (50, 21000, "tachometer")
    add_reading(engine, on=date(2026, 5, 1), shown=1050, at=AT, by=by)
    engine.refresh_from_db()
    assert engine.hours_now == 22000
    # a day before the change is still read on the old meter
    old = add_reading(engine, on=date(2026, 3, 15), shown=20500, at=AT, by=by)
    assert (old.hours, old.meter.kind) == (20500, "time in service")


def test_a_meter_that_cannot_be_read_any_more_ends_at_its_last_reading(
    engine, by
) -> None:
    first = change_meter(
        engine,
        kind="tachometer",
        on=date(2026, 4, 1),
        shown=0,
        reason="lost",
        at=AT,
        by=by,
    )
    assert first.hours == 20000


def test_a_meter_change_before_a_later_reading_is_refused(engine, by) -> None:
    with pytest.raises(ReadingRefused, match="reading of 2026-03-01 is later"):
        change_meter(
            engine,
            kind="tachometer",
            on=date(2026, 2, 1),
            shown=0,
            reason="x",
            at=AT,
            by=by,
        )


def test_a_meter_that_differs_from_the_hours_kept_has_an_offset(by) -> None:
    engine = EngineFactory()
    start_meter(
        engine, kind="tachometer", on=START, shown=5000, hours=123450, at=AT, by=by
    )
    add_reading(engine, on=date(2026, 2, 1), shown=5100, at=AT, by=by)
    engine.refresh_from_db()
    assert engine.hours_now == 123550


def test_a_second_first_meter_is_refused(engine, by) -> None:
    with pytest.raises(Refused, match="has a meter already"):
        start_meter(engine, kind="tachometer", on=START, shown=0, at=AT, by=by)


def test_an_engine_without_a_meter_says_so(by) -> None:
    with pytest.raises(Refused, match="has no meter yet"):
        add_reading(EngineFactory(), on=START, shown=0, at=AT, by=by)


def test_a_kind_of_meter_nobody_knows_is_refused(by) -> None:
    with pytest.raises(Refused, match='"sundial" is not a kind of meter'):
        start_meter(EngineFactory(), kind="sundial", on=START, shown=0, at=AT, by=by)


def test_a_corrected_reading_stays_and_no_longer_counts(engine, by) -> None:
    wrong = add_reading(engine, on=date(2026, 4, 1), shown=29000, at=AT, by=by)
    right = correct_reading(wrong, shown=20900, remark="digits swapped", at=AT, by=by)
    assert right.corrects == wrong
    engine.refresh_from_db()
    assert engine.hours_now == 20900
    valid = readings_of([engine])[engine.pk]
    assert [reading.hours for reading in valid] == [10000, 20000, 20900]
    assert hours_read_on(engine, date(2026, 4, 1)) == 20900


def test_a_correction_must_fit_between_the_others_itself(engine, by) -> None:
    wrong = add_reading(engine, on=date(2026, 4, 1), shown=29000, at=AT, by=by)
    with pytest.raises(ReadingRefused, match=r"before it 200\.0 h on 2026-03-01"):
        correct_reading(wrong, shown=19900, at=AT, by=by)
    assert list(Reading.objects.valid().filter(corrects=None, on=wrong.on)) == [wrong]


def test_a_reading_is_corrected_once_and_then_its_correction(engine, by) -> None:
    wrong = add_reading(engine, on=date(2026, 4, 1), shown=29000, at=AT, by=by)
    right = correct_reading(wrong, shown=20900, at=AT, by=by)
    with pytest.raises(Refused, match="corrected already"):
        correct_reading(wrong, shown=20800, at=AT, by=by)
    correct_reading(right, shown=20800, on=date(2026, 4, 2), at=AT, by=by)
    engine.refresh_from_db()
    assert (engine.hours_now, engine.read_on) == (20800, date(2026, 4, 2))


def test_readings_as_known_at_an_earlier_moment_are_the_wrong_ones(engine, by) -> None:
    wrong = add_reading(engine, on=date(2026, 4, 1), shown=29000, at=AT, by=by)
    correct_reading(wrong, shown=20900, at=AT + timedelta(hours=1), by=by)
    then = readings_of([engine], known_at=AT)[engine.pk]
    now = readings_of([engine], known_at=AT + timedelta(hours=1))[engine.pk]
    assert (then[-1].hours, now[-1].hours) == (29000, 20900)


@pytest.mark.parametrize("engines", [1, 15])
def test_the_readings_of_engines_are_one_query(
    engines, by, station, django_assert_num_queries
) -> None:
    made = [EngineFactory(station=station) for _ in range(engines)]
    for one in made:
        start_meter(one, kind="tachometer", on=START, shown=5, at=AT, by=by)
    with django_assert_num_queries(1):
        found = readings_of(made)
    assert [[r.meter.kind for r in rows] for rows in found.values()] == [
        ["tachometer"]
    ] * engines


entries = st.lists(
    st.tuples(
        st.sampled_from(["add", "add", "add", "correct", "change"]),
        st.integers(0, 12),
        st.integers(0, 8000),
    ),
    max_size=14,
)


class TestTheAxis(TestCase):
    @settings(max_examples=40, deadline=None)
    @given(entries)
    def test_the_axis_never_falls_whatever_is_entered(self, entries) -> None:
        by, engine = UserFactory(), EngineFactory()
        start_meter(engine, kind="tachometer", on=START, shown=1000, at=AT, by=by)
        for act, day, shown in entries:
            self.enter(engine, act, START + timedelta(days=day), shown, by)
            self.check(engine)

    def enter(self, engine, act, on, shown, by) -> None:
        """Enter it; what is refused must change nothing that counts."""
        before = readings_of([engine])[engine.pk]
        try:
            if act == "add":
                add_reading(engine, on=on, shown=shown, at=AT, by=by)
            elif act == "correct":
                correct_reading(before[shown % len(before)], shown=shown, at=AT, by=by)
            else:
                change_meter(
                    engine,
                    kind="tachometer",
                    on=on,
                    shown=shown,
                    reason="new",
                    at=AT,
                    by=by,
                )
        except Refused:
            assert readings_of([engine])[engine.pk] == before

    def check(self, engine) -> None:
        rows = readings_of([engine])[engine.pk]
        for early, late in itertools.pairwise(rows):
            days = max((late.on - early.on).days, 1)
            assert 0 <= late.hours - early.hours <= 2400 * days
        engine.refresh_from_db()
        assert (engine.hours_now, engine.read_on) == (rows[-1].hours, rows[-1].on)

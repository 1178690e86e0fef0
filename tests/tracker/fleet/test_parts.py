"""Parts in one place at a time, with hours that follow them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from tests.factories.accounts import UserFactory
from tests.factories.fleet import EngineFactory, PartRoleFactory
from tracker.accounts.models import Station, User
from tracker.fleet.errors import Refused
from tracker.fleet.events import add_overhaul
from tracker.fleet.meters import add_reading, start_meter
from tracker.fleet.models import Engine, Part, PartFitting
from tracker.fleet.parts import (
    Fit,
    PartEntry,
    add_part,
    correct_fitting,
    describe_part,
    fit_part,
    move_part,
    parts_fitted,
    remove_part,
    replace_part,
)

AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
FITTED, MOVED, TODAY = date(2025, 1, 1), date(2026, 1, 1), date(2026, 11, 24)
PUMP = PartEntry(role="fuel pump", number="P-8801", serial="A-17")


@pytest.fixture
def by(db: None) -> User:
    return UserFactory()


@pytest.fixture
def engine(station: Station, by: User) -> Engine:
    return engine_at(station, by, 10000)


@pytest.fixture
def other(station: Station, by: User) -> Engine:
    return engine_at(station, by, 90000)


def engine_at(station: Station, by: User, hours: int) -> Engine:
    """An engine read when the part was fitted, when it is moved, and today."""
    made = EngineFactory(station=station)
    start_meter(made, kind="time in service", on=FITTED, shown=hours, at=AT, by=by)
    add_reading(made, on=MOVED, shown=hours + 20000, at=AT, by=by)
    return made


def fitted(engine: Engine, on: date = TODAY, known_at: datetime = AT):
    return parts_fitted([engine], on=on, known_at=known_at)


def add(
    engine: Engine, by: User, entry: PartEntry = PUMP, fit: Fit | None = None
) -> Part:
    return add_part(engine, entry, fit or Fit(), true_from=FITTED, at=AT, by=by)


def test_a_parts_hours_run_with_its_engine(engine, by) -> None:
    add(engine, by, fit=Fit(hours_new=5000, hours_overhaul=1000))
    [part] = fitted(engine)
    assert (part.hours_new, part.hours_overhaul, part.hours_fitted) == (
        25000,
        21000,
        20000,
    )
    assert str(part) == "fuel pump, P-8801, serial A-17"


def test_hours_follow_a_part_to_another_engine(engine, other, by) -> None:
    """Moved at 700.0 h with a limit of 1000.0 h, 300.0 h are left there.

    Common practice, no source: time in service is that of the part itself.
    """
    part = add(engine, by, fit=Fit(hours_new=50000))
    move_part(part, other, Fit(), true_from=MOVED, at=AT, by=by)
    assert fitted(engine) == []
    [moved] = fitted(other)
    assert moved.hours_new == 70000
    add_reading(other, on=date(2026, 6, 1), shown=140000, at=AT, by=by)
    [later] = fitted(other)
    assert 100000 - later.hours_new == 0
    [before] = fitted(engine, on=date(2025, 12, 31))
    assert before.part == part


def test_unknown_hours_stay_unknown_when_a_part_moves(engine, other, by) -> None:
    part = add(engine, by)
    move_part(part, other, Fit(), true_from=MOVED, at=AT, by=by)
    [moved] = fitted(other)
    assert (moved.hours_new, moved.hours_overhaul, moved.hours_fitted) == (
        None,
        None,
        0,
    )


def test_hours_are_unknown_where_the_engine_was_not_read_that_day(
    engine, other, by
) -> None:
    part = add(engine, by, fit=Fit(hours_new=50000))
    move_part(part, other, Fit(), true_from=date(2025, 7, 1), at=AT, by=by)
    [moved] = fitted(other)
    assert (moved.hours_new, moved.hours_fitted) == (None, None)


def test_a_part_that_came_new_with_the_engine_has_its_hours(engine, by) -> None:
    add(engine, by, fit=Fit(fitted_new=True, date_known=False))
    [part] = fitted(engine)
    assert part.hours_new == engine.hours_now == 30000


def test_an_overhaul_of_the_part_starts_its_hours_since_overhaul(engine, by) -> None:
    part = add(engine, by, fit=Fit(hours_new=50000, hours_overhaul=50000))
    add_overhaul(
        part,
        on=date(2025, 6, 1),
        part_hours=60000,
        done_by="shop",
        at=AT,
        by=by,
        tested="to limits",
    )
    [now] = fitted(engine)
    assert (now.hours_new, now.hours_overhaul) == (70000, 10000)
    assert [o.by for o in now.overhauls] == ["shop"]


def test_an_overhaul_at_hours_not_known_makes_the_hours_since_unknown(
    engine, by
) -> None:
    part = add(engine, by, fit=Fit(hours_new=50000, hours_overhaul=50000))
    add_overhaul(part, on=date(2025, 6, 1), at=AT, by=by, tested="to limits")
    assert fitted(engine)[0].hours_overhaul is None


def test_an_overhaul_may_be_noted_at_the_hours_of_the_engine(engine, by) -> None:
    part = add(engine, by)
    add_overhaul(
        part, on=date(2025, 6, 1), hours=24000, at=AT, by=by, tested="to limits"
    )
    [now] = fitted(engine)
    assert (now.hours_new, now.hours_overhaul) == (None, 6000)


def test_a_part_known_never_overhauled_counts_from_new(engine, by) -> None:
    entry = PartEntry(role="fuel pump", never_overhauled=True)
    add(engine, by, entry, Fit(hours_new=100))
    assert fitted(engine)[0].hours_overhaul == 20100


def test_a_part_is_in_one_place_at_a_time(engine, other, by) -> None:
    part = add(engine, by)
    with pytest.raises(Refused, match=r"is fitted to .* since 2025-01-01"):
        fit_part(part, other, Fit(), true_from=MOVED, at=AT, by=by)
    remove_part(part, true_from=MOVED, reason="leaks", at=AT, by=by)
    with pytest.raises(Refused, match="is fitted to no engine on 2026-01-01"):
        remove_part(part, true_from=MOVED, reason="leaks", at=AT, by=by)
    fit_part(part, other, Fit(), true_from=MOVED, at=AT, by=by)
    assert [p.part for p in fitted(other)] == [part]


def test_a_place_holds_one_part_and_a_role_as_many_as_the_type(engine, by) -> None:
    magneto = PartEntry(role="Magneto")
    PartRoleFactory(engine_type=engine.engine_type, role="magneto", count=2)
    add(engine, by, magneto, Fit(place="left"))
    with pytest.raises(Refused, match="that place is taken: magneto, left") as refused:
        add(engine, by, magneto, Fit(place="Left"))
    assert refused.value.field == "place"
    add(engine, by, magneto, Fit(place="right"))
    with pytest.raises(Refused, match="holds 2 of the role magneto"):
        add(engine, by, magneto, Fit(place="rear"))


def test_a_replaced_part_leaves_its_place_to_the_new_one(engine, by) -> None:
    old = add(engine, by, fit=Fit(place="left", hours_new=0))
    new = replace_part(
        old,
        PartEntry(role="fuel pump", number="P-8802"),
        Fit(fitted_new=True),
        true_from=MOVED,
        reason="leaks",
        at=AT,
        by=by,
    )
    [part] = fitted(engine)
    assert (part.part, part.fitting.place, part.hours_new) == (new, "left", 0)
    removal = PartFitting.objects.get(part=old, current=True)
    assert (removal.removed, removal.part_hours_new, removal.reason) == (
        True,
        20000,
        "leaks",
    )


def test_a_shipping_date_learnt_later_was_always_so(engine, by) -> None:
    part = add(engine, by)
    learnt = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
    entry = PartEntry(role="fuel pump", number="P-8801", shipped=date(2018, 2, 1))
    describe_part(part, entry, at=learnt, by=by)
    assert fitted(engine, on=FITTED)[0].description.shipped is None
    [known] = fitted(engine, on=FITTED, known_at=learnt)
    assert known.description.shipped == date(2018, 2, 1)


def test_hours_at_fitting_learnt_later_are_a_correction(engine, by) -> None:
    add(engine, by)
    [part] = fitted(engine)
    learnt = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)
    correct_fitting(
        part.fitting, Fit(engine_hours=10000, hours_new=300), at=learnt, by=by
    )
    assert fitted(engine, known_at=learnt)[0].hours_new == 20300


def unknown_day(engine, by):
    """A part of which only is known that it had 250 h when the engine had 300 h."""
    fit = Fit(date_known=False, engine_hours=30000, hours_new=25000, place="left")
    add_part(engine, PUMP, fit, true_from=TODAY, at=AT, by=by)
    [part] = fitted(engine)
    return part.fitting, fit


LATER = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)


def test_a_day_of_fitting_is_learnt_later(engine, by) -> None:
    """Fitted when the engine had 100 h: its own hours are counted back by 200 h."""
    row, fit = unknown_day(engine, by)
    learnt = correct_fitting(row, fit, fitted_on=FITTED, at=LATER, by=by)
    assert (learnt.day, learnt.current) == (FITTED, True)
    [now] = fitted(engine, known_at=LATER)
    assert (now.fitting.day, now.fitting.engine_hours) == (FITTED, 10000)
    assert (now.hours_fitted, now.hours_new) == (20000, 25000)
    [then] = fitted(engine, on=FITTED, known_at=LATER)
    assert (then.hours_fitted, then.hours_new) == (0, 5000)
    assert fitted(engine, on=FITTED) == []


def test_corrected_again_the_learnt_day_stays(engine, by) -> None:
    row, fit = unknown_day(engine, by)
    learnt = correct_fitting(row, fit, fitted_on=FITTED, at=LATER, by=by)
    again = Fit(place="right", engine_hours=learnt.engine_hours)
    kept = correct_fitting(learnt, again, at=LATER, by=by)
    assert (kept.day, kept.place) == (FITTED, "right")


@pytest.mark.parametrize(
    ("on", "field", "said"),
    [
        (TODAY + timedelta(days=1), "true_from", "lies after today"),
        (date(2000, 1, 1), "engine_hours", "was not read on 2000-01-01"),
    ],
)
def test_a_day_that_cannot_be_is_refused(engine, by, on, field, said) -> None:
    row, fit = unknown_day(engine, by)
    with pytest.raises(Refused, match=said) as no:
        correct_fitting(row, fit, fitted_on=on, at=LATER, by=by)
    assert no.value.field == field
    assert row.part.fittings.count() == 1


@pytest.mark.parametrize(
    ("entry", "fit", "said"),
    [
        (PartEntry(role=" "), Fit(), "The role is missing"),
        (PartEntry(role="pump", number="x" * 61), Fit(), "at most 60 are kept"),
        (PartEntry(role="pump", serial="a\x00b"), Fit(), "control character U\\+0000"),
        (
            PartEntry(role="pump", built=date(2020, 1, 2), shipped=date(2020, 1, 1)),
            Fit(),
            "before the date of manufacture, 2020-01-02",
        ),
        (PartEntry(role="pump", built=date(2027, 1, 1)), Fit(), "after today"),
        (
            PartEntry(role="pump", built=date(2025, 1, 2)),
            Fit(),
            "before the part was made",
        ),
        (PartEntry(role="pump"), Fit(hours_new=-1), "cannot be -0.01 h"),
        (
            PartEntry(role="pump"),
            Fit(hours_new=1, hours_overhaul=2),
            "more than 0.01 h since new",
        ),
        (PartEntry(role="pump"), Fit(engine_hours=99999), "cannot be right"),
    ],
)
def test_a_part_that_cannot_be_is_refused(engine, by, entry, fit, said) -> None:
    with pytest.raises(Refused, match=said):
        add(engine, by, entry, fit)


def test_a_part_does_not_lose_hours_on_the_shelf(engine, other, by) -> None:
    part = add(engine, by, fit=Fit(hours_new=5000))
    remove_part(part, true_from=MOVED, reason="", at=AT, by=by)
    with pytest.raises(Refused, match=r"had 250\.0 h since new when it was removed"):
        fit_part(part, other, Fit(hours_new=24999), true_from=MOVED, at=AT, by=by)


def test_a_part_of_another_station_cannot_be_fitted(engine, by) -> None:
    elsewhere = EngineFactory()
    part = add(elsewhere, by)
    with pytest.raises(Refused, match="not known at this station"):
        fit_part(part, engine, Fit(), true_from=MOVED, at=AT, by=by)


@pytest.mark.both
@pytest.mark.parametrize("engines", [1, 15])
def test_the_parts_of_engines_take_four_queries(
    engines, station, by, django_assert_num_queries
) -> None:
    made = [EngineFactory(station=station) for _ in range(engines)]
    for one in made:
        add(one, by)
    with django_assert_num_queries(4):  # fittings, descriptions, overhauls, readings
        assert len(parts_fitted(made, on=TODAY, known_at=AT)) == engines

"""Fuel as it is entered: kept exactly, and refused where it cannot be."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from fractions import Fraction

import pytest
from django.db import IntegrityError, transaction

from notices.rules.facts import UNKNOWN
from tests.factories.accounts import UserFactory
from tests.factories.fleet import EngineFactory
from tracker.accounts.models import User
from tracker.fleet.axis import ReadingRefused
from tracker.fleet.errors import Refused
from tracker.fleet.events import withdraw
from tracker.fleet.fuel import FuelEntry, add_fuel, doubt_about_fuel, fuel_of
from tracker.fleet.meters import add_reading, start_meter
from tracker.fleet.models import Engine, FuelRecord

AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
TODAY = date(2026, 11, 24)
ENTRY = FuelEntry(on=date(2026, 11, 20), quantity="85.5", kind="leaded")

pytestmark = pytest.mark.django_db


@pytest.fixture
def by(db: None) -> User:
    return UserFactory()


@pytest.fixture
def engine(by: User) -> Engine:
    """Built in 2020, read at 480.00 h in January and at 520.00 h today."""
    made = EngineFactory(built=date(2020, 3, 1))
    january = date(2026, 1, 10)
    start_meter(made, kind="time in service", on=january, shown=48_000, at=AT, by=by)
    add_reading(made, on=TODAY, shown=52_000, at=AT, by=by)
    return made


def test_quantity_and_share_are_kept_as_they_were_written(engine, by) -> None:
    entry = FuelEntry(
        on=ENTRY.on,
        quantity=" 22,50 ",
        unit="US gal",
        kind="blend",
        leaded_share="1/3",
        hours=51_900,
        remark="on the way back",
    )
    row = add_fuel(engine, entry, at=AT, by=by)
    row.refresh_from_db()
    assert (row.quantity, row.unit, row.leaded_share) == ("22,50", "US gal", "1/3")
    assert (row.hours, row.remark, row.recorded_by) == (51_900, "on the way back", by)
    assert str(row) == "22,50 US gal blend on 2026-11-20"


def test_a_stored_record_is_read_back_exactly(engine, by) -> None:
    entry = replace(ENTRY, quantity="30", unit="US gal", hours=51_900)
    row = add_fuel(engine, entry, at=AT, by=by)
    read = fuel_of(row, zero=1_900)
    assert (read.litres, read.leaded, read.hours) == (
        Fraction("113.56235352"),
        1,
        50_000,
    )
    assert fuel_of(add_fuel(engine, ENTRY, at=AT, by=by)).hours is UNKNOWN


@pytest.mark.parametrize(
    ("changed", "field", "message"),
    [
        # quantities
        ({"quantity": "0"}, "quantity", "more than 0"),
        ({"quantity": "0.000"}, "quantity", "more than 0"),
        ({"quantity": "-3"}, "quantity", "less than nothing"),
        ({"quantity": "a lot"}, "quantity", "is not a number"),
        ({"quantity": "1,234"}, "quantity", "two ways"),
        ({"quantity": "1e3"}, "quantity", "is not a number"),
        ({"quantity": "NaN"}, "quantity", "is not a number"),
        ({"quantity": "85500"}, "quantity", "at most 10\u00a0000 litres"),
        (
            {"quantity": "2642", "unit": "US gal"},
            "quantity",
            "at most 10\u00a0000 litres",
        ),
        ({"quantity": "1234567890"}, "quantity", "is not a number"),
        ({"unit": "kg"}, "unit", "Expected the unit"),
        ({"kind": "diesel"}, "kind", "Expected the kind"),
        # shares
        ({"kind": "blend"}, "leaded_share", "is needed"),
        ({"kind": "blend", "leaded_share": "1.01"}, "leaded_share", "from 0 to 1"),
        ({"kind": "blend", "leaded_share": "5/4"}, "leaded_share", "from 0 to 1"),
        (
            {"kind": "blend", "leaded_share": "-0.1"},
            "leaded_share",
            "less than nothing",
        ),
        ({"kind": "blend", "leaded_share": "1/0"}, "leaded_share", "is 0"),
        ({"kind": "leaded", "leaded_share": "1"}, "leaded_share", "for a blend only"),
        ({"kind": "unleaded", "leaded_share": "0"}, "leaded_share", "for a blend only"),
        # days
        ({"on": date(2026, 11, 25)}, "on", "lies after today"),
        ({"on": date(2020, 2, 29)}, "on", "before the engine was made"),
        # hours
        ({"hours": -1}, "hours", "cannot be -0.01 h"),
        ({"hours": 52_001}, "hours", "cannot be right. Known is before it 480.0 h"),
        ({"hours": 47_999}, "hours", "cannot be right"),
        # text
        ({"remark": "\x07"}, "remark", "control character"),
        ({"remark": "x" * 201}, "remark", "at most 200"),
    ],
)
def test_fuel_that_cannot_be_is_refused_with_place_and_reason(
    engine, by, changed, field, message
) -> None:
    with pytest.raises(Refused) as no:
        add_fuel(engine, replace(ENTRY, **changed), at=AT, by=by)
    assert no.value.field == field
    assert message in str(no.value)
    assert not FuelRecord.objects.exists()


@pytest.mark.parametrize(
    "changed",
    [
        {"quantity": "10000"},
        {"quantity": "2641", "unit": "US gal"},
        {"kind": "blend", "leaded_share": "0"},
        {"kind": "blend", "leaded_share": "1"},
        {"on": TODAY},
        {"on": date(2020, 3, 1)},
        {"hours": 52_000},
    ],
)
def test_what_lies_exactly_on_a_bound_is_taken(engine, by, changed) -> None:
    add_fuel(engine, replace(ENTRY, **changed), at=AT, by=by)
    assert FuelRecord.objects.count() == 1


@pytest.mark.parametrize(
    "same",
    [
        {},
        {"quantity": "85,50"},
        {"kind": "blend", "leaded_share": "1"},
        {"hours": 51_900},
        {"remark": "another remark"},
    ],
)
def test_the_same_fuel_of_a_day_is_in_question(engine, by, same) -> None:
    add_fuel(engine, ENTRY, at=AT, by=by)
    assert doubt_about_fuel(engine, replace(ENTRY, **same)) == (
        "The same fuel is entered for that day already: 85.5 L leaded. "
        "Confirm it only if it was taken on twice."
    )


@pytest.mark.parametrize(
    "other",
    [
        {"quantity": "85.6"},
        {"unit": "US gal"},
        {"kind": "unleaded"},
        {"on": date(2026, 11, 21)},
        {"hours": 51_950},
    ],
)
def test_other_fuel_is_not(engine, by, other) -> None:
    add_fuel(engine, replace(ENTRY, hours=51_900), at=AT, by=by)
    entry = replace(ENTRY, **{"hours": 51_900, **other})
    assert doubt_about_fuel(engine, entry) == ""


def test_withdrawn_fuel_stays_on_file_and_no_longer_counts(engine, by) -> None:
    row = add_fuel(engine, ENTRY, at=AT, by=by)
    with pytest.raises(Refused, match="missing"):
        withdraw(row, reason=" ", at=AT)
    withdraw(row, reason="another engine", at=AT)
    row.refresh_from_db()
    assert (row.withdrawn_at, row.withdrawn_reason) == (AT, "another engine")
    assert not FuelRecord.objects.valid().exists()
    with pytest.raises(Refused, match="is withdrawn already"):
        withdraw(row, reason="again", at=AT)
    assert doubt_about_fuel(engine, ENTRY) == ""


def test_hours_noted_with_fuel_bind_later_readings(engine, by) -> None:
    row = add_fuel(engine, replace(ENTRY, hours=51_900), at=AT, by=by)
    with pytest.raises(ReadingRefused, match=r"519.0 h on 2026-11-20 \(fuel taken on"):
        add_reading(engine, on=date(2026, 11, 21), shown=51_800, at=AT, by=by)
    withdraw(row, reason="misread", at=AT)
    add_reading(engine, on=date(2026, 11, 21), shown=51_800, at=AT, by=by)


@pytest.mark.both
@pytest.mark.parametrize(("kind", "share"), [("blend", ""), ("leaded", "0.4")])
def test_the_database_keeps_a_share_of_a_blend_only(engine, by, kind, share) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        FuelRecord.objects.create(
            station=engine.station,
            engine=engine,
            on=TODAY,
            kind=kind,
            quantity="1",
            leaded_share=share,
            recorded_at=AT,
            recorded_by=by,
        )

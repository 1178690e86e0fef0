"""The fleet sheet: a dry run, the good rows, the same file again, and back out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime

import pytest
from django.apps import apps

from tests.factories.accounts import UserFactory
from tests.factories.fleet import EngineFactory, EngineTypeFactory, OwnerFactory
from tracker.accounts.models import Station, User
from tracker.fleet.events import add_rebuild
from tracker.fleet.history import lock_engine
from tracker.fleet.marks import embody, lapse_reviews, not_embodied
from tracker.fleet.meters import add_reading, start_meter
from tracker.fleet.models import (
    Engine,
    Modification,
    Owner,
    Review,
)
from tracker.fleet.register import (
    FittingFacts,
    OperationFacts,
    change_operation,
    fit_in_aircraft,
)
from tracker.fleet.sheets.fleet import COLUMNS, export_fleet
from tracker.fleet.sheets.fleet_apply import apply_fleet
from tracker.fleet.sheets.fleet_plan import plan_fleet
from tracker.fleet.sheets.plan import Action, RowRefused
from tracker.fleet.sheets.reading import read_sheet

pytestmark = pytest.mark.django_db

AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
TODAY = date(2026, 11, 24)

ROW = {
    "type": "mx 4",
    "serial": "K 612 62B",
    "date of manufacture": "2019-05-01",
    "date of shipping": "2019-06-01",
    "owner": "Fjord Flying Club",
    "owner kind": "Club",
    "registration": "LV-ABC",
    "aircraft type": "TR-20",
    "registry": "no",
    "position": "left",
    "state": "In service",
    "operation": "Private; Commercial",
    "TSN hours": "1234.5",
    "reading date": "2026-11-01",
    "meter kind": "tachometer",
    "hours at last overhaul": "400,25",
    "overhaul date": "2021-04-03",
    "overhauled by": "maker",
    "embodied modifications": "SB-24-011; MOD 7; sb 24 011",
    "history reviewed by": "Ida Moe",
    "history reviewed on": "2026-10-01",
}


@pytest.fixture
def by(db: None) -> User:
    return UserFactory()


@pytest.fixture
def mx4(station: Station):
    return EngineTypeFactory(station=station, designation="MX-4")


def csv_of(*rows: dict[str, str]) -> bytes:
    names = list(dict.fromkeys(name for row in rows for name in row))
    lines = ["\t".join(names)]
    lines += ["\t".join(row.get(name, "") for name in names) for row in rows]
    return "\n".join(lines).encode()


def about(uses: Sequence[str]) -> str:
    """What is said of kinds of operation by a library that does not name an academy."""
    return " ".join(f"{use} is not named" for use in uses if use == "academy")


def plan(station: Station, *rows: dict[str, str], content: bytes | None = None):
    sheet = read_sheet(content or csv_of(*rows), "fleet.csv")
    return plan_fleet(station, sheet, TODAY, about_uses=about)


def apply(station: Station, by: User, *rows: dict[str, str]):
    return apply_fleet(plan(station, *rows), station=station, by=by, at=AT)


def counts() -> dict[str, int]:
    """How many rows every table of the register holds."""
    models = apps.get_app_config("fleet").get_models()
    return {model.__name__: model.objects.count() for model in models}


def test_a_dry_run_writes_nothing(station, mx4) -> None:
    before = counts()
    assert len(plan(station, ROW).to_add) == 1
    assert counts() == before


def test_a_row_enters_an_engine_with_all_it_says(station, mx4, by) -> None:
    [engine] = apply(station, by, ROW)
    engine = Engine.objects.for_list().get(pk=engine.pk)
    assert (engine.engine_type, engine.serial) == (mx4, "K 612 62B")
    assert (engine.built, engine.shipped) == (date(2019, 5, 1), date(2019, 6, 1))
    assert (engine.owner.name, engine.owner.kind) == ("Fjord Flying Club", "club")
    assert (engine.registration, engine.aircraft_type) == ("LV-ABC", "TR-20")
    assert (engine.position, engine.state) == ("left", "in service")
    assert (engine.hours_now, engine.read_on) == (123450, date(2026, 11, 1))
    assert engine.operations.get().uses == ["private", "commercial"]
    assert engine.fittings.get().registry == "NO"
    overhaul = engine.overhauls.get()
    assert (overhaul.hours, overhaul.on, overhaul.by) == (
        40025,
        date(2021, 4, 3),
        "maker",
    )
    marks = engine.modifications.order_by("designation")
    assert [mark.designation for mark in marks] == ["MOD 7", "SB-24-011"]
    review = engine.reviews.get()
    assert (review.person, review.true_from) == ("Ida Moe", date(2026, 10, 1))


def test_the_same_file_again_changes_nothing(station, mx4, by) -> None:
    apply(station, by, ROW)
    before = counts()
    again = plan(station, ROW)
    assert [row.action for row in again.rows] == [Action.UNCHANGED]
    assert apply_fleet(again, station=station, by=by, at=AT) == []
    assert counts() == before


def test_an_old_file_after_newer_facts_changes_nothing(station, mx4, by) -> None:
    [engine] = apply(station, by, ROW)
    add_reading(engine, on=TODAY, shown=124000, at=AT, by=by)
    embody(engine, "SB-30-001", true_from=TODAY, at=AT, by=by)
    assert [row.action for row in plan(station, ROW).rows] == [Action.UNCHANGED]


def test_a_row_with_only_type_and_serial_leaves_the_rest_unknown(
    station, mx4, by
) -> None:
    [engine] = apply(station, by, {"type": "MX-4", "serial": "4001"})
    assert (engine.built, engine.owner, engine.hours_now) == (None, None, None)
    assert not engine.fittings.exists()
    assert not engine.reviews.exists()


CHANGED = {
    "date of shipping": ("2019-07-01", "2019-06-01", "2019-07-01"),
    "owner": ("Nora Lie", "Fjord Flying Club", "Nora Lie"),
    "registration": ("LV-ABD", "LV-ABC", "LV-ABD"),
    "state": ("stored", "in service", "stored"),
    "operation": ("private", "private; commercial", "private"),
    "TSN hours": ("1240", "1234.5", "1240"),
    "embodied modifications": ("MOD 8", "MOD 7; SB-24-011", "MOD 7; SB-24-011; MOD 8"),
}


@pytest.mark.parametrize("column", CHANGED)
def test_a_changed_cell_is_named_with_what_stood_there(
    station, mx4, by, column
) -> None:
    apply(station, by, ROW)
    OwnerFactory(station=station, name="Nora Lie", kind="club")
    cell, before, after = CHANGED[column]
    row = {**ROW, column: cell}
    if column == "TSN hours":
        row["reading date"] = "2026-11-20"
    planned = plan(station, row)
    assert planned.faults == ()
    [change] = [c for c in planned.to_change[0].changes if c.column == column]
    assert (change.before, change.after) == (before, after)
    apply_fleet(planned, station=station, by=by, at=AT)
    if column == "owner":
        # The review has lapsed with the transfer; the sheet's review is the old one.
        assert not Review.objects.get(current=True).valid
    assert [r.action for r in plan(station, row).rows] == [Action.UNCHANGED]


def test_a_changed_registry_keeps_the_rest_of_the_fitting(station, mx4, by) -> None:
    [engine] = apply(station, by, ROW)
    fit_in_aircraft(
        engine,
        FittingFacts(registration="LV-ABC", aircraft_type="TR-20", airframe_hours=5),
        true_from=TODAY,
        at=AT,
        by=by,
    )
    apply(station, by, {"type": "MX-4", "serial": "K612-62B", "registry": "SE"})
    fitting = engine.fittings.get(current=True)
    assert (fitting.registry, fitting.registration, fitting.airframe_hours) == (
        "SE",
        "LV-ABC",
        5,
    )


def test_an_engine_may_be_known_not_to_be_fitted(station, mx4, by) -> None:
    row = {"type": "MX-4", "serial": "4001", "registration": "Not fitted"}
    [engine] = apply(station, by, row)
    assert engine.fittings.get().fitted is False
    assert [r.action for r in plan(station, row).rows] == [Action.UNCHANGED]


def test_a_modification_known_absent_becomes_embodied(station, mx4, by) -> None:
    row = {"type": "MX-4", "serial": "4001"}
    [engine] = apply(station, by, row)
    not_embodied(engine, "MOD 7", true_from=date(2026, 1, 1), at=AT, by=by)
    apply(station, by, {**row, "embodied modifications": "MOD-7"})
    assert Modification.objects.get(engine=engine, current=True).embodied


def test_an_operation_that_is_new_is_asked_about_and_parts_at_commas(
    station, mx4, by
) -> None:
    row = {"type": "MX-4", "serial": "4001", "operation": "Private, academy"}
    [planned] = plan(station, row).rows
    assert planned.doubt == "academy is not named"
    [engine] = apply(station, by, row)
    assert engine.operations.get().uses == ["private", "academy"]
    assert not plan(station, row).in_question


def test_a_changed_operation_keeps_the_declared_fuel_and_climate(
    station, mx4, by
) -> None:
    [engine] = apply(station, by, ROW)
    climate = {"ambient_low": "5", "ambient_high": "95", "ambient_unit": "F"}
    facts = OperationFacts(uses=("private",), leaded_share="0.4", **climate)
    change_operation(engine, facts, true_from=TODAY, at=AT, by=by)
    apply(station, by, {"type": "MX-4", "serial": "K612-62B", "operation": "school"})
    operation = engine.operations.get(current=True)
    assert (operation.uses, operation.leaded_share) == (["school"], "0.4")
    assert {name: getattr(operation, name) for name in climate} == climate


BAD = [
    # cells that cannot be read
    ("date of manufacture", "1 May 2019", "is not a date. Write it as 2026-05-31"),
    ("date of manufacture", "2019-02-30", "is not a date"),
    ("TSN hours", "1,234", "is not a number of hours"),
    ("TSN hours", "-5", "is not a number of hours"),
    ("TSN hours", "12.345", "is not a number of hours"),
    ("TSN hours", "١٢", "is not a number of hours"),
    ("state", "flying", "is none of: in service, stored, removed"),
    ("meter kind", "sundial", "is none of: time in service"),
    ("registration", "x" * 21, "at most 20 are kept"),
    ("serial", "#REF!", "what a failed formula leaves"),
    ("owner", "a\x07b", "control character"),
    # cells that cannot be true
    ("type", "MX-9", "is not entered at this station"),
    ("serial", "- -", "holds no serial number"),
    ("date of manufacture", "2026-11-25", "lies after today, 2026-11-24"),
    ("date of shipping", "2019-04-30", "before the date of manufacture"),
    ("registry", "N1", "is not a state of registry"),
    ("reading date", "2026-11-25", "lies after today"),
    ("overhaul date", "2019-04-30", "before the date of manufacture"),
    ("history reviewed on", "2027-01-01", "lies after today"),
    ("hours at last overhaul", "1300", "cannot be right"),
    ("embodied modifications", "MOD 7; --", '"--" names no modification'),
    # cells that need each other
    ("reading date", "", "Fill this cell, too, or leave TSN hours"),
    ("TSN hours", "", "Fill this cell, too, or leave reading date"),
    ("overhaul date", "", "Fill this cell, too, or leave hours at last overhaul"),
    ("history reviewed by", "", "Fill this cell, too"),
    ("owner kind", "", "Say here what kind of owner it is"),
    ("owner", "", "Fill this cell, too, or leave owner kind empty"),
    ("serial", "", "This cell is empty and must not be"),
]


@pytest.mark.parametrize(("column", "cell", "said"), BAD)
def test_a_bad_cell_is_listed_with_line_column_and_reason(
    station, mx4, by, column, cell, said
) -> None:
    good = {"type": "MX-4", "serial": "4001"}
    planned = plan(station, good, {**ROW, column: cell})
    [fault] = planned.faults
    assert said in fault.reason
    assert fault.line == 3
    blamed = {"hours at last overhaul": {"TSN hours", column}}
    assert fault.column in blamed.get(column, {column})
    assert len(apply_fleet(planned, station=station, by=by, at=AT)) == 1
    assert [engine.serial for engine in Engine.objects.all()] == ["4001"]


def test_every_bad_cell_of_a_row_is_listed(station, mx4) -> None:
    bad = {**ROW, "state": "flying", "TSN hours": "x", "reading date": "y"}
    assert [f.column for f in plan(station, bad).faults] == [
        "TSN hours",
        "reading date",
        "state",
    ]


def test_one_engine_stands_in_one_row_only(station, mx4) -> None:
    planned = plan(station, ROW, {"type": "MX4", "serial": "K-612-62b"})
    [fault] = planned.faults
    assert str(fault) == "line 3, serial: Line 2 is about the same engine."


@pytest.mark.parametrize(
    ("content", "column", "said"),
    [
        (b"type,built\nMX-4,2019-01-01", "serial", "This column is missing"),
        (b"type,serial,serial\nMX-4,1,2", "serial", "This column stands twice"),
        (b"type,serial,colour\nMX-4,1,red", "colour", "There is no such column"),
        (b"type,serial\nMX-4,1,red", "column 3", '"red" stands under no column name'),
    ],
)
def test_a_fault_in_the_header_is_listed(station, mx4, content, column, said) -> None:
    faults = {f.column: f.reason for f in plan(station, content=content).faults}
    assert said in faults[column]


def test_an_unknown_column_does_not_keep_the_good_rows_out(station, mx4) -> None:
    planned = plan(station, content=b"type,serial,colour\nMX-4,1,red")
    assert len(planned.to_add) == 1


def test_a_new_owner_of_several_engines_is_entered_once(station, mx4, by) -> None:
    rows = [
        {"type": "MX-4", "serial": "1", "owner": "New Club", "owner kind": "club"},
        {"type": "MX-4", "serial": "2", "owner": "new club"},
    ]
    rows[1]["owner kind"] = ""
    engines = apply(station, by, *rows)
    assert {engine.owner for engine in engines} == {Owner.objects.get()}
    contradicting = {**rows[1], "serial": "3", "owner kind": "school"}
    [fault] = plan(station, contradicting).faults
    assert "is entered as club" in fault.reason


def test_a_reading_that_does_not_fit_is_a_fault(station, mx4, by) -> None:
    apply(station, by, ROW)
    base = {"type": "MX-4", "serial": "K612-62B"}
    low = {**base, "TSN hours": "1000", "reading date": "2026-11-20"}
    other = {**base, "TSN hours": "1234.6", "reading date": "2026-11-01"}
    assert "before it 1234.5 h on 2026-11-01" in plan(station, low).faults[0].reason
    assert "another reading is kept" in plan(station, other).faults[0].reason


def test_an_overhaul_kept_otherwise_is_a_fault(station, mx4, by) -> None:
    apply(station, by, ROW)
    [fault] = plan(station, {**ROW, "hours at last overhaul": "401"}).faults
    assert "is kept with other hours" in fault.reason


def test_another_meter_is_not_taken_from_a_sheet(station, mx4, by) -> None:
    apply(station, by, ROW)
    row = {**ROW, "TSN hours": "1240", "reading date": "2026-11-20"}
    [fault] = plan(station, {**row, "meter kind": "time in service"}).faults
    assert "Record a change of meter" in fault.reason


def test_a_lapsed_review_is_not_revived_by_an_old_sheet(station, mx4, by) -> None:
    [engine] = apply(station, by, ROW)
    lapse_reviews(engine, reason="work elsewhere", true_from=TODAY, at=AT, by=by)
    assert plan(station, ROW).rows[0].action is Action.UNCHANGED
    [fault] = plan(station, {**ROW, "history reviewed by": "Somebody"}).faults
    assert "has lapsed" in fault.reason


def test_hours_count_from_a_makers_rebuild(station, mx4, by) -> None:
    [engine] = apply(station, by, ROW)
    add_rebuild(engine, on=date(2026, 11, 5), hours=123450, at=AT, by=by)
    row = {"type": "MX-4", "serial": "K612-62B", "reading date": "2026-11-20"}
    apply(station, by, {**row, "TSN hours": "10"})
    engine = lock_engine(engine)
    assert (engine.hours_now, engine.tsn) == (124450, 1000)
    exported = export_fleet(Engine.objects.for_list())
    planned = plan_fleet(station, read_sheet(exported, "x"), TODAY, about_uses=about)
    assert [r.action for r in planned.rows] == [Action.UNCHANGED]


def test_engines_of_another_station_are_neither_met_nor_touched(station, mx4) -> None:
    elsewhere = EngineFactory(engine_type__designation="MX-4", serial="4001")
    planned = plan(station, {"type": "MX-4", "serial": "4001"})
    assert planned.rows[0].action is Action.ADD
    assert planned.rows[0].wish.engine is None
    assert elsewhere.station != station


def test_a_row_that_no_longer_fits_is_refused_with_its_line(station, mx4, by) -> None:
    apply(station, by, ROW)
    row = {**ROW, "TSN hours": "1240", "reading date": "2026-11-20"}
    planned = plan(station, row)
    engine = Engine.objects.get()
    add_reading(engine, on=date(2026, 11, 21), shown=123500, at=AT, by=by)
    with pytest.raises(RowRefused, match=r"^Line 2: 1240\.0 h on 2026-11-20"):
        apply_fleet(planned, station=station, by=by, at=AT)


@pytest.mark.parametrize("xlsx", [False, True])
def test_what_is_exported_imports_as_unchanged(station, mx4, by, xlsx) -> None:
    bare = EngineFactory(station=station, engine_type=mx4, serial="=1+1")
    start_meter(bare, kind="tachometer", on=TODAY, shown=5, hours=77, at=AT, by=by)
    apply(station, by, ROW, {"type": "MX-4", "serial": "007", "registration": "-AB"})
    not_embodied(bare, "MOD 7", true_from=TODAY, at=AT, by=by)
    exported = export_fleet(Engine.objects.for_list(), xlsx=xlsx)
    planned = plan_fleet(station, read_sheet(exported, "x"), TODAY, about_uses=about)
    assert planned.faults == ()
    assert [row.action for row in planned.rows] == [Action.UNCHANGED] * 3


@pytest.mark.parametrize("xlsx", [False, True])
def test_what_is_exported_enters_the_same_elsewhere(
    station, other_station, mx4, by, xlsx
) -> None:
    EngineTypeFactory(station=other_station, designation="MX-4")
    apply(station, by, ROW)
    here = export_fleet(station.engines.for_list(), xlsx=xlsx)
    planned = plan_fleet(other_station, read_sheet(here, "x"), TODAY, about_uses=about)
    apply_fleet(planned, station=other_station, by=by, at=AT)
    there = export_fleet(other_station.engines.for_list(), xlsx=False)
    assert there == export_fleet(station.engines.for_list(), xlsx=False)


@pytest.mark.both
@pytest.mark.parametrize("engines", [1, 25])
def test_planning_and_exporting_take_as_many_queries_for_any_fleet(
    station, mx4, by, engines, django_assert_num_queries
) -> None:
    rows = [{**ROW, "serial": str(4001 + n)} for n in range(engines)]
    apply(station, by, *rows)
    # types, engines, owners; fittings, operations, reviews, modifications, overhauls,
    # readings; and the marks on the axis: readings, overhauls, events, fuel, part fittings
    with django_assert_num_queries(14):
        assert len(plan(station, *rows).unchanged) == engines
    with django_assert_num_queries(7):  # engines and the six kinds of rows
        export_fleet(station.engines.for_list())


def test_every_column_says_what_to_write() -> None:
    assert all(column.help.endswith(".") for column in COLUMNS)
    assert len({column.name for column in COLUMNS}) == len(COLUMNS)

"""The parts sheet: parts entered and described better, never moved or replaced."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from tests.factories.accounts import UserFactory
from tests.factories.fleet import EngineFactory, EngineTypeFactory, PartRoleFactory
from tracker.accounts.models import Station, User
from tracker.fleet.meters import add_reading, start_meter
from tracker.fleet.models import Engine, Part, PartDescription, PartFitting
from tracker.fleet.parts import parts_fitted
from tracker.fleet.sheets.parts import COLUMNS, export_parts
from tracker.fleet.sheets.parts_apply import apply_parts
from tracker.fleet.sheets.parts_plan import plan_parts
from tracker.fleet.sheets.plan import Action
from tracker.fleet.sheets.reading import read_sheet

pytestmark = pytest.mark.django_db

AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
TODAY = date(2026, 11, 24)
ROW = {
    "engine type": "MX-4",
    "engine serial": "4001",
    "role": "Fuel Pump",
    "place": "front",
    "part number": "P-8801",
    "part serial": "A-17",
    "change": "k",
    "date of manufacture": "2018-01-09",
    "date of shipping": "2018-02-01",
    "fitted": "2025-01-10",
    "hours since new": "90",
    "hours since overhaul": "30.5",
}


@pytest.fixture
def by(db: None) -> User:
    return UserFactory()


@pytest.fixture
def engine(station: Station, by: User) -> Engine:
    engine_type = EngineTypeFactory(station=station, designation="MX-4")
    made = EngineFactory(
        station=station, engine_type=engine_type, serial="4001", built=date(2017, 1, 1)
    )
    day = date(2025, 1, 10)
    start_meter(made, kind="time in service", on=day, shown=50000, at=AT, by=by)
    add_reading(made, on=date(2026, 11, 1), shown=60000, at=AT, by=by)
    return made


def plan(station: Station, *rows: dict[str, str]):
    names = list(dict.fromkeys(name for row in rows for name in row))
    lines = [",".join(names)]
    lines += [",".join(row.get(name, "") for name in names) for row in rows]
    sheet = read_sheet("\n".join(lines).encode(), "parts.csv")
    return plan_parts(station, sheet, today=TODAY, at=AT)


def apply(station: Station, by: User, *rows: dict[str, str]):
    planned = plan(station, *rows)
    assert planned.faults == ()
    return apply_parts(planned, by=by, at=AT)


def fitted(engine: Engine):
    return parts_fitted([engine], on=TODAY, known_at=AT)


def test_a_row_fits_a_part_with_all_it_says(station, engine, by) -> None:
    assert apply(station, by, ROW) == [engine]
    [part] = fitted(engine)
    said = part.description
    assert (said.role, said.number, said.serial) == ("fuel pump", "P-8801", "A-17")
    assert (said.change, said.built, said.shipped) == (
        "K",
        date(2018, 1, 9),
        date(2018, 2, 1),
    )
    assert (part.fitting.place, part.fitting.true_from) == ("front", date(2025, 1, 10))
    assert (part.hours_new, part.hours_overhaul) == (19000, 13050)


def test_a_dry_run_writes_nothing(station, engine) -> None:
    assert len(plan(station, ROW).to_add) == 1
    assert Part.objects.count() == 0


def test_the_same_file_again_changes_nothing(station, engine, by) -> None:
    apply(station, by, ROW)
    again = plan(station, ROW)
    assert [row.action for row in again.rows] == [Action.UNCHANGED]
    apply_parts(again, by=by, at=AT)
    assert PartFitting.objects.count() == PartDescription.objects.count() == 1


def test_a_part_that_came_new_has_run_what_the_engine_has(station, engine, by) -> None:
    row = {**ROW, "fitted": "New", "hours since new": "", "hours since overhaul": ""}
    apply(station, by, row)
    assert fitted(engine)[0].hours_new == 60000
    assert [row.action for row in plan(station, row).rows] == [Action.UNCHANGED]


def test_hours_without_a_day_are_those_at_the_newest_reading(
    station, engine, by
) -> None:
    row = {**ROW, "fitted": ""}
    apply(station, by, row)
    [part] = fitted(engine)
    assert (part.hours_new, part.fitting.date_known) == (9000, False)
    add_reading(engine, on=date(2026, 11, 20), shown=60500, at=AT, by=by)
    assert fitted(engine)[0].hours_new == 9500
    assert [row.action for row in plan(station, row).rows] == [Action.UNCHANGED]


def test_a_row_without_details_leaves_them_unknown(station, engine, by) -> None:
    apply(station, by, {k: ROW[k] for k in ("engine type", "engine serial", "role")})
    [part] = fitted(engine)
    assert (part.description.number, part.description.change_known) == ("", False)
    assert (part.hours_new, part.fitting.fitted_new) == (None, False)


@pytest.mark.parametrize(
    ("column", "cell"),
    [
        ("date of shipping", "2018-03-01"),
        ("hours since new", "91"),
        ("hours since overhaul", "31"),
    ],
)
def test_a_better_description_is_a_change(station, engine, by, column, cell) -> None:
    apply(station, by, ROW)
    row = {**ROW, column: cell}
    [planned] = plan(station, row).to_change
    assert [change.column for change in planned.changes] == [column]
    apply(station, by, row)
    assert [row.action for row in plan(station, row).rows] == [Action.UNCHANGED]
    assert Part.objects.count() == 1


def test_learning_a_place_later_is_a_change(station, engine, by) -> None:
    PartRoleFactory(engine_type=engine.engine_type, role="fuel pump")
    apply(station, by, {**ROW, "place": ""})
    apply(station, by, ROW)
    assert fitted(engine)[0].fitting.place == "front"
    assert [row.action for row in plan(station, ROW).rows] == [Action.UNCHANGED]


def test_the_day_of_fitting_is_not_learnt_from_a_sheet(station, engine, by) -> None:
    apply(station, by, {**ROW, "fitted": ""})
    [fault] = plan(station, ROW).faults
    assert "entered without that day" in fault.reason


def test_learning_a_number_later_is_a_change(station, engine, by) -> None:
    bare = {k: v for k, v in ROW.items() if k not in {"part number", "change"}}
    apply(station, by, bare)
    apply(station, by, ROW)
    [part] = fitted(engine)
    assert (part.description.number, part.description.change) == ("P-8801", "K")


@pytest.mark.parametrize(
    ("column", "cell", "said"),
    [
        ("engine type", "MX-9", "is not entered at this station"),
        ("engine serial", "4002", "Import the fleet sheet first"),
        ("engine serial", "--", "holds no serial number"),
        ("role", "", "must not be"),
        ("fitted", "yesterday", "is not a date"),
        ("fitted", "2026-11-25", "lies after today"),
        ("fitted", "2018-01-08", "is before the part was made"),
        ("fitted", "new", "came new had no hours"),
        ("date of shipping", "2018-01-08", "is before the date of manufacture"),
        ("hours since overhaul", "90.01", "more than the hours since new"),
        ("hours since new", "1e3", "is not a number of hours"),
    ],
)
def test_a_bad_cell_is_listed(station, engine, column, cell, said) -> None:
    planned = plan(station, {**ROW, column: cell})
    assert planned.rows == ()
    [fault] = planned.faults
    assert fault.line == 2
    assert said in fault.reason


@pytest.mark.parametrize(
    ("column", "cell"),
    [
        ("part serial", "A-18"),
        ("part number", "P-8802"),
        ("change", "L"),
        ("fitted", "2025-02-01"),
    ],
)
def test_another_part_in_the_place_is_work_and_not_an_import(
    station, engine, by, column, cell
) -> None:
    apply(station, by, ROW)
    [fault] = plan(station, {**ROW, column: cell}).faults
    assert fault.column == column
    assert "replace it on the engine's page" in fault.reason


def test_two_rows_about_one_part_are_a_fault(station, engine, by) -> None:
    [fault] = plan(station, ROW, ROW).faults
    assert "Line 2 is about the same role and place" in fault.reason
    apply(station, by, ROW)
    [fault] = plan(station, ROW, ROW).faults
    assert "Line 2 is about the same part" in fault.reason


def test_more_parts_than_the_type_holds_are_a_fault(station, engine) -> None:
    PartRoleFactory(engine_type=engine.engine_type, role="fuel pump", count=2)
    rows = [{**ROW, "place": place, "part serial": place} for place in "abc"]
    planned = plan(station, *rows)
    assert len(planned.to_add) == 2
    assert "holds 2 of this role" in planned.faults[0].reason


def test_two_of_a_role_are_told_apart_by_place_or_serial(station, engine, by) -> None:
    left = {**ROW, "place": "left", "part serial": "1"}
    right = {**ROW, "place": "right", "part serial": "2"}
    apply(station, by, left, right)
    by_serial = {**right, "place": ""}
    assert plan(station, by_serial).rows[0].action is Action.UNCHANGED
    neither = {k: ROW[k] for k in ("engine type", "engine serial", "role")}
    [fault] = plan(station, neither).faults
    assert "Write the place or the serial" in fault.reason


@pytest.mark.parametrize("xlsx", [False, True])
def test_what_is_exported_imports_as_unchanged(station, engine, by, xlsx) -> None:
    apply(
        station,
        by,
        ROW,
        {**ROW, "role": "magneto", "place": "left", "part serial": "@1"},
        {
            **ROW,
            "role": "governor",
            "part serial": "G-1",
            "fitted": "new",
            "hours since new": "0",
            "hours since overhaul": "",
        },
    )
    exported = export_parts(Engine.objects.for_list(), at=AT, xlsx=xlsx)
    sheet = read_sheet(exported, "x")
    planned = plan_parts(station, sheet, today=TODAY, at=AT)
    assert planned.faults == ()
    assert [row.action for row in planned.rows] == [Action.UNCHANGED] * 3


def test_a_part_of_another_engine_is_not_entered_again(station, engine, by) -> None:
    EngineFactory(station=station, engine_type=engine.engine_type, serial="4002")
    moved = {**ROW, "engine serial": "4002", "part serial": "a17"}
    [fault] = plan(station, ROW, moved).faults
    assert (fault.line, fault.reason) == (3, "Line 2 enters the same part.")
    apply(station, by, ROW)
    [fault] = plan(station, moved).faults
    assert fault.column == "part serial"
    assert fault.reason.startswith(
        f"The fuel pump, P-8801, serial A-17 is fitted on {engine} now. Fit that part"
    )


@pytest.mark.parametrize("engines", [1, 20])
def test_planning_takes_as_many_queries_for_any_sheet(
    station, engine, engines, by, django_assert_num_queries
) -> None:
    rows = [ROW]
    for n in range(engines):
        EngineFactory(
            station=station, engine_type=engine.engine_type, serial=str(5000 + n)
        )
        serials = {"engine serial": str(5000 + n), "part serial": f"B-{n}"}
        rows.append({**ROW, **serials})
    apply(station, by, *rows)
    # types, engines, roles; fittings, descriptions, overhauls, readings; parts with
    # these serials, and where each is
    with django_assert_num_queries(9):
        assert len(plan(station, *rows).unchanged) == engines + 1


def test_every_column_says_what_to_write() -> None:
    assert all(column.help.endswith(".") for column in COLUMNS)

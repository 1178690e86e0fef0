"""Past compliance from a sheet: looked at first, taken once, faults by line and column."""

from __future__ import annotations

from datetime import date

import pytest

from tracker.accounts.access import Forbidden, Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.compliance.ledger import verify_chain
from tracker.compliance.models import Closed, Finding, Record
from tracker.compliance.sheets import export_compliance
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine
from tracker.fleet.parts import Fit, PartEntry

HEADER = "engine type,engine serial,document,revision,item,part,date,hours,method,work,page,remarks"  # fmt: skip


def sheet(*rows: str) -> bytes:
    return "\n".join([HEADER, *rows]).encode()


@pytest.fixture
def about(engine) -> str:
    return f"{engine.engine_type.designation},{engine.serial}"


@pytest.fixture
def take(technician: Viewer, now):
    """Look at a sheet and import it."""

    def run(content: bytes, *, good_rows_only: bool = False) -> changes.Imported:
        plan = changes.look_at_compliance(technician, content, "past.csv", at=now)
        return changes.import_compliance(
            technician,
            content,
            "past.csv",
            digest=plan.digest,
            good_rows_only=good_rows_only,
            at=now,
        )

    return run


def test_rows_become_transcribed_records_and_close_findings(
    engine, about, make_provision, take
) -> None:
    provision = make_provision(number="SB-24-011")
    content = sheet(
        f"{about},SL-2,,,,2022-03-01,101.5,inspected,Hoses inspected.,12,",
        f"{about},sb 24-011,,,,2026-02-01,482,part replaced,Pump replaced.,61,as read",
    )
    assert take(content).engines == 1
    first, second = Record.objects.order_by("sequence")
    assert (first.document_number, first.hours, first.provision) == ("SL-2", 10_150, None)  # fmt: skip
    assert (second.provision, second.method) == (provision, "part replaced")
    assert second.text["remarks"] == "as read"
    assert second.text["transcribed"] == (
        "transcribed from logbook, page 61; signatory not seen"
    )
    assert Finding.objects.get().closed == Closed.COMPLIED
    assert verify_chain(engine) is None


def test_looking_writes_nothing(technician: Viewer, about, now) -> None:
    content = sheet(f"{about},SL-2,,,,2022-03-01,101.5,,,12,")
    plan = changes.look_at_compliance(technician, content, "past.csv", at=now)
    assert len(plan.to_add) == 1
    assert not Record.objects.exists()


def test_the_same_sheet_changes_nothing_the_second_time(
    technician: Viewer, about, make_provision, take, now
) -> None:
    make_provision(number="SB-24-011")
    content = sheet(
        f"{about},SB-24-011,,,,2026-02-01,482,,,61,",
        f"{about},SL-2,,,,2022-03-01,,,,12,",
    )
    take(content)
    plan = changes.look_at_compliance(technician, content, "past.csv", at=now)
    assert (len(plan.unchanged), plan.to_add, plan.faults) == (2, (), ())
    take(content)
    assert Record.objects.count() == 2


def test_what_was_exported_imports_as_it_was(
    technician: Viewer, engine, about, make_provision, take, now
) -> None:
    make_provision(number="SB-24-011")
    take(sheet(f"{about},SB-24-011,,,,2026-02-01,482,inspected,Seen.,61,so"))
    engines = Engine.objects.filter(pk=engine.pk).select_related("engine_type")
    for xlsx in (False, True):
        content = export_compliance(engines, xlsx=xlsx)
        plan = changes.look_at_compliance(technician, content, "again", at=now)
        assert (len(plan.unchanged), plan.to_add, plan.faults) == (1, (), ())


FAULTS = [
    ("QX-9,4001,SL-2,,,,2022-03-01,,,,12,", "engine type", "not entered at this station"),
    ("{about}9,SL-2,,,,2022-03-01,,,,12,", "engine serial", "Import the fleet sheet first"),
    ("{about},SB-24-011,Z,,,2026-02-01,482,,,61,", "revision", 'No revision "Z"'),
    ("{about},SB-24-011,,2,,2026-02-01,482,,,61,", "item", "has no action 2"),
    ("{about},SB-TWO,,,,2026-02-01,482,,,61,", "item", "asks for 2 actions"),
    ("{about},SL-2,,,,2027-03-01,,,,12,", "date", "lies in the future"),
    ("{about},SL-2,,,,2022-03-01,521,,,12,", "hours", "beyond the last reading"),
    ("{about},SL-2,,,,1.3.2022,,,,12,", "date", "Write it as 2026-05-31"),
    ("{about},SL-2,,,,2022-03-01,,guessed,,12,", "method", "is none of"),
    ("{about},SL-2,,,,2022-03-01,,,,,", "page", "must not be"),
    ("{about},SL-2,,,left,2022-03-01,,,,12,", "part", "Fitted: none"),
]  # fmt: skip


@pytest.mark.parametrize(("row", "column", "said"), FAULTS)
def test_a_bad_row_is_named_by_line_and_column(
    technician: Viewer, about, make_provision, now, row, column, said
) -> None:
    make_provision(number="SB-24-011", order=1)
    two = make_provision(number="SB-TWO", order=1)
    make_provision(revision=two.revision, order=2)
    content = sheet(f"{about},SL-1,,,,2022-01-01,,,,12,", row.format(about=about))
    plan = changes.look_at_compliance(technician, content, "past.csv", at=now)
    [fault] = plan.faults
    assert (fault.line, fault.column) == (3, column)
    assert said in fault.reason
    assert len(plan.to_add) == 1


def test_hours_are_held_against_other_rows_of_the_sheet(
    technician: Viewer, about, now
) -> None:
    content = sheet(
        f"{about},SL-2,,,,2023-03-01,100,,,12,",
        f"{about},SL-1,,,,2022-03-01,101,,,12,",
    )
    plan = changes.look_at_compliance(technician, content, "past.csv", at=now)
    assert [(fault.line, fault.column) for fault in plan.faults] == [(2, "hours")]


def test_a_row_that_contradicts_a_record_is_a_fault(
    technician: Viewer, about, make_provision, take, now
) -> None:
    make_provision(number="SB-24-011")
    take(sheet(f"{about},SB-24-011,,,,2026-02-01,482,,,61,"))
    content = sheet(f"{about},SB-24-011,,,,2026-02-05,482,,,61,")
    plan = changes.look_at_compliance(technician, content, "past.csv", at=now)
    assert "Entry 1 records it already, on 2026-02-01 at 482 h" in plan.faults[0].reason


def test_the_same_row_twice_in_a_sheet_is_a_fault(
    technician: Viewer, about, now
) -> None:
    row = f"{about},SL-2,,,,2022-03-01,,,,12,"
    plan = changes.look_at_compliance(technician, sheet(row, row), "past.csv", at=now)
    assert [fault.line for fault in plan.faults] == [3]


def test_work_on_a_part_names_it_where_there_are_two(
    technician: Viewer, engine, about, make_provision, take, now
) -> None:
    make_provision(number="SB-24-011", role="magneto")
    for place, serial in (("left", "A-17"), ("right", "A-18")):
        changes.add_part(
            technician,
            engine,
            PartEntry(role="magneto", serial=serial),
            Fit(place=place, fitted_new=True, date_known=False),
            true_from=date(2025, 1, 1),
            at=now,
        )
    unnamed = sheet(f"{about},SB-24-011,,,,2026-02-01,482,,,61,")
    plan = changes.look_at_compliance(technician, unnamed, "past.csv", at=now)
    assert [fault.column for fault in plan.faults] == ["part"]
    take(
        sheet(
            f"{about},SB-24-011,,,left,2026-02-01,482,,,61,",
            f"{about},SB-24-011,,,A-18,2026-02-01,482,,,61,",
        )
    )
    assert len({record.part_id for record in Record.objects.all()}) == 2


def test_bad_rows_stop_the_import_unless_only_good_ones_are_wanted(about, take) -> None:
    content = sheet(
        f"{about},SL-2,,,,2022-03-01,,,,12,", f"{about},SL-3,,,,2099-03-01,,,,12,"
    )
    with pytest.raises(Refused, match="1 rows cannot be taken"):
        take(content)
    assert not Record.objects.exists()
    take(content, good_rows_only=True)
    assert Record.objects.count() == 1


def test_only_the_file_that_was_looked_at_is_imported(
    technician: Viewer, about, now
) -> None:
    with pytest.raises(Refused, match="not the file that was looked at"):
        changes.import_compliance(
            technician,
            sheet(f"{about},SL-2,,,,2022-03-01,,,,12,"),
            "past.csv",
            digest="0" * 64,
            at=now,
        )


def test_an_owner_may_not_import(viewer_as, about, now) -> None:
    with pytest.raises(Forbidden):
        changes.look_at_compliance(viewer_as(Role.OWNER), sheet(), "past.csv", at=now)


@pytest.mark.parametrize("rows", [1, 20])
def test_a_sheet_is_looked_at_in_the_same_queries_for_any_length(
    technician: Viewer, about, make_provision, now, rows, django_assert_num_queries
) -> None:
    make_provision(number="SB-24-011")
    lines = [f"{about},SB-24-011,,,,2026-02-01,482,,,61,"]
    lines += [f"{about},SL-{n},,,,2022-03-01,,,,12," for n in range(rows)]
    # library: publications, revisions, rules; register: types, engines; background:
    # readings, records, fittings, revisions, references; parts: fittings, readings
    with django_assert_num_queries(12):
        changes.look_at_compliance(technician, sheet(*lines), "past.csv", at=now)

"""Hours counted from new: where TSN is not known, and after a rebuild by the maker."""

from __future__ import annotations

from datetime import date

import pytest

from tests.factories.compliance import entry
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.due import DueRow, due_list
from tracker.compliance.models import Finding
from tracker.compliance.summary import Line, status_of
from tracker.fleet.models import Engine, Identity
from tracker.fleet.parts import Fit, PartEntry
from tracker.fleet.register import IdentityFacts

REBUILT = date(2026, 3, 1)
FROM_NEW = {"initial": {"hours": 1000, "after": "new"}}
FROM_EFFECTIVE = {"initial": {"hours": 100, "after": "effective"}}
AGAIN = {
    "initial": {"hours": 100, "after": "effective"},
    "repeat": {"hours": 100, "after": "last done"},
}


@pytest.fixture
def unknown(technician: Viewer, engine: Engine, now) -> Engine:
    """An engine of which only the meter is known: nobody knows its TSN."""
    row = Identity.objects.get(engine=engine, current=True)
    facts = IdentityFacts(
        engine_type=row.engine_type,
        serial=row.serial,
        built=row.built,
        hours_at_new=None,
    )
    changes.change_identity(technician, engine, facts, at=now)
    return Engine.objects.get(pk=engine.pk)


def both(viewer: Viewer, engine: Engine, today: date, number: str) -> tuple:
    """Return the stored finding's row and the line of the status, for one document."""
    rows = due_list(viewer, today).rows
    lines = status_of(engine, on=today)
    [row] = [r for r in rows if r.publication.number == number]
    [line] = [
        line
        for line in (*lines.lines, *lines.undetermined)
        if line.publication.number == number
    ]
    return row, line


def agree(row: DueRow, line: Line) -> bool:
    told = (row.word, row.due_hours, row.remaining_hours, row.sentence)
    said = (line.state, line.next_hours, line.due.remaining_hours, line.sentence)
    return told == said


def test_a_limit_from_new_is_undetermined_without_tsn(
    technician: Viewer, unknown, make_provision, today, now
) -> None:
    make_provision(number="SB-1", rule__action=FROM_NEW)
    changes.refresh_station(unknown.station, today, at=now)
    row, line = both(technician, unknown, today, "SB-1")
    assert (row.word, row.due_hours) == ("undetermined", None)
    assert row.missing == list(line.missing) == ["time since new of the engine"]
    assert agree(row, line)


def test_other_limits_stand_on_the_meter_without_tsn(
    technician: Viewer, unknown, make_provision, today, now
) -> None:
    make_provision(number="SB-1", rule__action=FROM_EFFECTIVE)
    again = make_provision(number="SB-2", rule__action=AGAIN)
    done = entry(date(2026, 11, 24), hours=51_900, provision=again)
    changes.record_work(technician, unknown, done, at=now)
    first = both(technician, unknown, today, "SB-1")
    second = both(technician, unknown, today, "SB-2")
    assert [row.due_hours for row in (first[0], second[0])] == [58_000, 61_900]
    assert first[1].next_tsn is None
    assert agree(*first)
    assert agree(*second)


def test_a_condition_on_hours_since_new_names_what_is_missing(
    technician: Viewer, unknown, make_provision, today, now
) -> None:
    over = {"hours": {"since": "new", "over": 100}}
    make_provision(number="SB-1", rule__condition=over, rule__action=FROM_EFFECTIVE)
    changes.refresh_station(unknown.station, today, at=now)
    finding = Finding.objects.get()
    assert (finding.undetermined, finding.missing) == (True, ["time since new"])


def test_a_part_that_came_with_the_engine_has_no_hours_without_tsn(
    technician: Viewer, unknown, make_provision, today, now
) -> None:
    changes.add_part(
        technician,
        unknown,
        PartEntry(role="fuel pump"),
        Fit(date_known=False, fitted_new=True),
        true_from=today,
        at=now,
    )
    since_new = {"part": "fuel pump", "since": "new"}
    make_provision(
        number="SB-1", rule__action={"initial": {"hours": 500, "after": since_new}}
    )
    changes.refresh_station(unknown.station, today, at=now)
    row, line = both(technician, unknown, today, "SB-1")
    assert row.missing == ["time since new of the engine"]
    assert agree(row, line)


def test_after_a_makers_rebuild_new_is_the_new_zero_and_the_axis_runs_on(
    technician: Viewer, engine, make_provision, today, now
) -> None:
    make_provision(number="SB-1", rule__action=FROM_NEW)
    make_provision(number="SB-2", rule__action=FROM_EFFECTIVE)
    again = make_provision(number="SB-3", rule__action=AGAIN)
    done = entry(date(2026, 2, 1), hours=48_500, provision=again)
    changes.record_work(technician, engine, done, at=now)
    changes.add_rebuild(technician, engine, on=REBUILT, hours=49_000, at=now)
    found = {
        number: both(technician, engine, today, number)
        for number in ("SB-1", "SB-2", "SB-3")
    }
    assert {n: row.due_hours for n, (row, _) in found.items()} == {
        "SB-1": 49_000 + 100_000,
        "SB-2": 48_000 + 10_000,
        "SB-3": 48_500 + 10_000,
    }
    assert found["SB-1"][1].next_tsn == 100_000
    assert found["SB-3"][1].next_tsn == 9_500
    assert all(agree(*pair) for pair in found.values())


@pytest.mark.parametrize(("under", "applies"), [(30, False), (31, True)])
def test_a_condition_counts_from_the_new_zero(
    technician: Viewer, engine, make_provision, today, now, under, applies
) -> None:
    """30 h since the rebuild, 520 h on the meter."""
    make_provision(rule__condition={"hours": {"since": "new", "under": under}})
    changes.add_rebuild(technician, engine, on=REBUILT, hours=49_000, at=now)
    assert Finding.objects.exists() is applies
    status = status_of(engine, on=today)
    assert (len(status.lines), len(status.not_applicable)) == (
        (1, 0) if applies else (0, 1)
    )


def test_a_rebuild_at_hours_not_known_makes_tsn_unknown(
    technician: Viewer, engine, make_provision, today, now
) -> None:
    make_provision(number="SB-1", rule__action=FROM_NEW)
    changes.add_rebuild(technician, engine, on=REBUILT, at=now)
    row, line = both(technician, engine, today, "SB-1")
    assert row.missing == ["time since new of the engine"]
    assert agree(row, line)

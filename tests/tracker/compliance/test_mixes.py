"""Times that hang on the fuel: which share counts, and what moves when it changes.

The oil change of the tests is that of light four-cylinder engines with a shared oil
system: 100 h on unleaded fuel, 50 h over 30 % of leaded fuel, 25 h over 50 %, and a
share of exactly 30 % or 50 % belongs to the lower class (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from notices.rules.compliance_time import DuePoint
from notices.rules.facts import UNKNOWN
from tests.factories.compliance import entry
from tests.factories.fleet import PartRoleFactory
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.asking import circumstances, history_asked
from tracker.compliance.due import DueRow, due_list
from tracker.compliance.facts import engine_files
from tracker.compliance.findings import rules_in_force
from tracker.compliance.models import Finding
from tracker.compliance.summary import status_of
from tracker.compliance.summary.status import end_of_day
from tracker.fleet.errors import Doubtful, Refused
from tracker.fleet.fuel import FuelEntry
from tracker.fleet.models import Engine
from tracker.fleet.parts import Fit, PartEntry
from tracker.fleet.register import OperationFacts

CHANGED = date(2026, 6, 1)


def over(share: float, hours: float) -> dict[str, Any]:
    then = {"hours": hours, "after": "last done"}
    return {"when": {"leaded_share": {"over": share}}, "then": then}


OIL_CHANGE = {
    "initial": {"hours": 25, "after": "effective"},
    "repeat": {
        "cases": [
            over(0.5, 25),
            over(0.3, 50),
            {"else": {"hours": 100, "after": "last done"}},
        ]
    },
}


@pytest.fixture
def oil_change(make_provision):
    return make_provision(
        kind="scheduled", title="Change the oil", rule__action=OIL_CHANGE
    )


@pytest.fixture
def changed(oil_change, make_engine, technician: Viewer, now) -> Engine:
    """An engine at 520 h whose oil was changed at 500 h on 2026-06-01."""
    engine = make_engine()
    done = entry(CHANGED, hours=50_000, provision=oil_change)
    changes.record_work(technician, engine, done, at=now)
    return engine


@pytest.fixture
def add(technician: Viewer, now):
    def add_fuel(engine, on, quantity, kind="leaded", **given):
        fuel = FuelEntry(on=on, quantity=str(quantity), kind=kind, **given)
        return changes.add_fuel(technician, engine, fuel, at=now)

    return add_fuel


@pytest.fixture
def row(technician: Viewer, today):
    """The one row of the due list."""

    def only() -> DueRow:
        [found] = due_list(technician, today).rows
        return found

    return only


def limit_of(row: DueRow) -> int | None:
    """Hours after the oil change at which the next one is due."""
    return None if row.due_hours is None else row.due_hours - 50_000


@pytest.fixture
def declare(technician: Viewer, now):
    def declare_share(engine, share: str) -> None:
        facts = OperationFacts(uses=("private",), leaded_share=share)
        on = date(2026, 1, 11)
        changes.change_operation(technician, engine, facts, true_from=on, at=now)

    return declare_share


# -- which share it is


@pytest.mark.both
@pytest.mark.parametrize(
    ("leaded", "limit"),
    [
        ("0.001", 10_000),
        ("30", 10_000),  # exactly 30 % belongs to the lower class
        ("30.1", 5_000),
        ("50", 5_000),  # exactly 50 % belongs to the lower class
        ("50.1", 2_500),
        ("99.999", 2_500),
    ],
)
def test_the_share_by_volume_decides_the_limit(
    changed, add, row, leaded, limit
) -> None:
    add(changed, CHANGED + timedelta(9), leaded)
    rest = f"{100 - float(leaded):.3f}"
    add(changed, CHANGED + timedelta(19), rest, kind="unleaded")
    assert limit_of(row()) == limit


def test_gallons_and_litres_make_an_exact_share_together(changed, add, row) -> None:
    """30 US gallons of leaded fuel and 264.97882488 L without: 30 % to the drop."""
    add(changed, CHANGED + timedelta(9), 30, unit="US gal")
    add(changed, CHANGED + timedelta(19), "264.97882488", kind="unleaded")
    assert limit_of(row()) == 10_000
    add(changed, CHANGED + timedelta(20), "0.00000001")
    assert limit_of(row()) == 5_000


def test_a_blend_counts_by_its_share(changed, add, row) -> None:
    add(changed, CHANGED + timedelta(9), 90, kind="blend", leaded_share="1/3")
    assert limit_of(row()) == 5_000
    add(changed, CHANGED + timedelta(19), 10, kind="blend", leaded_share="0")
    assert limit_of(row()) == 10_000


def test_fuel_from_before_the_oil_change_no_longer_counts(changed, add, row) -> None:
    add(changed, CHANGED - timedelta(1), 500)
    add(changed, CHANGED + timedelta(1), 60, kind="unleaded")
    assert limit_of(row()) == 10_000


@pytest.mark.parametrize(
    ("hours", "limit"), [(None, 2_500), (50_000, 2_500), (49_999, 10_000)]
)
def test_fuel_of_that_day_counts_unless_hours_show_that_it_was_before(
    changed, add, row, hours, limit
) -> None:
    add(changed, CHANGED, 100, hours=hours)
    add(changed, CHANGED + timedelta(1), 60, kind="unleaded")
    assert limit_of(row()) == limit


def test_of_an_engine_on_which_it_was_never_done_all_fuel_counts(
    make_provision, make_engine, add, row
) -> None:
    cases = [over(0.3, 50), {"else": {"hours": 100, "after": "effective"}}]
    cases[0]["then"]["after"] = "effective"
    make_provision(rule__action={"initial": {"cases": cases}})
    engine = make_engine()
    assert row().word == "undetermined"
    add(engine, date(2021, 5, 1), 100)
    assert row().due_hours == 48_000 + 5_000


# -- what it rests on


def test_a_declared_habit_stands_in_and_is_marked_as_declared(
    changed, declare, add, row
) -> None:
    declare(changed, "2/5")
    assert limit_of(row()) == 5_000
    assert row().reasons[-2:] == [
        "40 % of the fuel is leaded, as declared: no fuel is recorded since.",
        "With a share over 30 % and at most 50 % the limit is 50\u00a0h.",
    ]
    add(changed, CHANGED + timedelta(9), 80, kind="unleaded")
    assert limit_of(row()) == 10_000
    assert row().reasons[-2:] == [
        "0 % of the fuel is leaded, by 1 fuel record, 10 June 2026.",
        "With the fuel of 10 June 2026 the leaded share fell from 40 % as declared to "
        "0 %, at most 30 %, so the limit is 100\u00a0h instead of 50\u00a0h.",
    ]


def test_fuel_too_little_for_the_hours_run_does_not_tell(
    changed, declare, add, row
) -> None:
    """39 L in 20 h are fewer than 2 an hour, which no such engine burns."""
    declare(changed, "2/5")
    add(changed, CHANGED + timedelta(9), 39, kind="unleaded")
    assert limit_of(row()) == 5_000
    assert row().reasons[-2:] == [
        "39\u00a0L on record for 20.0\u00a0h run: too little to be the fuel of that "
        "time. 40 % of the fuel is leaded, as declared.",
        "With a share over 30 % and at most 50 % the limit is 50\u00a0h.",
    ]
    add(changed, CHANGED + timedelta(10), 1, kind="unleaded")
    assert limit_of(row()) == 10_000


def test_without_a_habit_too_little_fuel_leaves_the_share_unknown(
    changed, add, row
) -> None:
    add(changed, CHANGED + timedelta(9), 1, kind="unleaded")
    found = row()
    assert (found.word, limit_of(found)) == ("undetermined", 2_500)
    assert found.reasons[-2] == (
        "1\u00a0L on record for 20.0\u00a0h run: too little to be the fuel of that "
        "time. The leaded share of the fuel is not known."
    )


def test_of_a_part_the_hours_count_since_it_was_fitted(
    make_provision, make_engine, technician: Viewer, declare, add, row, now
) -> None:
    soon, late = ({"days": days, "after": "effective"} for days in (100, 400))
    cases = [{"when": {"leaded_share": {"over": 0.3}}, "then": soon}, {"else": late}]
    make_provision(role="spark plug", rule__action={"initial": {"cases": cases}})
    engine = make_engine()
    declare(engine, "1")
    PartRoleFactory(engine_type=engine.engine_type, role="spark plug", count=1)
    plug = PartEntry(role="spark plug", never_overhauled=True)
    fitted = date(2026, 5, 1)
    fit = Fit(engine_hours=50_000)
    changes.add_part(technician, engine, plug, fit, true_from=fitted, at=now)
    add(engine, fitted, 39, kind="unleaded")
    assert row().due_on == date(2026, 1, 10) + timedelta(100)
    add(engine, fitted, 1, kind="unleaded")
    assert row().due_on == date(2026, 1, 10) + timedelta(400)


def test_without_records_and_habit_the_shortest_counts_and_the_gap_is_named(
    changed, row
) -> None:
    found = row()
    assert found.word == "undetermined"
    assert found.missing == ["share of leaded fuel"]
    assert limit_of(found) == 2_500
    assert {point.hours for point in found.due.candidates} == {52_500, 55_000, 60_000}
    assert found.reasons[-2:] == [
        "The leaded share of the fuel is not known.",
        "The limit is one of these: 25\u00a0h; 50\u00a0h; 100\u00a0h: the shortest "
        "counts until the share is known.",
    ]


def test_fuel_without_a_place_before_or_after_leaves_the_share_unknown(
    make_provision, make_engine, declare, add, row
) -> None:
    """Nobody has said when the oil was changed: the habit must not hide that."""
    make_provision(
        kind="scheduled",
        rule__condition={"leaded_share": {"over": 0.25}},
        rule__action=OIL_CHANGE,
    )
    engine = make_engine(reviewed=False)
    declare(engine, "0")
    add(engine, CHANGED, 80)
    assert "The leaded share of the fuel is not known." in row().reasons


COLD = {"not": {"oil_temperature": {"from": 87, "to": 110}}}


def test_a_limit_that_is_the_same_for_every_share_is_not_laid_to_the_share(
    oil_change, make_engine, declare, add, row
) -> None:
    """The first change is due 25 h after the effective date, whatever the fuel is."""
    engine = make_engine()
    declare(engine, "0.1")
    assert row().due_hours == 50_500
    assert not any("share" in one or "leaded" in one for one in row().reasons)
    assert row().due.point.grounds == ()
    add(engine, date(2026, 6, 1), 1_100)
    assert not any("leaded" in one for one in row().reasons)


def test_a_limit_that_another_cause_has_is_not_laid_to_the_share(
    make_provision, make_engine, technician: Viewer, add, row, now
) -> None:
    """Oil below its band makes it 50 h up to 50 % of leaded fuel."""
    cold = {"when": COLD, "then": {"hours": 50, "after": "last done"}}
    later = {"else": {"hours": 100, "after": "last done"}}
    repeat = {"cases": [over(0.5, 25), over(0.3, 50), cold, later]}
    provision = make_provision(
        kind="scheduled", rule__action={**OIL_CHANGE, "repeat": repeat}
    )
    engine = make_engine()
    facts = OperationFacts(uses=("private",), oil_low="60", oil_high="90")
    changes.change_operation(
        technician, engine, facts, true_from=date(2026, 1, 11), at=now
    )
    done = entry(CHANGED, hours=50_000, provision=provision)
    changes.record_work(technician, engine, done, at=now)
    add(engine, CHANGED + timedelta(9), 60, kind="unleaded")
    assert row().reasons[-1] == "With a share of at most 30 % the limit is 50\u00a0h."
    add(engine, CHANGED + timedelta(10), 40)
    assert row().reasons[-1] == (
        "With a share over 30 % and at most 50 % the limit is 50\u00a0h."
    )


# -- what moves


def test_the_point_moves_at_once_and_the_finding_says_when_and_why(
    changed, add, row
) -> None:
    add(changed, date(2026, 6, 10), 60, kind="unleaded")
    add(changed, date(2026, 7, 1), 20)
    assert limit_of(row()) == 10_000
    add(changed, date(2026, 8, 3), 20)
    assert limit_of(row()) == 5_000
    assert row().reasons[-2:] == [
        "40 % of the fuel is leaded, by 3 fuel records, 10 June 2026 to 3 August 2026.",
        "With the fuel of 3 August 2026 the leaded share rose from 25 % to 40 %, over "
        "30 %, so the limit is 50\u00a0h instead of 100\u00a0h.",
    ]


def test_a_due_point_keeps_on_what_grounds_its_limit_holds(changed, add, row) -> None:
    add(changed, date(2026, 6, 10), 60, kind="unleaded")
    found = row()
    assert list(found.due.point.grounds) == found.reasons[-2:]
    assert DuePoint.from_json(found.finding.point) == found.due.point
    add(changed, date(2026, 8, 3), 40)
    assert list(row().due.point.grounds) == row().reasons[-1:]


def test_the_same_fuel_twice_is_kept_once_it_is_confirmed(
    changed, technician: Viewer, add, now
) -> None:
    add(changed, CHANGED, 20)
    fuel = FuelEntry(on=CHANGED, quantity="20.0", kind="leaded")
    with pytest.raises(Doubtful, match="20 L leaded"):
        changes.add_fuel(technician, changed, fuel, at=now)
    assert changed.fuel.count() == 1
    zero = replace(fuel, quantity="0")
    with pytest.raises(Refused, match="more than 0") as no:
        changes.add_fuel(technician, changed, zero, at=now)
    assert not isinstance(no.value, Doubtful)
    changes.add_fuel(technician, changed, fuel, at=now, confirmed=True)
    assert changed.fuel.count() == 2


def test_a_withdrawn_record_moves_it_back(
    changed, technician: Viewer, add, row, now
) -> None:
    add(changed, CHANGED + timedelta(9), 60, kind="unleaded")
    wrong = add(changed, CHANGED + timedelta(19), 60)
    assert limit_of(row()) == 5_000
    changes.withdraw(technician, wrong, reason="another engine", at=now)
    assert limit_of(row()) == 10_000


def test_the_next_oil_change_begins_a_new_mix(
    changed, oil_change, technician: Viewer, add, row, now
) -> None:
    add(changed, CHANGED + timedelta(9), 60)
    assert limit_of(row()) == 2_500
    done = entry(date(2026, 11, 20), hours=51_500, provision=oil_change)
    changes.record_work(technician, changed, done, at=now)
    assert row().word == "undetermined"
    add(changed, date(2026, 11, 21), 50, kind="unleaded")
    assert row().due_hours == 51_500 + 10_000


def test_a_past_day_is_told_by_the_fuel_of_that_day(changed, add, today) -> None:
    add(changed, date(2026, 6, 10), 60, kind="unleaded")
    add(changed, date(2026, 8, 3), 60)

    def hours(on: date) -> int | None:
        [line] = status_of(changed, on=on).lines
        return line.next_hours

    assert hours(date(2026, 8, 2)) == 60_000
    assert hours(today) == 55_000


@pytest.mark.both
def test_a_status_as_known_then_counts_what_was_withdrawn_later(
    changed, technician: Viewer, add, now
) -> None:
    engine = Engine.objects.select_related("station").get(pk=changed.pk)
    row = add(engine, date(2026, 8, 3), 60)
    later = now + timedelta(days=2)
    changes.withdraw(technician, row, reason="another engine", at=later)

    def known(days: int) -> list[str]:
        on = now.date() + timedelta(days=days)
        moment = end_of_day(engine.station, on)
        status = status_of(engine, on=on, known_at=moment)
        return [line.state for line in (*status.lines, *status.undetermined)]

    assert known(1) != known(2)
    assert known(2) == ["undetermined"]


# -- of what it is asked


def test_whether_a_rule_applies_follows_the_fuel_and_not_the_habit(
    make_provision, make_engine, declare, add, now
) -> None:
    make_provision(rule__condition={"leaded_share": {"over": 0.25}})
    engine = make_engine()
    declare(engine, "0")
    assert not Finding.objects.exists()
    add(engine, date(2026, 6, 1), 1_100)
    found = Finding.objects.get()
    assert not found.undetermined
    assert found.reasons == [
        "Share of leaded fuel 100 % is over 25 %.",
        "100 % of the fuel is leaded, by 1 fuel record, 1 June 2026.",
        "With the fuel of 1 June 2026 the leaded share rose from 0 % as declared to "
        "100 %, over 25 %.",
    ]


def test_of_a_part_fuel_counts_from_when_it_was_fitted(
    make_provision, make_engine, technician: Viewer, add, row, now
) -> None:
    soon, late = ({"days": days, "after": "effective"} for days in (100, 400))
    cases = [{"when": {"leaded_share": {"over": 0.3}}, "then": soon}, {"else": late}]
    make_provision(role="spark plug", rule__action={"initial": {"cases": cases}})
    engine = make_engine()
    PartRoleFactory(engine_type=engine.engine_type, role="spark plug", count=1)
    plug = PartEntry(role="spark plug", never_overhauled=True)
    fitted = date(2026, 5, 1)
    changes.add_part(technician, engine, plug, Fit(), true_from=fitted, at=now)
    changes.review(
        technician, engine, "spark plug", "Runa Tveit", true_from=fitted, at=now
    )
    add(engine, fitted - timedelta(1), 500)
    add(engine, fitted, 10, kind="unleaded")
    assert row().due_on == date(2026, 1, 10) + timedelta(400)


@pytest.mark.parametrize("overhauled", [False, True])
def test_an_interval_goes_by_the_fuel_since_the_last_overhaul(
    make_provision, make_engine, technician: Viewer, add, today, now, overhauled
) -> None:
    provision = make_provision(
        rule__condition={"leaded_share": {"over": 0.25}}, rule__action={}
    )
    type(provision).objects.filter(pk=provision.pk).update(kind="overhaul interval")
    engine = make_engine()
    add(engine, date(2026, 3, 1), 600)
    add(engine, date(2026, 8, 1), 600, kind="unleaded")
    if overhauled:
        on = date(2026, 5, 1)
        changes.add_overhaul(
            technician, engine, on=on, hours=49_000, at=now, tested="to limits"
        )
    [rule] = rules_in_force(engine.station, today)
    file = engine_files([Engine.objects.get()], on=today)[engine.pk]
    asked = circumstances(rule, file, history_asked(rule, file), on=today)
    assert asked.leaded_share == (0 if overhauled else 0.5)


def test_a_rule_that_asks_for_no_share_says_nothing_of_fuel(
    make_provision, make_engine, declare, add, today
) -> None:
    make_provision()
    engine = make_engine()
    declare(engine, "1")
    add(engine, date(2026, 6, 1), 50)
    assert Finding.objects.get().reasons == ["The rule leaves nothing to ask."]
    [rule] = rules_in_force(engine.station, today)
    file = engine_files([Engine.objects.get()], on=today)[engine.pk]
    asked = circumstances(rule, file, history_asked(rule, file), on=today)
    assert asked.leaded_share is UNKNOWN


@pytest.mark.both
def test_adding_fuel_takes_as_many_queries_for_any_number_of_records(
    changed, add
) -> None:
    def queries(day: int) -> int:
        with CaptureQueriesContext(connection) as asked:
            add(changed, CHANGED + timedelta(day), 20)
        return len(asked)

    add(changed, CHANGED, 100)
    taken = [queries(day) for day in range(12)]
    assert len(set(taken)) == 1

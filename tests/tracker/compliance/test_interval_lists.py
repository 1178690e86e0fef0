"""Engines by their overhaul interval: past it, near its end, a longer one in reach."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from tests.factories.fleet import OwnerFactory
from tracker.accounts.models import Role, Station
from tracker.compliance import changes
from tracker.compliance.interval_lists import COMING, PAST, intervals_due, narrowed
from tracker.fleet.models import Engine
from tracker.fleet.register import give_login

pytestmark = pytest.mark.both

BASE = {"id": "base", "kind": "base", "hours": 520, "since": "overhaul"}
LAW = {**BASE, "binding": ["commercial"]}
LONGER = {"id": "longer", "kind": "extension", "hours": 700, "since": "overhaul"}


@pytest.fixture
def leads(station: Station) -> Station:
    """Ten hours or thirty days ahead something is coming due."""
    station.lead_hours, station.lead_days = 1_000, 30
    station.save()
    return station


def rows(viewer: Any, on: date) -> list[tuple[str, str, str]]:
    return [
        (row.engine.serial, row.group, row.word)
        for row in intervals_due(viewer, on).rows
    ]


@pytest.mark.parametrize(
    ("use", "shown", "row"),
    [
        ("private", 52_001, ("1", PAST, "past the recommended interval")),
        ("commercial", 52_001, ("1", PAST, "overdue")),
        ("private", 52_000, ("1", COMING, "coming due")),  # reached, still in time
        ("commercial", 52_000, ("1", COMING, "coming due")),
        ("private", 51_000, ("1", COMING, "coming due")),  # just within the lead
        ("private", 50_999, None),
    ],
)
def test_engines_past_it_stand_first_then_those_near_its_end(
    leads, interval, evaluated, technician, today, use, shown, row
) -> None:
    interval(LAW)
    evaluated(use, serial="1", hours=(50_000, shown))
    assert rows(technician, today) == ([row] if row else [])


def test_law_stands_before_advice_and_each_is_told_apart(
    leads, interval, evaluated, technician, today
) -> None:
    interval(LAW)
    evaluated("private", serial="1", hours=(50_000, 53_000))
    evaluated("commercial", serial="2", hours=(50_000, 53_000))
    evaluated(serial="3", hours=(50_000, 53_000))
    found = intervals_due(technician, today)
    said = [(row.engine.serial, row.word, row.law) for row in found.rows]
    assert said == [
        ("2", "overdue", "law"),
        ("3", "undetermined", "law or recommended, not known"),
        ("1", "past the recommended interval", "recommended"),
    ]
    assert [row.remaining_hours for row in found.rows] == [-1_000] * 3
    assert found.counts == {PAST: 3, COMING: 0}


def test_by_date_it_is_past_and_near_as_by_hours(
    leads, interval, evaluated, technician, today
) -> None:
    years = {"id": "base", "kind": "base", "years": 6, "since": "overhaul"}
    interval({**years, "hours": 9_000})
    evaluated("private", serial="1", built=today.replace(year=2020) - timedelta(days=1))
    evaluated("private", serial="2", built=today.replace(year=2020))
    evaluated("private", serial="3", built=today.replace(year=2020, month=12, day=25))
    assert rows(technician, today) == [
        ("1", PAST, "past the recommended interval"),
        ("2", COMING, "coming due"),
    ]


def test_hours_that_may_have_been_flown_since_the_reading_count_for_what_is_near(
    leads, interval, evaluated, technician, today
) -> None:
    """40 h in 318 days before; a hundred days later the lead is used up."""
    interval(LAW)
    evaluated("private", serial="1", hours=(46_000, 50_000))
    assert rows(technician, today) == []
    later = today + timedelta(days=160)
    assert rows(technician, later) == [("1", COMING, "coming due")]


def test_a_longer_interval_within_reach_is_counted_and_can_be_asked_for(
    interval, evaluated, technician, today, now
) -> None:
    base = interval({**BASE, "hours": 900})
    longer = {**LONGER, "hours": 1_200}
    interval(longer, when={"embodied": "SB-24-011"}, beside=base)
    reaches, holds = evaluated("private", serial="1"), evaluated("private", serial="2")
    changes.embody(
        technician, holds, "SB-24-011", true_from=today, source="log", at=now
    )
    assert intervals_due(technician, today).reach == 1

    def asked(word: str) -> list[Engine]:
        engines = Engine.objects.visible_to(technician).for_list()
        return list(narrowed(engines, word, technician, today))

    assert asked("within reach") == [reaches]
    assert asked("holds") == [holds]
    assert asked("undetermined") == asked(PAST) == asked(COMING) == []


def test_what_was_not_adopted_is_marked(
    interval, evaluated, technician, today, now
) -> None:
    base = interval(LAW)
    engine = evaluated("private", hours=(50_000, 53_000))
    changes.decline(
        technician,
        engine,
        base.revision.publication,
        person="Maud Ek",
        reason="Run on condition.",
        true_from=today,
        at=now,
    )
    [row] = intervals_due(technician, today).rows
    assert row.declined


def test_an_owner_sees_own_engines_only_and_a_stranger_none(
    interval, evaluated, viewer_as, station, stranger, today, now
) -> None:
    interval(LAW)
    viewer = viewer_as(Role.OWNER)
    owner = OwnerFactory(station=station)
    give_login(owner, viewer.user, now)
    evaluated("private", serial="1", owner=owner, hours=(50_000, 53_000))
    evaluated("private", serial="2", hours=(50_000, 53_000))
    assert [serial for serial, *_ in rows(viewer, today)] == ["1"]
    assert rows(stranger, today) == []


@pytest.mark.parametrize("engines", [1, 14])
def test_the_list_takes_three_queries(
    interval, evaluated, technician, today, django_assert_num_queries, engines: int
) -> None:
    interval(LAW)
    for _ in range(engines):
        evaluated("commercial", hours=(50_000, 53_000))
    with django_assert_num_queries(3):  # counts, engines, findings
        found = intervals_due(technician, today)
    assert len(found.rows) == min(engines, 12)
    assert found.total == engines

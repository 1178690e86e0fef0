"""What is evaluated in brief keeps exactly what the whole evaluation would keep."""

from __future__ import annotations

from datetime import date

import pytest

from tests.factories.compliance import entry
from tests.factories.fleet import EngineTypeFactory, PartRoleFactory
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.facts import engine_files
from tracker.compliance.findings import (
    assessments,
    kept_assessments,
    refresh_library,
    rules_in_force,
)
from tracker.compliance.in_force import library_in_force, size_in_force
from tracker.compliance.models import Finding
from tracker.fleet.models import Engine
from tracker.fleet.parts import Fit, PartEntry

DAY = date(2026, 11, 20)
CONDITIONS = [
    {"always": True},
    {"embodied": "SB-1"},
    {"not": {"embodied": "SB-1"}},
    {"complied": "SB-1"},
    {"this": {"number": ["P-1"]}},
    {"this": {"number": ["P-2"]}},
    {"not": {"this": {"number": ["P-1"]}}},
    {"built": {"from": "2024-01-01"}},
    {"hours": {"since": "new", "at": "effective", "over": 9000}},
    {"part": {"role": "magneto", "where": {"number": ["P-1"]}}},
]


@pytest.mark.parametrize("role", ["", "magneto", "governor"])
@pytest.mark.parametrize("recorded", [False, True])
def test_in_brief_the_same_is_kept_as_in_full(
    technician: Viewer, make_engine, make_provision, today, now, role, recorded
) -> None:
    engine = make_engine()
    part = changes.add_part(
        technician,
        engine,
        PartEntry(role="magneto", number="P-1"),
        Fit(),
        true_from=DAY,
        at=now,
    )
    bulletin = make_provision(number="SB-1", role="magneto")
    if recorded:
        done = entry(DAY, hours=51_000, provision=bulletin, part=part)
        changes.record_work(technician, engine, done, at=now)
    for condition in CONDITIONS:
        if role or "this" not in str(condition):
            make_provision(role=role, rule__condition=condition)
    engine = Engine.objects.select_related("engine_type").get(pk=engine.pk)
    file = engine_files([engine], on=today)[engine.pk]
    rules = rules_in_force(engine.station, today)
    full = [one for one in assessments(rules, file, on=today) if one.is_kept]
    assert list(kept_assessments(rules, file, on=today)) == full
    assert full


def test_only_rules_of_a_type_that_fits_are_read_and_none_is_missed(
    make_engine, make_provision, station, today
) -> None:
    kept = EngineTypeFactory(station=station, designation="MX-4")
    PartRoleFactory(engine_type=kept)
    engine = make_engine(engine_type=kept)
    wanted = [{"type": ["MX-4"]}, {"type": ["MX*"]}, {"always": True}]
    for condition in [*wanted, {"type": ["TR-9"]}]:
        make_provision(rule__condition=condition)
    engine = Engine.objects.select_related("engine_type").get(pk=engine.pk)
    facts = engine_files([engine], on=today)[engine.pk].facts
    assert size_in_force(station, today) == (4, 4)
    first = library_in_force(station, today).for_engines([facts])
    again = library_in_force(station, today).for_engines([facts])
    assert [len(first), len(again)] == [4, 3]  # unknown rules are read and remembered
    assert {str(rule.version.condition) for rule in again} == {str(c) for c in wanted}


def test_a_rule_that_no_longer_names_a_type_takes_back_what_it_found(
    technician: Viewer, make_engine, make_provision, station, today, now
) -> None:
    engine = make_engine(
        engine_type=EngineTypeFactory(station=station, designation="MX-4")
    )
    provision = make_provision(rule__condition={"type": ["MX-4"]})
    about = [provision.revision.publication_id]
    refresh_library(about, station, on=today, at=now)
    assert Finding.objects.get().engine == engine
    provision.rules.update(current=False)
    make_provision(revision=provision.revision, rule__condition={"type": ["TR-9"]})
    refresh_library(about, station, on=today, at=now)
    assert not Finding.objects.exists()

"""Whom a revision concerns, may concern and does not concern, with the reasons."""

from __future__ import annotations

from datetime import date

import pytest

from notices.models import RuleVersion
from tests.factories.fleet import EngineTypeFactory
from tests.factories.notices import ProvisionFactory, RevisionFactory
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.publications import (
    affected_counts,
    affected_engines,
    tried_on_engines,
    unaffected_engines,
)


@pytest.fixture
def revision(make_provision):
    """Of engines built before 2021 with a geared drive; drives are often not known."""
    condition = {
        "all": [
            {"built": {"before": "2021-01-01"}},
            {"attribute": "drive", "in": ["geared"]},
        ]
    }
    return make_provision(rule__condition=condition).revision


@pytest.fixture
def fleet(make_engine, revision, technician: Viewer, now, today):
    """One engine that it concerns, one that it may concern, two that it does not."""
    concerned, perhaps = make_engine(), make_engine()
    made_later = make_engine(built=date(2021, 1, 1))
    direct = make_engine()
    for engine, drive in ((concerned, "geared"), (direct, "direct")):
        changes.set_attribute(
            technician, engine, "drive", drive, true_from=date(2026, 1, 1), at=now
        )
    return concerned, perhaps, made_later, direct


def test_every_engine_is_counted_once(technician: Viewer, revision, fleet) -> None:
    found = affected_counts(technician, revision)
    assert (found.applies, found.undetermined, found.does_not_apply) == (1, 1, 2)


def test_undetermined_engines_stand_first_with_the_missing_fact(
    technician: Viewer, revision, fleet, today
) -> None:
    concerned, perhaps, *_ = fleet
    page = affected_engines(technician, revision, today)
    assert [row.engine for row in page.rows] == [perhaps, concerned]
    assert any("drive" in fact for fact in page.rows[0].missing)
    assert any("geared" in reason for reason in page.rows[1].reasons)


def test_engines_it_does_not_concern_say_why(
    technician: Viewer, revision, fleet, today
) -> None:
    *_, made_later, direct = fleet
    rows = unaffected_engines(technician, revision, today).rows
    assert [row.engine for row in rows] == [made_later, direct]
    assert {row.outcome for row in rows} == {"does not apply"}
    assert "1 January 2021" in " ".join(rows[0].reasons)
    assert "direct" in " ".join(rows[1].reasons)


def test_a_draft_is_tried_out_without_leaving_a_finding(
    technician: Viewer, engine, station, today
) -> None:
    draft = RevisionFactory(publication__station=station)
    ProvisionFactory(revision=draft)
    assert RuleVersion.objects.get().frozen_at is None
    [row] = tried_on_engines(technician, draft, today).rows
    assert (row.engine, row.outcome, row.state) == (engine, "applies", "coming due")
    assert affected_engines(technician, draft, today).total == 0


def test_another_station_sees_none_of_the_engines(
    stranger: Viewer, revision, fleet, today
) -> None:
    assert affected_engines(stranger, revision, today).total == 0
    assert affected_counts(stranger, revision).does_not_apply == 0
    assert unaffected_engines(stranger, revision, today).engines == 0


@pytest.mark.parametrize("engines", [1, 20])
def test_pages_take_the_same_queries_for_one_engine_and_for_twenty(
    technician: Viewer,
    make_provision,
    make_engine,
    station,
    today,
    engines,
    django_assert_num_queries,
) -> None:
    revision = make_provision().revision
    other = make_provision(rule__condition={"type": ["QX-9"]}).revision
    kept = EngineTypeFactory(station=station)
    for _ in range(engines):
        make_engine(engine_type=kept)
    with django_assert_num_queries(2):  # count, page
        affected_engines(technician, revision, today)
    with django_assert_num_queries(2):  # findings, engines
        affected_counts(technician, revision)
    with django_assert_num_queries(21):  # rules, count, page, 17 of facts without parts
        unaffected_engines(technician, other, today)

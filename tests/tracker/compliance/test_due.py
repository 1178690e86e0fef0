"""The due list: states in SQL and exact, order, paging, who sees what."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests.factories.compliance import entry
from tests.factories.fleet import OwnerFactory
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes, tallies
from tracker.compliance.due import counts, due_list
from tracker.compliance.gaps import missing_facts, old_readings
from tracker.compliance.models import Finding
from tracker.compliance.overview import overview_of
from tracker.compliance.states import (
    COUNTED,
    FURTHER_FLIGHT,
    IF_IT_APPLIES,
    WORDS,
    due_of,
    lead_of,
    rank_of,
)
from tracker.fleet.models import Engine
from tracker.fleet.register import give_login


def within(hours: float) -> dict:
    return {"initial": {"hours": hours, "after": "effective"}}


def by(day: str) -> dict:
    return {"initial": {"date": day}}


# The engine had 480 h on the effective date and has 520 h now, read on 2026-11-20.
STATES = [
    (within(39), "overdue"),
    (within(40), "coming due"),  # exactly reached: still in time
    (within(65), "coming due"),
    (within(70), "outstanding"),
    (by("2026-11-23"), "overdue"),
    (by("2026-11-24"), "coming due"),  # the day itself is still in time
    (by("2027-01-23"), "coming due"),
    (by("2027-01-24"), "outstanding"),
    ({"initial": {"event": "further flight"}}, "before further flight"),
    ({"initial": {"unknown": "the document does not say"}}, "undetermined"),
    ({"initial": {"last_of": [{"hours": 1, "after": "effective"}, {"date": "2028-01-01"}]}}, "outstanding"),
    ({"initial": {"last_of": [{"hours": 1, "after": "effective"}, {"date": "2026-11-01"}]}}, "overdue"),
    ({"initial": {"first_of": [{"hours": 39, "after": "effective"}, {"date": "2028-01-01"}]}}, "overdue"),
    ({"initial": {"first_of": [{"unknown": "not said"}, {"date": "2026-11-01"}]}}, "overdue"),
    ({"initial": {"last_of": [{"hours": 65, "after": "effective"}, {"date": "2026-11-01"}]}}, "coming due"),
    ({"initial": {"last_of": [{"hours": 1, "after": "effective"}, {"date": "2026-12-01"}]}}, "coming due"),
    ({"initial": {"last_of": [{"hours": 65, "after": "effective"}, {"date": "2028-01-01"}]}}, "outstanding"),
    ({"initial": {"last_of": [{"hours": 1, "after": "effective"}, {"hours": 40, "after": "effective"}]}}, "coming due"),
    ({"initial": {"last_of": [{"hours": 1, "after": "effective"}, {"event": "overhaul"}]}}, "outstanding"),
    ({"initial": {"last_of": [{"unknown": "not said"}, {"date": "2026-11-01"}]}}, "undetermined"),
    ({"initial": {"first_of": [{"unknown": "not said"}, {"date": "2026-12-01"}]}}, "undetermined"),
    ({"initial": {"first_of": [{"hours": 90, "after": "effective"}, {"last_of": [{"date": "2026-11-01"}, {"hours": 1, "after": "effective"}]}]}}, "overdue"),
]  # fmt: skip


@pytest.mark.both
@pytest.mark.parametrize(("action", "word"), STATES)
def test_the_state_of_a_limit_is_told_as_it_is(
    technician: Viewer, make_engine, make_provision, today, now, action, word
) -> None:
    make_provision(rule__action=action)
    make_engine()
    page = due_list(technician, today)
    assert [row.word for row in page.rows] == [word]
    assert page.counts == {each: int(each == word) for each in COUNTED}


def test_what_must_be_done_before_flight_only_if_it_applies_is_counted_apart(
    technician: Viewer, make_engine, make_provision, today
) -> None:
    flight = {"initial": {"event": "further flight"}}
    make_provision(rule__action=flight)
    asks = {"ask": "Is the case stamped R?"}
    for _ in range(2):
        make_provision(rule__action=flight, rule__condition=asks)
    engine = make_engine()
    apart = {FURTHER_FLIGHT: 1, IF_IT_APPLIES: 2}
    page = due_list(technician, today, states=[FURTHER_FLIGHT])
    assert {word: n for word, n in page.counts.items() if n} == apart
    assert (page.total, len(page.rows)) == (3, 3)
    assert tallies.counts_of_engines(technician, [engine], today)[engine.pk] == apart
    assert overview_of(technician, engine.public_id, today).counts == apart
    assert tallies.most_urgent({IF_IT_APPLIES: 2}) == FURTHER_FLIGHT


def test_sql_and_the_whole_point_agree_on_every_state(
    technician: Viewer, make_engine, make_provision, today, now
) -> None:
    for action, _ in STATES:
        make_provision(rule__action=action)
    for hours in (48_500, 52_000, 55_001):
        make_engine(hours=(48_000, hours))
    page = due_list(technician, today, size=1000)
    assert page.total == len(STATES) * 3
    for row in page.rows:
        exact = rank_of(due_of(row.finding, on=today, lead=lead_of(technician.station)))
        assert row.finding.rank == exact, row.sentence  # type: ignore[attr-defined]  # annotated


def test_the_most_urgent_stands_first_and_pages_follow_on(
    technician: Viewer, make_engine, make_provision, today
) -> None:
    for action, _ in STATES:
        make_provision(rule__action=action)
    make_engine()
    words = [row.word for row in due_list(technician, today).rows]
    assert words == sorted(words, key=WORDS.index)
    paged = [
        row.word
        for number in (1, 2, 3, 4, 5)
        for row in due_list(technician, today, page=number, size=5).rows
    ]
    assert paged == words


def test_only_the_states_asked_for_are_listed(
    technician: Viewer, make_engine, make_provision, today
) -> None:
    for action, _ in STATES:
        make_provision(rule__action=action)
    make_engine()
    page = due_list(technician, today, states=["overdue"])
    assert {row.word for row in page.rows} == {"overdue"}
    assert page.total == 6


def test_what_the_engine_may_have_run_past_since_its_reading_is_listed_as_overdue(
    technician: Viewer, make_engine, make_provision, today
) -> None:
    make_provision(rule__action=within(40.5))  # 0.5 h left at the last reading
    make_engine()
    [row] = due_list(technician, today + timedelta(days=20)).rows
    assert row.word == "overdue"
    assert row.may_be_overdue


def test_a_closed_finding_is_not_listed(
    technician: Viewer, make_engine, make_provision, today, now
) -> None:
    provision = make_provision()
    engine = make_engine()
    done = entry(date(2026, 11, 20), hours=52_000, provision=provision)
    changes.record_work(technician, engine, done, at=now)
    assert due_list(technician, today).total == 0
    assert Finding.objects.count() == 1


def test_an_owner_sees_what_is_due_on_their_own_engines_only(
    technician: Viewer, viewer_as, make_engine, make_provision, station, today, now
) -> None:
    make_provision()
    viewer = viewer_as(Role.OWNER)
    owner = OwnerFactory(station=station)
    give_login(owner, viewer.user, now)
    mine = make_engine(owner=owner)
    make_engine(owner=OwnerFactory(station=station))
    assert [row.engine.pk for row in due_list(viewer, today).rows] == [mine.pk]
    assert sum(counts(viewer, today).values()) == 1


def test_another_station_sees_nothing(
    stranger: Viewer, make_engine, make_provision, today
) -> None:
    make_provision()
    make_engine()
    assert due_list(stranger, today).total == 0
    assert missing_facts(stranger, today) == []
    assert not old_readings(stranger, today)


@pytest.mark.parametrize("engines", [1, 20])
def test_a_due_list_takes_the_same_queries_for_one_engine_and_for_twenty(
    technician: Viewer,
    make_engine,
    make_provision,
    today,
    engines,
    django_assert_num_queries,
) -> None:
    for action, _ in STATES:
        make_provision(rule__action=action)
    for _ in range(engines):
        make_engine()
    # those that only the whole point can tell, counts by state, the page
    with django_assert_num_queries(3):
        due_list(technician, today)


def test_each_missing_fact_stands_once_with_what_it_would_decide(
    technician: Viewer, make_engine, make_provision, today
) -> None:
    for _ in range(2):
        make_provision(rule__condition={"attribute": "drive", "in": ["geared"]})
    first, second = make_engine(), make_engine()
    [missing] = missing_facts(technician, today)
    assert "drive" in missing.fact
    assert [lacking.engine.pk for lacking in missing.engines] == [first.pk, second.pk]
    assert missing.decides == 4


def test_an_engine_not_read_for_long_is_listed(
    technician: Viewer, make_engine, today
) -> None:
    engine = make_engine()
    assert not old_readings(technician, today)
    later = today + timedelta(days=technician.station.reading_age_days + 1)
    assert list(old_readings(technician, later)) == [Engine.objects.get(pk=engine.pk)]

"""What became so for an engine is noted once, in the transaction of its cause."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from notices.models import Provision
from tests.factories.compliance import entry
from tests.factories.fleet import EngineFactory, OwnerFactory
from tests.factories.notices import RevisionFactory
from tracker.accounts.models import Station
from tracker.compliance import changes
from tracker.compliance.events import longest_lead, note_events
from tracker.compliance.findings import refresh
from tracker.compliance.models import Event, EventKind, Finding
from tracker.compliance.rehearsing import rehearsing
from tracker.compliance.states import due_of, rank_of
from tracker.fleet.models import Engine, Preference

pytestmark = [pytest.mark.django_db, pytest.mark.both]
BY_A_DAY = {"initial": {"date": "2027-03-01"}}
EVERY_50 = {
    "initial": {"hours": 50, "after": "effective"},
    "repeat": {"hours": 50, "after": "last done"},
}


@pytest.fixture
def evaluate(station: Station, now: datetime) -> Callable[..., list[Event]]:
    """Evaluate every engine for a day and return the events that this added."""

    def run(on: date | None = None) -> list[Event]:
        before = set(Event.objects.values_list("pk", flat=True))
        engines = Engine.objects.filter(station=station).select_related("engine_type")
        refresh(station, engines, on=on or now.date(), at=now)
        return list(Event.objects.exclude(pk__in=before))

    return run


@pytest.fixture
def kinds(evaluate: Callable[..., list[Event]]) -> Callable[..., list[str]]:
    def run(on: date | None = None) -> list[str]:
        return sorted(event.kind for event in evaluate(on))

    return run


def test_what_newly_applies_is_noted_once(engine, make_provision, evaluate) -> None:
    provision = make_provision(rule__action={"initial": {"hours": 900, "after": "new"}})
    [event] = evaluate()
    assert (event.kind, event.engine, event.provision) == (
        EventKind.APPLIES,
        engine,
        provision,
    )
    assert event.said["is_new"]
    assert event.said["number"] == provision.revision.publication.number
    assert (event.said["hours"], event.said["word"]) == (90_000, "outstanding")
    assert evaluate() == []


def test_it_comes_due_and_then_overdue_once_each(
    engine, make_provision, kinds, now
) -> None:
    make_provision(rule__action=BY_A_DAY)
    assert kinds() == ["newly applies"]
    assert kinds(date(2026, 12, 30)) == []
    assert kinds(date(2026, 12, 31)) == ["coming due"]  # a lead of sixty days
    assert kinds(date(2027, 1, 1)) == []
    assert kinds(date(2027, 3, 1)) == ["reading is old"]
    assert kinds(date(2027, 3, 2)) == ["overdue"]
    assert kinds(date(2027, 3, 3)) == []
    overdue = Event.objects.get(kind=EventKind.OVERDUE)
    assert overdue.at_once
    assert overdue.mandatory  # the maker's category
    assert overdue.said["is_new"] is False
    assert overdue.happened_on == date(2027, 3, 2)


def test_a_due_point_that_moves_is_news_and_the_same_one_is_not(
    engine, make_provision, kinds, technician, now
) -> None:
    provision = make_provision(rule__action=EVERY_50)
    assert kinds() == ["coming due"]  # 50 h after the 480 h of 10 January
    done = entry(date(2026, 11, 24), hours=52_000, provision=provision)
    record = changes.record_work(technician, engine, done, at=now)
    assert Event.objects.count() == 1
    later = now + timedelta(days=30)
    changes.add_reading(
        technician,
        engine,
        on=date(2026, 12, 10),
        shown=54_600,
        at=later,
        confirmed=True,
    )
    assert Event.objects.latest("pk").said["hours"] == 57_000
    changes.void_record(technician, record, reason="Of another engine.", at=later)
    words = Event.objects.values_list("kind", "said__hours").order_by("pk")
    assert list(words) == [
        ("coming due", 53_000),
        ("coming due", 57_000),
        ("overdue", 53_000),
    ]


def test_what_may_be_overdue_is_told_again_when_it_is(
    engine, make_provision, evaluate, technician, now
) -> None:
    make_provision(rule__action={"initial": {"hours": 521, "after": "new"}})
    [event] = evaluate()
    assert event.kind == EventKind.COMING
    [maybe] = [
        one for one in evaluate(date(2026, 12, 20)) if one.kind == EventKind.OVERDUE
    ]
    assert "May be overdue" in maybe.said["sentence"]
    assert evaluate(date(2026, 12, 21)) == []
    changes.add_reading(
        technician, engine, on=date(2026, 12, 1), shown=52_500, at=now + timedelta(7)
    )
    surely = Event.objects.latest("pk")
    assert surely.kind == EventKind.OVERDUE
    assert surely.said["sentence"] != maybe.said["sentence"]


def test_a_missing_fact_is_asked_for_by_name(make_provision, make_engine) -> None:
    make_provision(rule__condition={"ask": "Is the mark seen?"})
    make_engine()
    [event] = Event.objects.filter(kind=EventKind.FACT)
    assert "Is the mark seen?" in event.said["missing"][0]
    assert not event.at_once


def test_what_applies_no_longer_says_so(
    engine, make_provision, kinds, technician, now
) -> None:
    make_provision(
        rule__condition={"attribute": "drive", "in": ["geared"]}, rule__action=BY_A_DAY
    )
    at = now
    changes.set_attribute(
        technician, engine, "drive", "geared", true_from=date(2026, 2, 1), at=at
    )
    Event.objects.all().delete()
    changes.set_attribute(
        technician, engine, "drive", "direct", true_from=date(2026, 3, 1), at=at
    )
    [event] = Event.objects.all()
    assert event.kind == EventKind.ENDED
    assert event.said["reasons"] == [
        "It does not apply as the engine's facts now stand."
    ]


def test_a_revision_that_takes_over_is_one_event(
    engine, make_provision, evaluate
) -> None:
    old = make_provision(rule__action=BY_A_DAY)
    evaluate()
    newer = RevisionFactory(
        publication=old.revision.publication,
        confirmed=True,
        label="next",
        summary="A shorter list of serials.",
        effective_on=date(2026, 11, 1),
        issued_on=date(2026, 11, 1),
    )
    make_provision(revision=newer, rule__action=BY_A_DAY)
    make_provision(revision=newer, rule__action=BY_A_DAY)
    [event] = evaluate()
    assert event.kind == EventKind.SUPERSEDED
    assert event.said["reasons"] == [
        f"Revision next has taken over from revision {old.revision.label}.",
        "A shorter list of serials.",
    ]
    assert evaluate() == []


def test_information_is_told_once(engine, make_provision, kinds) -> None:
    make_provision(
        kind="SL",
        rule__action={},
        **{"category": Provision.Category.INFORMATION},
    )
    assert kinds() == ["newly applies"]
    assert kinds() == []


def test_old_hours_are_noted_once_for_each_reading(engine, kinds, station) -> None:
    last = date(2026, 11, 24)
    age = timedelta(days=station.reading_age_days)
    assert kinds(last + age) == []
    assert kinds(last + age + timedelta(days=1)) == ["reading is old"]
    assert kinds(last + age + timedelta(days=9)) == []


def test_a_longer_interval_within_reach_is_noted(make_engine, interval, kinds) -> None:
    engine = make_engine()
    base = {"id": "b", "kind": "base", "hours": 1500, "since": "overhaul"}
    longer = {**base, "id": "e", "kind": "extension", "hours": 2000}
    first = interval(base)
    interval(longer, when={"embodied": "SB-9"}, beside=first)
    noted = kinds()
    assert "longer interval" in noted
    event = Event.objects.get(kind=EventKind.LONGER)
    assert (event.engine, event.said["word"]) == (engine, "within reach")
    assert "longer interval" not in kinds()


def test_the_longest_lead_of_an_owner_counts(engine, station, make_provision, kinds):
    make_provision(rule__action=BY_A_DAY)
    Preference.objects.create(
        owner=OwnerFactory(station=station), lead_days=120, lead_hours=100
    )
    lead = longest_lead(station)
    assert (lead.hours, lead.days) == (station.lead_hours, 120)
    assert kinds(date(2026, 11, 24)) == ["coming due"]


def test_a_rehearsal_notes_nothing(engine, make_provision, technician, now) -> None:
    make_provision(
        rule__condition={"attribute": "drive", "in": ["geared"]}, rule__action=BY_A_DAY
    )
    with rehearsing() as rehearsal:
        changes.set_attribute(
            technician, engine, "drive", "geared", true_from=date(2026, 2, 1), at=now
        )
    assert rehearsal.caused
    assert not Event.objects.exists()


@pytest.mark.parametrize("engines", [1, 20])
def test_as_many_queries_for_twenty_engines_as_for_one(
    station, make_provision, make_engine, now, django_assert_num_queries, engines: int
) -> None:
    make_provision(rule__action=BY_A_DAY)
    keys = [make_engine().pk for _ in range(engines)]
    with django_assert_num_queries(12):
        note_events(station, keys, on=date(2027, 3, 2), at=now)
    assert Event.objects.filter(kind=EventKind.OVERDUE).count() == engines


def test_day_after_day_it_notes_what_a_plain_comparison_would(
    make_engine, make_provision, station, now
) -> None:
    """Against a naive list: the exact state of each finding on each day, and the last."""
    lead = longest_lead(station)
    for limit in (
        {"hours": 530, "after": "new"},
        {"hours": 545, "after": "new"},
        {"date": "2027-01-15"},
        {"months": 14, "after": "effective"},
    ):
        make_provision(rule__action={"initial": limit})
    engines = [make_engine().pk, make_engine(hours=(50_000, 52_900)).pk]
    Event.objects.all().delete()
    last: dict[Any, Any] = {}
    for finding in _read(engines):
        last[finding.pk] = _stands(finding, now.date(), lead)
    expected = []
    for days in range(0, 240, 3):
        on = now.date() + timedelta(days=days)
        for finding in _read(engines):
            stands = _stands(finding, on, lead)
            if stands != last[finding.pk]:
                expected.append((on, finding.provision_id, finding.engine_id))
            last[finding.pk] = stands
        note_events(station, engines, on=on, at=now)
    told = Event.objects.exclude(provision=None).values_list(
        "happened_on", "provision_id", "engine_id"
    )
    assert len(expected) > 8
    assert sorted(told) == sorted(expected)


def _read(engines: list[int]) -> list[Finding]:
    rows = Finding.objects.filter(engine__in=engines)
    return list(rows.select_related("engine__standing"))


def _stands(finding: Finding, on: date, lead: Any) -> tuple[Any, bool]:
    due = due_of(finding, on=on, lead=lead)
    return rank_of(due), due.may_be_overdue


def test_an_engine_without_findings_is_passed_over(station, now) -> None:
    engine = EngineFactory(station=station)
    assert note_events(station, [engine.pk], on=now.date(), at=now) == 0

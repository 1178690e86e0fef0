"""The check of a new day: each station once its day begins, in parts, whole or not at all."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from tests.factories.accounts import StationFactory
from tests.factories.fleet import EngineFactory
from tracker.accounts.models import Station
from tracker.compliance.models import Event, Finding, Standing
from tracker.watch import jobs
from tracker.watch.jobs import checking
from tracker.watch.jobs.ticking import MOST_TRIES, TAKEN_UP_AFTER
from tracker.watch.models import Job, Run

pytestmark = pytest.mark.django_db(transaction=True)
MORNING = datetime(2026, 11, 25, 0, 5, tzinfo=UTC)
EVENING = datetime(2026, 11, 24, 22, 5, tzinfo=UTC)


def parts(day: date) -> dict[str, Run]:
    runs = Run.objects.filter(job=Job.CHECK, period=day.isoformat())
    return {run.shard: run for run in runs.order_by("pk")}


@pytest.mark.both
def test_a_new_day_is_checked_once(engine, make_provision) -> None:
    make_provision(effective_on=date(2026, 11, 25))
    for at, findings in (
        (datetime(2026, 11, 24, 12, 5, tzinfo=UTC), 0),
        (MORNING, 1),
        (MORNING + timedelta(hours=1), 1),
    ):
        jobs.tick(at)
        assert Finding.objects.count() == findings
    assert Standing.objects.get().evaluated_for == date(2026, 11, 25)
    planned = Run.objects.filter(job=Job.CHECK, shard="").order_by("period")
    assert [run.counts["parts"] for run in planned] == [1, 1, 0]
    assert Event.objects.count() == 1


def test_the_day_is_that_of_the_station(engine) -> None:
    east = StationFactory(time_zone="Asia/Tokyo")
    EngineFactory(station=east)
    jobs.tick(EVENING)
    days = Standing.objects.values_list("station", "evaluated_for")
    assert dict(days) == {
        engine.station_id: date(2026, 11, 24),
        east.pk: date(2026, 11, 25),
    }


def test_a_station_without_engines_is_looked_at_once_a_day(station: Station) -> None:
    jobs.tick(MORNING)
    jobs.tick(MORNING + timedelta(hours=1))
    [part] = parts(MORNING.date()).values()
    assert (part.shard, part.counts["engines"]) == (f"{station.pk}:0", 0)


@pytest.mark.both
def test_a_station_falls_into_parts_that_hold_each_engine_once(
    station: Station, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(checking, "ENGINES_AT_ONCE", 2)
    EngineFactory.create_batch(3, station=station)
    EngineFactory.create_batch(2)
    EngineFactory.create_batch(2, station=station)
    jobs.tick(MORNING)
    own = [run for shard, run in parts(MORNING.date()).items() if shard.startswith(f"{station.pk}:")]  # fmt: skip
    assert [run.counts["engines"] for run in own] == [2, 2, 1]
    assert Standing.objects.filter(station=station).count() == 5


@pytest.mark.both
def test_a_part_that_fails_is_kept_with_its_fault_and_the_others_go_on(
    station: Station, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(checking, "ENGINES_AT_ONCE", 1)
    bad, good = EngineFactory.create_batch(2, station=station)
    check = checking.check_new_day

    def failing(station, keys, **asked):
        checked = check(station, keys, **asked)
        if bad.pk in keys:
            raise ValueError("no reading is like this")
        return checked

    monkeypatch.setattr(checking, "check_new_day", failing)
    jobs.tick(MORNING)
    first, second = parts(MORNING.date()).values()
    assert (first.finished_at, first.error) == (
        None,
        "ValueError: no reading is like this",
    )
    assert second.finished_at is not None
    assert Standing.objects.get().engine == good, "nothing of the part was written"

    monkeypatch.setattr(checking, "check_new_day", check)
    jobs.tick(MORNING + TAKEN_UP_AFTER - timedelta(seconds=1))
    assert Standing.objects.count() == 1, "somebody may still be working on it"
    jobs.tick(MORNING + TAKEN_UP_AFTER)
    assert Standing.objects.count() == 2
    first.refresh_from_db()
    assert (first.error, first.counts["tries"]) == ("", 2)
    assert first.finished_at is not None


def test_what_fails_again_and_again_is_left(
    engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried = []

    def failing(*args, **asked):
        tried.append(asked["at"])
        raise ValueError

    monkeypatch.setattr(checking, "check_new_day", failing)
    for number in range(MOST_TRIES + 5):
        jobs.tick(MORNING + number * TAKEN_UP_AFTER)
    assert len(tried) == MOST_TRIES


def test_what_was_only_taken_up_was_not_tried(station: Station) -> None:
    """A process that dies at the first part says nothing against the others."""
    EngineFactory(station=station)
    taken = []
    for number in range(MOST_TRIES + 2):
        at = MORNING + number * TAKEN_UP_AFTER
        jobs.tick(at, wake=lambda run, at: taken.append(run))
        if number == 0:
            jobs.do(taken[0], at, wake=lambda run, at: None)
    [part] = parts(MORNING.date()).values()
    assert taken.count(part.pk) == MOST_TRIES + 1
    jobs.do(part.pk, MORNING)
    assert Standing.objects.exists()


def test_a_part_of_yesterday_is_not_made_good(
    engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(checking, "check_new_day", None)
        jobs.tick(EVENING)
    jobs.tick(MORNING)
    late, new = parts(EVENING.date()), parts(MORNING.date())
    assert [run.counts.get("overtaken") for run in late.values()] == [1]
    assert [run.counts["engines"] for run in new.values()] == [1]
    assert Standing.objects.get().evaluated_for == MORNING.date()


def test_runs_of_long_ago_are_forgotten(station: Station) -> None:
    jobs.tick(MORNING)
    jobs.tick(MORNING + timedelta(days=39))
    assert Run.objects.filter(period__startswith="2026-11-25T").exists()
    jobs.tick(MORNING + timedelta(days=41))
    assert not Run.objects.filter(period__startswith="2026-11-25T").exists()

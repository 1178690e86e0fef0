"""What stands still is said to whoever watches, and to a station in words."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client

from tests.factories.fleet import OwnerFactory
from tracker.accounts.models import Station
from tracker.watch import jobs, outbox
from tracker.watch.delivery.answers import Outcome
from tracker.watch.health import problems
from tracker.watch.heartbeat import heartbeat
from tracker.watch.jobs import checking
from tracker.watch.jobs.periods import EVERY
from tracker.watch.jobs.work import WORK
from tracker.watch.models import Attempt, Job, Message, MessageKind, Run

pytestmark = pytest.mark.django_db(transaction=True)
AT = datetime(2026, 11, 28, 6, 5, tzinfo=UTC)


def problems_at(at: datetime) -> list[str]:
    """As told at a moment; the clock of the database is not the test's."""
    return [one for one in problems(at) if "clocks" not in one]


@pytest.fixture
def message(station: Station) -> Message:
    letter = outbox.Letter(
        station=station,
        owner=OwnerFactory(station=station),
        kind=MessageKind.DIGEST,
        key="digest|1",
        address="post@ada.example",
        subject="What is due",
        text="Nothing.",
        html="<p>Nothing.</p>",
    )
    found = outbox.put(letter, at=AT)
    assert found is not None
    return found


@pytest.mark.both
def test_nothing_is_said_where_all_goes_on(station: Station) -> None:
    jobs.tick(AT)
    assert problems_at(AT) == []


def test_what_never_ran_is_named() -> None:
    assert problems_at(AT) == [
        f"Not done so far: {job.label}." for job in (Job.CHECK, *WORK)
    ]


@pytest.mark.both
@pytest.mark.parametrize("job", [Job.CHECK, *WORK])
def test_three_periods_without_a_tick_are_seen_within_two_and_caught_up(
    job: Job, station: Station
) -> None:
    every = EVERY[job]
    begun = datetime(2026, 11, 28, 6, 0, tzinfo=UTC)
    jobs.tick(begun)
    said = f"Not done since 2026-11-28T06:00Z: {job.label}."
    assert said not in problems_at(begun + 2 * every)
    assert said in problems_at(begun + 2 * every + timedelta(seconds=1))
    jobs.tick(begun + 4 * every)
    assert problems_at(begun + 4 * every) == []
    assert Run.objects.filter(job=job, shard="").latest("period").counts["missed"] == 3


def test_a_part_that_failed_is_said(engine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checking, "check_new_day", None)
    jobs.tick(AT)
    assert problems_at(AT) == ["1 part of a check failed."]


def test_a_message_that_waits_is_said(station: Station, message: Message) -> None:
    late = AT + timedelta(minutes=15)
    assert not any("wait" in one for one in problems_at(late))
    found = problems_at(late + timedelta(seconds=1))
    assert "Messages by mail wait since 2026-11-28 06:05 UTC." in found


def test_a_line_that_is_down_explains_what_waits(
    station: Station, message: Message
) -> None:
    for minute in range(5):
        Attempt.objects.create(
            message=message,
            started_at=AT + timedelta(minutes=minute),
            ended_at=AT + timedelta(minutes=minute),
            outcome=Outcome.OURS,
        )
    said = "Sending by mail has failed since 2026-11-28 06:05 UTC."
    assert not any("mail" in one for one in problems_at(AT + timedelta(minutes=30)))
    assert said in problems_at(AT + timedelta(minutes=31))
    Attempt.objects.create(
        message=message, started_at=AT, ended_at=AT, outcome=Outcome.SENT
    )
    assert said not in problems_at(AT + timedelta(minutes=31))


@pytest.mark.both
def test_clocks_that_differ_are_said() -> None:
    far = datetime.now(UTC) + timedelta(seconds=40)
    said = "The clocks of the database and of the service differ."
    assert (said in problems(far)) == (connection.vendor == "postgresql")
    assert said not in problems(datetime.now(UTC))


def test_the_addresses_answer_in_few_words(station: Station) -> None:
    client = Client()  # at the real time, which is also that of the database
    assert client.get("/healthz").json() == {"alive": True}
    before = client.get("/readyz")
    jobs.tick(datetime.now(UTC))
    after = client.get("/readyz")
    assert (before.status_code, before.json()["ready"]) == (503, False)
    assert (after.status_code, after.json()) == (200, {"ready": True, "problems": []})
    assert after["Cache-Control"].startswith("max-age=0")


@pytest.mark.parametrize(
    ("ran_at", "seen_at", "said"),
    [
        (AT, AT, "Checked for today at 06:05."),
        (None, AT, "No check has run yet."),
        (
            AT,
            AT + timedelta(days=2),
            "No check has run since that of 28 November 2026, at 06:05.",
        ),
    ],
)
def test_the_start_page_says_when_the_station_was_last_checked(
    ran_at: datetime | None, seen_at: datetime, said: str, technician, signed_in
) -> None:
    if ran_at:
        with time_machine.travel(ran_at, tick=False):
            jobs.tick(ran_at)
    with time_machine.travel(seen_at, tick=False):
        page = signed_in(technician).get("/").content.decode()
    assert said in " ".join(re.sub("<[^>]*>", "", page).split())


def test_messages_that_wait_are_counted(station: Station, message: Message) -> None:
    found = heartbeat(station, AT)
    assert (found.day, found.waiting, found.is_late) == (None, 1, True)
    jobs.tick(AT)
    found = heartbeat(station, AT)
    assert (found.day, found.waiting, found.is_late) == (date(2026, 11, 28), 0, False)


def test_a_station_is_late_some_hours_into_its_own_day(station: Station) -> None:
    station.time_zone = "Asia/Tokyo"
    station.save()
    jobs.tick(AT)  # 15:05 there
    midnight = datetime(2026, 11, 28, 15, 0, tzinfo=UTC)
    assert not heartbeat(station, midnight + timedelta(hours=2)).is_late
    assert heartbeat(station, midnight + timedelta(hours=3)).is_late

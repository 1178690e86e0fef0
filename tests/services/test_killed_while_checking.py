"""A check whose process is killed again and again ends as one that was left alone."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from datetime import date, datetime

import pytest
from django.conf import settings

from tests.factories.fleet import EngineFactory
from tests.factories.notices import (
    ProvisionFactory,
    PublicationFactory,
    RevisionFactory,
)
from tests.services.test_worker import database
from tests.tracker.compliance.new_days import evaluated_in_full, kept, noon
from tracker.accounts.models import Station
from tracker.compliance.changes import refresh_station
from tracker.watch.jobs.ticking import TAKEN_UP_AFTER
from tracker.watch.models import Run

pytestmark = [
    pytest.mark.services,
    pytest.mark.both,
    pytest.mark.django_db(transaction=True),
]
TODAY, TOMORROW = date(2026, 11, 24), date(2026, 11, 25)
ENGINES, KILLS = 24, 2
PATIENCE_SECONDS = 60


def checking(at: datetime) -> subprocess.Popen[bytes]:
    """A process that checks what is left of the day, two engines at once."""
    told = ["--tick-at", at.isoformat(), "--parts-of", "2"]
    return subprocess.Popen(  # noqa: S603 - our own interpreter and words
        [sys.executable, "-m", "tests.bench.bench_watch", *told],
        env={
            **os.environ,
            "TRACKER_DATABASE_URL": database(),
            "DJANGO_SETTINGS_MODULE": "tracker.settings",
        },
        cwd=settings.BASE_DIR,
        stdout=subprocess.DEVNULL,
    )


def parts_done() -> int:
    return Run.objects.exclude(shard="").exclude(finished_at=None).count()


def test_a_check_that_is_killed_resumes_where_it_was(station: Station) -> None:
    EngineFactory.create_batch(ENGINES, station=station)
    for day in (TODAY, TOMORROW):
        publication = PublicationFactory(station=station)
        revision = RevisionFactory(
            publication=publication, confirmed=True, effective_on=day
        )
        ProvisionFactory(revision=revision)
    refresh_station(station, TODAY, at=noon(TODAY))
    expected = evaluated_in_full(station, TOMORROW)
    at = noon(TOMORROW)
    for _ in range(KILLS):
        before, end = parts_done(), time.monotonic() + PATIENCE_SECONDS
        with checking(at) as process:
            while parts_done() == before and time.monotonic() < end:
                time.sleep(0.002)
            process.kill()
        assert before < parts_done() < ENGINES // 2, "killed too early or too late"
        at += TAKEN_UP_AFTER
    with checking(at) as process:
        assert process.wait(PATIENCE_SECONDS) == 0
    assert parts_done() == ENGINES // 2
    assert kept(station) == expected

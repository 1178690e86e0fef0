"""The tick, sent through Redis to a worker that is a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import pytest
from celery import Celery
from django.conf import settings
from django.db import connection
from redis import Redis
from redis.exceptions import RedisError

from tests.factories.fleet import EngineFactory
from tests.factories.notices import (
    ProvisionFactory,
    PublicationFactory,
    RevisionFactory,
)
from tracker.accounts.models import Station
from tracker.compliance.models import Finding, Standing
from tracker.watch.models import Job, Run

pytestmark = [
    pytest.mark.services,
    pytest.mark.both,
    pytest.mark.django_db(transaction=True),
]
REDIS = os.environ.get("TRACKER_REDIS_URL") or "redis://127.0.0.1:6379/0"
PATIENCE_SECONDS = 60


@pytest.fixture
def queue() -> Iterator[str]:
    """The address of a database of Redis that nobody uses, emptied afterwards."""
    for number in range(15, 0, -1):
        address = urlunsplit(urlsplit(REDIS)._replace(path=f"/{number}"))
        with Redis.from_url(address, socket_connect_timeout=2) as redis:
            try:
                free = redis.dbsize() == 0
            except RedisError as error:
                pytest.skip(f"Redis does not answer at {REDIS}: {error}")
            if free:
                yield address
                redis.flushdb()
                return
    pytest.skip(f"Every database of the Redis at {REDIS} is in use.")


def database() -> str:
    """The test's own database as the setting that names it."""
    name = str(connection.settings_dict["NAME"])
    if connection.vendor == "sqlite":
        return f"sqlite:///{name}"
    real = urlsplit(os.environ["TRACKER_DATABASE_URL"])
    return urlunsplit(real._replace(path=f"/{name}"))


@pytest.fixture
def worker(queue: str, tmp_path: Path) -> Iterator[Path]:
    """A worker process; its log is returned."""
    log = tmp_path / "worker.log"
    told = {"TRACKER_DATABASE_URL": database(), "TRACKER_REDIS_URL": queue}
    command = [sys.executable, "-m", "celery", "--app", "tracker.celery", "worker"]
    with (
        log.open("w") as out,
        subprocess.Popen(  # noqa: S603 - our own interpreter and words
            [*command, "--pool", "solo", "--loglevel", "INFO"],
            env={**os.environ, **told},
            cwd=settings.BASE_DIR,
            stdout=out,
            stderr=subprocess.STDOUT,
        ) as process,
    ):
        yield log
        process.terminate()


def test_a_new_day_is_evaluated_by_a_worker(
    station: Station, queue: str, worker: Path
) -> None:
    engine = EngineFactory(station=station)
    publication = PublicationFactory(station=station)
    revision = RevisionFactory(publication=publication, confirmed=True)
    ProvisionFactory(revision=revision)
    [entry] = settings.CELERY_BEAT_SCHEDULE.values()
    with Celery(broker=queue, set_as_current=False) as sender:
        sender.conf.broker_transport_options = settings.CELERY_BROKER_TRANSPORT_OPTIONS
        sender.send_task(entry["task"])
        sender.send_task(entry["task"])
    end = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < end and not Standing.objects.exists():
        time.sleep(0.2)
    assert Standing.objects.filter(engine=engine).exists(), worker.read_text()
    assert Finding.objects.get().engine == engine
    assert Run.objects.filter(job=Job.CHECK, shard="").count() == 1

"""The loop as a process of its own, and inside a web server, until it is told to stop."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time

import pytest
from django.conf import settings

from tests.factories.fleet import EngineFactory
from tests.services.test_worker import database
from tracker.accounts.models import Station
from tracker.compliance.models import Standing
from tracker.watch.models import Job, Run

pytestmark = [
    pytest.mark.services,
    pytest.mark.both,
    pytest.mark.django_db(transaction=True),
]
PATIENCE_SECONDS = 60


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port: int = found.getsockname()[1]
        return port


def started(*command: str) -> subprocess.Popen[bytes]:
    environment = {k: v for k, v in os.environ.items() if k != "TRACKER_REDIS_URL"}
    return subprocess.Popen(  # noqa: S603 - our own interpreter and words
        [sys.executable, *command],
        env=environment | {"TRACKER_DATABASE_URL": database()},
        cwd=settings.BASE_DIR,
    )


def wait_for(job: Job) -> None:
    end = time.monotonic() + PATIENCE_SECONDS
    done = Run.objects.filter(job=job, finished_at__isnull=False)
    while time.monotonic() < end and not done.exists():
        time.sleep(0.2)
    assert done.exists(), f"no {job.label} within {PATIENCE_SECONDS} s"


@pytest.mark.parametrize("word", ["watch", "web"])
def test_a_new_day_is_checked_and_the_end_is_clean(word: str, station: Station) -> None:
    engine = EngineFactory(station=station)
    served = ["-m", "gunicorn", "tracker.wsgi", "--bind", f"127.0.0.1:{free_port()}"]
    commands = {"watch": ["manage.py", "watch"], "web": served}
    with started(*commands[word]) as process:
        wait_for(Job.CHECK)
        process.send_signal(signal.SIGTERM)
        assert process.wait(PATIENCE_SECONDS) == 0
    assert Standing.objects.get().engine == engine


def test_once_does_what_is_due_and_ends(station: Station) -> None:
    EngineFactory(station=station)
    for _ in range(2):
        with started("manage.py", "watch", "--once") as process:
            assert process.wait(PATIENCE_SECONDS) == 0
    assert Run.objects.filter(job=Job.CHECK).exclude(shard="").count() == 1


def test_no_other_command_ticks(station: Station) -> None:
    with started("manage.py", "check") as process:
        assert process.wait(PATIENCE_SECONDS) == 0
    assert not Run.objects.exists()

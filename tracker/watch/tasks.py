"""Tasks of the queue. They only wake: what is to be done, and was, stands in the runs."""

from __future__ import annotations

import logging
from datetime import datetime

from celery import shared_task
from django.utils import timezone
from kombu.exceptions import OperationalError

from tracker.watch import jobs

log = logging.getLogger(__name__)


@shared_task
def tick() -> int:
    """Begin what is due; return how many jobs."""
    return jobs.tick(timezone.now(), wake=_wake)


@shared_task
def do_run(run: int) -> None:
    """Do one run, or wake others for the parts into which it falls."""
    jobs.do(run, timezone.now(), wake=_wake)


def _wake(run: int, at: datetime) -> None:
    """Put a run into the queue. Where that fails, a later tick finds the row."""
    try:
        do_run.delay(run)
    except OperationalError as fault:
        log.warning("run %d waits, the queue does not answer: %s", run, fault)

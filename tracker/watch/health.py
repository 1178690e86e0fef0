"""Is it alive: what stands still, in words for whoever looks after the installation."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from functools import cache
from typing import Final

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import Min, Q

from tracker.watch.delivery.answers import Outcome
from tracker.watch.delivery.breaker import IN_A_ROW
from tracker.watch.jobs.periods import EVERY, beginning_of
from tracker.watch.jobs.work import WORK
from tracker.watch.models import Attempt, Channel, Job, Message, Run

PERIODS: Final = 2
"""So many periods a job may lie back."""
PART_WITHIN: Final = timedelta(hours=2)
DUE_WITHIN: Final = timedelta(minutes=15)
SENDING_STOPS_FOR: Final = timedelta(minutes=30)
CLOCKS_WITHIN: Final = timedelta(seconds=30)


def problems(at: datetime) -> list[str]:
    """Return what stands in the way of the service, nothing where it is ready.

    Ten queries at most.
    """
    try:
        if not _is_migrated():
            return ["The tables are not those of this version: run manage.py migrate."]
        return [*_late_jobs(at), *_failed_parts(at), *_sending(at), *_clocks(at)]
    except DatabaseError:
        return ["The database does not answer as it should."]


def _is_migrated() -> bool:
    """Whether every migration was applied; once they are, they stay so."""
    if _migrated():
        return True
    _migrated.cache_clear()
    return False


@cache
def _migrated() -> bool:
    executor = MigrationExecutor(connection)
    return not executor.migration_plan(executor.loader.graph.leaf_nodes())


def _late_jobs(at: datetime) -> Iterator[str]:
    for job in (Job.CHECK, *WORK):
        finished = Run.objects.filter(job=job, shard="", finished_at__isnull=False)
        last = finished.order_by("-period").values_list("period", flat=True).first()
        if last is None:
            yield f"Not done so far: {job.label}."
        elif at - beginning_of(last) > PERIODS * EVERY[job]:
            yield f"Not done since {last}: {job.label}."


def _failed_parts(at: datetime) -> Iterator[str]:
    """Parts of a check that failed, or that nobody has finished for hours."""
    open_ = Run.objects.filter(job=Job.CHECK, finished_at=None).exclude(shard="")
    since = (at - timedelta(days=2)).date().isoformat()
    stuck = ~Q(error="") | Q(started_at__lte=at - PART_WITHIN)
    count = open_.filter(stuck, period__gte=since).count()
    if count:
        yield f"{count} {'part' if count == 1 else 'parts'} of a check failed."


def _sending(at: datetime) -> Iterator[str]:
    """A channel that is out of order explains why its messages wait."""
    oldest = dict(
        Message.objects.due(at)
        .order_by()
        .values_list("channel")
        .annotate(oldest=Min("not_before"))
    )
    for channel in Channel:
        since = _fails_since(channel)
        due = oldest.get(channel)
        if since is not None:
            if at - since > SENDING_STOPS_FOR:
                yield f"Sending by {channel.label} has failed since {_written(since)}."
        elif due is not None and at - due > DUE_WITHIN:
            yield f"Messages by {channel.label} wait since {_written(due)}."


def _fails_since(channel: Channel) -> datetime | None:
    """Return when the tries began that fail for a reason of ours, None if few do."""
    tries = Attempt.objects.filter(message__channel=channel)
    good = tries.exclude(outcome=Outcome.OURS).order_by("-pk")
    last_good = good.values_list("pk", flat=True).first() or 0
    failed = tries.filter(pk__gt=last_good).order_by("pk")
    ended = list(failed.values_list("ended_at", flat=True)[:IN_A_ROW])
    return ended[0] if len(ended) == IN_A_ROW else None


def _clocks(at: datetime) -> Iterator[str]:
    if connection.vendor != "postgresql":
        return  # it runs in this process, by the same clock
    with connection.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        [there] = cursor.fetchone()
    if abs(there - at) > CLOCKS_WITHIN:
        yield "The clocks of the database and of the service differ."


def _written(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M} UTC"

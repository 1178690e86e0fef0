"""One tick: each job whose period nobody has begun is begun, by whoever adds its run.

Beat, the loop inside a web process and the loop of a command all call the same tick. A
second one finds the runs of the first. Periods that passed without a tick are counted
and made good by the present one: every job does all that is due by then.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Final

from django.db import IntegrityError, transaction
from django.utils import timezone

from tracker.watch.jobs.checking import check_shard, plan_checks
from tracker.watch.jobs.periods import missed_between, period_of
from tracker.watch.jobs.work import WORK
from tracker.watch.models import Job, Run

log = logging.getLogger(__name__)

TAKEN_UP_AFTER: Final = timedelta(minutes=6)
"""Longer than a task may run: what is unfinished by then, nobody is working on."""
MOST_TRIES: Final = 12
Wake = Callable[[int, datetime], None]
"""Sees to it that the run with this key is done, now or soon."""


def tick(at: datetime, *, wake: Wake | None = None) -> int:
    """Begin every job whose present period nobody has begun; return how many.

    Parts of a check that were begun and left are taken up again. `wake`: None to do
    the work here. Two queries where there is nothing to do.
    """
    wake = wake or do
    begun = 0
    for job in _not_begun(at):
        run = _begin(job, at)
        if run is not None:
            wake(run, at)
            begun += 1
    for run in _left_undone(at):
        wake(run, at)
    return begun


def do(run: int, at: datetime, *, wake: Wake | None = None) -> None:
    """Do a run that is not finished yet; a fault is kept on it and goes no further.

    `wake`: of the parts into which it falls, None to do them here, too.
    """
    found = Run.objects.get(pk=run)
    if found.finished_at is not None:
        return
    try:
        parts = _carry_out(found, at)
    except Exception as fault:
        log.exception("%s failed", found)
        said = f"{type(fault).__name__}: {fault}"[:300]
        Run.objects.filter(pk=run).update(error=said)
        return
    for part in parts:
        (wake or do)(part, at)


def _carry_out(run: Run, at: datetime) -> list[int]:
    """Do the work and mark it; return the keys of the runs into which it fell."""
    if run.job == Job.CHECK:
        _count_try(run)
    if run.shard:
        check_shard(run, at)
        return []
    parts: list[int] = []
    if run.job == Job.CHECK:
        parts, counts = plan_checks(at)
    else:
        counts = WORK[Job(run.job)](at)
    run.counts |= counts
    run.finished_at, run.error = timezone.now(), ""
    run.save(update_fields=["counts", "finished_at", "error"])
    log.info("%s: %s", run, run.counts)
    return parts


def _count_try(run: Run) -> None:
    """Written before the work, which may end the process."""
    run.counts |= {"tries": run.counts.get("tries", 0) + 1}
    Run.objects.filter(pk=run.pk, finished_at=None).update(counts=run.counts)


def _not_begun(at: datetime) -> list[Job]:
    present = {job: period_of(job, at) for job in (Job.CHECK, *WORK)}
    runs = Run.objects.filter(shard="", period__in=set(present.values()))
    known = set(runs.values_list("job", "period"))
    return [job for job, period in present.items() if (job, period) not in known]


def _begin(job: Job, at: datetime) -> int | None:
    """Add the run of the present period; None where somebody else just did."""
    period = period_of(job, at)
    runs = Run.objects.filter(job=job, shard="", period__lt=period)
    last = runs.order_by("-period").values_list("period", flat=True).first()
    missed = missed_between(job, last, period) if last else 0
    try:
        with transaction.atomic():
            run = Run.objects.create(
                job=job,
                period=period,
                started_at=at,
                counts={"missed": missed} if missed else {},
            )
    except IntegrityError:
        return None
    if missed:
        log.warning("%s: %d periods passed without a run", job.label, missed)
    return run.pk


def _left_undone(at: datetime) -> list[int]:
    """Take up what was begun of a check and not finished; return the keys.

    Only one who changes the row that was read has it. After some tries it is left, so
    that what kills its worker does not do so for ever.
    """
    left = Run.objects.filter(
        job=Job.CHECK, finished_at=None, started_at__lte=at - TAKEN_UP_AFTER
    )
    taken = []
    for run in left.order_by("pk"):
        if run.counts.get("tries", 0) >= MOST_TRIES:
            continue
        same = Run.objects.filter(pk=run.pk, started_at=run.started_at)
        if same.filter(finished_at=None).update(started_at=at):
            log.warning("%s was left undone and is taken up again", run)
            taken.append(run.pk)
    return taken

"""The check of a new day: each station once it begins there, in parts that can be redone.

A part is some of the station's engines, by their keys, and one row among the runs. Its
work and its mark are one transaction: where a process dies, nothing of the part is
written, and whoever takes it up again begins with the first part that has no mark.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any, Final

from django.db import IntegrityError, transaction
from django.utils import timezone

from tracker.accounts.models import Station
from tracker.compliance.changes import check_new_day
from tracker.compliance.transactions import one_transaction
from tracker.fleet.entries import day_at
from tracker.fleet.models import Engine
from tracker.watch.models import Job, Run

log = logging.getLogger(__name__)

ENGINES_AT_ONCE: Final = 1000
KEPT_FOR: Final = timedelta(days=40)


def plan_checks(at: datetime) -> tuple[list[int], dict[str, int]]:
    """Add the parts of every station whose day is new; return their keys, and counts.

    Runs of long ago are forgotten on the way.
    """
    Run.objects.filter(started_at__lt=at - KEPT_FOR).delete()
    stations = list(Station.objects.order_by("pk"))
    days = {station.pk: day_at(station, at) for station in stations}
    planned = _planned(set(days.values()))
    new = [one for one in stations if (one.pk, days[one.pk]) not in planned]
    parts = [part for one in new for part in _plan(one, days[one.pk], at)]
    return parts, {"stations": len(new), "parts": len(parts)}


def _planned(days: set[date]) -> set[tuple[int, date]]:
    """Return for which stations the check of which of these days was planned."""
    written = {day.isoformat(): day for day in days}
    runs = Run.objects.filter(job=Job.CHECK, period__in=written).exclude(shard="")
    found = runs.values_list("shard", "period")
    return {(station_of(shard), written[period]) for shard, period in found}


def station_of(shard: str) -> int:
    return int(shard.partition(":")[0])


def _plan(station: Station, day: date, at: datetime) -> list[int]:
    """Add the parts of one station for a day; none where somebody else just did."""
    rows = [
        Run(
            job=Job.CHECK,
            period=day.isoformat(),
            shard=f"{station.pk}:{number}",
            started_at=at,
            counts={"first": first, "last": last},
        )
        for number, (first, last) in enumerate(_ranges(station))
    ]
    try:
        with transaction.atomic():
            return [run.pk for run in Run.objects.bulk_create(rows)]
    except IntegrityError:
        return []


def _ranges(station: Station) -> Iterator[tuple[int, int | None]]:
    """Yield the first and last key of each part; the last part has no end.

    There is one part at least, so that a station without engines is planned, too.
    """
    keys = Engine.objects.filter(station=station).order_by("pk")
    firsts = list(keys.values_list("pk", flat=True))[::ENGINES_AT_ONCE] or [0]
    for first, after in zip(firsts, [*firsts[1:], None], strict=True):
        yield first, None if after is None else after - 1


def check_shard(run: Run, at: datetime) -> None:
    """Check the engines of a part for its day, and mark it, in one transaction.

    A second one who comes to the same part waits, and finds it marked. A day that is
    over is not made good: the check of the present day sees all that happened since.
    """
    with one_transaction():
        held = Run.objects.select_for_update().get(pk=run.pk)
        if held.finished_at is not None:
            return
        station = Station.objects.get(pk=station_of(held.shard))
        counts: dict[str, Any] = {"overtaken": 1}
        day = day_at(station, at)
        if day.isoformat() == held.period:
            checked = check_new_day(station, _engines(station, held), on=day, at=at)
            counts = checked.as_counts()
        held.counts |= counts
        held.finished_at, held.error = timezone.now(), ""
        held.save(update_fields=["counts", "finished_at", "error"])
    log.info("%s: %s", held, held.counts)


def _engines(station: Station, run: Run) -> list[int]:
    """Return the keys of a part's engines, locked in their order."""
    engines = Engine.objects.filter(station=station, pk__gte=run.counts["first"])
    if run.counts["last"] is not None:
        engines = engines.filter(pk__lte=run.counts["last"])
    locked = engines.select_for_update().order_by("pk")
    return list(locked.values_list("pk", flat=True))

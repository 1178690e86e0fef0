"""Tasks of the evaluation: keys in, one call, a count out."""

from __future__ import annotations

import logging

from celery import shared_task
from django.utils import timezone

from tracker.accounts.models import Station
from tracker.compliance.changes import refresh_station, stations_behind
from tracker.fleet.entries import day_at

logger = logging.getLogger(__name__)


@shared_task
def refresh_findings(station: int) -> int:
    """Evaluate the engines of a station for today there; return how much changed."""
    at = timezone.now()
    found = Station.objects.get(pk=station)
    changed = refresh_station(found, day_at(found, at), at=at)
    logger.info(
        "station %d: %d findings added, %d changed, %d removed",
        station,
        changed.added,
        changed.changed,
        changed.removed,
    )
    return changed.added + changed.changed + changed.removed


@shared_task
def refresh_every_station() -> int:
    """Start a task for each station where a new day has begun; return for how many."""
    behind = stations_behind(timezone.now())
    for station in behind:
        refresh_findings.delay(station)
    logger.info("%d stations have a new day", len(behind))
    return len(behind)

"""When a station was last checked, and what waits to be sent, for its start page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from django.db.models import Count, Max, Q

from tracker.accounts.models import Station
from tracker.fleet.entries import day_at
from tracker.watch.models import Job, Message, MessageState, Run

LATE_AFTER: Final = timedelta(hours=3)
"""So long after a day has begun its check should be done."""
_UNDER_WAY: Final = (MessageState.WAITING, MessageState.SENDING, MessageState.UNSURE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heartbeat:
    """`day`: for which the station was last checked as a whole, None for none so far.

    `at`: when that ended. `waiting`: messages that are yet to be sent. `is_late`: the
    check of today should have been done by now.
    """

    day: date | None
    at: datetime | None
    waiting: int
    is_late: bool


def heartbeat(station: Station, at: datetime) -> Heartbeat:
    """Return how a station stands. Two queries."""
    parts = Run.objects.filter(job=Job.CHECK, shard__startswith=f"{station.pk}:")
    days = parts.values("period").annotate(
        open=Count("pk", filter=Q(finished_at=None)), ended=Max("finished_at")
    )
    last = days.filter(open=0).order_by("-period").first()
    day = date.fromisoformat(last["period"]) if last else None
    waiting = Message.objects.filter(station=station, state__in=_UNDER_WAY)
    return Heartbeat(
        day=day,
        at=last["ended"] if last else None,
        waiting=waiting.count(),
        is_late=day is None or day < day_at(station, at - LATE_AFTER),
    )

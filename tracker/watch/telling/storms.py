"""The guard against storms: far more mails at once than ever are held for a person."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from django.db.models import Count

from tracker.accounts.models import Station
from tracker.watch.models import Message, MessageKind, MessageState

ALWAYS: Final = 50
TIMES: Final = 3
LOOKED_BACK: Final = timedelta(days=30)
HELD: Final = (
    "Held: far more mails of this kind at once than in any run of the last 30 days. "
    "Release it if what it says is so."
)


class StormGuard:
    """Counts the mails of one run by station, and says which of them are held."""

    def __init__(self, at: datetime) -> None:
        self._at = at
        self._written: dict[int, int] = {}
        self._most: dict[int, int] = {}

    def reason(self, station: Station) -> str:
        """Count one more mail; return why it is held, empty where it may go."""
        number = self._written.get(station.pk, 0) + 1
        self._written[station.pk] = number
        if number <= ALWAYS or number <= self._most_of(station):
            return ""
        return HELD

    def _most_of(self, station: Station) -> int:
        if station.pk not in self._most:
            self._most[station.pk] = TIMES * largest_run(station, before=self._at)
        return self._most[station.pk]


def largest_run(station: Station, *, before: datetime) -> int:
    """Return how many mails the largest run wrote at once and did not hold. One query.

    What a run writes bears its moment; a mail that was released counts as well.
    """
    sent = Message.objects.filter(
        station=station,
        kind=MessageKind.OVERDUE,
        created_at__gt=before - LOOKED_BACK,
        created_at__lt=before,
    ).exclude(state=MessageState.HELD)
    runs = sent.order_by().values("created_at").annotate(mails=Count("pk"))
    return max((run["mails"] for run in runs), default=0)

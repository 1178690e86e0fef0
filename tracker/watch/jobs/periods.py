"""How often each job runs. Periods begin at round times in UTC, which jumps nowhere."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Final

from tracker.watch.models import Job

EVERY: Final[Mapping[Job, timedelta]] = {
    Job.CHECK: timedelta(hours=1),
    Job.TELL: timedelta(minutes=1),
    Job.SEND: timedelta(minutes=1),
    Job.READ: timedelta(minutes=5),
}
_WRITTEN: Final = "%Y-%m-%dT%H:%MZ"


def period_of(job: Job, at: datetime) -> str:
    """Return the period of a moment as it is written: texts sort as times do."""
    every = EVERY[job]
    midnight = at.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    whole = (at - midnight) // every
    return (midnight + whole * every).strftime(_WRITTEN)


def beginning_of(period: str) -> datetime:
    """Return the moment with which a period begins."""
    return datetime.strptime(period, _WRITTEN).replace(tzinfo=UTC)


def missed_between(job: Job, last: str, period: str) -> int:
    """Return how many periods lie between two, of which neither was missed."""
    passed = (beginning_of(period) - beginning_of(last)) // EVERY[job]
    return max(passed - 1, 0)

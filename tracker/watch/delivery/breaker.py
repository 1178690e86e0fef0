"""When a channel is left alone because sending by it fails for a reason of ours.

It is read from the last tries, which all senders write down: nothing else is kept, and
a process that starts anew knows as much as one that ran all the time.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import takewhile
from typing import Final

from tracker.watch.delivery.answers import Outcome
from tracker.watch.models import Attempt, Channel

IN_A_ROW: Final = 5
FIRST_PAUSE: Final = timedelta(seconds=60)
LONGEST_PAUSE: Final = timedelta(minutes=10)
_READ: Final = IN_A_ROW + 4
"""So many failures in a row make the pause the longest; more are not counted."""


def failures_of(channel: Channel) -> list[datetime]:
    """Return when the last tries failed in a row, the latest first. One query."""
    tries = Attempt.objects.filter(message__channel=channel).order_by("-pk")
    rows = tries.values_list("outcome", "ended_at")[:_READ]
    return [ended for _, ended in takewhile(lambda row: row[0] == Outcome.OURS, rows)]


def is_open(failures: list[datetime], at: datetime) -> bool:
    """Whether nothing is to be tried now. A clock that was set back opens nothing."""
    if not is_probing(failures):
        return False
    doubled: timedelta = FIRST_PAUSE * 2 ** (len(failures) - IN_A_ROW)
    return failures[0] <= at < failures[0] + min(doubled, LONGEST_PAUSE)


def is_probing(failures: list[datetime]) -> bool:
    """Whether only one message is to be tried, to see whether it goes again."""
    return len(failures) >= IN_A_ROW

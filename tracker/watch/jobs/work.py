"""What each job does, beside the check of the new day: all that is due by a moment."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Final

from notices.documents import DocumentLost
from notices.models import Document
from notices.reader import read_document
from tracker.watch import delivery, hooks, telling
from tracker.watch.models import Job


def read(at: datetime) -> dict[str, int]:
    """Read the documents that wait for it, each in a limited process of its own."""
    counts = {"read": 0, "lost": 0}
    for document in Document.objects.waiting():
        try:
            read_document(document)
        except DocumentLost:
            counts["lost"] += 1
        else:
            counts["read"] += 1
    return counts


def tell(at: datetime) -> dict[str, int]:
    """Write what is to be told of the events that nobody was told of."""
    return {"for webhooks": hooks.write_events(at), "messages": telling.write_due(at)}


def send(at: datetime) -> dict[str, int]:
    """Send the messages that are due, for a minute at most."""
    return delivery.deliver_due(at).as_counts()


WORK: Final[Mapping[Job, Callable[[datetime], dict[str, int]]]] = {
    Job.TELL: tell,
    Job.SEND: send,
    Job.READ: read,
}

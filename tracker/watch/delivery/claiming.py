"""Who sends what: messages are claimed by lease, in short transactions.

Leases are compared with the clock of the database, which all senders share; `not_before`
with the moment that the sender names. No transaction is open while something is sent.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final
from uuid import UUID, uuid4

from django.db import connection
from django.db.models import F
from django.db.models.functions import Now

from tracker.compliance.transactions import one_transaction
from tracker.watch.delivery.answers import Outcome
from tracker.watch.models import Attempt, Channel, Message, MessageState

BATCH: Final = 20
LEASE: Final = timedelta(seconds=300)
USED: Final = 0.6
"""Which part of a lease may pass before the last message of a batch is begun."""


@dataclass(frozen=True, slots=True)
class Claim:
    """Messages that are one sender's until the lease runs out."""

    token: UUID
    lease: timedelta
    messages: list[Message]


def is_any_due(channel: Channel, *, at: datetime) -> bool:
    """Whether there is anything to claim, asked without a lock."""
    return Message.objects.due(at).filter(channel=channel).exists()


def claim(channel: Channel, *, at: datetime, most: int, lease: timedelta) -> Claim:
    """Take the messages of a channel whose turn it is, those due longest first.

    What another sender is just taking is passed over, not waited for.
    """
    token = uuid4()
    due = Message.objects.due(at).filter(channel=channel)
    if connection.features.has_select_for_update_skip_locked:
        due = due.select_for_update(skip_locked=True, of=("self",))
    with one_transaction():
        found = list(due.order_by("not_before", "pk")[:most])
        _note_killed(found, lease, at=at)
        keys = [message.pk for message in found]
        Message.objects.filter(pk__in=keys).update(
            state=MessageState.SENDING, claim=token, lease_until=Now() + lease
        )
    return Claim(token, lease, found)


def begin(message: Message, claim: Claim) -> bool:
    """Note that a message is in hand from now on; False where it is ours no more.

    Until it is marked, nobody can say whether it was taken: should the sender die, the
    row already says so. Its lease begins anew.
    """
    with one_transaction():
        ours = Message.objects.filter(
            pk=message.pk, claim=claim.token, state=MessageState.SENDING
        )
        changed = ours.update(
            state=MessageState.UNSURE,
            unsure=F("unsure") + 1,
            lease_until=Now() + claim.lease,
        )
    return bool(changed)


def give_back(claim: Claim) -> int:
    """Let others have what was claimed and not begun; return how many."""
    with one_transaction():
        return Message.objects.filter(
            claim=claim.token, state=MessageState.SENDING
        ).update(state=MessageState.WAITING, claim=None, lease_until=None)


def _note_killed(found: list[Message], lease: timedelta, *, at: datetime) -> None:
    """Add the try of each message whose sender ended with it in hand."""
    Attempt.objects.bulk_create(
        Attempt(
            message=message,
            started_at=message.lease_until - lease if message.lease_until else at,
            ended_at=at,
            outcome=Outcome.UNSURE,
            reply="The sender ended before an answer came.",
        )
        for message in found
        if message.state == MessageState.UNSURE and message.claim is not None
    )

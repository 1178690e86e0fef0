"""What follows from the answer to a try: the state of its message, and the try's row."""

from __future__ import annotations

import logging
import random
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, Final, assert_never
from uuid import UUID

from tracker.compliance.transactions import one_transaction
from tracker.fleet.models import Preference
from tracker.watch.delivery.answers import Answer, Outcome
from tracker.watch.models import Attempt, Channel, Message, MessageState

log = logging.getLogger(__name__)

MOST_TRIES: Final = 12
MOST_UNSURE: Final = 3
OLDEST: Final = timedelta(hours=72)
FIRST_WAIT_SECONDS: Final = 60
LONGEST_WAIT_SECONDS: Final = 2 * 60 * 60
PASSED_OVER: Final = timedelta(seconds=60)
"""How long a message stands back that may have caused a fault itself, unknown to us:
others go first. Where the other end heard nothing of it, it keeps its turn.
"""


def mark(
    message: Message, token: UUID, answer: Answer, *, started: datetime, ended: datetime
) -> bool:
    """Write down a try and what follows from it; False where the lease was lost.

    Run again with the same words, it changes nothing. `message` is as it was claimed.
    """
    with one_transaction():
        held = Message.objects.filter(pk=message.pk, claim=token)
        columns = _follows(message, answer, ended)
        is_ours = bool(held.update(reply=answer.reply[:500], **columns))
        Attempt.objects.get_or_create(
            message=message,
            started_at=started,
            defaults={
                "ended_at": ended,
                "outcome": answer.outcome,
                "code": answer.code,
                "reply": answer.reply[:500] if is_ours else "",
            },
        )
        if is_ours and columns["state"] == MessageState.FAILED:
            _mark_address(message, answer.reply, ended)
    if not is_ours:
        log.warning("message %s: the lease was lost while it was sent", message.pk)
    return is_ours


def mark_taken(message: Message, token: UUID, *, at: datetime) -> bool:
    """Mark a message as sent of which the other end says that it has it already."""
    return _end(message, token, state=MessageState.SENT, sent_at=at)


def park(message: Message, token: UUID, reason: str) -> bool:
    """Put a message aside without a further try."""
    return _end(message, token, state=MessageState.PARKED, reason=reason)


def wait_seconds(tries: int) -> float:
    """Return how long to wait after so many tries before: anything up to a limit.

    Drawn anew for each, so that what failed together does not come back together.
    """
    most = min(LONGEST_WAIT_SECONDS, FIRST_WAIT_SECONDS * 2**tries)
    return random.uniform(0, most)  # noqa: S311  # spreads load, guards nothing


def _end(message: Message, token: UUID, **columns: Any) -> bool:
    with one_transaction():
        held = Message.objects.filter(pk=message.pk, claim=token)
        return bool(held.update(claim=None, lease_until=None, **columns))


def _follows(message: Message, answer: Answer, at: datetime) -> Mapping[str, Any]:
    """Return the columns that an answer changes."""
    judged = {
        "claim": None,
        "lease_until": None,
        "unsure": message.unsure,
        "attempts": message.attempts + 1,
    }
    match answer.outcome:
        case Outcome.SENT:
            return judged | {
                "state": MessageState.SENT,
                "sent_at": at,
                "reason": "",
            }
        case Outcome.LATER:
            wait = timedelta(seconds=wait_seconds(message.attempts))
            return judged | _again(message, message.attempts + 1, at, at + wait)
        case Outcome.OURS:
            turn = at + PASSED_OVER if answer.reached else message.not_before
            again = _again(message, message.attempts, at, turn)
            return judged | again | {"attempts": message.attempts}
        case Outcome.REFUSED if message.channel == Channel.MAIL:
            reason = "The address does not take it."
            return judged | {"state": MessageState.FAILED, "reason": reason}
        case Outcome.REFUSED | Outcome.BROKEN:
            reason = answer.reply[:300] or "It cannot be sent as it stands."
            return judged | {"state": MessageState.PARKED, "reason": reason}
        case Outcome.UNSURE:
            # The lease stays: only after it the same bytes go again.
            return {"state": MessageState.UNSURE, "claim": None}
        case never:
            assert_never(never)


def _again(
    message: Message, tries: int, at: datetime, not_before: datetime
) -> dict[str, Any]:
    """Let it wait for another try, unless it had enough of them or is too old.

    A webhook is tried until it is too old: a system of a shop may be away for a weekend.
    """
    reason = ""
    if tries >= MOST_TRIES and message.channel == Channel.MAIL:
        reason = f"It was tried {tries} times."
    elif at - message.created_at > OLDEST:
        hours = OLDEST // timedelta(hours=1)
        reason = f"It was written more than {hours} hours ago, and not taken since."
    if reason:
        return {"state": MessageState.PARKED, "reason": reason}
    return {"state": MessageState.WAITING, "not_before": not_before}


def _mark_address(message: Message, reply: str, at: datetime) -> None:
    """Note at the owner that their address refuses mail, if it is still theirs."""
    owner = message.owner
    if owner is None or owner.email.lower() != message.address.lower():
        return
    Preference.objects.update_or_create(
        owner=owner,
        defaults={
            "refused_address": message.address,
            "refused_at": at,
            "refused_reply": reply[:300],
        },
    )

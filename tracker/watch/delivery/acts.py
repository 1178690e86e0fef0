"""What a person does with a message: send it again, or release it. One transaction each."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from tracker.accounts.access import Right, Viewer
from tracker.compliance.transactions import one_transaction
from tracker.fleet.errors import Refused
from tracker.watch import outbox
from tracker.watch.models import Message, MessageState

_ENDED: Final = (MessageState.FAILED, MessageState.PARKED)


def resend(viewer: Viewer, message: Message, *, at: datetime) -> Message:
    """Send a message again and return the one that will go, to the present address.

    One that was refused or put aside waits again, the same words under the same id. One
    that was sent is written anew, with an id of its own; a second time within the same
    minute returns the first. Raises Forbidden and Refused.
    """
    viewer.require(Right.SEND_MESSAGES)
    with one_transaction():
        locked = _locked(viewer, message)
        address = _address(locked)
        if locked.state == MessageState.SENT:
            return _copied(locked, address, at)
        if locked.state not in _ENDED:
            raise Refused("", "It has not ended yet: it goes by itself, or is held.")
        locked.address = address
        locked.attempts, locked.unsure = 0, min(locked.unsure, 1)
        return _waiting(locked, at)


def release(viewer: Viewer, message: Message, *, at: datetime) -> Message:
    """Let a message go that was held back. Raises Forbidden and Refused."""
    viewer.require(Right.SEND_MESSAGES)
    with one_transaction():
        locked = _locked(viewer, message)
        if locked.state != MessageState.HELD:
            raise Refused("", "It is not held back any more.")
        locked.address = _address(locked)
        return _waiting(locked, at)


def _locked(viewer: Viewer, message: Message) -> Message:
    seen = Message.objects.visible_to(viewer).select_related("owner", "hook")
    return seen.select_for_update(of=("self",)).get(pk=message.pk)


def _address(message: Message) -> str:
    """Return where it goes now. Nothing goes to who was taken out or switched off."""
    if message.hook is not None:
        if message.hook.off_at is not None:
            raise Refused("", "The webhook is switched off. Switch it on first.")
        return message.hook.url
    if message.owner is None:
        return message.address
    if message.owner.removed_at is not None:
        raise Refused("", "The personal data of this owner was taken out.")
    if not message.owner.email:
        raise Refused("", f"{message.owner.name} has no address. Enter one first.")
    return message.owner.email


def _waiting(message: Message, at: datetime) -> Message:
    message.state, message.not_before = MessageState.WAITING, at
    message.reason = message.reply = ""
    message.lease_until = message.claim = None
    message.save(
        update_fields=[
            *("address", "state", "attempts", "unsure", "not_before"),
            *("lease_until", "claim", "reason", "reply"),
        ]
    )
    return message


def _copied(message: Message, address: str, at: datetime) -> Message:
    """Write the same words as a new message; those of the events were told before."""
    key = f"again|{message.public_id}|{at:%Y-%m-%dT%H:%M}"
    columns = {
        name: getattr(message, name)
        for name in (
            *("station", "channel", "kind", "owner", "engine", "hook", "mandatory"),
            *("subject", "text", "html", "headers"),
        )
    }
    return Message.objects.get_or_create(
        dedupe_key=key,
        defaults=columns
        | {
            "address": address,
            "message_id": outbox.message_id(),
            "not_before": at,
            "created_at": at,
        },
    )[0]

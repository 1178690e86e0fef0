"""What was told to an owner as a person: given out on request, and taken out.

That a message went, when and about what is kept; what it said and to which address is
not. The hash in its place still tells whether two went to the same address.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final

from django.db.models import QuerySet
from django.utils.crypto import salted_hmac

from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.fleet.models import Owner
from tracker.watch.models import (
    Attempt,
    CalendarLink,
    HoursLink,
    Message,
    MessageState,
)

TAKEN_OUT: Final = "The personal data of the owner was taken out."
NO_SUBJECT: Final = "taken out"
_ENDED: Final = (MessageState.SENT, MessageState.FAILED)


def personal_data(viewer: Viewer, owner: Owner) -> dict[str, Any]:
    """Return everything that the station keeps of an owner as a person."""
    return {
        **changes.personal_data(viewer, owner),
        "messages": [_message(one) for one in Message.objects.filter(owner=owner)],
        "secret_addresses": [
            *_links(HoursLink.objects.filter(owner=owner), "hours"),
            *_links(CalendarLink.objects.filter(owner=owner), "calendar"),
        ],
    }


def remove_owner(viewer: Viewer, owner: Owner, *, password: str, at: datetime) -> Owner:
    """Take out the personal data of an owner, and all that was told to them, as one."""
    return changes.remove_owner(
        viewer, owner, password=password, at=at, beside=lambda own: _forget(own, at)
    )


def _forget(owner: Owner, at: datetime) -> None:
    """Empty the messages, stop those that were not sent, revoke secret addresses."""
    messages = Message.objects.filter(owner=owner)
    for address in messages.order_by().values_list("address", flat=True).distinct():
        messages.filter(address=address).update(address=_hashed(address))
    messages.update(
        subject=NO_SUBJECT, text="", html="", headers={}, reply="", reason=""
    )
    messages.exclude(state__in=_ENDED).update(
        state=MessageState.PARKED, reason=TAKEN_OUT, lease_until=None, claim=None
    )
    Attempt.objects.filter(message__owner=owner).update(reply="")
    HoursLink.objects.filter(owner=owner, revoked_at=None).update(revoked_at=at)
    CalendarLink.objects.filter(owner=owner, revoked_at=None).update(revoked_at=at)


def _hashed(address: str) -> str:
    """The address under the key of the installation: only who holds it can compare."""
    keyed = salted_hmac("address of an owner", address.lower(), algorithm="sha256")
    return f"removed-{keyed.hexdigest()}"


def _message(message: Message) -> dict[str, Any]:
    return {
        "to": message.address,
        "subject": message.subject,
        "text": message.text,
        "state": message.get_state_display(),
        "written": message.created_at.isoformat(),
        "sent": message.sent_at.isoformat() if message.sent_at else None,
    }


def _links(
    links: QuerySet[HoursLink] | QuerySet[CalendarLink], kind: str
) -> list[dict[str, Any]]:
    return [
        {
            "kind": kind,
            "made": link.made_at.isoformat(),
            "revoked": link.revoked_at.isoformat() if link.revoked_at else None,
        }
        for link in links.order_by("made_at", "pk")
    ]

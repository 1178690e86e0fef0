"""Acts on enquiries: one is left by whoever checked an engine, staff answer and delete.

It holds the name and address of somebody who has no account, so it is not kept as a
record is: once it is dealt with it is deleted, and nothing of it stays.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from tracker.accounts.access import Right, Viewer
from tracker.accounts.models import Station
from tracker.compliance.changes.acting import entering
from tracker.compliance.models import Enquiry
from tracker.compliance.transactions import one_transaction
from tracker.fleet.errors import Refused


@dataclass(frozen=True, slots=True, kw_only=True)
class EnquiryEntry:
    """Who asks to be contacted, the engine as they described it, and what they read.

    `answer`: what was said of the engine, with the moment, as text.
    """

    name: str
    email: str = ""
    telephone: str = ""
    message: str = ""
    answer: str = ""
    described: dict[str, Any]


def leave_enquiry(station: Station, entry: EnquiryEntry, *, at: datetime) -> Enquiry:
    """Keep what somebody without an account asks a station whose check page is open.

    Raises Refused where there is no way to reach them, or the page is switched off.
    """
    if not entry.email and not entry.telephone:
        raise Refused("email", "Give an e-mail address or a telephone number.")
    with one_transaction():
        if not Station.objects.filter(pk=station.pk, check_is_open=True).exists():
            raise Refused("", "The check page of this station is switched off.")
        return Enquiry.objects.create(
            station=station,
            received_at=at,
            name=entry.name,
            email=entry.email,
            telephone=entry.telephone,
            message=entry.message,
            answer=entry.answer,
            described=entry.described,
        )


def mark_enquiry_answered(viewer: Viewer, enquiry: Enquiry, *, at: datetime) -> None:
    """Note who has answered; the first to do so stays noted.

    Raises Forbidden, and Enquiry.DoesNotExist for one of another station.
    """
    with entering(viewer, Right.ANSWER_ENQUIRIES):
        seen = Enquiry.objects.visible_to(viewer).select_for_update()
        kept = seen.get(pk=enquiry.pk)
        if kept.answered_at is None:
            kept.answered_at, kept.answered_by = at, viewer.user
            kept.save(update_fields=["answered_at", "answered_by"])


def delete_enquiry(viewer: Viewer, enquiry: Enquiry) -> None:
    """Delete an enquiry with all that it says. Raises as `mark_enquiry_answered`."""
    with entering(viewer, Right.ANSWER_ENQUIRIES):
        seen = Enquiry.objects.visible_to(viewer).select_for_update()
        seen.get(pk=enquiry.pk).delete()

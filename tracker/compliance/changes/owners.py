"""Acts on an owner as a person: their data given out, and taken out."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import entering
from tracker.compliance.changes.signing import confirm
from tracker.compliance.models import Enquiry
from tracker.fleet import personal
from tracker.fleet.models import Owner


def personal_data(viewer: Viewer, owner: Owner) -> dict[str, Any]:
    """Return everything that the station keeps of an owner as a person."""
    viewer.require(Right.MANAGE_STATION)
    own = Owner.objects.visible_to(viewer).get(pk=owner.pk)
    return {
        **personal.data_of(own),
        "enquiries": [
            {
                "received": one.received_at.isoformat(),
                "name": one.name,
                "email": one.email,
                "telephone": one.telephone,
                "message": one.message,
            }
            for one in _enquiries(own)
        ],
    }


def remove_owner(
    viewer: Viewer,
    owner: Owner,
    *,
    password: str,
    at: datetime,
    beside: Callable[[Owner], None],
) -> Owner:
    """Take out the personal data of an owner. Records and histories stay as they are.

    `beside` takes out in the same transaction what layers above this one keep of them.
    Raises WrongPassword, and Refused while an engine in care is theirs.
    """
    viewer.require(Right.MANAGE_STATION)
    confirm(viewer, password)
    with entering(viewer, Right.MANAGE_STATION):
        own = Owner.objects.visible_to(viewer).select_for_update().get(pk=owner.pk)
        if own.email:
            _enquiries(own).delete()
        removed = personal.remove_owner(own, at=at)
        beside(removed)
        return removed


def _enquiries(owner: Owner) -> Any:
    if not owner.email:
        return Enquiry.objects.none()
    return Enquiry.objects.filter(station=owner.station_id, email__iexact=owner.email)

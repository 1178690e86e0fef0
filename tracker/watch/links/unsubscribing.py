"""The address by which an owner ends mails that nobody is obliged to send.

It is signed and has no row: it says for whom it is, and works as often as it is used.
"""

from __future__ import annotations

from typing import Final
from uuid import UUID

from django.conf import settings
from django.core.signing import BadSignature, Signer
from django.urls import reverse

from tracker.fleet.models import Owner, Preference

SALT: Final = "tracker.watch.unsubscribe"


def unsubscribe_url(owner: Owner) -> str:
    """Return the address of an owner, the same at every call."""
    token = _signer().sign(str(owner.public_id))
    return f"{settings.BASE_URL}{reverse('web:unsubscribe', args=[token])}"


def owner_of(token: str) -> Owner | None:
    """Return whose address it is; None where it was not signed here. One query."""
    try:
        public_id = UUID(_signer().unsign(token))
    except (BadSignature, ValueError):
        return None
    found = Owner.objects.filter(public_id=public_id, removed_at=None)
    return found.select_related("station", "preference").first()


def wants_optional(owner: Owner) -> bool:
    """Whether they are told what is not mandatory; it is so until they say otherwise."""
    kept: Preference | None = getattr(owner, "preference", None)
    return kept is None or kept.optional


def set_optional(owner: Owner, wanted: bool) -> None:
    """Keep whether they are told what is not mandatory; done twice it is the same."""
    Preference.objects.update_or_create(owner=owner, defaults={"optional": wanted})


def _signer() -> Signer:
    return Signer(salt=SALT, sep=".")

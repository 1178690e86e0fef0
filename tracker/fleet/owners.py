"""Owners of engines, and who signs in for them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from tracker.accounts.models import Station, User
from tracker.accounts.time_zones import time_zones
from tracker.fleet.entries import checked_text
from tracker.fleet.errors import Refused
from tracker.fleet.models import Owner, OwnerKind, OwnerLogin
from tracker.fleet.preferences import forget_refusal


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerFacts:
    name: str
    kind: str = OwnerKind.PRIVATE
    email: str = ""
    phone: str = ""
    time_zone: str = "UTC"


def add_owner(station: Station, facts: OwnerFacts) -> Owner:
    """Return a new owner; Refused if the station has one of that name."""
    return Owner.objects.create(station=station, **_owner_columns(station, facts, None))


def change_owner_entry(owner: Owner, facts: OwnerFacts) -> Owner:
    """Change the name and the addresses of an owner.

    That a mail server refused the address they had is taken back with another one.
    """
    columns = _owner_columns(owner.station, facts, owner)
    Owner.objects.filter(pk=owner.pk).update(**columns)
    forget_refusal(owner, columns["email"])
    owner.refresh_from_db()
    return owner


def give_login(owner: Owner, user: User, at: datetime) -> OwnerLogin:
    """Let a person sign in for an owner; a second call changes nothing."""
    login, _ = OwnerLogin.objects.get_or_create(
        owner=owner, user=user, left_at=None, defaults={"joined_at": at}
    )
    return login


def _owner_columns(
    station: Station, facts: OwnerFacts, owner: Owner | None
) -> dict[str, str]:
    columns = {
        field: checked_text(Owner, field, getattr(facts, field), required=required)
        for field, required in (("name", True), ("email", False), ("phone", False))
    }
    same = Owner.objects.filter(station=station, name__iexact=columns["name"])
    if (same.exclude(pk=owner.pk) if owner else same).exists():
        raise Refused(
            "name",
            f'This station already has an owner "{columns["name"]}". '
            "Add a place or a first name to tell the two apart.",
        )
    if facts.kind not in OwnerKind.values:
        raise Refused(
            "kind",
            f'"{facts.kind}" is not a kind of owner. '
            f"Write one of: {', '.join(OwnerKind.values)}.",
        )
    if facts.time_zone not in time_zones():
        raise Refused(
            "time_zone",
            f'"{facts.time_zone}" is not a time zone. Write one as in "Europe/Lisbon".',
        )
    if columns["email"]:
        try:
            validate_email(columns["email"])
        except ValidationError as error:
            raise Refused(
                "email", f'"{columns["email"]}" is not an e-mail address.'
            ) from error
    return {**columns, "kind": facts.kind, "time_zone": facts.time_zone}

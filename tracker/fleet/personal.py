"""What is kept of an owner as a person: given out on request, and taken out.

Records of the ledger, hours and histories of engines name no owner; they stay, because
the rules order them to be kept with the engine (14 CFR 91.417(b), 91.419). What is only
about the person goes: name, addresses, how they are told, and who signed in for them.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from tracker.accounts.models import Membership, Role, User
from tracker.fleet.errors import Refused
from tracker.fleet.models import (
    Engine,
    FuelRecord,
    Owner,
    OwnerLogin,
    Ownership,
    Preference,
    Reading,
)
from tracker.fleet.preferences import preference_of


def data_of(owner: Owner) -> dict[str, Any]:
    """Return everything kept of an owner as a person, as JSON. Seven queries."""
    logins = OwnerLogin.objects.filter(owner=owner).select_related("user")
    people = [login.user_id for login in logins]
    owned = Ownership.objects.filter(owner=owner).select_related("engine__engine_type")
    return {
        "owner": {
            "name": owner.name,
            "kind": owner.kind,
            "email": owner.email,
            "telephone": owner.phone,
            "time_zone": owner.time_zone,
        },
        "how_told": _told(preference_of(owner)),
        "who_signs_in": [
            {
                "name": login.user.name,
                "email": login.user.email,
                "from": login.joined_at.isoformat(),
                "to": login.left_at.isoformat() if login.left_at else None,
            }
            for login in logins
        ],
        "engines": [
            {"engine": str(row.engine), "from": row.true_from.isoformat()}
            for row in owned.order_by("true_from", "pk")
        ],
        "hours_entered": _entered(Reading, owner, people),
        "fuel_entered": _entered(FuelRecord, owner, people),
    }


def _told(preference: Preference) -> dict[str, Any]:
    refused_at = preference.refused_at
    return {
        "optional": preference.optional,
        "left_out": preference.without,
        "lead_hours": _in_hours(preference.lead_hours),
        "lead_days": preference.lead_days,
        "from_hour": preference.at_hour,
        "units": preference.units,
        "told_nothing_because": preference.silenced_reason,
        "refused_address": preference.refused_address,
        "refused_at": refused_at.isoformat() if refused_at else None,
        "refused_with": preference.refused_reply,
    }


def _in_hours(hundredths: int | None) -> float | None:
    return None if hundredths is None else hundredths / 100


def _entered(
    model: type[Reading] | type[FuelRecord], owner: Owner, people: list[int]
) -> list[dict[str, str]]:
    rows = model._default_manager.filter(
        station=owner.station_id, recorded_by__in=people
    )
    return [
        {"engine": str(row.engine), "on": row.on.isoformat(), "entry": str(row)}
        for row in rows.select_related("engine__engine_type").order_by("on", "pk")
    ]


def remove_owner(owner: Owner, *, at: datetime) -> Owner:
    """Take out the personal data of an owner who has no engine in care any more.

    Refused while they have one: its owner must be told, so somebody must be named.
    People who signed in only for them are removed, too.
    """
    engine = Engine.objects.filter(owner=owner).select_related("engine_type").first()
    if engine is not None:
        raise Refused(
            "",
            f"{engine} still belongs to {owner.name}. Enter its new owner first; then "
            "the personal data can be taken out.",
        )
    if owner.removed_at is not None:
        raise Refused("", "The personal data of this owner was taken out already.")
    for login in OwnerLogin.objects.filter(owner=owner).select_related("user"):
        _remove_person(login.user, owner, at)
    OwnerLogin.objects.filter(owner=owner, left_at=None).update(left_at=at)
    Preference.objects.filter(owner=owner).delete()
    owner.name = f"owner {str(owner.public_id)[:8]}, removed"
    owner.email = owner.phone = ""
    owner.time_zone = "UTC"
    owner.removed_at = at
    owner.save(update_fields=["name", "email", "phone", "time_zone", "removed_at"])
    return owner


def _remove_person(user: User, owner: Owner, at: datetime) -> None:
    """End their role as an owner here; take out who has no role anywhere any more."""
    others = OwnerLogin.objects.filter(user=user, left_at=None).exclude(owner=owner)
    if not others.filter(owner__station=owner.station_id).exists():
        Membership.objects.filter(
            user=user, station=owner.station_id, role=Role.OWNER, left_at=None
        ).update(left_at=at)
    if Membership.objects.filter(user=user, left_at=None).exists():
        return
    user.name = "removed person"
    user.email = f"removed-{user.public_id}@removed.invalid"
    user.is_active = False
    user.set_unusable_password()
    user.save(update_fields=["name", "email", "is_active", "password"])

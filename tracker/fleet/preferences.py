"""How an owner is told: entered, silenced for a reason, and what a server refused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from tracker.accounts.models import User
from tracker.accounts.time_zones import time_zones
from tracker.fleet.entries import checked_text
from tracker.fleet.errors import Refused
from tracker.fleet.models import Owner, Preference, Units

MOST_LEAD_HOURS: Final = 1_000_000
MOST_LEAD_DAYS: Final = 3650
_COLUMNS: Final = ("optional", "without", "lead_hours", "lead_days", "at_hour", "units")


@dataclass(frozen=True, slots=True, kw_only=True)
class PreferenceFacts:
    """What an owner wants; `lead_hours` in hundredths, None for as the station leads."""

    time_zone: str
    optional: bool = True
    without: Sequence[str] = ()
    lead_hours: int | None = None
    lead_days: int | None = None
    at_hour: int = 7
    units: str = Units.METRIC


def preference_of(owner: Owner) -> Preference:
    """Return how an owner is told; of one who never said so, as the station tells."""
    kept = Preference.objects.filter(owner=owner).select_related("silenced_by").first()
    preference = kept or Preference()
    preference.owner = owner
    return preference


def change_preference(owner: Owner, facts: PreferenceFacts) -> Preference:
    """Write how an owner wants to be told, and in which time zone their day begins."""
    _check(facts)
    columns = {name: getattr(facts, name) for name in _COLUMNS}
    columns["without"] = sorted(set(facts.without))
    Owner.objects.filter(pk=owner.pk).update(time_zone=facts.time_zone)
    return Preference.objects.update_or_create(owner=owner, defaults=columns)[0]


def silence(owner: Owner, reason: str, *, at: datetime, by: User) -> Preference:
    """Tell an owner nothing from now on, not even what is a duty; says why."""
    text = checked_text(Preference, "silenced_reason", reason)
    if not text:
        raise Refused(
            "silenced_reason", "Say why: it is shown wherever this owner is told of."
        )
    if preference_of(owner).is_silenced:
        raise Refused("", f"{owner.name} is not told anything already.")
    columns = {"silenced_reason": text, "silenced_at": at, "silenced_by": by}
    return Preference.objects.update_or_create(owner=owner, defaults=columns)[0]


def end_silence(owner: Owner) -> None:
    """Tell an owner again; one who is told already stays so."""
    Preference.objects.filter(owner=owner).update(
        silenced_reason="", silenced_at=None, silenced_by=None
    )


def forget_refusal(owner: Owner, email: str) -> None:
    """Take back that a server refused the owner's address, once they have another."""
    refused = Preference.objects.filter(owner=owner).exclude(refused_address="")
    refused.exclude(refused_address=email).update(
        refused_address="", refused_at=None, refused_reply=""
    )


def _check(facts: PreferenceFacts) -> None:
    for name, most, shown in (
        ("lead_hours", MOST_LEAD_HOURS, f"{MOST_LEAD_HOURS // 100} hours"),
        ("lead_days", MOST_LEAD_DAYS, f"{MOST_LEAD_DAYS} days"),
    ):
        lead = getattr(facts, name)
        if lead is not None and not 0 <= lead <= most:
            raise Refused(name, f"Write a number from 0 to {shown}, or nothing.")
    if not 0 <= facts.at_hour <= 23:
        raise Refused("at_hour", "Write an hour of the day from 0 to 23.")
    if facts.units not in Units.values:
        raise Refused("units", f"Write one of: {', '.join(Units.values)}.")
    if facts.time_zone not in time_zones():
        raise Refused(
            "time_zone",
            f'"{facts.time_zone}" is not a time zone. Write one as in "Europe/Lisbon".',
        )

"""What the world holds of secret addresses, which are known here alone."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime

from tracker.accounts.access import Viewer
from tracker.accounts.models import Station
from tracker.fleet.models import Engine, Owner
from tracker.watch.links import hours_url, unsubscribe_url
from tracker.watch.links.calendars import make_calendar
from tracker.watch.models import CalendarLink, HoursLink

AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)


def add_links(viewer: Viewer, owner: Owner, engine: Engine) -> dict[str, str]:
    """One address of each kind, by the name of what it holds."""
    return {
        "hours_secret": secret_of(hours_url(engine, owner, at=AT)),
        "calendar_secret": secret_of(make_calendar(viewer, owner, at=AT)),
        "unsubscribe_token": secret_of(unsubscribe_url(owner)),
    }


def secret_of(address: str) -> str:
    """The last part of an address, where its secret stands."""
    return address.rstrip("/").rsplit("/", 1)[1].removesuffix(".ics")


def add_calendars(viewers: Iterable[Viewer], owner: Owner) -> None:
    """One address for each person: of the owner's engines, or of the station's."""
    for viewer in viewers:
        make_calendar(viewer, owner if viewer.is_owner else None, at=AT)


def end_secrets(station: Station) -> None:
    """From here on no secret address of a station opens anything that has a row."""
    HoursLink.objects.filter(engine__station=station).update(revoked_at=AT)
    CalendarLink.objects.filter(station=station).update(revoked_at=AT)

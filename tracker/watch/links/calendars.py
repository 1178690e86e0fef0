"""Secret addresses of calendars: made for a person, shown once, ended at once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.db.models import QuerySet
from django.urls import reverse

from tracker.accounts.access import Right, Viewer
from tracker.accounts.models import Membership, Role, User
from tracker.compliance.transactions import one_transaction
from tracker.fleet.models import Owner
from tracker.watch.links.secret import hash_of, new_secret
from tracker.watch.models import CalendarLink


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """What a secret address shows: what this viewer sees, of one owner where named."""

    viewer: Viewer
    owner: Owner | None


def make_calendar(viewer: Viewer, owner: Owner | None, *, at: datetime) -> str:
    """Make a new address and return it; the one before ends with it.

    `owner`: None for the whole station, which is for staff. Raises Forbidden, and
    Owner.DoesNotExist where the viewer does not see what it would show.
    """
    viewer.require(Right.SEE_ENGINES)
    if not _may_see(viewer, owner):
        raise Owner.DoesNotExist("The viewer does not see what it would show.")
    secret = new_secret()
    with one_transaction():
        # Of two at once the second waits here, and ends what the first has made.
        User.objects.select_for_update().get(pk=viewer.user.pk)
        end_calendar(viewer, owner, at=at)
        CalendarLink.objects.create(
            station=viewer.station,
            owner=owner,
            user=viewer.user,
            secret=hash_of(secret),
            made_at=at,
        )
    return f"{settings.BASE_URL}{reverse('web:calendar-feed', args=[secret])}"


def end_calendar(viewer: Viewer, owner: Owner | None, *, at: datetime) -> bool:
    """End the viewer's own address; False where there was none."""
    mine = calendars_of(viewer).filter(owner=owner)
    return bool(mine.update(revoked_at=at))


def calendars_of(viewer: Viewer) -> QuerySet[CalendarLink]:
    """The viewer's own addresses at the station that still answer."""
    return CalendarLink.objects.filter(
        station=viewer.station, user=viewer.user, revoked_at=None
    )


def opened(secret: str) -> Opened | None:
    """Return what the address shows now; None where it shows nothing. Three queries.

    It shows what whoever made it would see: nothing once they have left, and nothing of
    an owner for whom they sign in no longer.
    """
    link = (
        CalendarLink.objects.filter(
            secret=hash_of(secret), revoked_at=None, user__is_active=True
        )
        .select_related("station", "user", "owner")
        .first()
    )
    if link is None:
        return None
    roles = Membership.objects.current().filter(user=link.user, station=link.station)
    held = roles.first()
    if held is None:
        return None
    viewer = Viewer(user=link.user, station=link.station, role=Role(held.role))
    if not _may_see(viewer, link.owner):
        return None
    return Opened(viewer=viewer, owner=link.owner)


def _may_see(viewer: Viewer, owner: Owner | None) -> bool:
    if owner is None:
        return not viewer.is_owner
    return Owner.objects.visible_to(viewer).filter(pk=owner.pk).exists()

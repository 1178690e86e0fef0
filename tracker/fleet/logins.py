"""Who signs in for which owner. Each function opens one transaction."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from tracker.accounts.access import Right, Viewer
from tracker.accounts.models import Membership, Role
from tracker.accounts.people import end_membership
from tracker.fleet.errors import Refused
from tracker.fleet.models import Owner, OwnerLogin
from tracker.fleet.register import give_login


def link_login(
    viewer: Viewer, *, owner: Owner, membership: Membership, at: datetime
) -> OwnerLogin:
    """Let a person of the station who is an owner there see the engines of an owner."""
    viewer.require(Right.MANAGE_STATION)
    if membership.role != Role.OWNER or membership.station != viewer.station:
        raise Refused(
            "person",
            f"{membership.user} is not entered as an owner. Staff see every engine.",
        )
    assert owner.station == viewer.station, "the form offers own owners only"
    with transaction.atomic():
        return give_login(owner, membership.user, at)


def unlink_login(viewer: Viewer, login: OwnerLogin, *, at: datetime) -> None:
    """From the next request on the person sees no engine of that owner."""
    viewer.require(Right.MANAGE_STATION)
    with transaction.atomic():
        OwnerLogin.objects.filter(pk=login.pk, left_at=None).update(left_at=at)


def leave_station(viewer: Viewer, membership: Membership, *, at: datetime) -> None:
    """End a person's role and with it whatever they sign in for at this station."""
    with transaction.atomic():
        end_membership(viewer, membership, at=at)
        OwnerLogin.objects.filter(
            owner__station=viewer.station, user=membership.user, left_at=None
        ).update(left_at=at)

"""Owners of engines, as one station knows them, and who signs in for them."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models
from django.utils import timezone

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer
    from tracker.accounts.models import Station


class OwnerKind(models.TextChoices):
    PRIVATE = "private", "private"
    CLUB = "club", "club"
    SCHOOL = "school", "school"
    COMPANY = "company", "company"


class OwnerQuerySet(models.QuerySet["Owner"]):
    def visible_to(self, viewer: Viewer) -> OwnerQuerySet:
        """Staff see the owners of their station, an owner sees themselves."""
        owners = self.filter(station=viewer.station)
        if viewer.is_owner:
            owners = owners.filter(
                logins__user=viewer.user, logins__left_at=None
            ).distinct()
        return owners


class Owner(models.Model):
    """A customer of a station: a person, club, school or company.

    `removed_at`: when their personal data was taken out; the row stays, without a name,
    because engines of former years point to it.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="owners"
    )
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=16, choices=OwnerKind.choices)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    time_zone = models.CharField(max_length=64, default="UTC")
    removed_at = models.DateTimeField(null=True, blank=True)

    objects = OwnerQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "name"], name="fleet_owner_name_once_per_station"
            )
        ]

    def __str__(self) -> str:
        return self.name


class OwnerLoginQuerySet(models.QuerySet["OwnerLogin"]):
    def current_at(self, station: Station) -> OwnerLoginQuerySet:
        """Who signs in for whom at a station now, by owner."""
        logins = self.filter(owner__station=station, left_at=None)
        return logins.select_related("owner", "user").order_by(
            "owner__name", "user__name", "pk"
        )


class OwnerLogin(models.Model):
    """A person who signs in for an owner, from a moment until another."""

    owner = models.ForeignKey(Owner, on_delete=models.CASCADE, related_name="logins")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="owner_logins"
    )
    joined_at = models.DateTimeField(default=timezone.now)
    left_at = models.DateTimeField(null=True, blank=True)

    objects = OwnerLoginQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["owner", "user"],
                condition=models.Q(left_at=None),
                name="fleet_ownerlogin_once_at_a_time",
            )
        ]

    def __str__(self) -> str:
        return f"{self.user} for {self.owner}"

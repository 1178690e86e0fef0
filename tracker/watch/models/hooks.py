"""Addresses of a shop's own systems that hear the same events."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer


class HookQuerySet(models.QuerySet["Hook"]):
    def visible_to(self, viewer: Viewer) -> HookQuerySet:
        """Those of the station; an owner sees none."""
        return self.none() if viewer.is_owner else self.filter(station=viewer.station)

    def in_use(self) -> HookQuerySet:
        return self.filter(off_at=None)


class Hook(models.Model):
    """One address that events of a station are posted to, signed.

    `salt`: from it and the key of the installation the secret is derived, so that a
    copy of the database alone signs nothing. `off_at`: when it was switched off, by a
    person or after days of failures; `off_reason` says which.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.CASCADE, related_name="hooks"
    )
    url = models.URLField(max_length=500)
    salt = models.CharField(max_length=64)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    failing_since = models.DateTimeField(null=True, blank=True)
    off_at = models.DateTimeField(null=True, blank=True)
    off_reason = models.CharField(max_length=200, blank=True)

    objects = HookQuerySet.as_manager()

    class Meta:
        ordering = ["made_at", "pk"]

    def __str__(self) -> str:
        return self.url

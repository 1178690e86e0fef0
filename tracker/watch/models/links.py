"""Secret addresses that stand in mails. Only the hash of each secret is kept."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q

from tracker.fleet.models import Engine, Owner


class HoursLink(models.Model):
    """One owner may enter the hours of one engine once, without signing in.

    `secret`: SHA-256 of the random part of the address, in hexadecimal. `revoked_at`:
    a later mail carries another one, or the engine is theirs no more.
    """

    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="hours_links"
    )
    owner = models.ForeignKey(
        Owner, on_delete=models.CASCADE, related_name="hours_links"
    )
    secret = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"hours of engine {self.engine_id}"


class CalendarLink(models.Model):
    """A secret address of a calendar: of one owner's engines, or of a station's.

    `owner` is empty for the whole station. `user`: who made it, and while they may see
    what it shows, it answers.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.CASCADE, related_name="calendar_links"
    )
    owner = models.ForeignKey(
        Owner,
        on_delete=models.CASCADE,
        related_name="calendar_links",
        null=True,
        blank=True,
    )
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+"
    )
    secret = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["station", "user"],
                condition=Q(revoked_at=None, owner=None),
                name="watch_calendarlink_one_of_a_station",
            ),
            models.UniqueConstraint(
                fields=["owner", "user"],
                condition=Q(revoked_at=None, owner__isnull=False),
                name="watch_calendarlink_one_of_an_owner",
            ),
        ]

    def __str__(self) -> str:
        return f"calendar of {self.owner or self.station}"

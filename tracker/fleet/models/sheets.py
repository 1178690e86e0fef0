"""Sheets that were uploaded and wait to be looked at before anything is written."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer


class SheetKind(models.TextChoices):
    """What the rows of a sheet are about."""

    FLEET = "fleet", "engines"
    PARTS = "parts", "fitted parts"
    PAST = "past", "past compliance"


class WaitingSheetQuerySet(models.QuerySet["WaitingSheet"]):
    def visible_to(self, viewer: Viewer) -> WaitingSheetQuerySet:
        """Whoever may import at the station may also finish what a colleague began."""
        return self.filter(station=viewer.station)


class WaitingSheet(models.Model):
    """The bytes of one uploaded sheet. Deleted once imported, or after some days."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.CASCADE, related_name="+"
    )
    kind = models.CharField(max_length=10, choices=SheetKind.choices)
    name = models.CharField(max_length=200)
    digest = models.CharField(max_length=64)
    content = models.BinaryField()
    uploaded_at = models.DateTimeField()
    uploaded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    objects = WaitingSheetQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(kind__in=SheetKind.values),
                name="fleet_waitingsheet_kind_is_known",
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.get_kind_display()})"

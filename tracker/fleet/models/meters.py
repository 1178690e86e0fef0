"""Meters and readings. Hours are whole hundredths of an hour.

The axis of an engine is the hours kept for it, never reset: `hours` of a reading is
what the meter shows plus the offset of its meter. A changed meter is a new `Meter`
with its own offset, so the axis runs on.
"""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models

from tracker.fleet.models.engines import Engine

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer


class MeterKind(models.TextChoices):
    """What a meter counts. Only the first is the time that rules speak of."""

    TIME_IN_SERVICE = "time in service", "time in service"
    TACHOMETER = "tachometer", "tachometer"
    ENGINE_RUNNING = "engine running", "engine running"


class Meter(models.Model):
    """One meter of an engine from a date on; `offset` is added to what it shows."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="+"
    )
    engine = models.ForeignKey(Engine, on_delete=models.CASCADE, related_name="meters")
    kind = models.CharField(max_length=20, choices=MeterKind.choices)
    started_on = models.DateField()
    offset = models.BigIntegerField(default=0)
    reason = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["started_on", "pk"]

    def __str__(self) -> str:
        return f"{self.kind} from {self.started_on}"


class ReadingQuerySet(models.QuerySet["Reading"]):
    def visible_to(self, viewer: Viewer) -> ReadingQuerySet:
        return self.filter(engine__in=Engine.objects.visible_to(viewer))

    def valid(self) -> ReadingQuerySet:
        """Without the readings that a later one corrects."""
        return self.filter(corrected_by=None)

    def known_at(self, moment: datetime) -> ReadingQuerySet:
        """The readings that were valid as far as was known at a moment."""
        return self.filter(recorded_at__lte=moment).exclude(
            corrected_by__recorded_at__lte=moment
        )


class Reading(models.Model):
    """Hours on a date. A correction is another reading that names the wrong one."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="+"
    )
    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="readings"
    )
    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="readings")
    on = models.DateField()
    shown = models.BigIntegerField(help_text="What the meter showed.")
    hours = models.BigIntegerField(help_text="On the engine's axis.")
    corrects = models.OneToOneField(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="corrected_by",
    )
    remark = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    objects = ReadingQuerySet.as_manager()

    class Meta:
        ordering = ["-on", "-hours", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(hours__gte=0) & models.Q(shown__gte=0),
                name="fleet_reading_hours_not_negative",
            )
        ]
        indexes = [models.Index(fields=["engine", "-on"])]

    def __str__(self) -> str:
        return f"{self.hours / 100} h on {self.on}"

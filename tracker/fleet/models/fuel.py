"""Fuel that an engine was given. Rows are only added, or withdrawn with a reason."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models

from tracker.fleet.models.engines import Engine
from tracker.fleet.models.events import WithdrawableQuerySet

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer


class FuelKind(models.TextChoices):
    LEADED = "leaded", "leaded"
    UNLEADED = "unleaded", "unleaded"
    BLEND = "blend", "blend of both"


class FuelUnit(models.TextChoices):
    LITRES = "L", "litres"
    US_GALLONS = "US gal", "US gallons"


class FuelRecordQuerySet(WithdrawableQuerySet):
    def visible_to(self, viewer: Viewer) -> FuelRecordQuerySet:
        return self.filter(engine__in=Engine.objects.visible_to(viewer))


class FuelRecord(models.Model):
    """Fuel taken on, on one day.

    `quantity` and `leaded_share` are kept as entered ("85.5", "0.4" or "2/5"); the
    share is that of a blend by volume and empty for every other kind. `hours`: on the
    engine's axis, null where nobody read the meter. `withdrawn_at`: entered by mistake.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="+"
    )
    engine = models.ForeignKey(Engine, on_delete=models.CASCADE, related_name="fuel")
    on = models.DateField()
    kind = models.CharField(max_length=8, choices=FuelKind.choices)
    quantity = models.CharField(max_length=20)
    unit = models.CharField(
        max_length=6, choices=FuelUnit.choices, default=FuelUnit.LITRES
    )
    leaded_share = models.CharField(max_length=20, blank=True)
    hours = models.BigIntegerField(null=True, blank=True)
    remark = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=200, blank=True)

    objects = FuelRecordQuerySet.as_manager()

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=(models.Q(kind="blend") & ~models.Q(leaded_share=""))
                | (~models.Q(kind="blend") & models.Q(leaded_share="")),
                name="fleet_fuel_share_of_a_blend_only",
            )
        ]
        indexes = [models.Index(fields=["engine", "on"])]

    def __str__(self) -> str:
        return f"{self.quantity} {self.unit} {self.kind} on {self.on}"

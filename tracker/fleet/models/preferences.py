"""What an owner wants to be told of, how early, and in which units."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models

from tracker.fleet.models.owners import Owner

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer


class Units(models.TextChoices):
    """In which units temperatures and volumes are written to an owner."""

    METRIC = "metric", "°C and litres"
    US = "US", "°F and US gallons"


class PreferenceQuerySet(models.QuerySet["Preference"]):
    def visible_to(self, viewer: Viewer) -> PreferenceQuerySet:
        return self.filter(owner__in=Owner.objects.visible_to(viewer))


class Preference(models.Model):
    """How one owner is told; an owner without a row is told as the station leads.

    `lead_hours` (hundredths), `lead_days`: how long before its point an item is told of
    as coming due; null is as long as the station's. `at_hour`: the hour of the owner's
    own day from which the digest may go. `optional`: whether what nobody is obliged to
    do is told at all; `without`: kinds of events that are left out of it. What is
    mandatory is told all the same, unless the station has `silenced` it for a reason.
    `refused_*`: the address that a mail server refused, when, and what it said.
    """

    owner = models.OneToOneField(
        Owner, on_delete=models.CASCADE, related_name="preference", primary_key=True
    )
    lead_hours = models.PositiveIntegerField(null=True, blank=True)
    lead_days = models.PositiveIntegerField(null=True, blank=True)
    at_hour = models.PositiveSmallIntegerField(
        default=7, validators=[MaxValueValidator(23)]
    )
    units = models.CharField(max_length=6, choices=Units.choices, default=Units.METRIC)
    optional = models.BooleanField(default=True)
    without = models.JSONField(default=list, blank=True)
    silenced_reason = models.CharField(max_length=200, blank=True)
    silenced_at = models.DateTimeField(null=True, blank=True)
    silenced_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
    )
    refused_address = models.EmailField(blank=True)
    refused_at = models.DateTimeField(null=True, blank=True)
    refused_reply = models.CharField(max_length=300, blank=True)

    objects = PreferenceQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(at_hour__lte=23), name="fleet_preference_hour_of_day"
            ),
            models.CheckConstraint(
                condition=models.Q(silenced_at=None) | ~models.Q(silenced_reason=""),
                name="fleet_preference_silenced_for_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"how {self.owner} is told"

    @property
    def is_silenced(self) -> bool:
        return self.silenced_at is not None

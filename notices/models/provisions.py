"""Provisions of a revision, and the versions of the rule of each."""

from __future__ import annotations

import uuid
from datetime import date, datetime

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from notices.models.revisions import Revision

STATION = settings.NOTICES_STATION_MODEL


class ProvisionQuerySet(models.QuerySet["Provision"]):
    def for_station(self, station: models.Model) -> ProvisionQuerySet:
        return self.filter(station=station.pk)

    def in_force(self, on: date, known_at: datetime | None = None) -> ProvisionQuerySet:
        """Those of the revisions that hold on a day."""
        return self.filter(revision__in=Revision.objects.current(on, known_at))


class Provision(models.Model):
    """One thing that a revision says.

    `role`: empty where it is about the engine, else about each fitted part of that
    role. `effective_on`: an own effective date (retained from a superseded
    directive). `embodies`: designations that doing it embodies. What it terminates
    says so itself, in the `ends_with` of its own action.
    """

    class Kind(models.TextChoices):
        ACTION = "action", "action"
        PROHIBITION = "prohibition", "prohibition"
        INTERVAL = "overhaul interval", "overhaul interval"
        FLUIDS = "oils and fluids", "oils and fluids"
        TOGETHER = "parts together", "parts that do not go together"
        INFORMATION = "information", "information"

    class Category(models.TextChoices):
        MANDATORY = "mandatory", "mandatory"
        RECOMMENDED = "recommended", "recommended"
        OPTIONAL = "optional", "optional"
        INFORMATION = "information", "information"

    class Ferry(models.TextChoices):
        UNSAID = "", "not said"
        ALLOWED = "allowed", "ferry flight allowed"
        BARRED = "barred", "ferry flight not allowed"

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(STATION, on_delete=models.PROTECT, related_name="+")
    revision = models.ForeignKey(
        Revision, on_delete=models.CASCADE, related_name="provisions"
    )
    order = models.PositiveIntegerField()
    kind = models.CharField(max_length=20, choices=Kind.choices, default=Kind.ACTION)
    title = models.CharField(max_length=160)
    description = models.TextField(blank=True)
    category = models.CharField(
        max_length=12, choices=Category.choices, default=Category.MANDATORY
    )
    role = models.CharField(max_length=60, blank=True)
    effective_on = models.DateField(null=True, blank=True)
    ferry = models.CharField(
        max_length=8, choices=Ferry.choices, default=Ferry.UNSAID, blank=True
    )
    report_to = models.CharField(max_length=120, blank=True)
    man_hours = models.PositiveIntegerField(
        null=True, blank=True, help_text="Hundredths of an hour."
    )
    parts_needed = models.CharField(max_length=200, blank=True)
    embodies = models.JSONField(default=list, blank=True)

    objects = ProvisionQuerySet.as_manager()

    class Meta:
        ordering = ["revision", "order"]
        constraints = [
            models.UniqueConstraint(
                fields=["revision", "order"], name="notices_provision_in_order"
            )
        ]

    def __str__(self) -> str:
        return self.title


class RuleVersionQuerySet(models.QuerySet["RuleVersion"]):
    def valid(self, known_at: datetime | None = None) -> RuleVersionQuerySet:
        """The frozen version of each provision that counts, or counted at a moment."""
        frozen = self.filter(frozen_at__isnull=False)
        if known_at is None:
            return frozen.filter(current=True)
        newer = RuleVersion.objects.filter(
            provision=OuterRef("provision"),
            number__gt=OuterRef("number"),
            frozen_at__lte=known_at,
        )
        return frozen.filter(~Exists(newer), frozen_at__lte=known_at)


class RuleVersion(models.Model):
    """The rule of a provision. Confirming freezes it; a change is a new version.

    `applicability`: the revision's condition; `condition`: what narrows it here
    (`{"always": true}` if nothing does); `action`: compliance times, empty for what has
    none. `interval`: an overhaul interval as `notices.rules.overhaul` reads it, without
    its `when`, which is the condition; `fluids`: rows as `notices.rules.fluids` reads
    them; both empty for provisions of another kind. `schema`: version of the form in
    which all of them are stored.
    """

    provision = models.ForeignKey(
        Provision, on_delete=models.CASCADE, related_name="rules"
    )
    number = models.PositiveIntegerField(default=1)
    schema = models.PositiveSmallIntegerField(default=1)
    applicability = models.JSONField()
    condition = models.JSONField()
    action = models.JSONField(default=dict, blank=True)
    interval = models.JSONField(default=dict, blank=True)
    fluids = models.JSONField(default=list, blank=True)
    reason = models.CharField(max_length=200, blank=True)
    written_at = models.DateTimeField(default=timezone.now)
    written_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    frozen_at = models.DateTimeField(null=True, blank=True)
    current = models.BooleanField(default=True)

    objects = RuleVersionQuerySet.as_manager()

    class Meta:
        ordering = ["provision", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["provision", "number"], name="notices_ruleversion_in_order"
            ),
            models.UniqueConstraint(
                fields=["provision"],
                condition=Q(current=True),
                name="notices_ruleversion_one_current",
            ),
            models.CheckConstraint(
                condition=Q(number=1) | ~Q(reason=""),
                name="notices_ruleversion_change_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.provision_id}, version {self.number}"

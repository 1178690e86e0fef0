"""Overhauls and other named events of an engine or a part. Rows are only added."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any, Self

from django.conf import settings
from django.db import models

from tracker.fleet.models.engines import Engine
from tracker.fleet.models.parts import Part


class WithdrawableQuerySet(models.QuerySet[Any]):
    def valid(self) -> Self:
        """Without what was entered by mistake."""
        return self.filter(withdrawn_at=None)

    def known_at(self, moment: datetime) -> Self:
        """What stood as far as was known at a moment."""
        return self.filter(recorded_at__lte=moment).exclude(withdrawn_at__lte=moment)


class Overhaul(models.Model):
    """An overhaul or a maker's rebuild. `hours`: TSN at it, on the engine's axis.

    `by`: "maker" or the name of who did it. For a part, `part_hours` are the part's
    own hours since new. `tested`: against what, in the words of its record; empty where
    that notes no test. `withdrawn_at`: entered by mistake, with the reason.
    """

    class Kind(models.TextChoices):
        OVERHAUL = "overhaul", "overhaul"
        REBUILD = "rebuild", "rebuild by the maker"

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="+"
    )
    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="overhauls", null=True
    )
    part = models.ForeignKey(
        Part, on_delete=models.CASCADE, related_name="overhauls", null=True
    )
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.OVERHAUL)
    on = models.DateField()
    hours = models.BigIntegerField(null=True, blank=True)
    part_hours = models.BigIntegerField(null=True, blank=True)
    by = models.CharField(max_length=120, blank=True)
    tested = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=200, blank=True)

    objects = WithdrawableQuerySet.as_manager()

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(engine=None, part__isnull=False)
                | models.Q(engine__isnull=False, part=None),
                name="fleet_overhaul_of_engine_or_part",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} on {self.on}"

    @property
    def lacks_a_test(self) -> bool:
        """Whether it is called an overhaul, and nothing says that it was tested."""
        return self.kind == self.Kind.OVERHAUL and not self.tested


class NamedEvent(models.Model):
    """An event that a compliance time may hang on: propeller strike, oil change."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="+"
    )
    engine = models.ForeignKey(Engine, on_delete=models.CASCADE, related_name="events")
    name = models.CharField(max_length=80)
    on = models.DateField()
    hours = models.BigIntegerField(null=True, blank=True)
    remark = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=200, blank=True)

    objects = WithdrawableQuerySet.as_manager()

    class Meta:
        ordering = ["on", "pk"]

    def __str__(self) -> str:
        return f"{self.name} on {self.on}"

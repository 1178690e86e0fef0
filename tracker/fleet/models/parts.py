"""Parts by role, what is known of each, and where each was fitted and when."""

from __future__ import annotations

import uuid
from datetime import date
from typing import TYPE_CHECKING, ClassVar

from django.db import models

from tracker.fleet.models.dated import DatedFact
from tracker.fleet.models.engines import Engine

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer


class PartQuerySet(models.QuerySet["Part"]):
    def visible_to(self, viewer: Viewer) -> PartQuerySet:
        """The parts of the station; of an owner, those on the owner's engines now."""
        parts = self.filter(station=viewer.station)
        if viewer.is_owner:
            parts = parts.filter(
                fittings__current=True,
                fittings__removed=False,
                fittings__engine__in=Engine.objects.visible_to(viewer),
            ).distinct()
        return parts


class Part(models.Model):
    """One part with an identity of its own; it may move from engine to engine."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="parts"
    )

    objects = PartQuerySet.as_manager()

    def __str__(self) -> str:
        return str(self.public_id)


class PartDescription(DatedFact):
    """What is known of a part. Empty text and missing dates are unknown.

    `never_overhauled`: known never to have been overhauled.
    """

    SUBJECT: ClassVar[tuple[str, ...]] = ("part",)

    part = models.ForeignKey(
        Part, on_delete=models.CASCADE, related_name="descriptions"
    )
    role = models.CharField(max_length=60)
    number = models.CharField(max_length=60, blank=True)
    serial = models.CharField(max_length=60, blank=True)
    change = models.CharField(max_length=10, blank=True)
    change_known = models.BooleanField(default=False)
    built = models.DateField(null=True, blank=True)
    shipped = models.DateField(null=True, blank=True)
    never_overhauled = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["part"],
                condition=models.Q(current=True),
                name="fleet_partdescription_one_current",
            )
        ]

    def __str__(self) -> str:
        return f"{self.role} {self.number}"


class PartFitting(DatedFact):
    """A part fitted to an engine. `true_from` is the day it was fitted.

    `date_known=False`: it is the day since which the part is known to be there.
    `fitted_on`: the day learnt after that; a further row holds from it on.
    Hours are hundredths: the engine's own at fitting, and the part's since new and
    since overhaul at that moment (null: unknown). `fitted_new`: came new with or to
    the engine. A removal sets no flag on this row: it is a further row with
    `removed=True` from the day of removal.
    """

    SUBJECT: ClassVar[tuple[str, ...]] = ("part",)

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="fittings")
    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="part_fittings"
    )
    place = models.CharField(max_length=20, blank=True)
    date_known = models.BooleanField(default=True)
    fitted_on = models.DateField(null=True, blank=True)
    fitted_new = models.BooleanField(default=False)
    engine_hours = models.BigIntegerField(null=True, blank=True)
    part_hours_new = models.BigIntegerField(null=True, blank=True)
    part_hours_overhaul = models.BigIntegerField(null=True, blank=True)
    removed = models.BooleanField(default=False)
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["part"],
                condition=models.Q(current=True),
                name="fleet_partfitting_one_current",
            )
        ]
        indexes = [models.Index(fields=["engine", "current"])]

    def __str__(self) -> str:
        return f"{self.part_id} on {self.engine_id}"

    @property
    def day(self) -> date | None:
        """The day on which it was fitted, or taken off; None if that is not known."""
        return (self.fitted_on or self.true_from) if self.date_known else None

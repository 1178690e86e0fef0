"""What has happened to an engine that somebody must be told."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from django.db import models

from tracker.fleet.models import Engine, Part

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer


class EventKind(models.TextChoices):
    APPLIES = "newly applies", "newly applies"
    ENDED = "no longer applies", "no longer applies"
    FACT = "a fact is needed", "a fact is needed"
    COMING = "coming due", "coming due"
    OVERDUE = "overdue", "overdue"
    SUPERSEDED = "revision superseded", "revision superseded"
    LONGER = "longer interval", "a longer overhaul interval is available"
    READING = "reading is old", "the hours reading is old"


class EventQuerySet(models.QuerySet["Event"]):
    def visible_to(self, viewer: Viewer) -> EventQuerySet:
        return self.filter(engine__in=Engine.objects.visible_to(viewer))

    def unsettled(self) -> EventQuerySet:
        """Those of which nobody has been told yet, and nobody need not be."""
        return self.filter(settled_at=None)


class Event(models.Model):
    """One thing that became so. Written in the transaction of what caused it.

    `key` holds the value that makes it new: the same result computed again makes no
    second row, a moved due point does. `at_once`: it does not wait for the digest.
    `mandatory`: law or the maker makes it a duty. `said`: what was so at that moment:
    document, revision, title, word of state, due point, reasons, missing facts.
    `settled_at`: when a message with it was written, or nobody was left to be told.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="+"
    )
    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="happenings"
    )
    kind = models.CharField(max_length=20, choices=EventKind.choices)
    key = models.CharField(max_length=200, unique=True)
    at_once = models.BooleanField(default=False)
    mandatory = models.BooleanField(default=False)
    provision = models.ForeignKey(
        "notices.Provision",
        on_delete=models.CASCADE,
        related_name="+",
        null=True,
        blank=True,
    )
    part = models.ForeignKey(
        Part, on_delete=models.CASCADE, related_name="+", null=True, blank=True
    )
    said = models.JSONField(default=dict)
    happened_on = models.DateField()
    noted_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)

    objects = EventQuerySet.as_manager()

    class Meta:
        ordering = ["noted_at", "pk"]
        indexes = [
            models.Index(
                fields=["engine"],
                condition=models.Q(settled_at=None),
                name="compliance_event_unsettled",
            ),
            models.Index(fields=["engine", "noted_at"]),
        ]

    def __str__(self) -> str:
        return f"{self.kind}, {self.happened_on}"

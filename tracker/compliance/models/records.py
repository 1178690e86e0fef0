"""The ledger: records in their final form, one chain for each engine.

Rows are only ever added; the database refuses the rest. `payload` is the canonical
text that was hashed and is what counts; the columns beside it repeat it for queries.
"""

from __future__ import annotations

import json
import uuid
from datetime import datetime
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from tracker.fleet.models import Engine, Part

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer


class RecordKind(models.TextChoices):
    WORK = "work", "work"
    TRANSCRIBED = "transcribed", "transcribed from logbook"
    VOID = "void", "voids another record"


class Method(models.TextChoices):
    """How an action was complied with."""

    DONE = "action done", "action done"
    REPLACED = "part replaced", "part replaced"
    INSPECTED = "inspected", "inspected"
    CONFIGURATION = (
        "not applicable by serial or configuration",
        "not applicable by serial or configuration",
    )
    ALTERNATIVE = "alternative method", "alternative method of compliance"
    TERMINATED = "terminating action", "terminating action"
    PREVIOUSLY = "previously complied with", "previously complied with"


class RecordQuerySet(models.QuerySet["Record"]):
    def visible_to(self, viewer: Viewer) -> RecordQuerySet:
        return self.filter(engine__in=Engine.objects.visible_to(viewer))

    def valid(self) -> RecordQuerySet:
        """Records of work that no later record voids."""
        return self.exclude(kind=RecordKind.VOID).filter(voided_by=None)

    def valid_as_known(self, known_at: datetime) -> RecordQuerySet:
        """The records that were valid as the ledger stood at a moment."""
        voided_later = Q(voided_by=None) | Q(voided_by__recorded_at__gt=known_at)
        records = self.exclude(kind=RecordKind.VOID).filter(voided_later)
        return records.filter(recorded_at__lte=known_at)


class Record(models.Model):
    """One entry of an engine's ledger.

    `slot`: action, part and occurrence; unique in an engine, so that two people cannot
    record the same thing twice. `document_number` and `document_revision` are as
    printed, also of a document that the library does not hold. Hours are hundredths.
    `handed_over`: it came with the engine from another station, as it was recorded
    there; what its text names by an id is then known there only, and `recorded_by` is
    who took it in.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="+"
    )
    engine = models.ForeignKey(Engine, on_delete=models.PROTECT, related_name="records")
    sequence = models.PositiveIntegerField()
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)
    payload = models.TextField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    handed_over = models.BooleanField(default=False)
    kind = models.CharField(max_length=12, choices=RecordKind.choices)
    publication = models.ForeignKey(
        "notices.Publication",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    revision = models.ForeignKey(
        "notices.Revision",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    provision = models.ForeignKey(
        "notices.Provision",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="records",
    )
    rule = models.ForeignKey(
        "notices.RuleVersion",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    document_number = models.CharField(max_length=60, blank=True)
    document_revision = models.CharField(max_length=20, blank=True)
    part = models.ForeignKey(
        Part, on_delete=models.PROTECT, null=True, blank=True, related_name="records"
    )
    on = models.DateField()
    hours = models.BigIntegerField(null=True, blank=True)
    part_hours = models.BigIntegerField(null=True, blank=True)
    airframe_hours = models.BigIntegerField(null=True, blank=True)
    method = models.CharField(max_length=60, choices=Method.choices, blank=True)
    result = models.CharField(max_length=60, blank=True)
    en_route = models.BooleanField(default=False)
    description = models.TextField(blank=True)
    slot = models.CharField(max_length=120)
    voids = models.OneToOneField(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="voided_by",
    )

    objects = RecordQuerySet.as_manager()

    class Meta:
        ordering = ["engine", "sequence"]
        constraints = [
            models.UniqueConstraint(
                fields=["engine", "sequence"], name="compliance_record_in_order"
            ),
            models.UniqueConstraint(
                fields=["engine", "previous_hash"], name="compliance_record_no_fork"
            ),
            models.UniqueConstraint(
                fields=["engine", "slot"], name="compliance_record_slot_once"
            ),
            models.CheckConstraint(
                condition=Q(kind="void", voids__isnull=False)
                | (~Q(kind="void") & Q(voids=None)),
                name="compliance_record_void_names_record",
            ),
            models.CheckConstraint(
                condition=Q(hours=None) | Q(hours__gte=0),
                name="compliance_record_hours_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"record {self.sequence} of {self.engine_id}"

    @property
    def text(self) -> dict[str, Any]:
        """What the record says, read from the text that was hashed."""
        said: dict[str, Any] = json.loads(self.payload)
        return said

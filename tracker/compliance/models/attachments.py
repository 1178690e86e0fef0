"""What is attached to a record: photographs and scans, tied to it by their hash."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from django.db import models

from tracker.compliance.models.records import Record
from tracker.fleet.models import Engine

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer


class AttachmentQuerySet(models.QuerySet["Attachment"]):
    def visible_to(self, viewer: Viewer) -> AttachmentQuerySet:
        return self.filter(record__engine__in=Engine.objects.visible_to(viewer))


class Attachment(models.Model):
    """One file of one record, in order. The text of the record names its hash, too.

    Rows are only added, with their record; the database refuses the rest.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    record = models.ForeignKey(
        Record, on_delete=models.PROTECT, related_name="attachments"
    )
    order = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=120)
    media_type = models.CharField(max_length=40)
    size = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)

    objects = AttachmentQuerySet.as_manager()

    class Meta:
        ordering = ["record", "order"]
        constraints = [
            models.UniqueConstraint(
                fields=["record", "order"], name="compliance_attachment_in_order"
            )
        ]
        indexes = [models.Index(fields=["sha256"])]

    def __str__(self) -> str:
        return self.name

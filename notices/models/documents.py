"""Stored files: the bytes lie under their hash, the row says what they are called."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.utils import timezone

STATION = settings.NOTICES_STATION_MODEL
PAGE_BREAK = "\f"


class DocumentQuerySet(models.QuerySet["Document"]):
    def for_station(self, station: models.Model) -> DocumentQuerySet:
        return self.filter(station=station.pk)

    def waiting(self) -> DocumentQuerySet:
        """Those whose text was not read yet, in the order in which they came."""
        return self.filter(reading=Document.Reading.WAITING).order_by("pk")


class Document(models.Model):
    """A stored file, kept under the hash of its bytes; text is read later.

    `text`: page after page, with a form feed between two. `notes`: what else is known
    of the file, such as that it carries script; sentences for whoever opens it.
    """

    class Reading(models.TextChoices):
        WAITING = "waiting", "text not read yet"
        READ = "read", "text read"
        NO_TEXT = "no text", "no text on any page: a scan"
        ENCRYPTED = "encrypted", "could not be read: encrypted"
        DAMAGED = "damaged", "could not be read: damaged"
        LIMIT = "limit", "could not be read: larger than the limits allow"

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(STATION, on_delete=models.PROTECT, related_name="+")
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    name = models.CharField(max_length=120)
    reading = models.CharField(
        max_length=12, choices=Reading.choices, default=Reading.WAITING, db_index=True
    )
    pages = models.PositiveIntegerField(null=True, blank=True)
    text = models.TextField(blank=True)
    notes = models.JSONField(default=list, blank=True)
    added_at = models.DateTimeField(default=timezone.now)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    objects = DocumentQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["station", "sha256"], name="notices_document_once_per_station"
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def page_texts(self) -> list[str]:
        return self.text.split(PAGE_BREAK) if self.text else []

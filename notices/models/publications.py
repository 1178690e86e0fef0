"""Publications: one document through all its revisions."""

from __future__ import annotations

import uuid
from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q, Subquery
from django.utils import timezone

from notices.models.documents import Document
from notices.models.revisions import Revision
from notices.reading.text import normal_text
from notices.rules.designations import designation

STATION = settings.NOTICES_STATION_MODEL
MOST_WORDS = 8


class Kind(models.TextChoices):
    """What a publication is; the label is what a reader calls it."""

    DIRECTIVE = "AD", "airworthiness directive"
    SAFETY_DIRECTIVE = "SD", "safety directive"
    BULLETIN = "SB", "service bulletin"
    INSTRUCTION = "SI", "service instruction"
    LETTER = "SL", "service letter"
    LIMITATIONS = "ALS", "airworthiness limitations"
    MANUAL = "manual", "manual"
    SCHEDULED = "scheduled", "scheduled inspection"

    @property
    def binds(self) -> bool:
        """Whether nobody may leave it unadopted.

        Directives and limitations bind by law. A scheduled inspection is the station's
        own entry: where it is not required, its condition says so.
        """
        return self.is_directive or self in {Kind.LIMITATIONS, Kind.SCHEDULED}

    @property
    def is_directive(self) -> bool:
        return self in {Kind.DIRECTIVE, Kind.SAFETY_DIRECTIVE}


class PublicationQuerySet(models.QuerySet["Publication"]):
    def for_station(self, station: models.Model) -> PublicationQuerySet:
        return self.filter(station=station.pk)

    def of_kind(self, kind: str) -> PublicationQuerySet:
        return self.filter(kind=kind)

    def numbered(self, number: str) -> PublicationQuerySet:
        """By number, however it is written."""
        return self.filter(number_key=designation(number))

    def search(self, text: str, *, in_drafts: bool) -> PublicationQuerySet:
        """By number, title, issuer or text of a document; every word must be found.

        `in_drafts`: whether the document of a draft counts, too.
        """
        found = self
        confirmed = {} if in_drafts else {"revisions__confirmed_at__isnull": False}
        for word in normal_text(text).split()[:MOST_WORDS]:
            in_document = Document.objects.filter(
                revisions__publication=OuterRef("pk"), text__icontains=word, **confirmed
            )
            named = Q(title__icontains=word) | Q(issuer__icontains=word)
            if key := designation(word):
                named |= Q(number_key__contains=key)
            found = found.filter(named | Exists(in_document))
        return found

    def for_list(self, on: date) -> PublicationQuerySet:
        """With `current_label`, `current_issued_on` and `draft_label`; None if none."""
        current = Revision.objects.current(on).filter(publication=OuterRef("pk"))
        drafts = Revision.objects.drafts().filter(publication=OuterRef("pk"))
        return self.annotate(
            current_label=Subquery(current.values("label")[:1]),
            current_issued_on=Subquery(current.values("issued_on")[:1]),
            draft_label=Subquery(drafts.order_by("-sequence").values("label")[:1]),
        )


class Publication(models.Model):
    """One document through all its revisions."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        STATION, on_delete=models.PROTECT, related_name="publications"
    )
    kind = models.CharField(max_length=10, choices=Kind.choices)
    number = models.CharField(max_length=60)
    number_key = models.CharField(max_length=60, editable=False)
    issuer = models.CharField(max_length=120)
    title = models.CharField(max_length=200)
    created_at = models.DateTimeField(default=timezone.now)

    objects = PublicationQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["station", "number_key"],
                name="notices_publication_number_once_per_station",
                violation_error_message="This number is in the library already.",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=Kind.values),
                name="notices_publication_kind_is_known",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def binds(self) -> bool:
        return Kind(self.kind).binds

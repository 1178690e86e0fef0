"""Revisions of a publication, what they say of others, and which of them holds."""

from __future__ import annotations

import uuid
from datetime import date, datetime

from django.conf import settings
from django.db import models
from django.db.models import Case, Exists, F, OuterRef, Q, Value, When
from django.utils import timezone

from notices.models.documents import Document

STATION = settings.NOTICES_STATION_MODEL


class RevisionStanding(models.TextChoices):
    """What a revision is on a day, in one word."""

    DRAFT = "draft", "draft"
    WAITING = "waiting", "confirmed, takes over later"
    CURRENT = "current", "current"
    SUPERSEDED = "superseded", "superseded"
    CANCELLED = "cancelled", "cancelled"


def _confirmed(known_at: datetime | None) -> Q:
    if known_at is None:
        return Q(confirmed_at__isnull=False)
    return Q(confirmed_at__lte=known_at)


def _cancelled(known_at: datetime | None) -> Q:
    if known_at is None:
        return Q(cancelled_at__isnull=False)
    return Q(cancelled_at__lte=known_at)


class RevisionQuerySet(models.QuerySet["Revision"]):
    """`on`: the day asked for. `known_at`: as it was known at that moment, if given."""

    def for_station(self, station: models.Model) -> RevisionQuerySet:
        return self.filter(station=station.pk)

    def drafts(self) -> RevisionQuerySet:
        return self.filter(confirmed_at=None)

    def taken_over(
        self, on: date, known_at: datetime | None = None
    ) -> RevisionQuerySet:
        """Confirmed revisions whose day of taking over has come.

        One cancelled on that very day or before never took over.
        """
        in_vain = _cancelled(known_at) & Q(cancelled_on__lte=F("takes_over_on"))
        return self.filter(_confirmed(known_at), ~in_vain, takes_over_on__lte=on)

    def current(self, on: date, known_at: datetime | None = None) -> RevisionQuerySet:
        """The revision of each publication that holds on a day, if any.

        That is the one which took over last, unless it is cancelled, or a revision of
        another publication that supersedes it took over on that day or later. What was
        superseded does not come back when its successor is cancelled; it does if the
        successor never took over.
        """
        held = Revision.objects.taken_over(on, known_at)
        later = held.filter(publication=OuterRef("publication")).filter(
            Q(takes_over_on__gt=OuterRef("takes_over_on"))
            | Q(
                takes_over_on=OuterRef("takes_over_on"),
                sequence__gt=OuterRef("sequence"),
            )
        )
        superseding = held.filter(
            references__kind=Reference.Kind.SUPERSEDES,
            references__publication=OuterRef("publication"),
            takes_over_on__gte=OuterRef("takes_over_on"),
        ).exclude(publication=OuterRef("publication"))
        ended = _cancelled(known_at) & Q(cancelled_on__lte=on)
        return self.taken_over(on, known_at).filter(
            ~ended, ~Exists(later), ~Exists(superseding)
        )

    def standings(
        self, on: date, known_at: datetime | None = None
    ) -> dict[int, RevisionStanding]:
        """Return what each revision is on a day, by its key. Two queries."""
        holding = set(self.current(on, known_at).values_list("pk", flat=True))
        words = RevisionStanding
        word = Case(
            When(~_confirmed(known_at), then=Value(words.DRAFT)),
            When(
                _cancelled(known_at) & Q(cancelled_on__lte=on),
                then=Value(words.CANCELLED),
            ),
            When(takes_over_on__gt=on, then=Value(words.WAITING)),
            default=Value(words.SUPERSEDED),
            output_field=models.CharField(),
        )
        rows = self.annotate(word=word).values_list("pk", "word")
        return {
            pk: words.CURRENT if pk in holding else words(found) for pk, found in rows
        }


class Revision(models.Model):
    """One issue of a publication.

    `sequence` orders the revisions of a publication, whatever their labels.
    `applicability` is edited while a draft, empty until it is stated; confirming
    copies it into the rule of every provision, where it stays. `takes_over_on` is the
    effective date, or the issue date where there is none; it is set on confirming.
    `cancelled_on` is the first day on which it no longer holds.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(STATION, on_delete=models.PROTECT, related_name="+")
    publication = models.ForeignKey(
        "notices.Publication", on_delete=models.PROTECT, related_name="revisions"
    )
    label = models.CharField(max_length=20)
    sequence = models.PositiveIntegerField()
    issued_on = models.DateField(null=True, blank=True)
    effective_on = models.DateField(null=True, blank=True)
    applicability = models.JSONField(default=dict)
    summary = models.CharField(max_length=300, blank=True)
    document = models.ForeignKey(
        Document,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="revisions",
    )
    version = models.PositiveIntegerField(default=1)
    entered_at = models.DateTimeField(default=timezone.now)
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Who changed the draft last, if anybody did.",
    )
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    takes_over_on = models.DateField(null=True, blank=True)
    cancelled_on = models.DateField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancelled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
    )
    cancelled_reason = models.CharField(max_length=200, blank=True)

    objects = RevisionQuerySet.as_manager()

    class Meta:
        ordering = ["publication", "sequence"]
        constraints = [
            models.UniqueConstraint(
                fields=["publication", "label"],
                name="notices_revision_label_once",
                violation_error_message="This publication has that revision already.",
            ),
            models.UniqueConstraint(
                fields=["publication", "sequence"], name="notices_revision_in_order"
            ),
            models.CheckConstraint(
                condition=Q(confirmed_at=None, takes_over_on=None)
                | Q(confirmed_at__isnull=False, takes_over_on__isnull=False),
                name="notices_revision_confirmed_takes_over",
            ),
            models.CheckConstraint(
                condition=Q(cancelled_on=None, cancelled_at=None)
                | Q(
                    cancelled_on__isnull=False,
                    cancelled_at__isnull=False,
                    confirmed_at__isnull=False,
                ),
                name="notices_revision_cancelled_was_confirmed",
            ),
        ]
        indexes = [models.Index(fields=["station", "takes_over_on"])]

    def __str__(self) -> str:
        return f"{self.publication.number} rev. {self.label}"

    @property
    def is_draft(self) -> bool:
        return self.confirmed_at is None


class Reference(models.Model):
    """What a revision says of another publication; known here or by number only.

    A number that is not in the library yet is linked when its publication is added.
    """

    class Kind(models.TextChoices):
        SUPERSEDES = "supersedes", "supersedes"
        REVISES = "revises", "revises"
        CORRECTS = "corrects", "corrects"
        REFERS_TO = "refers to", "refers to"

    revision = models.ForeignKey(
        Revision, on_delete=models.CASCADE, related_name="references"
    )
    kind = models.CharField(max_length=12, choices=Kind.choices)
    number = models.CharField(max_length=60)
    number_key = models.CharField(max_length=60, editable=False)
    publication = models.ForeignKey(
        "notices.Publication",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="named_by",
    )

    class Meta:
        ordering = ["kind", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["revision", "kind", "number_key"], name="notices_reference_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.number}"

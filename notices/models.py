"""The library of service documents: publications, their revisions, what each says.

A publication belongs to a station, which is named by a setting only. Nothing here
knows of engines. Findings come from `Revision.objects.current(on)`: for each
publication the confirmed revision that took over last, unless it was cancelled or a
current revision of another publication supersedes it.
"""

from __future__ import annotations

import uuid
from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

STATION = settings.NOTICES_STATION_MODEL


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
        """Whether it binds by law, so that nobody may leave it unadopted."""
        return self in {Kind.DIRECTIVE, Kind.SAFETY_DIRECTIVE, Kind.LIMITATIONS}

    @property
    def is_directive(self) -> bool:
        return self in {Kind.DIRECTIVE, Kind.SAFETY_DIRECTIVE}


class Document(models.Model):
    """A stored file, kept under the hash of its bytes; text is read later."""

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
        max_length=12, choices=Reading.choices, default=Reading.WAITING
    )
    pages = models.PositiveIntegerField(null=True, blank=True)
    text = models.TextField(blank=True)
    added_at = models.DateTimeField(default=timezone.now)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["station", "sha256"], name="notices_document_once_per_station"
            )
        ]

    def __str__(self) -> str:
        return self.name


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


class RevisionQuerySet(models.QuerySet["Revision"]):
    def taken_over(self, on: date) -> RevisionQuerySet:
        """Confirmed revisions whose day of taking over has come."""
        return self.filter(confirmed_at__isnull=False, takes_over_on__lte=on)

    def current(self, on: date) -> RevisionQuerySet:
        """The revision of each publication that holds on a day, if any."""
        later = (
            Revision.objects.taken_over(on)
            .filter(publication=OuterRef("publication"))
            .filter(
                Q(takes_over_on__gt=OuterRef("takes_over_on"))
                | Q(
                    takes_over_on=OuterRef("takes_over_on"),
                    sequence__gt=OuterRef("sequence"),
                )
            )
        )
        superseding = Reference.objects.filter(
            kind=Reference.Kind.SUPERSEDES,
            publication=OuterRef("publication"),
            revision__confirmed_at__isnull=False,
            revision__takes_over_on__lte=on,
        ).exclude(revision__publication=OuterRef("publication"))
        return (
            self.taken_over(on)
            .filter(Q(cancelled_on=None) | Q(cancelled_on__gt=on))
            .filter(~Exists(later), ~Exists(superseding))
        )


class Revision(models.Model):
    """One issue of a publication.

    `sequence` orders the revisions of a publication, whatever their labels.
    `applicability` is edited while a draft; confirming copies it into the rule of
    every provision, where it stays. `takes_over_on` is the effective date, or the
    issue date where there is none; it is set on confirming.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(STATION, on_delete=models.PROTECT, related_name="+")
    publication = models.ForeignKey(
        Publication, on_delete=models.PROTECT, related_name="revisions"
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
        ]

    def __str__(self) -> str:
        return f"{self.publication.number} rev. {self.label}"

    @property
    def is_draft(self) -> bool:
        return self.confirmed_at is None and self.cancelled_on is None


class Reference(models.Model):
    """What a revision says of another publication; known here or by number only."""

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
    publication = models.ForeignKey(
        Publication,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="named_by",
    )

    class Meta:
        ordering = ["kind", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["revision", "kind", "number"], name="notices_reference_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.number}"


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

    class Meta:
        ordering = ["revision", "order"]
        constraints = [
            models.UniqueConstraint(
                fields=["revision", "order"], name="notices_provision_in_order"
            )
        ]

    def __str__(self) -> str:
        return self.title


class RuleVersion(models.Model):
    """The rule of a provision. Confirming freezes it; a change is a new version.

    `applicability`: the revision's condition; `condition`: what narrows it here;
    `action`: compliance times, empty for what is not an action. `schema`: version of
    the form in which the three are stored.
    """

    provision = models.ForeignKey(
        Provision, on_delete=models.CASCADE, related_name="rules"
    )
    number = models.PositiveIntegerField(default=1)
    schema = models.PositiveSmallIntegerField(default=1)
    applicability = models.JSONField(default=dict)
    condition = models.JSONField(default=dict)
    action = models.JSONField(default=dict, blank=True)
    reason = models.CharField(max_length=200, blank=True)
    written_at = models.DateTimeField(default=timezone.now)
    written_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    frozen_at = models.DateTimeField(null=True, blank=True)
    current = models.BooleanField(default=True)

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

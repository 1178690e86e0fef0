"""Modifications, named properties, review marks, and how far the search went."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from tracker.fleet.models.dated import DatedFact
from tracker.fleet.models.engines import Engine
from tracker.fleet.models.parts import Part


class Modification(DatedFact):
    """A modification, bulletin or directive embodied in an engine, or known not to be.

    `source`: how it is known ("data plate", "logbook page 12", a record's number).
    """

    SUBJECT: ClassVar[tuple[str, ...]] = ("engine", "designation_key")

    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="modifications"
    )
    designation = models.CharField(max_length=80)
    designation_key = models.CharField(max_length=80)
    embodied = models.BooleanField(default=True)
    source = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["engine", "designation_key"],
                condition=models.Q(current=True),
                name="fleet_modification_one_current",
            )
        ]

    def __str__(self) -> str:
        return self.designation


class Attribute(DatedFact):
    """A named property of an engine or of a part (plate colour, drive, mark seen)."""

    SUBJECT: ClassVar[tuple[str, ...]] = ("engine", "part", "name_key")

    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="attributes", null=True
    )
    part = models.ForeignKey(
        Part, on_delete=models.CASCADE, related_name="attributes", null=True
    )
    name = models.CharField(max_length=60)
    name_key = models.CharField(max_length=60)
    value = models.CharField(max_length=120)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["engine", "name_key"],
                condition=models.Q(current=True, part=None),
                name="fleet_attribute_one_current_of_engine",
            ),
            models.UniqueConstraint(
                fields=["part", "name_key"],
                condition=models.Q(current=True, engine=None),
                name="fleet_attribute_one_current_of_part",
            ),
            models.CheckConstraint(
                condition=models.Q(engine=None, part__isnull=False)
                | models.Q(engine__isnull=False, part=None),
                name="fleet_attribute_of_engine_or_part",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}: {self.value}"


class Review(DatedFact):
    """A technician has gone through the engine's history, or the parts of a role.

    `scope`: "history", or a role of parts. From then on what is not recorded counts as
    absent. A review lapses on transfer or on work elsewhere (`valid=False` row).
    """

    SUBJECT: ClassVar[tuple[str, ...]] = ("engine", "scope")

    HISTORY = "history"

    engine = models.ForeignKey(Engine, on_delete=models.CASCADE, related_name="reviews")
    scope = models.CharField(max_length=60)
    valid = models.BooleanField(default=True)
    person = models.CharField(max_length=120)
    remark = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["engine", "scope"],
                condition=models.Q(current=True),
                name="fleet_review_one_current",
            )
        ]

    def __str__(self) -> str:
        return f"{self.scope} by {self.person}"


class SearchKind(models.TextChoices):
    DIRECTIVES = "directives", "directives"
    BULLETINS = "bulletins", "bulletins"


class Search(DatedFact):
    """How far the search for documents went. `true_from` is the date searched to."""

    SUBJECT: ClassVar[tuple[str, ...]] = ("engine", "part", "kind")

    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="searches"
    )
    part = models.ForeignKey(
        Part, on_delete=models.CASCADE, related_name="searches", null=True, blank=True
    )
    kind = models.CharField(max_length=12, choices=SearchKind.choices)
    source = models.CharField(max_length=200)
    person = models.CharField(max_length=120)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["engine", "kind"],
                condition=models.Q(current=True, part=None),
                name="fleet_search_one_current_of_engine",
            ),
            models.UniqueConstraint(
                fields=["engine", "part", "kind"],
                condition=models.Q(current=True, part__isnull=False),
                name="fleet_search_one_current_of_part",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} to {self.true_from}"

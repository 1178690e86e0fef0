"""Answers to questions that only a person can answer, and what was not adopted."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from tracker.fleet.models import DatedFact, Engine, Part


class Answer(DatedFact):
    """An answer under one revision. `yes` is null: it cannot be found out."""

    SUBJECT: ClassVar[tuple[str, ...]] = ("engine", "part", "revision", "question")

    engine = models.ForeignKey(Engine, on_delete=models.CASCADE, related_name="answers")
    part = models.ForeignKey(
        Part, on_delete=models.CASCADE, related_name="answers", null=True, blank=True
    )
    revision = models.ForeignKey(
        "notices.Revision", on_delete=models.PROTECT, related_name="+"
    )
    question = models.CharField(max_length=300)
    yes = models.BooleanField(null=True)
    seen_on = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["engine", "revision", "question"],
                condition=models.Q(current=True, part=None),
                name="compliance_answer_one_current_of_engine",
            ),
            models.UniqueConstraint(
                fields=["part", "revision", "question"],
                condition=models.Q(current=True, part__isnull=False),
                name="compliance_answer_one_current_of_part",
            ),
        ]

    def __str__(self) -> str:
        return self.question


class Declined(DatedFact):
    """An advisory provision that the owner or operator has not adopted, or has again.

    Keyed by publication, so that it holds through revisions until somebody changes it.
    """

    SUBJECT: ClassVar[tuple[str, ...]] = ("engine", "publication")

    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="declined"
    )
    publication = models.ForeignKey(
        "notices.Publication", on_delete=models.PROTECT, related_name="+"
    )
    declined = models.BooleanField(default=True)
    person = models.CharField(max_length=120)
    reason = models.CharField(max_length=300)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["engine", "publication"],
                condition=models.Q(current=True),
                name="compliance_declined_one_current",
            ),
            models.CheckConstraint(
                condition=~models.Q(reason=""),
                name="compliance_declined_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.publication_id} not adopted"

"""Alternative methods of compliance, as an authority has approved them for one engine.

14 CFR 39.19: an alternative method, or another compliance time, counts only once the
office that the directive names has approved it.
"""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from tracker.fleet.models import DatedFact, Engine


class AlternativeMethod(DatedFact):
    """Another method, time or interval for one provision; or, not `valid`, its end.

    Keyed by the provision of one revision: an approval names the document that it was
    given for, and holds for a later revision only where it says so (`later_revisions`).
    `true_from`: since when it counts for the engine, of an end the day of the end.
    `times`: what takes the place of the action's own, as `notices.rules` reads other
    times; empty where the times stay. It holds to the end of `valid_until`.
    """

    SUBJECT: ClassVar[tuple[str, ...]] = ("engine", "provision")

    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="alternatives"
    )
    provision = models.ForeignKey(
        "notices.Provision", on_delete=models.PROTECT, related_name="+"
    )
    valid = models.BooleanField(default=True)
    reference = models.CharField(max_length=120)
    approved_by = models.CharField(max_length=120)
    approved_on = models.DateField()
    description = models.CharField(max_length=1000)
    times = models.JSONField(default=dict, blank=True)
    valid_until = models.DateField(null=True, blank=True)
    later_revisions = models.BooleanField(default=False)
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["engine", "provision"],
                condition=models.Q(current=True),
                name="compliance_alternative_one_current",
            ),
            models.CheckConstraint(
                condition=~models.Q(reference="") & ~models.Q(approved_by=""),
                name="compliance_alternative_is_approved",
            ),
            models.CheckConstraint(
                condition=models.Q(true_from__gte=models.F("approved_on")),
                name="compliance_alternative_counts_once_approved",
            ),
            models.CheckConstraint(
                condition=models.Q(valid=True, reason="")
                | models.Q(valid=False) & ~models.Q(reason=""),
                name="compliance_alternative_ends_for_a_reason",
            ),
            models.CheckConstraint(
                condition=models.Q(valid=False)
                | models.Q(valid_until=None)
                | models.Q(valid_until__gte=models.F("true_from")),
                name="compliance_alternative_holds_for_a_day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reference}, approved by {self.approved_by}"

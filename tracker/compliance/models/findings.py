"""Findings: what applies to an engine, or may, with its stored due point.

Only what applies or is undetermined has a row. The due point changes with facts and
rules, never with the day; the state word is derived from it, the current hours and
the day. `Standing` says how many provisions were looked at, so that a missing row
never means "not looked at".
"""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from django.db import models

from tracker.fleet.models import Engine, Part

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer


class Closed(models.TextChoices):
    """Why nothing is open under a finding; empty while something is."""

    OPEN = "", "open"
    COMPLIED = "complied with", "complied with"
    TERMINATED = "terminated", "terminated"
    NOTHING_DUE = "nothing due", "nothing due"
    NOT_ADOPTED = "not adopted", "not adopted"


class ToldBy(models.TextChoices):
    """What tells the state of an open finding on a day."""

    FIRST = "first", "the first limit reached"
    LAST = "last", "all limits reached"
    POINT = "point", "the whole due point"


class LongerInterval(models.TextChoices):
    """How an engine stands to the extensions of its overhaul interval, best first."""

    HOLDS = "holds", "holds"
    WITHIN_REACH = "within reach", "within reach"
    UNDETERMINED = "undetermined", "undetermined"
    DOES_NOT_HOLD = "does not hold", "does not hold"


class FindingQuerySet(models.QuerySet["Finding"]):
    def visible_to(self, viewer: Viewer) -> FindingQuerySet:
        return self.filter(engine__in=Engine.objects.visible_to(viewer))

    def for_list(self) -> FindingQuerySet:
        """With what every list of findings shows."""
        return self.select_related(
            "engine__engine_type",
            "engine__owner",
            "provision__revision__publication",
        )


class Finding(models.Model):
    """The outcome of one provision for one engine, or for one fitted part of it.

    Hours are hundredths on the engine's axis. `earliest_*`: the least limit of each
    kind, from which a lead counts back; `overdue_*`: the least that may be reached and
    not passed, tolerance included; `latest_*`: the greatest. `told_by`: whether the
    first of these tells the state, or all of them do, or only `point`, the whole due
    point. `doubtful`: undetermined until a known limit is past; `fixed`: undetermined
    whatever the day. `noted`: one more than the rank of the state that was last noted
    as an event, 0 where nothing has been.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="+"
    )
    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="findings"
    )
    part = models.ForeignKey(
        Part, on_delete=models.CASCADE, related_name="findings", null=True, blank=True
    )
    provision = models.ForeignKey(
        "notices.Provision", on_delete=models.CASCADE, related_name="findings"
    )
    rule = models.ForeignKey(
        "notices.RuleVersion", on_delete=models.PROTECT, related_name="+"
    )
    undetermined = models.BooleanField(help_text="Whether it applies cannot be said.")
    doubtful = models.BooleanField(default=False)
    fixed = models.BooleanField(default=False)
    told_by = models.CharField(
        max_length=5, choices=ToldBy.choices, default=ToldBy.POINT
    )
    closed = models.CharField(
        max_length=16, choices=Closed.choices, default=Closed.OPEN, blank=True
    )
    further_flight = models.BooleanField(default=False)
    earliest_hours = models.BigIntegerField(null=True, blank=True)
    earliest_date = models.DateField(null=True, blank=True)
    overdue_hours = models.BigIntegerField(null=True, blank=True)
    overdue_date = models.DateField(null=True, blank=True)
    latest_hours = models.BigIntegerField(null=True, blank=True)
    latest_date = models.DateField(null=True, blank=True)
    point = models.JSONField(default=dict)
    reasons = models.JSONField(default=list)
    missing = models.JSONField(default=list)
    changed_at = models.DateTimeField()
    noted = models.PositiveSmallIntegerField(default=0)

    objects = FindingQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["engine", "provision"],
                condition=models.Q(part=None),
                name="compliance_finding_once_per_engine",
            ),
            models.UniqueConstraint(
                fields=["engine", "provision", "part"],
                condition=models.Q(part__isnull=False),
                name="compliance_finding_once_per_part",
            ),
        ]
        indexes = [
            models.Index(fields=["station", "closed", "overdue_date"]),
            models.Index(fields=["engine", "closed"]),
            models.Index(fields=["provision", "undetermined"]),
        ]

    def __str__(self) -> str:
        return f"{self.provision_id} for {self.engine_id}"


class StandingQuerySet(models.QuerySet["Standing"]):
    def told_an_interval(self) -> StandingQuerySet:
        """Those of engines for which something was found of an overhaul interval."""
        return self.exclude(
            overhaul_hours=None,
            overhaul_on=None,
            overhaul_missing=[],
            longer_interval="",
        )


class Standing(models.Model):
    """When an engine was last evaluated, and over how many current provisions.

    What is needed to tell a state without the facts: `zero`, what the engine's axis
    showed when it was new; `rate`, its utilisation as exact fractions, `hours_a_day`
    the upper end of it in whole hundredths (null without basis or out of service);
    `read_on_day`, the ordinal of the last reading's date, and `meter`, what was read.
    The overhaul interval as it was then: `overhaul_hours` on the engine's axis and
    `overhaul_on`, the last hour and day inside it (null where it says nothing of the
    kind or cannot be said), `overhaul_binds`, whether it is law in the engine's
    operation or may be, `overhaul_missing`, the facts that it hangs on, and
    `longer_interval`, the best outcome among extensions on offer, empty without any.
    `again_on`: the first day on which the passing of days alone may give another answer.
    `noted_longer`, `noted_read_on`: the outcome of extensions, and the date of the old
    reading, that were last noted as events.
    """

    engine = models.OneToOneField(
        Engine, on_delete=models.CASCADE, related_name="standing", primary_key=True
    )
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="+"
    )
    evaluated_at = models.DateTimeField()
    evaluated_for = models.DateField()
    publications = models.PositiveIntegerField()
    provisions = models.PositiveIntegerField()
    zero = models.BigIntegerField(default=0)
    meter = models.CharField(max_length=20, blank=True)
    rate = models.JSONField(null=True, blank=True)
    hours_a_day = models.PositiveIntegerField(null=True, blank=True)
    read_on_day = models.PositiveIntegerField(null=True, blank=True)
    overhaul_hours = models.BigIntegerField(null=True, blank=True)
    overhaul_on = models.DateField(null=True, blank=True)
    overhaul_binds = models.BooleanField(default=False)
    overhaul_missing = models.JSONField(default=list, blank=True)
    longer_interval = models.CharField(
        max_length=14, choices=LongerInterval.choices, blank=True
    )
    again_on = models.DateField(null=True, blank=True)
    noted_longer = models.CharField(max_length=14, blank=True)
    noted_read_on = models.DateField(null=True, blank=True)

    objects = StandingQuerySet.as_manager()

    def __str__(self) -> str:
        return f"{self.engine_id}, {self.evaluated_for}"

    @property
    def overhaul_tsn(self) -> int | None:
        """The last hour inside the interval as TSN, as pages show all hours."""
        return None if self.overhaul_hours is None else self.overhaul_hours - self.zero

    @property
    def tells_an_interval(self) -> bool:
        """Whether anything was found of an overhaul interval."""
        ends = (self.overhaul_hours, self.overhaul_on)
        return any(end is not None for end in ends) or bool(
            self.overhaul_missing or self.longer_interval
        )

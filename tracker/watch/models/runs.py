"""Which jobs ran for which period: what a missed run is told by."""

from __future__ import annotations

from django.db import models


class Job(models.TextChoices):
    """What is run again and again; the period of each stands in `tracker.watch.jobs`."""

    CHECK = "check", "check of the new day"
    TELL = "tell", "messages written"
    SEND = "send", "messages sent"
    READ = "read", "documents read"


class Run(models.Model):
    """One run of a job, for a period and a part of its work. Whoever adds it, does it.

    `period`: the moment in UTC with which the period begins, or a day. `shard`: which
    part of the work, empty for the whole. `counts`: what was done, by name.
    """

    job = models.CharField(max_length=10, choices=Job.choices)
    period = models.CharField(max_length=30)
    shard = models.CharField(max_length=60, blank=True)
    started_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)
    counts = models.JSONField(default=dict, blank=True)
    error = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["job", "period", "shard"], name="watch_run_once"
            )
        ]
        indexes = [models.Index(fields=["job", "finished_at"])]

    def __str__(self) -> str:
        return f"{self.job} {self.period} {self.shard}".strip()

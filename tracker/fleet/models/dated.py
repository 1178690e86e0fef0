"""The form of every fact that can change: one row a change, nothing overwritten.

A row says what held from `true_from` on, as known from `recorded_at` on. A correction
is a further row with the same `true_from`. `current` is a projection for reading: it
marks the row that holds latest, as known now, and is the one column ever updated.
"""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models


class DatedFact(models.Model):
    """Abstract. `station` is the tenant key; `recorded_by` may be an import's person.

    `SUBJECT` names the fields that say what a row is about: of all rows with the same
    values there, one holds at a time.
    """

    SUBJECT: ClassVar[tuple[str, ...]]

    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="+"
    )
    true_from = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    current = models.BooleanField(default=True)

    class Meta:
        abstract = True

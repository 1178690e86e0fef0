"""What a visitor of the open check page asked a station to get in touch about."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer


class EnquiryQuerySet(models.QuerySet["Enquiry"]):
    def visible_to(self, viewer: Viewer) -> EnquiryQuerySet:
        """Those of the viewer's station; an owner sees none."""
        return self.none() if viewer.is_owner else self.filter(station=viewer.station)

    def waiting(self) -> EnquiryQuerySet:
        """Those that nobody has answered yet."""
        return self.filter(answered_at=None)

    def for_list(self) -> EnquiryQuerySet:
        """Those that wait first, the longest waiting on top; then the answered ones."""
        waiting = models.F("answered_at").desc(nulls_first=True)
        return self.select_related("answered_by").order_by(waiting, "received_at", "pk")


class Enquiry(models.Model):
    """A visitor's name and address, and the engine they described, as they entered it.

    `answer`: what the page said of it, with the moment, as text; empty where that was
    not kept. Documents and rules change afterwards.
    Personal data of somebody who has no account: it is deleted once it is dealt with.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.CASCADE, related_name="enquiries"
    )
    received_at = models.DateTimeField()
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    telephone = models.CharField(max_length=40, blank=True)
    message = models.TextField(blank=True, max_length=2000)
    described = models.JSONField(default=dict)
    answer = models.TextField(blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
    )

    objects = EnquiryQuerySet.as_manager()

    class Meta:
        ordering = ["-received_at", "-pk"]
        verbose_name_plural = "enquiries"

    def __str__(self) -> str:
        return f"{self.name}, {self.received_at:%Y-%m-%d}"

    @property
    def engine(self) -> str:
        """Type and serial as they were entered, to name it in a list."""
        named = (self.described.get(name, "") for name in ("type", "serial"))
        return ", serial ".join(filter(None, named))

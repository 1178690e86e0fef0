"""What is sent to somebody: written once, sent until it is taken, never dropped."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Q
from django.db.models.functions import Now

from tracker.compliance.models import Event
from tracker.fleet.models import Engine, Owner

if TYPE_CHECKING:
    from tracker.accounts.access import Viewer


class Channel(models.TextChoices):
    MAIL = "mail", "mail"
    WEBHOOK = "webhook", "webhook"


class MessageKind(models.TextChoices):
    OVERDUE = "overdue", "overdue, at once"
    DIGEST = "digest", "digest of a day"
    NOTICE = "notice", "about a document"
    EVENT = "event", "event for a webhook"


class MessageState(models.TextChoices):
    """Where a message stands. `held` waits for a person, `parked` has no way out."""

    WAITING = "waiting", "waiting"
    SENDING = "sending", "being sent"
    UNSURE = "unsure", "perhaps sent"
    SENT = "sent", "sent"
    FAILED = "failed", "refused"
    PARKED = "parked", "put aside"
    HELD = "held", "held back"


class MessageQuerySet(models.QuerySet["Message"]):
    def visible_to(self, viewer: Viewer) -> MessageQuerySet:
        """Those of the station; an owner sees their own, but none that is held back."""
        messages = self.filter(station=viewer.station)
        if viewer.is_owner:
            mine = messages.filter(owner__in=Owner.objects.visible_to(viewer))
            return mine.exclude(state=MessageState.HELD)
        return messages

    def for_list(self) -> MessageQuerySet:
        """With recipient and engine, and without the long texts that no list shows."""
        with_names = self.select_related("owner", "engine__engine_type")
        return with_names.defer("text", "html", "headers")

    def due(self, at: datetime) -> MessageQuerySet:
        """Those whose turn it is: waiting, or claimed by somebody whose lease ran out.

        Leases are a matter between senders, and compared with the database's clock.
        """
        waiting = Q(state=MessageState.WAITING, not_before__lte=at)
        taken = Q(state__in=[MessageState.SENDING, MessageState.UNSURE])
        return self.filter(waiting | (taken & Q(lease_until__lte=Now())))


class Message(models.Model):
    """One thing said to one recipient. Subject, text and headers never change.

    `dedupe_key`: what it says, to whom, for which day: a second one is not written.
    `message_id`: RFC 5322, the same at every try, so that a receiver knows a repeat.
    `mandatory`: it goes although the owner has unsubscribed. `text` of a webhook is the
    body that is signed. `unsure`: how often nobody could say whether it was taken.
    `reason`: why it was refused, put aside or held; `reply`: what the other end said.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    station = models.ForeignKey(
        "accounts.Station", on_delete=models.PROTECT, related_name="messages"
    )
    channel = models.CharField(max_length=8, choices=Channel.choices)
    kind = models.CharField(max_length=8, choices=MessageKind.choices)
    owner = models.ForeignKey(
        Owner, on_delete=models.PROTECT, related_name="messages", null=True, blank=True
    )
    engine = models.ForeignKey(
        Engine, on_delete=models.CASCADE, related_name="messages", null=True, blank=True
    )
    hook = models.ForeignKey(
        "watch.Hook",
        on_delete=models.CASCADE,
        related_name="messages",
        null=True,
        blank=True,
    )
    dedupe_key = models.CharField(max_length=200, unique=True)
    mandatory = models.BooleanField(default=False)
    address = models.CharField(max_length=500)
    subject = models.CharField(max_length=200)
    text = models.TextField()
    html = models.TextField(blank=True)
    headers = models.JSONField(default=dict, blank=True)
    message_id = models.CharField(max_length=200, unique=True)
    state = models.CharField(
        max_length=8, choices=MessageState.choices, default=MessageState.WAITING
    )
    attempts = models.PositiveSmallIntegerField(default=0)
    unsure = models.PositiveSmallIntegerField(default=0)
    not_before = models.DateTimeField()
    lease_until = models.DateTimeField(null=True, blank=True)
    claim = models.UUIDField(null=True, blank=True)
    created_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)
    reply = models.CharField(max_length=500, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    events = models.ManyToManyField(Event, through="Told", related_name="messages")

    objects = MessageQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=MessageState.values),
                name="watch_message_state_is_known",
            ),
            models.CheckConstraint(
                condition=~Q(state=MessageState.SENT) | Q(sent_at__isnull=False),
                name="watch_message_sent_at_a_moment",
            ),
            models.CheckConstraint(
                condition=Q(channel=Channel.MAIL, hook=None)
                | Q(channel=Channel.WEBHOOK, hook__isnull=False),
                name="watch_message_has_its_recipient",
            ),
        ]
        indexes = [
            models.Index(fields=["state", "not_before"], name="watch_message_due"),
            models.Index(fields=["station", "state", "-created_at"]),
            models.Index(fields=["owner", "-created_at"]),
        ]

    def __str__(self) -> str:
        return f"{self.subject}, to {self.address}"


class Told(models.Model):
    """That a message speaks of an event. `recipient`: an owner or a hook, told once."""

    message = models.ForeignKey(Message, on_delete=models.CASCADE, related_name="+")
    event = models.ForeignKey(Event, on_delete=models.CASCADE, related_name="told")
    recipient = models.CharField(max_length=40)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["event", "recipient"], name="watch_told_once_to_each"
            )
        ]

    def __str__(self) -> str:
        return f"{self.event_id} in {self.message_id}"


class Attempt(models.Model):
    """One try to send a message; only added, so that a repeat on the wire is counted."""

    message = models.ForeignKey(Message, on_delete=models.CASCADE, related_name="tries")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    outcome = models.CharField(max_length=8)
    code = models.PositiveSmallIntegerField(null=True, blank=True)
    reply = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["started_at", "pk"]

    def __str__(self) -> str:
        return f"{self.message_id}: {self.outcome}"

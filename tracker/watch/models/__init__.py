"""Runs, messages and their tries, secret addresses, and webhooks."""

from tracker.watch.models.hooks import Hook, HookQuerySet
from tracker.watch.models.links import CalendarLink, HoursLink
from tracker.watch.models.messages import (
    Attempt,
    Channel,
    Message,
    MessageKind,
    MessageQuerySet,
    MessageState,
    Told,
)
from tracker.watch.models.runs import Job, Run

__all__ = [
    "Attempt",
    "CalendarLink",
    "Channel",
    "Hook",
    "HookQuerySet",
    "HoursLink",
    "Job",
    "Message",
    "MessageKind",
    "MessageQuerySet",
    "MessageState",
    "Run",
    "Told",
]

"""A station's webhooks as their page lists them."""

from __future__ import annotations

from typing import Any

from django.db.models import Count, OuterRef, Q, Subquery

from tracker.accounts.access import Viewer
from tracker.watch.models import Attempt, Hook, MessageState


def hooks_for_page(viewer: Viewer) -> Any:
    """Return the webhooks with what came of the last try and how many wait. One query.

    Each has `last_at` and `last_reply`, None where nothing was posted, and `waiting`.
    """
    tries = Attempt.objects.filter(message__hook=OuterRef("pk"))
    last = tries.order_by("-started_at", "-pk")
    not_sent = [MessageState.WAITING, MessageState.SENDING, MessageState.UNSURE]
    return Hook.objects.visible_to(viewer).annotate(
        last_at=Subquery(last.values("ended_at")[:1]),
        last_reply=Subquery(last.values("reply")[:1]),
        waiting=Count("messages", filter=Q(messages__state__in=not_sent)),
    )

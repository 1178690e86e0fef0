"""Events become messages to a station's webhooks, each event once to each of them."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from django.db.models import Exists, OuterRef

from tracker.compliance.models import Event
from tracker.watch import outbox
from tracker.watch.hooks.bodies import body_of
from tracker.watch.models import Hook, Message, MessageKind, Told

EACH: Final = 200
"""How many messages one run writes for one webhook; the next run goes on."""


def write_events(at: datetime) -> int:
    """Write what the webhooks in use have not been told; return how many messages.

    A webhook hears of what was noted since it was made. What was noted while it was
    switched off follows when it is switched on again.
    """
    hooks = Hook.objects.in_use().select_related("station")
    return sum(len(_write(hook, at)) for hook in hooks)


def _write(hook: Hook, at: datetime) -> list[Message]:
    told = Told.objects.filter(event=OuterRef("pk"), recipient=recipient_of(hook))
    events = Event.objects.filter(station=hook.station, noted_at__gte=hook.made_at)
    untold = events.exclude(Exists(told)).select_related("engine__engine_type")
    return outbox.put_all(
        (letter_of(event, hook) for event in untold.order_by("noted_at", "pk")[:EACH]),
        at=at,
    )


def recipient_of(hook: Hook) -> str:
    return f"hook {hook.pk}"


def letter_of(event: Event, hook: Hook) -> outbox.Letter:
    return outbox.Letter(
        station=hook.station,
        kind=MessageKind.EVENT,
        key=f"event|{event.public_id}|{recipient_of(hook)}",
        address=hook.url,
        subject=f"{event.kind}: {event.engine}",
        text=body_of(event),
        hook=hook,
        engine=event.engine,
        mandatory=event.mandatory,
        events=[event],
    )

"""Messages as lists: by state, by engine, and those that wait for a person."""

from __future__ import annotations

from typing import Final

from django.db.models import Count, Q

from tracker.accounts.access import Viewer
from tracker.fleet.models import Engine, Owner
from tracker.watch.models import Message, MessageQuerySet, MessageState, Told

TO_DO: Final = (MessageState.HELD, MessageState.FAILED, MessageState.PARKED)
"""States that only a person ends."""
FEW: Final = 5


def counts_of(messages: MessageQuerySet) -> dict[MessageState, int]:
    """How many messages stand in each state, only those there are. One query."""
    rows = messages.order_by().values_list("state").annotate(Count("pk"))
    found = dict(rows)
    return {state: found[state] for state in MessageState if state in found}


def to_do(messages: MessageQuerySet) -> MessageQuerySet:
    """Those that wait for a person; of an owner who was taken out nothing waits."""
    return messages.filter(state__in=TO_DO, owner__removed_at=None)


def about(messages: MessageQuerySet, engine: Engine) -> MessageQuerySet:
    """Those of one engine, or that tell of something that became so for it."""
    told = Told.objects.filter(event__engine=engine).values("message")
    own = Message.objects.filter(engine=engine).order_by().values("pk")
    return messages.filter(pk__in=own.union(told))


def last_about(viewer: Viewer, engine: Engine) -> MessageQuerySet:
    """The last few about an engine, as far as the viewer sees them."""
    return about(Message.objects.visible_to(viewer), engine).for_list()[:FEW]


def last_to(viewer: Viewer, owner: Owner) -> MessageQuerySet:
    """The last few to an owner, as far as the viewer sees them."""
    return Message.objects.visible_to(viewer).filter(owner=owner).for_list()[:FEW]


def matching(messages: MessageQuerySet, asked: str) -> MessageQuerySet:
    """Those whose recipient, address or subject holds what is asked for."""
    text = asked.strip()
    if not text:
        return messages
    return messages.filter(
        Q(owner__name__icontains=text)
        | Q(address__icontains=text)
        | Q(subject__icontains=text)
    )

"""Messages: the list with what waits for a person, and one with its tries and text."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET

from tracker.accounts.access import Right
from tracker.accounts.middleware import ViewedRequest
from tracker.fleet.models import Engine, Owner
from tracker.watch import listing
from tracker.watch.delivery.answers import Outcome
from tracker.watch.delivery.mails import mail_of
from tracker.watch.models import Channel, Message, MessageQuerySet, MessageState
from tracker.web.messages import ENDED, NEXT, STANDS
from tracker.web.views.paging import SIZE

FEW = 12
MAIL_FILE = {
    "Content-Type": "message/rfc822",
    "Content-Disposition": 'attachment; filename="message.eml"',
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "default-src 'none'; sandbox",
}


@require_GET
def message_list(request: ViewedRequest) -> HttpResponse:
    """The station's messages, for staff what is to be done first; an owner's own."""
    viewer, asked = request.viewer, request.GET
    mine = Message.objects.visible_to(viewer)
    found, narrowed = _narrowed(request, mine)
    if asked.get("state") in MessageState.values:
        found = found.filter(state=asked["state"])
    page = Paginator(found.for_list(), SIZE).get_page(asked.get("page"))
    waiting = listing.to_do(mine) if viewer.may(Right.SEND_MESSAGES) else mine.none()
    shown = {
        "page": page,
        "counts": [(s, s.label, n) for s, n in listing.counts_of(mine).items()],
        "states": MessageState,
        "to_do": waiting.for_list()[:FEW],
        "asked": asked,
        "owners": Owner.objects.visible_to(viewer) if viewer.is_owner else (),
        "is_narrowed": bool(narrowed or asked.get("q") or asked.get("state")),
    } | narrowed
    return render(request, "web/messages/list.html", shown)


def _narrowed(
    request: ViewedRequest, mine: MessageQuerySet
) -> tuple[MessageQuerySet, dict[str, Any]]:
    """Only those of the owner or engine that the address names, if it names one."""
    named: dict[str, Any] = {}
    found = listing.matching(mine, request.GET.get("q", ""))
    owner = _named(request, "owner", Owner)
    if owner is not None:
        named["owner"], found = owner, found.filter(owner=owner)
    engine = _named(request, "engine", Engine)
    if engine is not None:
        named["engine"], found = engine, listing.about(found, engine)
    return found, named


def _named(request: ViewedRequest, name: str, model: type[Owner | Engine]) -> Any:
    """The row that an address names; one that is not there is a wrong address."""
    asked = request.GET.get(name)
    if not asked:
        return None
    try:
        wanted = UUID(asked)
    except ValueError:
        raise Http404 from None
    mine = model._default_manager.visible_to(request.viewer)
    return get_object_or_404(mine, public_id=wanted)


@require_GET
def message(request: ViewedRequest, message: UUID) -> HttpResponse:
    """One message: how it stands, its tries, what it says, and of which events."""
    seen = message_seen(request, message)
    state = MessageState(seen.state)
    shown = {
        "message": seen,
        "stands": STANDS[state],
        "next": NEXT.get(state, "") if seen.text else "",
        "tries": [(one, ENDED[Outcome(one.outcome)]) for one in seen.tries.all()],
        "events": seen.events.select_related("engine__engine_type"),
        "is_mail": seen.channel == Channel.MAIL,
    }
    return render(request, "web/messages/detail.html", shown)


@require_GET
def message_file(request: ViewedRequest, message: UUID) -> HttpResponse:
    """The mail as it is sent, as a file for a mail program: never shown in a page."""
    seen = message_seen(request, message)
    if seen.channel != Channel.MAIL or not seen.text:
        raise Http404
    try:
        content = mail_of(seen)
    except ValueError as error:
        messages.error(request, f"No mail can be made of it: {error}")
        return redirect("web:message", seen.public_id)
    return HttpResponse(content, headers=MAIL_FILE)


def message_seen(request: ViewedRequest, message: UUID) -> Message:
    """The message that an address names, as the viewer may see it."""
    mine = Message.objects.visible_to(request.viewer)
    mine = mine.select_related("owner", "engine__engine_type")
    return get_object_or_404(mine, public_id=message)

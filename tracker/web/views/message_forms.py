"""What staff do with a message: sent again, or released. Each is asked once more."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from tracker.accounts.middleware import ViewedRequest
from tracker.watch.delivery.acts import release as release_message
from tracker.watch.delivery.acts import resend as resend_message
from tracker.watch.models import Message, MessageState
from tracker.web.forms.acts import ActForm
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.messages import message_seen

FORM = ["GET", "POST"]


@require_http_methods(FORM)
def resend(request: ViewedRequest, ended_message: UUID) -> HttpResponse:
    seen = message_seen(request, ended_message)
    again = "The same words go again, under the same number."
    if seen.state == MessageState.SENT:
        again = "The same words go once more, as a message of its own."
    page = FormPage(
        heading="Send it again",
        kind="Message",
        subject=seen.subject,
        lead=f"{again} {_goes_to(seen)}",
        submit="Send it again",
        said="It waits to be sent.",
        back=_page_of(seen),
        back_words="Do not send it",
    )

    def act(at: datetime) -> Message:
        return resend_message(request.viewer, seen, at=at)

    return answered(request, page, ActForm(sent(request)), act, then=_page_of)


@require_http_methods(FORM)
def release(request: ViewedRequest, held_message: UUID) -> HttpResponse:
    seen = message_seen(request, held_message)
    page = FormPage(
        heading="Release it",
        kind="Message",
        subject=seen.subject,
        lead=f"{seen.reason} {_goes_to(seen)}",
        submit="Let it go",
        said="It waits to be sent.",
        back=_page_of(seen),
        back_words="Hold it back",
    )

    def act(at: datetime) -> Message:
        return release_message(request.viewer, seen, at=at)

    return answered(request, page, ActForm(sent(request)), act, then=_page_of)


def _goes_to(message: Message) -> str:
    """Where it goes now: an owner may have another address than when it was written."""
    if message.owner is None:
        return f"It goes to {message.address}."
    address = message.owner.email or "whom there is no address of"
    return f"It goes to {message.owner.name}, {address}."


def _page_of(message: Message) -> str:
    return reverse("web:message", args=[message.public_id])

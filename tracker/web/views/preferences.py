"""How an owner is told: said by staff or by the owner, and silence for a reason."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.fleet.models import Owner, Preference
from tracker.fleet.preferences import preference_of
from tracker.web.forms.preferences import PreferenceForm, SilenceForm
from tracker.web.views.form_pages import FormPage, answered, sent


@require_http_methods(["GET", "POST"])
def preferences(request: ViewedRequest, owner: UUID) -> HttpResponse:
    """One form for both: staff change it on the owner's card, owners for themselves."""
    viewer = request.viewer
    kept = _owner(request, owner)
    form = PreferenceForm(
        sent(request), kept=preference_of(kept), station=viewer.station
    )
    page = FormPage(
        heading="How you are told" if viewer.is_owner else "How they are told",
        kind="Owner",
        subject=kept.name,
        lead="What is a duty by law or by the maker is told whatever stands here, and "
        "at once when it is overdue.",
        submit="Keep this",
        said="This is kept, and holds from the next mail on.",
        back=reverse("web:message-list") if viewer.is_owner else _card(kept),
    )

    def act(at: datetime) -> Preference:
        return changes.change_preference(viewer, kept, form.facts())

    return answered(request, page, form, act)


@require_http_methods(["GET", "POST"])
def silence(request: ViewedRequest, owner: UUID) -> HttpResponse:
    kept = _owner(request, owner)
    form = SilenceForm(sent(request))
    page = FormPage(
        heading="Tell nothing any more",
        kind="Owner",
        subject=kept.name,
        lead="No mail goes to this owner from now on, not even of what is overdue by "
        "law. The reason is shown with your name until somebody ends it.",
        submit="Tell them nothing",
        said="This owner is told nothing any more.",
        back=_card(kept),
        back_words="Go on telling them",
    )

    def act(at: datetime) -> Preference:
        reason = form.cleaned_data["reason"]
        return changes.silence_owner(request.viewer, kept, reason, at=at)

    return answered(request, page, form, act)


@require_POST
def end_silence(request: ViewedRequest, silenced_owner: UUID) -> HttpResponse:
    kept = _owner(request, silenced_owner)
    changes.end_silence(request.viewer, kept)
    messages.success(request, f"{kept.name} is told again from now on.")
    return redirect(_card(kept))


def _owner(request: ViewedRequest, public_id: UUID) -> Owner:
    """An owner whose personal data was taken out is told nothing at all."""
    mine = Owner.objects.visible_to(request.viewer).filter(removed_at=None)
    return get_object_or_404(mine, public_id=public_id)


def _card(owner: Owner) -> str:
    return reverse("web:owner", args=[owner.public_id])

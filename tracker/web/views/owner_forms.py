"""Forms of an owner: entered, and changed."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.fleet.models import Owner
from tracker.watch import personal
from tracker.web.forms.owners import OwnerForm, RemovalForm
from tracker.web.views.form_pages import FormPage, answered, sent


@require_http_methods(["GET", "POST"])
def add_owner(request: ViewedRequest) -> HttpResponse:
    zone = request.viewer.station.time_zone
    form = OwnerForm(sent(request), kept=None, time_zone=zone)
    page = FormPage(
        heading="Enter an owner",
        kind="Owners",
        submit="Enter the owner",
        said="The owner is entered.",
        back_words="Enter nothing",
        back=reverse("web:owner-list"),
    )

    def act(at: datetime) -> Owner:
        return changes.add_owner(request.viewer, form.facts(), at=at)

    return answered(request, page, form, act, then=_page_of)


@require_http_methods(["GET", "POST"])
def change_owner(request: ViewedRequest, owner: UUID) -> HttpResponse:
    kept = get_object_or_404(Owner.objects.visible_to(request.viewer), public_id=owner)
    form = OwnerForm(sent(request), kept=kept, time_zone=kept.time_zone)
    page = FormPage(
        heading="Name and addresses",
        kind="Owner",
        subject=kept.name,
        submit="Keep name and addresses",
        said="Name and addresses are kept.",
        back=_page_of(kept),
    )

    def act(at: datetime) -> Owner:
        return changes.change_owner_entry(request.viewer, kept, form.facts(), at=at)

    return answered(request, page, form, act)


@require_GET
def personal_data(request: ViewedRequest, owner: UUID) -> JsonResponse:
    """Everything kept of an owner as a person, as a file to hand over."""
    kept = get_object_or_404(Owner.objects.visible_to(request.viewer), public_id=owner)
    said = personal.personal_data(request.viewer, kept)
    answer = JsonResponse(said, json_dumps_params={"indent": 2, "ensure_ascii": False})
    answer["Content-Disposition"] = 'attachment; filename="personal-data.json"'
    answer["Cache-Control"] = "no-store"
    return answer


@require_http_methods(["GET", "POST"])
def remove_owner(request: ViewedRequest, former_owner: UUID) -> HttpResponse:
    """Take out what is kept of an owner as a person; the engines' records stay."""
    mine = Owner.objects.visible_to(request.viewer)
    kept = get_object_or_404(mine, public_id=former_owner)
    form = RemovalForm(sent(request))
    page = FormPage(
        heading="Take out personal data",
        kind="Owner",
        subject=kept.name,
        lead="Name, addresses and sign-ins of this owner are taken out for good, with "
        "their enquiries and all that was written to them; that a message went, and "
        "when, stays. Records of engines stay: the rules order them to be kept, and "
        "they name no owner. Give the owner their data first, if they asked for it.",
        submit="Take out the personal data",
        said="The personal data is taken out. The records of the engines stand.",
        back=_page_of(kept),
    )

    def act(at: datetime) -> Owner:
        password = form.cleaned_data["password"]
        return personal.remove_owner(request.viewer, kept, password=password, at=at)

    return answered(request, page, form, act)


def _page_of(owner: Owner) -> str:
    return reverse("web:owner", args=[owner.public_id])

"""Engine types: the list, and the form of one."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.core.paginator import Paginator
from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.fleet.models import EngineType
from tracker.web.forms.engine_types import TypeForm
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.paging import SIZE


@require_GET
def type_list(request: ViewedRequest) -> HttpResponse:
    types = EngineType.objects.visible_to(request.viewer)
    shown = types.prefetch_related("part_roles").annotate(engine_count=Count("engines"))
    page = Paginator(shown.order_by("designation"), SIZE).get_page(
        request.GET.get("page")
    )
    return render(request, "web/engine_types/list.html", {"page": page})


@require_http_methods(["GET", "POST"])
def add_type(request: ViewedRequest) -> HttpResponse:
    form = TypeForm(sent(request), kept=None)
    page = FormPage(
        heading="Enter an engine type",
        kind="Engine types",
        submit="Enter the type",
        said="The engine type is entered.",
        back_words="Enter nothing",
        back=reverse("web:engine-type-list"),
    )

    def act(at: datetime) -> EngineType:
        return changes.add_engine_type(request.viewer, form.facts(), at=at)

    return answered(request, page, form, act)


@require_http_methods(["GET", "POST"])
def change_type(request: ViewedRequest, engine_type: UUID) -> HttpResponse:
    types = EngineType.objects.visible_to(request.viewer)
    kept = get_object_or_404(types, public_id=engine_type)
    form = TypeForm(sent(request), kept=kept)
    page = FormPage(
        heading=f"Engine type {kept}",
        kind="Engine types",
        lead="Every engine of the type is evaluated again with what is kept here.",
        submit="Keep the type",
        said=f"The type {kept} is kept, and its engines are evaluated again.",
        back=reverse("web:engine-type-list"),
    )

    def act(at: datetime) -> EngineType:
        return changes.change_engine_type(request.viewer, kept, form.facts(), at=at)

    return answered(request, page, form, act)

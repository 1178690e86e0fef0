"""Fuel of an engine: what it means for the limits, what was taken on; added, withdrawn."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.compliance.fuel_use import fuel_use_of
from tracker.figures import wording
from tracker.fleet.fuel import doubt_about_fuel
from tracker.fleet.models import Engine, FuelRecord
from tracker.web import fuel as shown
from tracker.web.forms.fuel import FuelForm
from tracker.web.forms.history import WithdrawalForm
from tracker.web.views.foresight import Foresight
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.paging import CutPage, page_asked
from tracker.web.views.seen import engine_seen


@require_GET
def engine_fuel(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """Which limits the mix of fuel holds, since when, and what was taken on."""
    viewer = request.viewer
    on = today_at(viewer.station)
    try:
        use = fuel_use_of(viewer, engine, on, page=page_asked(request))
    except Engine.DoesNotExist:
        raise Http404 from None
    context = {
        "engine": use.engine,
        "use": use,
        "records": shown.records_shown(use),
        "hanging": shown.hanging_shown(use),
        "consumption": shown.consumption_words(use.consumption),
        "page": CutPage(number=use.number, pages=use.pages, total=use.total),
    }
    return render(request, "web/fuel/engine.html", context)


@require_http_methods(["GET", "POST"])
def add_fuel(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    last = FuelRecord.objects.valid().filter(engine=seen).last()
    form = FuelForm(
        sent(request),
        today=today_at(request.viewer.station),
        last={"unit": last.unit, "kind": last.kind} if last else {},
    )
    page = FormPage(
        heading="Enter fuel",
        subject=str(seen),
        lead=_last_fuel(last),
        submit="Keep the fuel",
        said="The fuel is kept, and what hangs on the leaded share goes by it.",
        back_words="Enter nothing",
        back=fuel_page_of(seen),
        foresight=Foresight.ON_ASKING,
    )

    asked = ""

    def doubt() -> str:
        nonlocal asked
        asked = doubt_about_fuel(seen, form.entry())
        return asked

    def act(at: datetime) -> FuelRecord:
        # Of a form that was sent twice at once, the act itself stops the second.
        confirmed = bool(asked)
        return changes.add_fuel(
            request.viewer, seen, form.entry(), at=at, confirmed=confirmed
        )

    return answered(request, page, form, act, doubt=doubt)


@require_http_methods(["GET", "POST"])
def withdraw_fuel(request: ViewedRequest, engine: UUID, fuel: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    records = FuelRecord.objects.filter(engine=seen)
    row = get_object_or_404(
        records.select_related("engine__engine_type"), public_id=fuel
    )
    form = WithdrawalForm(sent(request))
    page = FormPage(
        heading=f"Withdraw: fuel of {wording.long_day(row.on)}",
        subject=str(seen),
        lead=f"{shown.amount(row)} of {shown.kind_words(row)}. Only for what was "
        "entered by mistake: the record stays on file with your reason and no longer "
        "counts.",
        submit="Withdraw the fuel",
        said="The fuel is withdrawn and no longer counts.",
        back=fuel_page_of(seen),
        foresight=Foresight.ON_ASKING,
    )

    def act(at: datetime) -> None:
        reason = form.cleaned_data["reason"]
        changes.withdraw(request.viewer, row, reason=reason, at=at)

    return answered(request, page, form, act)


def fuel_page_of(engine: Engine) -> str:
    return reverse("web:engine-fuel", args=[engine.public_id])


def _last_fuel(last: FuelRecord | None) -> str:
    if last is None:
        return "No fuel of this engine is entered yet."
    return (
        f"Last entered: {shown.amount(last)} of {shown.kind_words(last)} on "
        f"{wording.long_day(last.on)}."
    )

"""Forms about an engine itself: entered, corrected, fitted, transferred, run otherwise."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.compliance.named_values import named_at, named_for
from tracker.fleet.models import Engine, Fitting, Identity, Operation
from tracker.web.forms.engines import (
    AircraftForm,
    IdentityForm,
    NewEngineForm,
    OperationForm,
    StateForm,
    TransferForm,
)
from tracker.web.views.foresight import Foresight
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.seen import engine_seen, page_of

FORM = ["GET", "POST"]


@require_http_methods(FORM)
def add_engine(request: ViewedRequest) -> HttpResponse:
    today = today_at(request.viewer.station)
    form = NewEngineForm(
        sent(request),
        viewer=request.viewer,
        today=today,
        named=named_at(request.viewer.station, today),
    )
    page = FormPage(
        heading="Enter an engine",
        kind="Engines",
        lead="What is not known stays empty: it is then unknown, never taken for no. "
        "Hours, parts and history are entered on the engine's own page.",
        submit="Enter the engine",
        said="The engine is entered and evaluated against every current publication. "
        "Enter its hours next.",
        back_words="Enter nothing",
        back=reverse("web:engine-list"),
    )

    def act(at: datetime) -> Engine:
        since = form.cleaned_data["true_from"]
        return changes.add_engine(request.viewer, form.entry(), true_from=since, at=at)

    return answered(request, page, form, act, then=page_of, doubt=form.doubt)


@require_http_methods(FORM)
def identity(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    kept = Identity.objects.get(engine=seen, current=True)
    form = IdentityForm(sent(request), viewer=request.viewer, engine=seen, kept=kept)
    page = _page(
        seen,
        heading="Type, serial and dates",
        submit="Keep the identity",
        said="The identity is kept.",
    )

    def act(at: datetime) -> Identity:
        return changes.change_identity(
            request.viewer,
            seen,
            form.identity(),
            at=at,
            true_from=form.cleaned_data["changed_on"],
            version=form.cleaned_data["version"],
        )

    return answered(request, page, form, act)


@require_http_methods(FORM)
def aircraft(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    kept = Fitting.objects.filter(engine=seen, current=True).first()
    today = today_at(request.viewer.station)
    form = AircraftForm(sent(request), engine=seen, today=today, kept=kept)
    page = _page(
        seen,
        heading="Where the engine is fitted",
        submit="Keep where it is fitted",
        said="Where the engine is fitted is kept.",
    )

    def act(at: datetime) -> Fitting:
        return changes.fit_in_aircraft(
            request.viewer, seen, form.fitting(), at=at, **_when(form)
        )

    return answered(request, page, form, act)


@require_http_methods(FORM)
def state(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    today = today_at(request.viewer.station)
    form = StateForm(sent(request), engine=seen, today=today)
    page = _page(
        seen,
        heading="In service, stored or removed",
        submit="Keep the state",
        said="The state is kept.",
    )

    def act(at: datetime) -> object:
        word = form.cleaned_data["state"]
        return changes.change_state(request.viewer, seen, word, at=at, **_when(form))

    return answered(request, page, form, act)


@require_http_methods(FORM)
def transfer(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    today = today_at(request.viewer.station)
    form = TransferForm(sent(request), viewer=request.viewer, engine=seen, today=today)
    page = _page(
        seen,
        heading="Owner of the engine",
        submit="Keep the owner",
        said="The owner is kept.",
    )

    def act(at: datetime) -> object:
        owner = form.cleaned_data["owner"]
        return changes.change_owner(request.viewer, seen, owner, at=at, **_when(form))

    return answered(request, page, form, act)


@require_http_methods(FORM)
def operation(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    kept = Operation.objects.filter(engine=seen, current=True).first()
    today = today_at(request.viewer.station)
    form = OperationForm(
        sent(request),
        engine=seen,
        today=today,
        kept=kept,
        named=named_for(seen, today),
    )
    page = _page(
        seen,
        heading="How the engine is run",
        submit="Keep how it is run",
        said="How the engine is run is kept.",
    )

    def act(at: datetime) -> Operation:
        return changes.change_operation(
            request.viewer, seen, form.operation(), at=at, **_when(form)
        )

    return answered(request, page, form, act, doubt=form.doubt)


def _page(engine: Engine, *, heading: str, submit: str, said: str) -> FormPage:
    return FormPage(
        heading=heading,
        submit=submit,
        said=said,
        subject=str(engine),
        back=page_of(engine),
        foresight=Foresight.ON_ASKING,
    )


def _when(
    form: StateForm | TransferForm | AircraftForm | OperationForm,
) -> dict[str, Any]:
    entered = form.cleaned_data
    return {"true_from": entered["true_from"], "version": entered["version"]}

"""Forms of what happened to an engine: overhauls and events, added or withdrawn."""

from __future__ import annotations

from datetime import datetime
from typing import Final
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.figures import wording
from tracker.fleet.models import Engine, NamedEvent, Overhaul, PartDescription
from tracker.fleet.parts import named
from tracker.web.forms.history import (
    EventForm,
    OverhaulForm,
    PartOverhaulForm,
    RebuildForm,
    WithdrawalForm,
)
from tracker.web.views.foresight import Foresight
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.seen import engine_seen, fitting_seen, history_of

EVENTS: Final = (
    "100-hour inspection",
    "annual inspection",
    "crankshaft removal",
    "oil change",
    "propeller strike",
)
"""Suggested from the start; common practice, no source."""


@require_http_methods(["GET", "POST"])
def add_overhaul(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    form = OverhaulForm(sent(request))
    page = FormPage(
        heading="Enter an overhaul",
        subject=str(seen),
        lead="Time since overhaul counts from the last one. A rebuild by the maker is "
        "entered as a rebuild.",
        submit="Enter the overhaul",
        foresight=Foresight.ON_ASKING,
        said="The overhaul is entered.",
        back_words="Enter nothing",
        back=history_of(seen),
    )

    def act(at: datetime) -> Overhaul:
        return changes.add_overhaul(request.viewer, seen, at=at, **form.cleaned_data)

    return answered(request, page, form, act)


@require_http_methods(["GET", "POST"])
def add_part_overhaul(request: ViewedRequest, engine: UUID, part: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    fitting = fitting_seen(seen, part)
    form = PartOverhaulForm(sent(request))
    described = PartDescription.objects.get(part=fitting.part, current=True)
    page = FormPage(
        heading="Enter an overhaul of a part",
        subject=str(seen),
        lead=f"It is about the {named(described, fitting.place)}.",
        submit="Enter the overhaul",
        foresight=Foresight.ON_ASKING,
        said="The overhaul of the part is entered.",
        back_words="Enter nothing",
        back=history_of(seen),
    )

    def act(at: datetime) -> Overhaul:
        return changes.add_overhaul(
            request.viewer, seen, part=fitting.part, at=at, **form.cleaned_data
        )

    return answered(request, page, form, act)


@require_http_methods(["GET", "POST"])
def add_rebuild(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    form = RebuildForm(sent(request))
    page = FormPage(
        heading="Enter a rebuild by the maker",
        subject=str(seen),
        lead="From then on the engine counts as new: time since new starts at nought "
        "again, and the hours kept for it run on.",
        submit="Enter the rebuild",
        foresight=Foresight.ON_ASKING,
        said="The rebuild is entered, and time since new counts from it.",
        back_words="Enter nothing",
        back=history_of(seen),
    )

    def act(at: datetime) -> Overhaul:
        return changes.add_rebuild(request.viewer, seen, at=at, **form.cleaned_data)

    return answered(request, page, form, act)


@require_http_methods(["GET", "POST"])
def add_event(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    today = today_at(request.viewer.station)
    known = NamedEvent.objects.filter(station=request.viewer.station).order_by()
    names = {*known.values_list("name", flat=True).distinct()[:200], *EVENTS}
    form = EventForm(sent(request), today=today, known=sorted(names))
    page = FormPage(
        heading="Enter an event",
        subject=str(seen),
        lead="Compliance times may count from it, or come due with it.",
        submit="Enter the event",
        foresight=Foresight.ON_ASKING,
        said="The event is entered.",
        back_words="Enter nothing",
        back=history_of(seen),
    )

    def act(at: datetime) -> NamedEvent:
        return changes.add_event(request.viewer, seen, at=at, **form.cleaned_data)

    return answered(request, page, form, act)


@require_http_methods(["GET", "POST"])
def withdraw_overhaul(
    request: ViewedRequest, engine: UUID, overhaul: UUID
) -> HttpResponse:
    """Of the engine, or of a part that is fitted to it."""
    seen = engine_seen(request, engine)
    rows = Overhaul.objects.filter(station=request.viewer.station)
    row = get_object_or_404(
        rows.select_related("engine__engine_type"), public_id=overhaul
    )
    if row.part is not None:
        fitting_seen(seen, row.part.public_id)
    else:
        get_object_or_404(rows, pk=row.pk, engine=seen)
    return _withdrawal(request, seen, row, row.get_kind_display())


@require_http_methods(["GET", "POST"])
def withdraw_event(request: ViewedRequest, engine: UUID, event: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    rows = NamedEvent.objects.filter(engine=seen).select_related("engine__engine_type")
    row = get_object_or_404(rows, public_id=event)
    return _withdrawal(request, seen, row, row.name)


def _withdrawal(
    request: ViewedRequest, seen: Engine, row: Overhaul | NamedEvent, name: str
) -> HttpResponse:
    form = WithdrawalForm(sent(request))
    page = FormPage(
        heading=f"Withdraw: {name} of {wording.long_day(row.on)}",
        subject=str(seen),
        lead="Only for what was entered by mistake. The entry stays on file with your "
        "reason and no longer counts.",
        submit="Withdraw the entry",
        foresight=Foresight.ON_ASKING,
        said="The entry is withdrawn and no longer counts.",
        back=history_of(seen),
    )

    def act(at: datetime) -> None:
        reason = form.cleaned_data["reason"]
        changes.withdraw(request.viewer, row, reason=reason, at=at)

    return answered(request, page, form, act)

"""Forms of hours: a reading added, a wrong one corrected, a meter changed."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from tracker.accounts.access import Right
from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.figures import wording
from tracker.fleet.doubts import doubt_about
from tracker.fleet.models import Engine, Meter, Reading
from tracker.web.forms.meters import (
    CorrectionForm,
    FirstReadingForm,
    MeterChangeForm,
    ReadingForm,
)
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.seen import engine_seen, history_of, page_of

KEPT = "The reading is kept, and what is due by hours counts from it."


@require_http_methods(["GET", "POST"])
def add_reading(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """The first reading of an engine names its meter, which only the station knows."""
    seen = engine_seen(request, engine)
    has_meter = Meter.objects.filter(engine=seen).exists()
    if not has_meter and request.viewer.may(Right.EDIT_FLEET):
        return _first_reading(request, seen)
    form = ReadingForm(sent(request), today=today_at(request.viewer.station))
    page = FormPage(
        heading="Add a reading",
        subject=str(seen),
        lead=_last_reading(seen)
        if has_meter
        else "The station has not entered the meter of this engine yet. Ask it to "
        "enter the first reading.",
        submit="Keep the reading",
        said=KEPT,
        back_words="Enter nothing",
        back=page_of(seen),
    )

    def act(at: datetime) -> Reading:
        return changes.add_reading(
            request.viewer, seen, at=at, confirmed=True, **form.cleaned_data
        )

    def doubt() -> str:
        entered = form.cleaned_data
        return doubt_about(seen, on=entered["on"], shown=entered["shown"])

    return answered(request, page, form, act, doubt=doubt)


def _first_reading(request: ViewedRequest, seen: Engine) -> HttpResponse:
    form = FirstReadingForm(sent(request), today=today_at(request.viewer.station))
    page = FormPage(
        heading="First reading",
        subject=str(seen),
        lead="No meter of this engine is entered yet. Say which one is read, and what "
        "it shows.",
        submit="Keep the reading",
        said=KEPT,
        back_words="Enter nothing",
        back=page_of(seen),
    )

    def act(at: datetime) -> Reading:
        return changes.start_meter(request.viewer, seen, at=at, **form.cleaned_data)

    return answered(request, page, form, act)


@require_http_methods(["GET", "POST"])
def correct_reading(request: ViewedRequest, reading: UUID) -> HttpResponse:
    readings = Reading.objects.visible_to(request.viewer).select_related(
        "engine__engine_type", "engine__station", "meter"
    )
    wrong = get_object_or_404(readings, public_id=reading)
    form = CorrectionForm(sent(request), wrong=wrong)
    page = FormPage(
        heading=f"Correct the reading of {wording.long_day(wrong.on)}",
        subject=str(wrong.engine),
        lead=f"It says that the meter showed {wording.hours(wrong.shown)}. The wrong "
        "reading is kept and no longer counts.",
        submit="Keep the right reading",
        said="The right reading is kept; the wrong one no longer counts.",
        back=history_of(wrong.engine),
    )

    def act(at: datetime) -> Reading:
        return changes.correct_reading(
            request.viewer, wrong, at=at, confirmed=True, **form.cleaned_data
        )

    def doubt() -> str:
        on, shown = form.cleaned_data["on"], form.cleaned_data["shown"]
        return doubt_about(wrong.engine, on=on, shown=shown, wrong=wrong)

    return answered(request, page, form, act, doubt=doubt)


@require_http_methods(["GET", "POST"])
def change_meter(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    form = MeterChangeForm(sent(request), today=today_at(request.viewer.station))
    page = FormPage(
        heading="Record a change of meter",
        subject=str(seen),
        lead=_last_reading(seen),
        submit="Keep the change of meter",
        said="The change of meter is kept, and the hours of the engine run on.",
        back_words="Enter nothing",
        back=history_of(seen),
    )

    def act(at: datetime) -> Reading:
        return changes.change_meter(
            request.viewer, seen, at=at, confirmed=True, **form.cleaned_data
        )

    def doubt() -> str:
        on, shown = form.cleaned_data["on"], form.cleaned_data["old_shown"]
        return "" if shown is None else doubt_about(seen, on=on, shown=shown)

    return answered(request, page, form, act, doubt=doubt)


def _last_reading(engine: Engine) -> str:
    last = Reading.objects.valid().filter(engine=engine).select_related("meter").first()
    if last is None:
        return "No reading of this engine is entered yet."
    return (
        f"Last reading: {wording.hours(last.shown)} on {wording.long_day(last.on)}, "
        f"{last.meter.kind}. Hours never fall, and a day has 24 of them."
    )

"""Forms of parts: fitted new, taken from elsewhere, described, replaced, removed."""

from __future__ import annotations

from datetime import datetime
from typing import Final
from uuid import UUID

from django.db.models import Q
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods

from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.compliance.named_values import named_for
from tracker.fleet.models import Engine, Part, PartDescription, PartFitting, PartRole
from tracker.fleet.parts import named
from tracker.web.forms.parts import (
    DescriptionForm,
    FittingForm,
    NewPartForm,
    RemovalForm,
    ReplacementForm,
    TakenForm,
)
from tracker.web.views.foresight import Foresight
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.seen import engine_seen, fitting_seen, history_of

MOST_FOUND: Final = 50


@require_http_methods(["GET", "POST"])
def fit_new(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    today = today_at(request.viewer.station)
    roles = PartRole.objects.filter(engine_type=seen.engine_type_id)
    known = list(roles.values_list("role", flat=True))
    form = NewPartForm(sent(request), roles=known)
    page = FormPage(
        heading="Enter a fitted part",
        subject=str(seen),
        lead="For a part that is entered here already, on another engine or taken off "
        "one, find it and fit it: its hours then follow it.",
        submit="Enter the part",
        foresight=Foresight.FIRST,
        said="The part is entered.",
        back_words="Enter nothing",
        back=history_of(seen),
        template="web/parts/new.html",
    )

    def act(at: datetime) -> Part:
        return changes.add_part(
            request.viewer,
            seen,
            form.entry(),
            form.fit(seen),
            true_from=form.fitted_on(seen, today),
            at=at,
        )

    def shown() -> dict[str, object]:
        return {"engine": seen, "known_address": form.known_address(seen)}

    return answered(request, page, form, act, shown=shown)


@require_GET
def find(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """Known parts that are not on this engine, by number, serial or role."""
    seen = engine_seen(request, engine)
    asked = " ".join(request.GET.get("q", "").split())
    found: list[PartFitting] = []
    if asked:
        known = PartDescription.objects.filter(
            Q(number__icontains=asked)
            | Q(serial__icontains=asked)
            | Q(role__icontains=asked),
            part__in=Part.objects.visible_to(request.viewer),
            current=True,
        )
        fittings = PartFitting.objects.filter(
            part__in=known.values("part"), current=True
        )
        elsewhere = fittings.filter(~Q(engine=seen) | Q(removed=True))
        found = list(
            elsewhere.select_related("part", "engine__engine_type").order_by("-pk")[
                : MOST_FOUND + 1
            ]
        )
    rows = PartDescription.objects.filter(
        part__in=[one.part_id for one in found], current=True
    )
    names = {row.part_id: named(row) for row in rows}
    shown = {
        "engine": seen,
        "asked": asked,
        "rows": [(names[one.part_id], one) for one in found[:MOST_FOUND]],
        "is_cut": len(found) > MOST_FOUND,
    }
    return render(request, "web/parts/find.html", shown)


@require_http_methods(["GET", "POST"])
def take(request: ViewedRequest, engine: UUID, known_part: UUID) -> HttpResponse:
    """Fit a known part here: from another engine, or from the shelf.

    `instead` in the address: the part of this engine that is taken off for it.
    """
    seen = engine_seen(request, engine)
    parts = Part.objects.visible_to(request.viewer)
    part = get_object_or_404(parts, public_id=known_part)
    last = get_object_or_404(
        PartFitting.objects.select_related("engine__engine_type", "engine__station"),
        part=part,
        current=True,
    )
    moves = not last.removed and last.engine_id != seen.pk
    today = today_at(request.viewer.station)
    old = _replaced(request, seen)
    form = TakenForm(
        sent(request),
        today=today,
        moves=moves,
        replaces=old is not None,
        carried=_carried(request),
    )
    name = _name(part)
    where = f"now on {last.engine} and is taken off there"
    where = where if moves else f"known here and was last on {last.engine}"
    goes = "" if old is None else f" The {_name(old.part, old.place)} is taken off."
    page = FormPage(
        heading="Fit a known part",
        subject=str(seen),
        lead=f"The {name} is {where}.{goes}",
        submit="Fit the part here",
        foresight=Foresight.FIRST,
        said=f"The {name} is fitted to {seen}; its hours have followed it.",
        back_words="Enter nothing",
        back=history_of(seen),
    )

    def act(at: datetime) -> PartFitting:
        on, fit = form.fitted_on(seen, today), form.fit(seen)
        if old is not None:
            changes.replace_part(
                request.viewer,
                seen,
                old.part,
                part,
                fit,
                true_from=on,
                reason=form.cleaned_data["reason"],
                at=at,
                engine_hours_before=form.cleaned_data.get("engine_hours_before"),
            )
            return PartFitting.objects.get(part=part, current=True)
        if not moves:
            return changes.fit_part(
                request.viewer, seen, part, fit, true_from=on, at=at
            )
        return changes.move_part(
            request.viewer,
            last.engine,
            part,
            seen,
            fit,
            true_from=on,
            at=at,
            engine_hours_before=form.cleaned_data["engine_hours_before"],
        )

    return answered(request, page, form, act)


@require_http_methods(["GET", "POST"])
def describe(request: ViewedRequest, engine: UUID, part: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    fitting = fitting_seen(seen, part)
    kept = PartDescription.objects.get(part=fitting.part, current=True)
    form = DescriptionForm(sent(request), kept=kept)
    page = FormPage(
        heading="What is known of a part",
        subject=str(seen),
        lead=f"It is about the {named(kept, fitting.place)}. What is empty is unknown.",
        submit="Keep what is known",
        foresight=Foresight.FIRST,
        said="What is known of the part is kept.",
        back=history_of(seen),
    )

    def act(at: datetime) -> PartDescription:
        return changes.describe_part(
            request.viewer,
            seen,
            fitting.part,
            form.entry(),
            at=at,
            true_from=form.cleaned_data["true_from"],
        )

    return answered(request, page, form, act)


@require_http_methods(["GET", "POST"])
def correct_fitting(request: ViewedRequest, engine: UUID, part: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    fitting = fitting_seen(seen, part)
    form = FittingForm(sent(request), kept=fitting)
    name = _name(fitting.part, fitting.place)
    page = FormPage(
        heading="How a part was fitted",
        subject=str(seen),
        lead=f"It is about the {name}: what stood here was wrong or incomplete. A part "
        "that was exchanged is replaced instead.",
        submit="Keep how it was fitted",
        foresight=Foresight.ON_ASKING,
        said="How the part was fitted is kept.",
        back=history_of(seen),
    )

    def act(at: datetime) -> PartFitting:
        return changes.correct_fitting(
            request.viewer,
            seen,
            fitting.part,
            form.fit(seen),
            fitted_on=form.cleaned_data["true_from"],
            at=at,
        )

    return answered(request, page, form, act)


@require_http_methods(["GET", "POST"])
def replace(request: ViewedRequest, engine: UUID, part: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    fitting = fitting_seen(seen, part)
    kept = PartDescription.objects.get(part=fitting.part, current=True)
    today = today_at(request.viewer.station)
    form = ReplacementForm(
        sent(request), today=today, role=kept.role, named=named_for(seen, today)
    )
    name = named(kept, fitting.place)
    page = FormPage(
        heading="Replace a part",
        subject=str(seen),
        lead=f"The {name} is taken off, and the part below is fitted in its place.",
        submit="Replace the part",
        foresight=Foresight.FIRST,
        said=f"The {name} is taken off, and the new part is fitted.",
        back=history_of(seen),
        template="web/parts/new.html",
    )

    def act(at: datetime) -> Part:
        return changes.replace_part(
            request.viewer,
            seen,
            fitting.part,
            form.entry(),
            form.fit(seen),
            true_from=form.fitted_on(seen, today),
            reason=form.cleaned_data["reason"],
            at=at,
            properties=form.properties(),
        )

    def shown() -> dict[str, object]:
        instead = {"instead": str(part), "reason": form.data.get("reason", "")}
        return {"engine": seen, "known_address": form.known_address(seen, **instead)}

    return answered(request, page, form, act, shown=shown, doubt=form.doubt)


@require_http_methods(["GET", "POST"])
def remove(request: ViewedRequest, engine: UUID, part: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    fitting = fitting_seen(seen, part)
    form = RemovalForm(sent(request), today=today_at(request.viewer.station))
    name = _name(fitting.part, fitting.place)
    page = FormPage(
        heading="Take a part off",
        subject=str(seen),
        lead=f"It is about the {name}. What it has run till then is kept with it.",
        submit="Take the part off",
        foresight=Foresight.FIRST,
        said=f"The {name} is taken off.",
        back=history_of(seen),
    )

    def act(at: datetime) -> PartFitting:
        return changes.remove_part(
            request.viewer, seen, fitting.part, at=at, **form.cleaned_data
        )

    return answered(request, page, form, act)


def _replaced(request: ViewedRequest, engine: Engine) -> PartFitting | None:
    """Which part of the engine a known one takes the place of; None without one."""
    said = request.GET.get("instead")
    if said is None:
        return None
    try:
        return fitting_seen(engine, UUID(said))
    except ValueError:
        raise Http404 from None


def _carried(request: ViewedRequest) -> dict[str, str]:
    """What was written in the form that led here."""
    names = ("true_from", "place", "reason")
    return {name: request.GET[name] for name in names if name in request.GET}


def _name(part: Part, place: str = "") -> str:
    return named(PartDescription.objects.get(part=part, current=True), place)

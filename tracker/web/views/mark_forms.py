"""Forms of the marks on an engine: modifications, properties, reviews, searches."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.compliance.named_values import named_for
from tracker.fleet.fitted_parts import FittedPart, parts_fitted
from tracker.fleet.models import (
    Attribute,
    Engine,
    Modification,
    PartRole,
    Review,
    Search,
)
from tracker.web.asked_properties import asked_properties
from tracker.web.forms.history import (
    AttributeForm,
    LapseForm,
    ModificationForm,
    ReviewForm,
    SearchForm,
)
from tracker.web.views.foresight import Foresight
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.seen import engine_seen, history_of, page_of


@require_http_methods(["GET", "POST"])
def add_modification(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    form = ModificationForm(sent(request), today=today_at(request.viewer.station))
    page = FormPage(
        heading="Note a modification",
        subject=str(seen),
        lead="What a record of the ledger embodies counts by itself and is not noted "
        "here again.",
        submit="Keep it",
        foresight=Foresight.ON_ASKING,
        said="The modification is noted.",
        back_words="Enter nothing",
        back=history_of(seen),
    )

    def act(at: datetime) -> Modification:
        entered = dict(form.cleaned_data)
        embodied = entered.pop("embodied") == "yes"
        write = changes.embody if embodied else changes.not_embodied
        return write(request.viewer, seen, at=at, **entered)

    return answered(request, page, form, act)


@require_http_methods(["GET", "POST"])
def set_attribute(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """A property that is named in the address is filled in."""
    seen = engine_seen(request, engine)
    today = today_at(request.viewer.station)
    fitted, named = _fitted(request, seen), named_for(seen, today)
    names = Attribute.objects.filter(station=request.viewer.station).order_by()
    form = AttributeForm(
        sent(request),
        today=today,
        fitted=fitted,
        known=names.values_list("name", flat=True).distinct()[:200],
        named=named,
        about={key: request.GET.get(key, "") for key in ("part", "name")},
    )
    page = FormPage(
        heading="Note a property",
        subject=str(seen),
        lead="A named property that rules ask for, of the engine or of one of its parts.",
        submit="Keep the property",
        foresight=Foresight.ON_ASKING,
        said="The property is noted.",
        back_words="Enter nothing",
        back=history_of(seen),
        template="web/engines/property.html",
    )

    def act(at: datetime) -> Attribute:
        return changes.set_attribute(request.viewer, seen, at=at, **form.cleaned_data)

    def shown() -> dict[str, object]:
        return {"asked": asked_properties(seen, fitted, named)}

    return answered(request, page, form, act, shown=shown, doubt=form.doubt)


@require_http_methods(["GET", "POST"])
def review(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    held = PartRole.objects.filter(engine_type=seen.engine_type_id)
    fitted = {one.description.role for one in _fitted(request, seen)}
    form = ReviewForm(
        sent(request),
        today=today_at(request.viewer.station),
        person=request.viewer.user.name,
        roles=sorted({*held.values_list("role", flat=True), *fitted}),
    )
    page = FormPage(
        heading="Mark as reviewed",
        subject=str(seen),
        lead="Mark it only when somebody has gone through the records: what is not "
        "recorded then counts as absent, and findings that were undetermined may "
        "be decided by it.",
        submit="Mark as reviewed",
        foresight=Foresight.ON_ASKING,
        said="It is marked as reviewed.",
        back_words="Enter nothing",
        back=history_of(seen),
    )

    def act(at: datetime) -> Review:
        return changes.review(request.viewer, seen, at=at, **form.cleaned_data)

    return answered(request, page, form, act)


@require_http_methods(["GET", "POST"])
def lapse_reviews(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    form = LapseForm(sent(request), today=today_at(request.viewer.station))
    page = FormPage(
        heading="Let the reviews lapse",
        subject=str(seen),
        lead="After work elsewhere it is no longer known that everything is recorded. "
        "What is not recorded is then unknown again.",
        submit="Let them lapse",
        foresight=Foresight.ON_ASKING,
        said="The reviews of this engine have lapsed.",
        back=history_of(seen),
    )

    def act(at: datetime) -> list[Review]:
        return changes.lapse_reviews(request.viewer, seen, at=at, **form.cleaned_data)

    return answered(request, page, form, act)


@require_http_methods(["GET", "POST"])
def note_search(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen = engine_seen(request, engine)
    form = SearchForm(
        sent(request),
        today=today_at(request.viewer.station),
        person=request.viewer.user.name,
        fitted=_fitted(request, seen),
    )
    page = FormPage(
        heading="Note how far the search went",
        subject=str(seen),
        lead="It is printed on the compliance status. Where it is missing or old, that "
        "is listed as open.",
        submit="Keep the search",
        said="How far the search went is noted.",
        back_words="Enter nothing",
        back=page_of(seen),
    )

    def act(at: datetime) -> Search:
        return changes.note_search(request.viewer, seen, at=at, **form.cleaned_data)

    return answered(request, page, form, act)


def _fitted(request: ViewedRequest, engine: Engine) -> list[FittedPart]:
    on = today_at(request.viewer.station)
    return parts_fitted([engine], on=on, known_at=timezone.now())

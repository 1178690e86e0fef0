"""An alternative method of compliance for one engine: entered as approved, or ended."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from notices.models import Provision
from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.compliance.alternatives import approval_words, newest_approved
from tracker.compliance.models import AlternativeMethod
from tracker.web.forms.alternatives import AlternativeForm, EndForm
from tracker.web.forms.library import library_acts
from tracker.web.views.foresight import Foresight
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.seen import engine_seen, page_of

FORM = ["GET", "POST"]


@require_http_methods(FORM)
def approve(request: ViewedRequest, engine: UUID, provision: UUID) -> HttpResponse:
    """Enter what was approved; a later entry takes the place of this one."""
    seen = engine_seen(request, engine)
    asked = _provision(request, provision)
    newest = newest_approved(seen, asked)
    kept = newest if newest and newest.provision_id == asked.pk else None
    earlier = None if kept else newest
    form = AlternativeForm(sent(request), kept=kept, earlier=earlier)
    page = FormPage(
        heading="Enter an alternative method of compliance",
        subject=f"{seen.engine_type}, serial {seen.serial}",
        lead=f"{asked.revision}: {asked.title}. Another method, compliance time or "
        "interval counts for this engine alone, once it is approved and as long as it "
        "is.",
        submit="Enter the alternative method",
        said="The alternative method is entered, and the engine is evaluated again.",
        back=page_of(seen),
        template="web/answers/alternative.html",
        foresight=Foresight.ON_ASKING,
    )

    def act(at: datetime) -> AlternativeMethod:
        with library_acts():
            return changes.approve_alternative(
                request.viewer, seen, asked, form.entry(), at=at
            )

    shown = {
        "engine": seen,
        "asked": asked,
        "is_kept": kept is not None,
        "newest": newest,
        "approval": approval_words(newest) if newest else "",
    }
    return answered(request, page, form, act, shown=lambda: shown)


@require_http_methods(FORM)
def end(request: ViewedRequest, engine: UUID, provision: UUID) -> HttpResponse:
    """End what was approved for this revision; without it there is nothing to end."""
    seen = engine_seen(request, engine)
    asked = _provision(request, provision)
    kept = newest_approved(seen, asked)
    if kept is None or kept.provision_id != asked.pk:
        raise Http404
    form = EndForm(sent(request), today=today_at(request.viewer.station))
    page = FormPage(
        heading=f"End the alternative method {kept.reference}",
        subject=f"{seen.engine_type}, serial {seen.serial}",
        lead=f"{asked.revision}: {asked.title}. {approval_words(kept)} From the "
        "day given on, what the document says counts again.",
        submit="End it",
        said="The alternative method is ended, and the engine is evaluated again.",
        back=page_of(seen),
        foresight=Foresight.ON_ASKING,
    )

    def act(at: datetime) -> AlternativeMethod:
        return changes.end_alternative(
            request.viewer, seen, asked, **form.cleaned_data, at=at
        )

    return answered(request, page, form, act)


def _provision(request: ViewedRequest, provision: UUID) -> Provision:
    mine = Provision.objects.for_station(request.viewer.station)
    confirmed = mine.filter(revision__confirmed_at__isnull=False)
    return get_object_or_404(
        confirmed.select_related("revision__publication"), public_id=provision
    )

"""Several records signed in one go: all of them, or none."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from notices.models import Provision
from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.compliance.models import Record, RecordKind
from tracker.compliance.signable import Signable, open_for_engines, open_of_engine
from tracker.web.forms.several import SeveralForm
from tracker.web.views.form_pages import FormPage, sent
from tracker.web.views.seen import engine_seen, page_of
from tracker.web.views.signing import signed

FORM = ["GET", "POST"]
TEMPLATE = "web/records/several.html"


@require_http_methods(FORM)
def record_for_engines(request: ViewedRequest, provision: UUID) -> HttpResponse:
    """Sign for one action of one document, for all the engines it was done on."""
    mine = Provision.objects.for_station(request.viewer.station)
    actions = mine.filter(
        kind=Provision.Kind.ACTION, revision__confirmed_at__isnull=False
    )
    done = get_object_or_404(
        actions.select_related("revision__publication"), public_id=provision
    )
    publication = done.revision.publication
    page = FormPage(
        heading=f"Record for several engines: {done.title}",
        kind=publication.get_kind_display().capitalize(),
        subject=f"{publication.number} revision {done.revision.label}",
        lead="Mark the engines on which it was done. The records are signed together: "
        "all of them are added, or none.",
        submit="Look at the entries",
        said="The records are added to the ledgers, and the engines evaluated again.",
        back=reverse("web:publication", args=[publication.public_id]),
        template=TEMPLATE,
    )
    return _signed(request, page, open_for_engines(request.viewer, done))


@require_http_methods(FORM)
def record_several(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """Sign for several actions that were done on one engine."""
    seen = engine_seen(request, engine)
    page = FormPage(
        heading="Record several at once",
        subject=f"{seen.engine_type}, serial {seen.serial}",
        lead="Mark what was done. The records are signed together: all of them are "
        "added, or none.",
        submit="Look at the entries",
        said="The records are added to the ledger, and the engine is evaluated again.",
        back=page_of(seen),
        template=TEMPLATE,
    )
    rows = open_of_engine(request.viewer, seen)
    return _signed(request, page, rows, of_engine=True)


def _signed(
    request: ViewedRequest,
    page: FormPage,
    rows: Sequence[Signable],
    *,
    of_engine: bool = False,
) -> HttpResponse:
    viewer = request.viewer
    mine = Record.objects.filter(
        station=viewer.station, recorded_by=viewer.user, kind=RecordKind.WORK
    )
    form = SeveralForm(
        sent(request),
        rows=rows,
        by=viewer.user,
        today=today_at(viewer.station),
        last=mine.order_by("-pk").first(),
        files=request.FILES or None,
    )

    def look(at: datetime) -> Sequence[Record]:
        return changes.look_at_work(viewer, form.work_of_all(), at=at)

    def sign(password: str, at: datetime) -> Sequence[Record]:
        work = form.work_of_all()
        return changes.sign_work(viewer, work, password=password, at=at)

    def then(records: Sequence[Record]) -> str:
        return page.back

    def shown() -> Mapping[str, object]:
        return {"of_engine": of_engine}

    return signed(request, page, form, look=look, sign=sign, then=then, shown=shown)

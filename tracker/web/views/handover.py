"""An engine handed over: its archive given out, and one taken in."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods

from notices.rules.errors import RuleError
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.compliance.ledger import AttachmentLost
from tracker.fleet.errors import Refused
from tracker.handover.writing import archive_of
from tracker.web.forms.handover import ArchiveForm, faults_in_words
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.seen import engine_seen, page_of


@require_GET
def archive(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """Everything that must go with an engine, as one file."""
    seen = engine_seen(request, engine)
    try:
        content = archive_of(request.viewer, seen, at=timezone.now())
    except AttachmentLost as lost:
        return HttpResponse(str(lost), status=503, content_type="text/plain")
    name = f"{slugify(str(seen))}-{timezone.now():%Y-%m-%d}.zip"
    shown = content_disposition_header(as_attachment=True, filename=name)
    assert shown is not None, "an attachment always has one"
    headers = {"Content-Disposition": shown, "Cache-Control": "no-store"}
    return HttpResponse(content, content_type="application/zip", headers=headers)


@require_http_methods(["GET", "POST"])
def take_in(request: ViewedRequest) -> HttpResponse:
    """Take in an engine that another station has handed over."""
    form = ArchiveForm(sent(request), request.FILES or None)
    page = FormPage(
        heading="Take in an engine that was handed over",
        kind="Engines",
        lead="Identity, hours, parts, history and the whole ledger come with the archive. "
        "Owner, operation, reviews and searches are for this station to enter. A record "
        "under a document that this library does not hold counts only once somebody has "
        "looked at it.",
        submit="Take in the engine",
        said="The engine is taken in with its ledger, whose chain is whole.",
        back_words="Take in nothing",
        back=reverse("web:engine-list"),
    )

    def act(at: datetime) -> changes.TakenIn:
        found = form.archive()
        try:
            return changes.take_in(
                request.viewer,
                chain_id=found.chain_id,
                engine_type=found.engine_type,
                tables=found.tables,
                alternatives=found.alternatives,
                links=found.links,
                files=found.files,
                at=at,
            )
        except RuleError as error:
            raise Refused("file", faults_in_words(error)) from error

    def then(taken: changes.TakenIn) -> str:
        for one in taken.unplaced:
            messages.warning(
                request,
                f"Alternative method {one}, is not entered: this library does not hold "
                "that document. Enter both, or what the document says will count.",
            )
        return page_of(taken.engine)

    return answered(request, page, form, act, then=then)

"""Forms about a publication, and about the document that a revision carries."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from notices.models import Document, Publication, Revision
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.web.forms.documents import DocumentForm
from tracker.web.forms.library import library_acts
from tracker.web.forms.publications import PublicationForm
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.seen import publication_seen, revision_seen

FORM = ["GET", "POST"]
PAGES_AT_ONCE = 20


def publication_page(publication: Publication) -> str:
    return reverse("web:publication", args=[publication.public_id])


def revision_page(revision: Revision) -> str:
    return reverse("web:publication-revision", args=[revision.public_id])


@require_http_methods(FORM)
def add_publication(request: ViewedRequest) -> HttpResponse:
    form = PublicationForm(sent(request))
    page = FormPage(
        heading="Enter a publication",
        kind="Publications",
        lead="One document through all its revisions. What it says, and to which "
        "engines it applies, is entered with its first revision.",
        submit="Enter the publication",
        said="The publication is entered. Enter its revision next.",
        back=reverse("web:publication-list"),
    )

    def act(at: datetime) -> Publication:
        with library_acts():
            return changes.add_publication(request.viewer, **form.cleaned_data, at=at)

    return answered(request, page, form, act, then=publication_page)


@require_http_methods(FORM)
def change_publication(request: ViewedRequest, publication: UUID) -> HttpResponse:
    seen = publication_seen(request, publication)
    form = PublicationForm(sent(request), kept=seen)
    page = FormPage(
        heading="Kind, number, issuer and title",
        kind="Publication",
        subject=str(seen),
        submit="Keep the entry",
        said="The entry of the publication is kept.",
        back=publication_page(seen),
    )

    def act(at: datetime) -> Publication:
        with library_acts():
            return changes.change_publication(
                request.viewer, seen, **form.cleaned_data, at=at
            )

    return answered(request, page, form, act)


@require_http_methods(FORM)
def add_document(request: ViewedRequest, revision: UUID) -> HttpResponse:
    seen = revision_seen(request, revision)
    form = DocumentForm(sent(request), request.FILES or None)
    page = FormPage(
        heading="Add the document",
        kind="Revision",
        subject=str(seen),
        lead="On a confirmed revision the document stays as the proof of what was "
        "confirmed; on a draft it can be replaced.",
        submit="Add the document",
        said="The document is added. Its text is not read yet; that happens by itself.",
        back=revision_page(seen),
    )

    def act(at: datetime) -> Revision:
        file = form.cleaned_data["file"]
        with library_acts():
            return changes.attach_document(
                request.viewer, seen, content=file.read(), name=file.name, at=at
            )

    return answered(request, page, form, act)


@require_GET
def document_text(request: ViewedRequest, document: UUID) -> HttpResponse:
    """What was read from a document, page after page."""
    mine = Document.objects.for_station(request.viewer.station)
    seen = get_object_or_404(mine, public_id=document)
    pages = Paginator(list(enumerate(seen.page_texts, 1)), PAGES_AT_ONCE)
    shown = {
        "document": seen,
        "page": pages.get_page(request.GET.get("page")),
        "revisions": seen.revisions.select_related("publication").order_by("pk"),
    }
    return render(request, "web/documents/text.html", shown)

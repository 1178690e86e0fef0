"""A document told to all owners whom it concerns: looked at first, then written."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from notices.models import Revision
from tracker.accounts.context import today_at
from tracker.accounts.library import publications_visible_to
from tracker.accounts.middleware import ViewedRequest
from tracker.watch.telling import announce, preview_of_announcement
from tracker.watch.unreached import engines_of_nobody, unreached
from tracker.web.forms.telling import NoteForm
from tracker.web.views.form_pages import sent


@require_http_methods(["GET", "POST"])
def tell(request: ViewedRequest, publication: UUID) -> HttpResponse:
    """The first sending shows what would be written; only "confirm" writes it."""
    revision = _current(request, publication)
    form = NoteForm(sent(request))
    shown: dict[str, Any] = {"revision": revision, "form": form}
    if form.is_bound and form.is_valid():
        note = form.cleaned_data["note"]
        if "confirm" in request.POST:
            return _written(request, revision, note)
        shown |= _preview(request, revision, note)
    status = 422 if form.errors else 200
    return render(request, "web/publications/tell.html", shown, status=status)


def _current(request: ViewedRequest, publication: UUID) -> Revision:
    """The revision in force; of a publication without one nobody is told."""
    seen = get_object_or_404(
        publications_visible_to(request.viewer), public_id=publication
    )
    on = today_at(request.viewer.station)
    revision = seen.revisions.current(on).select_related("publication").first()
    if revision is None:
        raise Http404
    return revision


def _preview(request: ViewedRequest, revision: Revision, note: str) -> dict[str, Any]:
    return {
        "note": note,
        "preview": preview_of_announcement(request.viewer, revision, note),
        "unreached": unreached(request.viewer, revision),
        "of_nobody": engines_of_nobody(request.viewer, revision),
    }


def _written(request: ViewedRequest, revision: Revision, note: str) -> HttpResponse:
    count = len(announce(request.viewer, revision, note, at=timezone.now()))
    if count:
        noun = "message is" if count == 1 else "messages are"
        messages.success(request, f"{count} {noun} written, and will be sent.")
    else:
        messages.info(request, "Nothing was written: all of them were told so before.")
    return redirect("web:publication", revision.publication.public_id)

"""Publications: the list, one with whom it affects, one revision, its document."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any
from uuid import UUID

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from notices import documents
from notices.models import (
    Document,
    Kind,
    Publication,
    Reference,
    Revision,
    RevisionStanding,
)
from notices.rules.conditions import parse_condition
from notices.rules.designations import designation
from tracker.accounts.access import Viewer
from tracker.accounts.context import today_at
from tracker.accounts.library import (
    publications_visible_to,
    revisions_visible_to,
)
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import publications, tallies
from tracker.compliance.rules import CompiledRule, rules_of
from tracker.figures.states import most_urgent
from tracker.figures.strip import draw_strip
from tracker.web import lines
from tracker.web.provisions import applicability_words, numbers_named, said_by
from tracker.web.revision_changes import changes_of
from tracker.web.strips import StripRevision, StripSerial, strips_of
from tracker.web.views.paging import SIZE, CutPage, page_asked

STATES = {
    "current": "with a current revision",
    "draft": "with a draft that waits",
    "none": "without a current revision",
}


@require_GET
def publication_list(request: ViewedRequest) -> HttpResponse:
    viewer, asked = request.viewer, request.GET
    on = today_at(viewer.station)
    states = _states_shown(viewer)
    found = publications_visible_to(viewer).for_list(on)
    found = found.search(asked.get("q", ""), in_drafts=not viewer.is_owner)
    if asked.get("kind") in Kind.values:
        found = found.of_kind(asked["kind"])
    if asked.get("state") in states:
        found = found.filter(**_with_state(asked["state"]))
    page = Paginator(found.order_by("kind", "number_key"), SIZE)
    chosen = page.get_page(asked.get("page"))
    affected = tallies.affected_by(viewer, chosen, on)
    shown = {
        "page": chosen,
        "rows": [(one, affected.get(one.pk, tallies.Affected())) for one in chosen],
        "kinds": Kind,
        "states": states.items(),
        "asked": asked,
        "is_narrowed": any(asked.get(key) for key in ("q", "kind", "state")),
    }
    return render(request, "web/publications/list.html", shown)


def _states_shown(viewer: Viewer) -> dict[str, str]:
    """An owner is not told that a draft waits."""
    if viewer.is_owner:
        return {key: words for key, words in STATES.items() if key != "draft"}
    return STATES


def _with_state(state: str) -> dict[str, bool]:
    column = "draft_label" if state == "draft" else "current_label"
    return {f"{column}__isnull": state == "none"}


@require_GET
def publication(request: ViewedRequest, publication: UUID) -> HttpResponse:
    """What holds of a publication now, and the engines that it concerns or may."""
    viewer = request.viewer
    on = today_at(viewer.station)
    seen = _publication(viewer, publication)
    revisions = _revisions(viewer, seen, on)
    held = next((r for r, word in revisions if word == RevisionStanding.CURRENT), None)
    shown = _of_revision(held or revisions[-1][0], dict(revisions)) if revisions else {}
    shown |= {
        "publication": seen,
        "revisions": list(reversed(revisions)),
        "held": held,
        "newer": _waiting(revisions, held),
        "named_by": _named_by(seen),
    }
    if held is not None:
        shown |= _affected(request, held, revisions, on)
    return render(request, "web/publications/detail.html", shown)


def _publication(viewer: Viewer, public_id: UUID) -> Publication:
    mine = publications_visible_to(viewer)
    return get_object_or_404(mine, public_id=public_id)


Standings = list[tuple[Revision, RevisionStanding]]


def _revisions(viewer: Viewer, publication: Publication, on: date) -> Standings:
    """Oldest first, each with what it is on a day. Two queries."""
    rows = revisions_visible_to(viewer).filter(publication=publication)
    rows = rows.order_by("sequence")
    words = rows.standings(on)
    people = ("document", "confirmed_by", "entered_by", "publication", "cancelled_by")
    return [(row, words[row.pk]) for row in rows.select_related(*people)]


def _waiting(revisions: Standings, held: Revision | None) -> list[Any]:
    """Drafts, and what is confirmed for later, after the revision that holds."""
    late = (RevisionStanding.DRAFT, RevisionStanding.WAITING)
    return [
        (row, word)
        for row, word in revisions
        if word in late and (held is None or row.sequence > held.sequence)
    ]


def _named_by(publication: Publication) -> list[Reference]:
    """What other publications say of this one, by revisions that are confirmed."""
    rows = Reference.objects.filter(
        publication=publication, revision__confirmed_at__isnull=False
    )
    return list(rows.select_related("revision__publication"))


def _of_revision(
    revision: Revision, words: dict[Revision, RevisionStanding]
) -> dict[str, Any]:
    """What one revision says, with its document and what it names."""
    references = revision.references.select_related("publication")
    rules = rules_of(revision)
    return {
        "revision": revision,
        "standing": words[revision],
        "applicability": applicability_words(revision),
        "said": said_by(rules),
        "named": _named(revision, rules),
        "references": list(references),
    }


def _named(
    revision: Revision, rules: Sequence[CompiledRule]
) -> list[tuple[str, Publication | None]]:
    """The numbers that the rules ask for, each with its publication if there is one."""
    numbers = numbers_named(rules)
    keys = {designation(number): number for number in numbers}
    found = Publication.objects.filter(station=revision.station_id, number_key__in=keys)
    known = {one.number_key: one for one in found} if keys else {}
    return [(number, known.get(key)) for key, number in keys.items()]


def _affected(
    request: ViewedRequest, held: Revision, revisions: Standings, on: date
) -> dict[str, Any]:
    viewer = request.viewer
    page = publications.affected_engines(viewer, held, on, page=page_asked(request))
    return {
        "rows": lines.shown(page.rows),
        "page": CutPage(number=page.number, pages=page.pages, total=page.total),
        "counts": publications.affected_counts(viewer, held),
        "strips": _strips(held, revisions, page),
    }


def _strips(
    held: Revision, revisions: Standings, page: publications.AffectedPage
) -> Sequence[str]:
    """Drawn for revisions that held once or hold, and the engines on this page."""
    drawn = (RevisionStanding.CURRENT, RevisionStanding.SUPERSEDED)
    shown = [
        StripRevision(
            name=f"revision {row.label}",
            standing=word.value,
            applicability=parse_condition(row.applicability),
        )
        for row, word in revisions
        if word in drawn and row.applicability
    ]
    words: dict[str, list[str]] = {}
    for row in page.rows:
        words.setdefault(row.engine.serial, []).append(row.word)
    engines = [
        StripSerial(serial=serial, state=most_urgent(found))
        for serial, found in words.items()
    ]
    strips = strips_of(held.publication.number, shown, engines)
    return [draw_strip(strip, number=place) for place, strip in enumerate(strips, 1)]


@require_GET
def revision(request: ViewedRequest, revision: UUID) -> HttpResponse:
    """One revision as it was entered, whatever it is now."""
    viewer = request.viewer
    mine = revisions_visible_to(viewer).select_related("publication")
    seen = get_object_or_404(mine, public_id=revision)
    on = today_at(viewer.station)
    words = dict(_revisions(viewer, seen.publication, on))
    own = next(row for row in words if row == seen)
    shown = _of_revision(own, words)
    if own.is_draft:
        shown["changes"] = changes_of(own, on)
    return render(
        request,
        "web/publications/revision.html",
        shown | {"publication": own.publication},
    )


@require_GET
def not_affected(request: ViewedRequest, publication: UUID) -> HttpResponse:
    """Engines that the current revision does not concern, each with the reason."""
    viewer = request.viewer
    on = today_at(viewer.station)
    seen = _publication(viewer, publication)
    held = seen.revisions.current(on).first()
    if held is None:
        raise Http404
    found = publications.unaffected_engines(viewer, held, on, page=page_asked(request))
    shown = {
        "publication": seen,
        "revision": held,
        "rows": found.rows,
        "page": CutPage(number=found.number, pages=found.pages, total=found.engines),
    }
    return render(request, "web/publications/not_affected.html", shown)


@require_GET
def document(request: ViewedRequest, document: UUID) -> HttpResponse:
    """The stored file, given out as it was taken in."""
    mine = Document.objects.for_station(request.viewer.station)
    if request.viewer.is_owner:
        shown = revisions_visible_to(request.viewer).values("document")
        mine = mine.filter(pk__in=shown)
    seen = get_object_or_404(mine, public_id=document)
    try:
        content = documents.open_document(seen)
    except documents.DocumentLost as lost:
        return render(
            request, "web/publications/lost.html", {"why": str(lost)}, status=404
        )
    return HttpResponse(content, headers=documents.serve_headers(seen))

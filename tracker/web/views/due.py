"""What is due and open: the start page, and the lists that it is an extract of."""

from __future__ import annotations

from datetime import date

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from tracker.accounts.access import Viewer
from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import gaps, tallies
from tracker.compliance.due import due_list, listed
from tracker.compliance.interval_lists import intervals_due
from tracker.compliance.models import Enquiry
from tracker.compliance.overhauls import overhauls_of
from tracker.compliance.states import FURTHER_FLIGHT, WORDS
from tracker.fleet.models import Engine
from tracker.watch.heartbeat import heartbeat
from tracker.web import lines
from tracker.web.overhauls import Brief, brief_of
from tracker.web.views.paging import SIZE, CutPage, page_asked

NEAR = (FURTHER_FLIGHT, "overdue", "coming due")
FEW = 12
NEAREST = 25


@require_GET
def start(request: ViewedRequest) -> HttpResponse:
    """Past a limit or near it, facts that are missing, documents, old readings."""
    viewer = request.viewer
    on = today_at(viewer.station)
    if viewer.is_owner:
        return _for_owner(request)
    found = due_list(viewer, on, states=NEAR, page=page_asked(request), size=NEAREST)
    facts = gaps.missing_facts(viewer, on)
    old = gaps.old_readings(viewer, on)
    recent = gaps.new_revisions(viewer, on)
    shown = {
        "table": lines.with_lanes(found.rows, viewer.station, on),
        "counts": found.counts,
        "total": sum(found.counts.values()),
        "page": CutPage(
            number=found.number, pages=found.pages, total=found.total, size=NEAREST
        ),
        "intervals": intervals_due(viewer, on),
        "facts": facts[:FEW],
        "facts_total": len(facts),
        "drafts": gaps.waiting_drafts(viewer),
        "recent": recent,
        "affected": tallies.affected_by(viewer, [r.publication for r in recent], on),
        "old": old[:FEW],
        "old_total": old.count(),
        "evaluated": tallies.evaluated(viewer, on),
        "heartbeat": heartbeat(viewer.station, timezone.now()),
        "enquiries": Enquiry.objects.visible_to(viewer).waiting().count(),
    }
    return render(request, "web/due/station.html", shown)


def _for_owner(request: ViewedRequest) -> HttpResponse:
    """The same for an owner: own engines only, most urgent first, one column."""
    viewer = request.viewer
    on = today_at(viewer.station)
    found = due_list(viewer, on, page=page_asked(request))
    shown = {
        "rows": lines.shown(found.rows),
        "counts": found.counts,
        "urgent": tallies.most_urgent(found.counts),
        "page": CutPage(number=found.number, pages=found.pages, total=found.total),
        "intervals": _intervals_of_owner(viewer, on),
        "facts": gaps.missing_facts(viewer, on)[:FEW],
        "old": gaps.old_readings(viewer, on)[:FEW],
        "evaluated": tallies.evaluated(viewer, on),
    }
    return render(request, "web/due/owner.html", shown)


def _intervals_of_owner(viewer: Viewer, on: date) -> list[Brief]:
    """The interval of the owner's first engines in full: few, and read at once."""
    engines = list(Engine.objects.visible_to(viewer).for_list()[:FEW])
    for engine in engines:
        engine.station = viewer.station
    return [brief_of(found) for found in overhauls_of(engines, on=on).values()]


@require_GET
def everything_open(request: ViewedRequest) -> HttpResponse:
    """All open findings, or those of one state."""
    viewer = request.viewer
    on = today_at(viewer.station)
    word = request.GET.get("state", "")
    states = [word] if word in WORDS else None
    found = due_list(viewer, on, states=states, page=page_asked(request))
    shown = {
        "table": lines.with_lanes(found.rows, viewer.station, on),
        "tabs": [(word, listed(found.counts, word)) for word in WORDS],
        "chosen": word if states else "",
        "page": CutPage(number=found.number, pages=found.pages, total=found.total),
    }
    return render(request, "web/due/open.html", shown)


@require_GET
def missing(request: ViewedRequest) -> HttpResponse:
    """Every fact that is missing, once, that which decides most first."""
    viewer = request.viewer
    facts = gaps.missing_facts(viewer, today_at(viewer.station))
    page = Paginator(facts, SIZE).get_page(request.GET.get("page"))
    return render(request, "web/due/missing.html", {"facts": page, "page": page})

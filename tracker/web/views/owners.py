"""Owners: the list, and one owner with their engines."""

from __future__ import annotations

from uuid import UUID

from django.core.paginator import Paginator
from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import tallies
from tracker.compliance.models import EventKind
from tracker.fleet.models import Engine, Owner
from tracker.fleet.preferences import preference_of
from tracker.watch import listing
from tracker.web.views.paging import SIZE


@require_GET
def owner_list(request: ViewedRequest) -> HttpResponse:
    viewer = request.viewer
    asked = request.GET.get("q", "").strip()
    owners = Owner.objects.visible_to(viewer).annotate(engine_count=Count("engines"))
    if asked:
        owners = owners.filter(name__icontains=asked)
    page = Paginator(owners.order_by("name", "pk"), SIZE).get_page(
        request.GET.get("page")
    )
    counts = tallies.counts_of_owners(viewer, page, today_at(viewer.station))
    shown = {
        "page": page,
        "rows": [(o, tallies.most_urgent(counts[o.pk]), counts[o.pk]) for o in page],
        "asked": asked,
    }
    return render(request, "web/owners/list.html", shown)


@require_GET
def owner(request: ViewedRequest, owner: UUID) -> HttpResponse:
    """One owner: how to reach and tell them, their engines with the most urgent state."""
    viewer = request.viewer
    seen = get_object_or_404(Owner.objects.visible_to(viewer), public_id=owner)
    mine = Engine.objects.visible_to(viewer).for_list().filter(owner=seen)
    engines = mine.select_related("standing")
    page = Paginator(engines, SIZE).get_page(request.GET.get("page"))
    counts = tallies.counts_of_engines(viewer, page, today_at(viewer.station))
    preference = preference_of(seen)
    shown = {
        "owner": seen,
        "page": page,
        "rows": [(e, tallies.most_urgent(counts[e.pk]), counts[e.pk]) for e in page],
        "preference": preference,
        "left_out": [EventKind(kind).label for kind in preference.without],
        "sent": listing.last_to(viewer, seen),
    }
    return render(request, "web/owners/detail.html", shown)

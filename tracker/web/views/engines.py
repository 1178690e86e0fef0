"""Engines: the list, one engine at a glance, its history, what does not apply to it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Final
from uuid import UUID

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from notices.models import Provision
from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.accounts.models import Station
from tracker.compliance import gaps, tallies
from tracker.compliance.conflicts import conflicts_of
from tracker.compliance.interval_lists import ASKED, narrowed
from tracker.compliance.overhauls import Overhaul, overhauls_of
from tracker.compliance.overview import EngineOverview, overview_of
from tracker.compliance.past import past_of
from tracker.compliance.summary import status_of
from tracker.figures.dates import draw_dates
from tracker.figures.ruler import draw_hours
from tracker.fleet.models import Engine, Owner, Review, State
from tracker.watch import listing
from tracker.web import lines
from tracker.web.conflicts import shown_conflicts
from tracker.web.interval_rulers import with_interval
from tracker.web.overhauls import brief_of, with_gaps
from tracker.web.remedies import with_remedies
from tracker.web.rulers import Rulers, items_of, rulers_of, works_of
from tracker.web.views.paging import SIZE

NARROWED: Final = ("q", "state", "owner", "hours", "interval")


@require_GET
def engine_list(request: ViewedRequest) -> HttpResponse:
    viewer = request.viewer
    on = today_at(viewer.station)
    asked = request.GET
    engines = Engine.objects.visible_to(viewer).for_list()
    if asked.get("hours") == "old":
        engines = gaps.old_readings(viewer, on)
    if asked.get("state") in State.values:
        engines = engines.filter(state=asked["state"])
    owner = _owner_asked(request)
    if owner is not None:
        engines = engines.filter(owner=owner)
    if asked.get("interval") in ASKED:
        engines = narrowed(engines, asked["interval"], viewer, on)
    found = engines.matching(asked.get("q", "")).select_related("standing")
    page = Paginator(found, SIZE).get_page(asked.get("page"))
    counts = tallies.counts_of_engines(viewer, page, on)
    shown = {
        "page": page,
        "rows": [(e, tallies.most_urgent(counts[e.pk]), counts[e.pk]) for e in page],
        "states": State,
        "asked": asked,
        "owner": owner,
        "intervals": ASKED.items(),
        "is_narrowed": any(map(asked.get, NARROWED)),
    }
    return render(request, "web/engines/list.html", shown)


def _owner_asked(request: ViewedRequest) -> Owner | None:
    """The owner that an address names; one who is not there is a wrong address."""
    asked = request.GET.get("owner")
    if not asked:
        return None
    try:
        wanted = UUID(asked)
    except ValueError:
        raise Http404 from None
    return get_object_or_404(Owner.objects.visible_to(request.viewer), public_id=wanted)


@require_GET
def engine(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """One engine: identity, hours, what is due, what cannot be said, its ledger."""
    on = today_at(request.viewer.station)
    try:
        found = overview_of(request.viewer, engine, on)
    except Engine.DoesNotExist:
        raise Http404 from None
    overhaul = _overhaul(found, request.viewer.station, on)
    drawn = with_interval(_rulers(found, overhaul, on=on), overhaul)
    gaps = with_gaps(found.gaps, overhaul)
    shown = {
        "found": found,
        "engine": found.engine,
        "interval": None if overhaul is None else brief_of(overhaul),
        "gaps": with_remedies(gaps, found.engine, found.parts),
        "conflicts": shown_conflicts(
            conflicts_of(found.open_rows, found.parts), found.engine, found.parts
        ),
        "urgent": tallies.most_urgent(found.counts),
        "open_rows": lines.shown(found.open_rows),
        "closed_rows": lines.shown(found.closed_rows),
        "old_before": on - timedelta(days=request.viewer.station.reading_age_days),
        "hours_figure": draw_hours(drawn.hours),
        "dates_figure": draw_dates(drawn.dates),
        "reviewed": _reviewed(found.reviews),
        "told": listing.last_about(request.viewer, found.engine),
    }
    return render(request, "web/engines/detail.html", shown)


def _reviewed(reviews: Sequence[Review]) -> list[tuple[date, list[str]]]:
    """Return which roles of parts were gone through, by the day, the last one first."""
    roles: dict[date, list[str]] = {}
    for review in reviews:
        if review.scope != Review.HISTORY:
            roles.setdefault(review.true_from, []).append(review.scope)
    return sorted(roles.items(), reverse=True)


def _overhaul(found: EngineOverview, station: Station, on: date) -> Overhaul | None:
    """The interval in full, worked out only where the last evaluation found one."""
    if found.standing is None or not found.standing.tells_an_interval:
        return None
    found.engine.station = station
    return overhauls_of([found.engine], on=on).get(found.engine.pk)


def _rulers(found: EngineOverview, overhaul: Overhaul | None, *, on: date) -> Rulers:
    """What is due; the limits of an interval that is drawn as a band stand there."""
    standing, engine = found.standing, found.engine
    zero = standing.zero if standing else 0
    band = Provision.Kind.INTERVAL if overhaul is not None else ""
    rows = [row for row in found.open_rows if row.provision.kind != band]
    return rulers_of(
        f"engine {engine}",
        items_of(rows),
        works_of(found.valid_records, zero, on),
        now=None if engine.hours_now is None else engine.hours_now - zero,
        today=on,
    )


@require_GET
def history(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """Parts that came and went, modifications, overhauls, readings, reviews."""
    try:
        past = past_of(request.viewer, engine, today_at(request.viewer.station))
    except Engine.DoesNotExist:
        raise Http404 from None
    shown = {"past": past, "engine": past.engine}
    return render(request, "web/engines/history.html", shown)


@require_GET
def not_applying(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """Every provision that was evaluated and does not apply, with the reason."""
    viewer = request.viewer
    engines = Engine.objects.visible_to(viewer).for_list().select_related("station")
    seen = get_object_or_404(engines, public_id=engine)
    status = status_of(seen, on=today_at(viewer.station))
    shown = {"engine": seen, "status": status}
    return render(request, "web/engines/not_applying.html", shown)

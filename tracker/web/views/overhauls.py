"""The overhaul interval of one engine: the answer first, then where it comes from."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from notices.rules.phrases import listed
from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance.intervals import provision_words
from tracker.compliance.overhaul_words import DEFER, law_sentence
from tracker.compliance.overhauls import Overhaul, overhauls_of
from tracker.compliance.overview import parts_now
from tracker.figures.dates import draw_dates
from tracker.figures.ruler import draw_hours
from tracker.web.interval_rulers import drawn
from tracker.web.overhauls import (
    brief_of,
    gaps_of,
    offers_shown,
    sources_shown,
)
from tracker.web.remedies import with_remedies
from tracker.web.views.seen import engine_seen


@require_GET
def overhaul(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """Which interval applies, whether a longer one does, and what would make it."""
    seen = engine_seen(request, engine)
    on = today_at(request.viewer.station)
    found = overhauls_of([seen], on=on).get(seen.pk)
    shown: dict[str, Any] = {"engine": seen, "overhaul": found}
    if found is not None:
        shown |= _shown(found)
        parts = tuple(parts_now(seen).values())
        shown["gaps"] = with_remedies(gaps_of(found), seen, parts)
    return render(request, "web/overhaul/detail.html", shown)


def _shown(found: Overhaul) -> dict[str, Any]:
    hours_ruler, dates_ruler = drawn(found)
    return {
        "brief": brief_of(found),
        "forecast": found.due.due.forecast,
        "uses": found.file.operation.uses if found.file.operation else (),
        "sources": sources_shown(found),
        "offers": offers_shown(found),
        "conflict": listed(
            [
                provision_words(found.found.by_id[name])
                for name in found.found.point.conflict
            ],
            "and",
        ),
        "hours_figure": draw_hours(hours_ruler),
        "dates_figure": draw_dates(dates_ruler),
        "law": law_sentence(found),
        "defer": DEFER,
    }

"""Which oil suits an engine, by the tables in force."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance.fluids import oils_of
from tracker.fleet.models import Engine
from tracker.web.oils import oils_shown
from tracker.web.remedies import with_remedies


@require_GET
def engine_oils(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """Each oil of the tables in force: suited or not, and why, or which fact is missing."""
    on = today_at(request.viewer.station)
    try:
        oils = oils_of(request.viewer, engine, on)
    except Engine.DoesNotExist:
        raise Http404 from None
    context = {
        "engine": oils.engine,
        "oils": oils,
        "shown": oils_shown(oils),
        "gaps": with_remedies(oils.gaps, oils.engine, oils.parts),
    }
    return render(request, "web/oils/engine.html", context)

"""The overhaul interval of one engine: the answer first, then where it comes from."""

from __future__ import annotations

from fractions import Fraction
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from notices.rules.phrases import listed
from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance.intervals import provision_words
from tracker.compliance.overhaul_words import (
    DEFER,
    answer_sentences,
    law_sentence,
    length_words,
)
from tracker.compliance.overhauls import Overhaul, overhauls_of
from tracker.compliance.overview import Gap, parts_now
from tracker.figures.dates import draw_dates
from tracker.figures.ruler import draw_hours
from tracker.web.interval_rulers import drawn
from tracker.web.overhauls import offers_shown, shape_of, sources_shown
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
        shown["gaps"] = with_remedies(_gaps(found), seen, parts)
    return render(request, "web/overhaul/detail.html", shown)


def _shown(found: Overhaul) -> dict[str, Any]:
    due, zero = found.due.due, found.file.zero
    hours_ruler, dates_ruler = drawn(found)
    return {
        "shape": shape_of(found),
        "sentences": answer_sentences(found),
        "length": length_words(found),
        "end_hours": None if due.hours is None else due.hours + zero,
        "used": _used(found),
        "forecast": due.forecast,
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


def _used(found: Overhaul) -> str:
    shares = [(found.due.used, "hours"), (found.due.used_years, "years")]
    said = [
        f"{_percent(share)} of the {of}" for share, of in shares if share is not None
    ]
    return ", ".join(said)


def _percent(share: Fraction) -> str:
    """A share in whole per cent, rounded up: never less used than it is."""
    return f"{-(-share.numerator * 100 // share.denominator)}\u00a0%"


def _gaps(found: Overhaul) -> list[Gap]:
    """Each fact that is missing, with the documents that hang on it."""
    return [
        Gap(
            fact=fact,
            decides=tuple(
                dict.fromkeys(
                    found.found.by_id[one.id].publication.number
                    for one in found.found.judged
                    if fact in one.missing
                )
            )
            or ("where the interval ends, or whether it is law",),
        )
        for fact in found.found.point.missing
    ]

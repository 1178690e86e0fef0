"""The compliance status of one engine: for the annual, on screen and on paper."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from notices.models import Kind
from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance.summary import (
    Line,
    NotApplicable,
    StatusOfEngine,
    end_of_day,
    status_of,
)
from tracker.figures.due_words import point_words, state_words
from tracker.figures.ruler import draw_hours
from tracker.figures.states import BY_URGENCY
from tracker.fleet.models import Engine
from tracker.web.rulers import items_of_lines, rulers_of, works_of

EARLIEST = date(1900, 1, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a status was asked for. `wrong`: what could not be understood, else empty."""

    on: date
    known_then: bool
    wrong: str = ""


@require_GET
def status(request: ViewedRequest, engine: UUID) -> HttpResponse:
    viewer = request.viewer
    engines = Engine.objects.visible_to(viewer).for_list().select_related("station")
    seen = get_object_or_404(engines, public_id=engine)
    asked = _asked(request, today_at(viewer.station))
    known_at = end_of_day(viewer.station, asked.on) if asked.known_then else None
    found = status_of(seen, on=asked.on, known_at=known_at)
    shown = {
        "status": found,
        "engine": seen,
        "asked": asked,
        "groups": _grouped(found.lines),
        "undetermined": [_with_words(line) for line in found.undetermined],
        "not_adopted": found.not_adopted,
        "not_applicable": _once(found.not_applicable),
        "counts": _counts(found),
        "figure": _figure(found),
        "computed_at": timezone.now(),
    }
    return render(
        request, "web/status/detail.html", shown, status=422 if asked.wrong else 200
    )


def _asked(request: ViewedRequest, today: date) -> Asked:
    """The day and the knowledge asked for; nonsense is named, and today is shown."""
    text, known = request.GET.get("on", ""), request.GET.get("known", "then")
    wrong = "" if known in ("then", "now") else "Known is either then or now."
    on = today
    if text:
        try:
            on = date.fromisoformat(text)
        except ValueError:
            wrong = f"“{text[:20]}” is not a day. Write it as 2026-05-31."
        if not EARLIEST <= on <= today:
            on, wrong = today, "A status can be asked for today or a day before it."
    return Asked(on=on, known_then=known != "now" and on < today, wrong=wrong)


@dataclass(frozen=True, slots=True)
class Worded:
    """A line with the words of its state and of its next due point."""

    line: Line
    said: str
    when: str
    also: str


def _with_words(line: Line) -> Worded:
    stands = line.provision.kind == line.provision.Kind.PROHIBITION
    if line.state not in BY_URGENCY[:5]:
        return Worded(line, line.state, "", "")
    said = state_words(line.due, line.state)
    return Worded(line, said, *point_words(line.due, line.state, stands=stands))


def _grouped(lines: Iterable[Line]) -> list[tuple[str, list[Worded]]]:
    """Lines under the kind of their document, which is how they are sorted."""
    return [
        (_of_kind(kind), [_with_words(line) for line in group])
        for kind, group in groupby(lines, key=lambda line: line.publication.kind)
    ]


def _of_kind(kind: str) -> str:
    label = Kind(kind).label
    return label if label.endswith("s") else f"{label}s"


def _counts(found: StatusOfEngine) -> list[tuple[str, int]]:
    words = Counter(line.state for line in (*found.lines, *found.undetermined))
    return [(word, words[word]) for word in BY_URGENCY if words[word]]


@dataclass(frozen=True, slots=True)
class Reasoned:
    """What does not apply, with its reason."""

    row: NotApplicable
    title: str


def _once(rows: Iterable[NotApplicable]) -> list[Reasoned]:
    """A document that says several things which do not apply names each of them."""
    listed = list(rows)
    several = Counter(row.revision.pk for row in listed)
    return [
        Reasoned(row, row.provision.title if several[row.revision.pk] > 1 else "")
        for row in listed
    ]


def _figure(found: StatusOfEngine) -> str:
    zero = (found.hours or 0) - (found.tsn or 0) if found.tsn is not None else 0
    lines = (*found.lines, *found.undetermined)
    records = {line.record.pk: line.record for line in lines if line.record}
    drawn = rulers_of(
        f"engine {found.engine}",
        items_of_lines(lines),
        works_of(records.values(), zero, found.on),
        now=found.tsn if found.tsn is not None else found.hours,
        today=found.on,
    )
    return draw_hours(drawn.hours)

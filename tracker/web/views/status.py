"""The compliance status, on screen and as a file: of one engine, of an owner's, an aircraft's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Final
from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from notices.models import Provision
from tracker.accounts.access import Viewer
from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance.summary import (
    StatusOfEngine,
    end_of_day,
    status_of,
    statuses_beside,
    statuses_of_owner,
)
from tracker.figures.ruler import draw_hours
from tracker.fleet.models import Engine, Owner
from tracker.print.documents import Making, cover_of, document_of, document_of_all
from tracker.print.pdf import Paper, pdf_of
from tracker.print.sheet import HEADS, SIGN, Printed
from tracker.print.status_sheet import sheet_of
from tracker.web.interval_rulers import with_interval
from tracker.web.rulers import items_of_lines, rulers_of, works_of

EARLIEST: Final = date(1900, 1, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a status was asked for. `wrong`: what could not be understood, else empty."""

    on: date
    known_at: datetime | None
    paper: Paper = Paper.A4
    wrong: str = ""

    @property
    def query(self) -> str:
        """The same day and knowledge, as a link to another page asks for them."""
        known = "now" if self.known_at is None else "then"
        return urlencode({"on": self.on.isoformat(), "known": known})


@require_GET
def status(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen, asked = _engine(request, engine), _asked(request)
    found = status_of(seen, on=asked.on, known_at=asked.known_at)
    making = _making(request.viewer, asked, seen.owner)
    shown = {
        "sheet": sheet_of(found, made_at=making.made_at, zone=making.zone),
        "status": found,
        "engine": seen,
        "whose": _whose(request.viewer, seen, found),
        "asked": asked,
        "heads": HEADS,
        "sign": SIGN,
        "figure": _figure(found),
    }
    code = 422 if asked.wrong else 200
    return render(request, "web/status/detail.html", shown, status=code)


@require_GET
def status_pdf(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """The same as a file. What it cannot understand is said on the page."""
    seen, asked = _engine(request, engine), _asked(request)
    if asked.wrong:
        return status(request, engine)
    found = status_of(seen, on=asked.on, known_at=asked.known_at)
    making = _making(request.viewer, asked, seen.owner)
    return _file(document_of(found, making), asked, making)


@require_GET
def owner_status(request: ViewedRequest, owner: UUID) -> HttpResponse:
    """All engines of an owner on a day, each with what is open on it."""
    seen, asked = _owner(request, owner), _asked(request)
    found = _of_owner(request.viewer, seen, asked)
    making = _making(request.viewer, asked, seen)
    subject = Several(whose=seen.name, route="web:owner-status", key=seen.public_id)
    return _several(request, subject, found, asked, making)


@require_GET
def owner_status_pdf(request: ViewedRequest, owner: UUID) -> HttpResponse:
    seen, asked = _owner(request, owner), _asked(request)
    if asked.wrong:
        return owner_status(request, owner)
    making = _making(request.viewer, asked, seen)
    found = _of_owner(request.viewer, seen, asked)
    station = request.viewer.station.name
    return _file(document_of_all(found, seen.name, station, making), asked, making)


@require_GET
def aircraft_status(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """All engines of the aircraft in which an engine was fitted on a day."""
    seen, asked = _engine(request, engine), _asked(request)
    found = _beside(request.viewer, seen, asked)
    making = _making(request.viewer, asked, seen.owner)
    subject = Several(
        whose=_aircraft(seen, found), route="web:aircraft-status", key=seen.public_id
    )
    return _several(request, subject, found, asked, making)


@require_GET
def aircraft_status_pdf(request: ViewedRequest, engine: UUID) -> HttpResponse:
    seen, asked = _engine(request, engine), _asked(request)
    if asked.wrong:
        return aircraft_status(request, engine)
    found = _beside(request.viewer, seen, asked)
    making = _making(request.viewer, asked, seen.owner)
    station = request.viewer.station.name
    printed = document_of_all(found, _aircraft(seen, found), station, making)
    return _file(printed, asked, making)


@dataclass(frozen=True, slots=True, kw_only=True)
class Several:
    """Whose engines a page lists. `route`, `key`: its own address and, with -pdf, the file's."""

    whose: str
    route: str
    key: UUID


def _several(
    request: ViewedRequest,
    subject: Several,
    found: Sequence[StatusOfEngine],
    asked: Asked,
    making: Making,
) -> HttpResponse:
    cover = cover_of(found, subject.whose, request.viewer.station.name, making)
    engines = [status.engine for status in found]
    shown = {
        "cover": cover,
        "rows": list(zip(engines, cover.engines, strict=True)),
        "subject": subject,
        "asked": asked,
    }
    code = 422 if asked.wrong else 200
    return render(request, "web/status/several.html", shown, status=code)


def _engine(request: ViewedRequest, engine: UUID) -> Engine:
    engines = Engine.objects.visible_to(request.viewer).for_list()
    return get_object_or_404(engines.select_related("station"), public_id=engine)


def _owner(request: ViewedRequest, owner: UUID) -> Owner:
    return get_object_or_404(Owner.objects.visible_to(request.viewer), public_id=owner)


def _whose(viewer: Viewer, engine: Engine, found: StatusOfEngine) -> Owner | None:
    """The owner on the day; an owner is not led to the one who owned it before them."""
    is_own = found.owner is not None and found.owner == engine.owner
    return found.owner if is_own or not viewer.is_owner else None


def _of_owner(viewer: Viewer, owner: Owner, asked: Asked) -> tuple[StatusOfEngine, ...]:
    return statuses_of_owner(viewer, owner, on=asked.on, known_at=asked.known_at)


def _beside(viewer: Viewer, engine: Engine, asked: Asked) -> tuple[StatusOfEngine, ...]:
    return statuses_beside(viewer, engine, on=asked.on, known_at=asked.known_at)


def _aircraft(engine: Engine, found: Sequence[StatusOfEngine]) -> str:
    """What the engine was in on the day: a registration, else the engine itself."""
    [own] = (status for status in found if status.engine == engine)
    fitting = own.fitting
    return fitting.registration if fitting and fitting.registration else str(engine)


def _asked(request: ViewedRequest) -> Asked:
    """The day and the knowledge asked for; nonsense is named, and today is shown."""
    station = request.viewer.station
    today = today_at(station)
    on, wrong = _day(request.GET.get("on", ""), today)
    known = request.GET.get("known", "then")
    if known not in ("then", "now"):
        wrong = "Known is either then or now."
    known_at = end_of_day(station, on) if known != "now" and on < today else None
    asked = Asked(on=on, known_at=known_at, wrong=wrong)
    try:
        return replace(asked, paper=Paper(request.GET.get("paper", Paper.A4.value)))
    except ValueError:
        papers = " or ".join(paper.value for paper in Paper)
        return replace(asked, wrong=f"Paper is either {papers}.")


def _day(text: str, today: date) -> tuple[date, str]:
    if not text:
        return today, ""
    try:
        on = date.fromisoformat(text)
    except ValueError:
        return today, f"“{text[:20]}” is not a day. Write it as 2026-05-31."
    if not EARLIEST <= on <= today:
        return today, "A status can be asked for today or a day before it."
    return on, ""


def _making(viewer: Viewer, asked: Asked, owner: Owner | None) -> Making:
    """An owner reads in their own time zone, everybody else in that of the station."""
    zone = viewer.station.time_zone
    if viewer.is_owner and owner is not None:
        zone = owner.time_zone
    return Making(
        on=asked.on, known_at=asked.known_at, made_at=timezone.now(), zone=zone
    )


def _file(printed: Printed, asked: Asked, making: Making) -> HttpResponse:
    content = pdf_of(printed, paper=asked.paper, made_at=making.made_at)
    name = f"{slugify(printed.title)}-{asked.on}.pdf"
    shown = content_disposition_header(as_attachment=False, filename=name)
    assert shown is not None, "a file with a name has one"
    return HttpResponse(
        content, content_type="application/pdf", headers={"Content-Disposition": shown}
    )


def _figure(found: StatusOfEngine) -> str:
    zero = (found.hours or 0) - (found.tsn or 0) if found.tsn is not None else 0
    lines = (*found.lines, *found.undetermined)
    records = {line.record.pk: line.record for line in lines if line.record}
    band = Provision.Kind.INTERVAL if found.overhaul is not None else ""
    due = [line for line in lines if line.provision.kind != band]
    drawn = rulers_of(
        f"engine {found.engine}",
        items_of_lines(due),
        works_of(records.values(), zero, found.on),
        now=found.tsn if found.tsn is not None else found.hours,
        today=found.on,
    )
    return draw_hours(with_interval(drawn, found.overhaul).hours)

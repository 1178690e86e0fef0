"""The check that anybody may make without an account, where a station allows it.

What is told is sent with POST, although nothing is changed by it: in an address the
serial and the hours of somebody's engine would be written down by every proxy's log, by
the browser's history and by whatever the address is pasted into, and the page could no
longer say that nothing is stored. Only the type stands in an address, so that a station
can link to it. As nothing is changed, no token is needed, and no cookie is set.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from allauth.core import ratelimit
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET, require_http_methods

from tracker.accounts.context import today_at
from tracker.accounts.models import Station
from tracker.compliance import changes
from tracker.compliance.changes import EnquiryEntry
from tracker.compliance.open_check import answer_for, open_library, types_spoken_of
from tracker.compliance.overhaul_words import DEFER, answer_sentences
from tracker.compliance.overhauls import Overhaul
from tracker.figures import wording
from tracker.figures.ruler import draw_hours
from tracker.fleet.errors import Refused
from tracker.web.forms.contact import ContactForm
from tracker.web.forms.open_check import CheckForm
from tracker.web.interval_rulers import drawn
from tracker.web.oils import oils_shown
from tracker.web.open_answers import Page, verdict_on
from tracker.web.overhauls import offers_shown, sources_shown

LONGEST_TYPE: Final = 60


@csrf_exempt
@require_http_methods(["GET", "POST"])
def check(request: HttpRequest, address: str) -> HttpResponse:
    """Choose a type, describe the engine, and read what applies to it."""
    station = _open_station(address)
    name = _type_asked(request)
    if not name:
        return _choose(request, station)
    form = _form(request, station, name)
    if not form.is_bound:
        return _described(request, station, form)
    if refused := ratelimit.consume_or_429(request, action="check"):
        return _kept_nowhere(refused)
    if "change" in request.POST:
        return _kept_nowhere(_described(request, station, form))
    if not form.is_valid():
        return _kept_nowhere(_described(request, station, form, status=422))
    if "contact" in request.POST:
        return _kept_nowhere(_ask(request, station, form, ContactForm()))
    return _kept_nowhere(_answer(request, station, form))


@require_http_methods(["GET", "POST"])
def contact(request: HttpRequest, address: str) -> HttpResponse:
    """Leave a message with the engine as it was described; only this is stored."""
    station = _open_station(address)
    name = _type_asked(request)
    if request.method != "POST" or not name:
        return redirect("web:check", address)
    if refused := ratelimit.consume_or_429(request, action="check"):
        return _kept_nowhere(refused)
    form, asked = _form(request, station, name), ContactForm(request.POST)
    if not form.is_valid():
        return _kept_nowhere(_described(request, station, form, status=422))
    if not asked.is_valid():
        return _kept_nowhere(_ask(request, station, form, asked, status=422))
    key = str(station.pk)
    if refused := ratelimit.consume_or_429(request, action="enquiry", key=key):
        return _kept_nowhere(refused)
    try:
        now = timezone.now()
        entry = _entry(form, asked, _given(station, form, now))
        changes.leave_enquiry(station, entry, at=now)
    except Refused:
        raise Http404 from None  # switched off since the page was opened
    return redirect("web:check-sent", address)


@require_GET
def sent(request: HttpRequest, address: str) -> HttpResponse:
    """Says that the message has been kept, and for how long."""
    return render(request, "web/check/sent.html", {"station": _open_station(address)})


def _open_station(address: str) -> Station:
    """Return the station; switched off looks like not there."""
    found = Station.objects.filter(check_address=address, check_is_open=True).first()
    if found is None:
        raise Http404
    return found


def _type_asked(request: HttpRequest) -> str:
    asked = request.POST if request.method == "POST" else request.GET
    name = " ".join(asked.get("type", "").split())
    return name if name.isprintable() and len(name) <= LONGEST_TYPE else ""


def _form(request: HttpRequest, station: Station, name: str) -> CheckForm:
    today = today_at(station)
    begins = request.method != "POST" or "begin" in request.POST
    data = None if begins else request.POST
    library = open_library(station, name, today)
    return CheckForm(data, library=library, station=station, today=today)


def _choose(request: HttpRequest, station: Station) -> HttpResponse:
    types = types_spoken_of(station, today_at(station))
    shown = {"station": station, "types": types}
    return render(request, "web/check/types.html", shown)


def _described(
    request: HttpRequest, station: Station, form: CheckForm, *, status: int = 200
) -> HttpResponse:
    shown = {"station": station, "form": form, "page": Page(form)}
    return render(request, "web/check/form.html", shown, status=status)


def _answer(request: HttpRequest, station: Station, form: CheckForm) -> HttpResponse:
    answer = answer_for(form.described(), station, form.library, form.today)
    page, overhaul = Page(form), answer.overhaul
    shown = {
        "station": station,
        "form": form,
        "page": page,
        "answer": answer,
        "entries": form.entries(),
        "verdict": verdict_on(overhaul),
        **(_interval(overhaul) if overhaul else {}),
        "interval_lacks": page.rows_beside(answer.interval_missing),
        "oils": oils_shown(answer.oils, figure=2 if overhaul else 1),
        "undetermined": page.undetermined(answer.undetermined),
        "applies": page.applies(answer.applies),
        "times": page.times(answer.applies),
        "oils_lack": page.rows_beside(answer.oils_missing),
    }
    return render(request, "web/check/answer.html", shown)


def _given(station: Station, form: CheckForm, at: datetime) -> str:
    """Return what is answered, as text: how the interval stands, what applies."""
    answer = answer_for(form.described(), station, form.library, form.today)
    here = at.astimezone(ZoneInfo(station.time_zone))
    moment = f"{wording.long_day(here.date())}, {here:%H:%M}"
    said = answer_sentences(answer.overhaul) if answer.overhaul else ()
    listed = [
        f"{title}: {', '.join(numbers)}."
        for title, several in (
            ("Applies", answer.applies),
            ("Cannot be said", answer.undetermined),
        )
        if (numbers := dict.fromkeys(one.line.number for one in several))
    ]
    verdict = f"{verdict_on(answer.overhaul).words}."
    return "\n".join([f"Answered on {moment}.", verdict, *said, *listed])


def _interval(overhaul: Overhaul) -> dict[str, Any]:
    hours_ruler, _ = drawn(overhaul)
    return {
        "sentences": answer_sentences(overhaul),
        "figure": draw_hours(hours_ruler),
        "offers": offers_shown(overhaul),
        "sources": sources_shown(overhaul),
        "defer": DEFER,
    }


def _ask(
    request: HttpRequest,
    station: Station,
    form: CheckForm,
    asked: ContactForm,
    *,
    status: int = 200,
) -> HttpResponse:
    shown = {
        "station": station,
        "form": asked,
        "entries": form.entries(),
        "carried": form.sent_again(),
        "given": _given(station, form, timezone.now()),
    }
    return render(request, "web/check/contact.html", shown, status=status)


def _entry(form: CheckForm, asked: ContactForm, answer: str) -> EnquiryEntry:
    entered, engine = asked.cleaned_data, form.described()
    return EnquiryEntry(
        name=entered["name"],
        email=entered["email"],
        telephone=entered["telephone"],
        message=entered["message"],
        answer=answer,
        described={
            "on": form.today.isoformat(),
            "type": engine.type,
            "serial": engine.serial,
            "entries": [[entry.label, entry.value] for entry in form.entries()],
        },
    )


def _kept_nowhere(response: HttpResponse) -> HttpResponse:
    """Tell browsers, proxies and search engines to keep no copy of an answer."""
    response["Cache-Control"] = "no-store"
    response["X-Robots-Tag"] = "noindex"
    return response

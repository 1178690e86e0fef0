"""What the links of a mail open: the hours of an engine, mails ended, a calendar."""

from __future__ import annotations

from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import quote_etag
from django.views.decorators.http import require_http_methods, require_safe

from tracker.accounts.context import today_at
from tracker.fleet.entries import day_at
from tracker.fleet.errors import Doubtful, Refused
from tracker.fleet.models import Reading
from tracker.watch.links.calendars import opened
from tracker.watch.links.feed import feed_of
from tracker.watch.links.hours import (
    NotOpen,
    enter_hours_by_link,
    entered_by,
    link_of,
)
from tracker.watch.links.secret import hash_of
from tracker.watch.links.unsubscribing import owner_of, set_optional, wants_optional
from tracker.watch.models import HoursLink
from tracker.web.forms.by_link import HoursByLinkForm
from tracker.web.views.by_secret import by_secret, opens_nothing

ONE_CLICK: Final = ("List-Unsubscribe", "One-Click")
"""What a mail program sends for its reader, and our own button, too: RFC 8058."""
AGAIN: Final = ("again", "yes")


@by_secret("hours")
@require_http_methods(["GET", "HEAD", "POST"])
def hours(request: HttpRequest, secret: str) -> HttpResponse:
    """Show one engine's last reading, and take one more."""
    at = timezone.now()
    link = link_of(secret, at=at)
    if link is None:
        return opens_nothing(request)
    if link.used_at is not None:
        return _entered(request, link)
    form = _form(request, link, at)
    if not (form.is_bound and form.is_valid()):
        return _asked(request, link, form)
    try:
        done = enter_hours_by_link(
            link,
            shown=form.cleaned_data["shown"],
            fuelled=form.fuelled(),
            at=at,
            confirmed=form.is_confirmed,
        )
    except Doubtful as doubtful:
        return _asked(request, link, form, doubt=str(doubtful))
    except Refused as refused:
        form.refuse(refused)
        return _asked(request, link, form)
    except NotOpen:
        return _met_another(request, secret, at)
    return render(request, "web/links/entered.html", {"link": link, "entered": done})


@by_secret("unsubscribe")
@require_http_methods(["GET", "HEAD", "POST"])
def unsubscribe(request: HttpRequest, token: str) -> HttpResponse:
    """Say what can be stopped, and stop it or tell it again on one press."""
    owner = owner_of(token)
    if owner is None:
        return opens_nothing(request)
    wanted, status = wants_optional(owner), 200
    if request.method == "POST":
        asked = _asked_for(request)
        if asked is None:
            status = 422
        else:
            set_optional(owner, asked)
            wanted = asked
    shown = {"owner": owner, "wanted": wanted, "is_changed": request.method == "POST"}
    return render(request, "web/links/unsubscribe.html", shown, status=status)


@by_secret("calendar")
@require_safe
def calendar_feed(request: HttpRequest, secret: str) -> HttpResponse:
    """What is due, for a calendar program; nothing is sent again that it has."""
    shown = opened(secret)
    if shown is None:
        return opens_nothing(request)
    feed = feed_of(shown, today_at(shown.viewer.station))
    answer = HttpResponse(feed, content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="due.ics"'
    # It may keep its own copy, and asks each time whether that still holds.
    answer["Cache-Control"] = "private, no-cache"
    answer["ETag"] = etag = quote_etag(hash_of(feed.decode()))
    found = get_conditional_response(request, etag=etag, response=answer)
    assert found is not None, "an answer was given"
    return found


def _form(request: HttpRequest, link: HoursLink, at: datetime) -> HoursByLinkForm:
    owner, station = link.owner, link.engine.station
    # Ahead of the station's day nothing is taken.
    here = at.astimezone(ZoneInfo(owner.time_zone)).date()
    today = min(here, day_at(station, at))
    data = request.POST if request.method == "POST" else None
    preference = getattr(owner, "preference", None)
    return HoursByLinkForm(data, today=today, preference=preference)


def _asked(
    request: HttpRequest, link: HoursLink, form: HoursByLinkForm, *, doubt: str = ""
) -> HttpResponse:
    readings = Reading.objects.valid().filter(engine=link.engine)
    shown = {
        "link": link,
        "form": form,
        "last": readings.select_related("meter").first(),
        "doubt": doubt,
    }
    status = 422 if form.errors else 200
    return render(request, "web/links/hours.html", shown, status=status)


def _entered(request: HttpRequest, link: HoursLink) -> HttpResponse:
    """What was entered by a link that was used before."""
    shown = {"link": link, "entered": entered_by(link), "already": True}
    return render(request, "web/links/entered.html", shown)


def _met_another(request: HttpRequest, secret: str, at: datetime) -> HttpResponse:
    link = link_of(secret, at=at)
    if link is None or link.used_at is None:
        return opens_nothing(request)
    return _entered(request, link)


def _asked_for(request: HttpRequest) -> bool | None:
    """Whether they want to be told; None where nothing was asked that we know."""
    for (name, value), wanted in ((ONE_CLICK, False), (AGAIN, True)):
        if request.POST.get(name) == value:
            return wanted
    return None

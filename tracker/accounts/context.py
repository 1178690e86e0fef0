"""What every template may use: who looks, and what day it is at their station."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone

from tracker.accounts.access import Right, Viewer
from tracker.accounts.models import Station
from tracker.routes import route_of


def today_at(station: Station) -> date:
    """The date now in the station's time zone."""
    return timezone.now().astimezone(ZoneInfo(station.time_zone)).date()


@dataclass(frozen=True, slots=True)
class Place:
    """A link of the header; `subject` is how the names of its pages begin."""

    words: str
    subject: str
    url: str


ENQUIRIES = "web:enquiry-list"
# The words of a link, the subject of its pages, and the route that it leads to.
HEADER = (
    ("Due and open", "due", "web:due"),
    ("Engines", "engine", "web:engine-list"),
    ("Publications", "publication", "web:publication-list"),
    ("Owners", "owner", "web:owner-list"),
    ("Messages", "message", "web:message-list"),
    ("Enquiries", "enquiry", ENQUIRIES),
    ("Station", "station", "web:station"),
)


def places(viewer: Viewer) -> list[Place]:
    """The pages of the header that the table declares and the viewer may open.

    Enquiries only where they can come: the station's check page is open.
    """
    shown = [p for p in HEADER if p[2] != ENQUIRIES or viewer.station.check_is_open]
    rows = ((words, subject, route_of(name, "GET")) for words, subject, name in shown)
    return [
        Place(words, subject, reverse(row.name))
        for words, subject, row in rows
        if row and isinstance(row.needs, Right) and viewer.may(row.needs)
    ]


def viewer(request: HttpRequest) -> dict[str, Any]:
    seen = getattr(request, "viewer", None)
    if seen is None:
        return {"viewer": None, "today": None, "places": []}
    return {"viewer": seen, "today": today_at(seen.station), "places": places(seen)}

"""What every template may use: who looks, and what day it is at their station."""

from __future__ import annotations

from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.http import HttpRequest
from django.utils import timezone

from tracker.accounts.models import Station


def today_at(station: Station) -> date:
    """The date now in the station's time zone."""
    return timezone.now().astimezone(ZoneInfo(station.time_zone)).date()


def viewer(request: HttpRequest) -> dict[str, Any]:
    seen = getattr(request, "viewer", None)
    return {"viewer": seen, "today": today_at(seen.station) if seen else None}

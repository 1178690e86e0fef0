"""The whole of a station evaluated again: on a new day, or after an upgrade."""

from __future__ import annotations

from datetime import date, datetime

from django.db.models import Q

from tracker.accounts.models import Station
from tracker.compliance.findings import Changed, refresh
from tracker.compliance.transactions import one_transaction
from tracker.fleet.entries import day_at
from tracker.fleet.models import Engine


def stations_behind(at: datetime) -> list[int]:
    """Return the keys of stations with an engine not evaluated for their day of today.

    One query, and one for each station.
    """
    return [
        station.pk
        for station in Station.objects.order_by("pk")
        if _is_behind(station, day_at(station, at))
    ]


def _is_behind(station: Station, on: date) -> bool:
    engines = Engine.objects.filter(station=station)
    behind = Q(standing=None) | Q(standing__evaluated_for__lt=on)
    return engines.filter(behind).exists()


def refresh_station(station: Station, on: date, *, at: datetime) -> Changed:
    """Evaluate every engine of a station for a day; only differences are written.

    A revision takes over, an event that was planned has come, a utilisation has moved:
    these change findings although nobody has entered anything.
    """
    with one_transaction():
        engines = Engine.objects.filter(station=station).order_by("pk")
        return refresh(
            station,
            engines.select_related("engine_type").iterator(chunk_size=1000),
            on=on,
            at=at,
        )

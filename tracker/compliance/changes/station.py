"""The whole of a station evaluated again: on a new day, or after an upgrade."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from tracker.accounts.models import Station
from tracker.compliance.findings import Changed, refresh
from tracker.fleet.models import Engine


def refresh_station(station: Station, on: date, *, at: datetime) -> Changed:
    """Evaluate every engine of a station for a day; only differences are written.

    A revision takes over, an event that was planned has come, a utilisation has moved:
    these change findings although nobody has entered anything.
    """
    with transaction.atomic(durable=True):
        engines = Engine.objects.filter(station=station).order_by("pk")
        return refresh(
            station,
            engines.select_related("engine_type").iterator(chunk_size=1000),
            on=on,
            at=at,
        )

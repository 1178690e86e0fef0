"""Days go by with nothing but the nightly check, and each is compared with a full answer."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, time
from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from tracker.accounts.models import Station
from tracker.compliance import changes
from tracker.compliance.changes import Checked
from tracker.compliance.findings import refresh
from tracker.compliance.findings.columns import closed_columns
from tracker.compliance.models import Event, Finding, Standing
from tracker.fleet.models import Engine

FINDING = (
    "engine",
    "provision",
    "part",
    "rule",
    "undetermined",
    "closed",
    *closed_columns(),
    "point",
    "reasons",
    "missing",
    "noted",
)
STANDING = tuple(
    field.name
    for field in Standing._meta.concrete_fields
    if field.name not in {"evaluated_at", "again_on"}
)
EVENT = ("engine", "kind", "provision", "part", "said", "happened_on")
Rows = list[dict[str, Any]]


def noon(day: date) -> datetime:
    return datetime.combine(day, time(12), tzinfo=UTC)


def kept(station: Station) -> tuple[Rows, Rows, Rows]:
    """Return all that is stored of a station's engines, but when it was worked out."""
    findings = Finding.objects.filter(station=station)
    standings = Standing.objects.filter(station=station)
    events = Event.objects.filter(station=station)
    return (
        list(findings.order_by("engine", "provision", "part").values(*FINDING)),
        list(standings.order_by("engine").values(*STANDING)),
        list(
            events.order_by(
                "engine", "kind", "provision", "part", "happened_on", "pk"
            ).values(*EVENT)
        ),
    )


def evaluated_in_full(station: Station, day: date) -> tuple[Rows, Rows, Rows]:
    """Return what a full evaluation for a day would leave; it is taken back."""
    with transaction.atomic():
        refresh(station, engines_of(station), on=day, at=noon(day))
        found = kept(station)
        transaction.set_rollback(True)
    return found


def engines_of(station: Station) -> QuerySet[Engine]:
    engines = Engine.objects.filter(station=station).select_related("engine_type")
    return engines.order_by("pk")


def checked(station: Station, day: date) -> Checked:
    with transaction.atomic():
        keys = list(engines_of(station).values_list("pk", flat=True))
        return changes.check_new_day(station, keys, on=day, at=noon(day))


def walk(station: Station, days: Iterable[date]) -> list[Checked]:
    """Check each of these days, and compare it with what a full evaluation leaves."""
    found = []
    for day in days:
        full = evaluated_in_full(station, day)
        found.append(checked(station, day))
        for one, other in zip(kept(station), full, strict=True):
            assert one == other, day
    return found

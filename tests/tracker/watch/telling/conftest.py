"""An owner whose engine is evaluated for a day, and the messages that come of it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time
from typing import Any

import pytest

from tests.factories.fleet import OwnerFactory
from tracker.accounts.models import Station
from tracker.compliance.findings import refresh
from tracker.fleet.models import Engine, Owner
from tracker.watch.models import Message
from tracker.watch.telling import write_due


@pytest.fixture
def station(station: Station) -> Station:
    station.name = "Tarn Engine Shop"
    station.save()
    return station


@pytest.fixture
def owner(station: Station) -> Owner:
    return OwnerFactory(station=station, name="L. Marrow", email="marrow@post.example")


@pytest.fixture
def engine(make_engine: Callable[..., Engine], owner: Owner) -> Engine:
    """Read last at 520.0 h on 24 November 2026."""
    return make_engine(owner=owner, serial="4021")


@pytest.fixture
def evaluate(station: Station) -> Callable[..., None]:
    """Evaluate every engine of the station for a day, shortly after it began."""

    def run(on: date) -> None:
        engines = Engine.objects.filter(station=station).select_related("engine_type")
        refresh(station, engines, on=on, at=moment(on, 0, 5))

    return run


@pytest.fixture
def tell() -> Callable[..., list[Message]]:
    """Write what is due at an hour of a day and return the messages it wrote."""

    def run(on: date, hour: int = 9, minute: int = 30) -> list[Message]:
        before = set(Message.objects.values_list("pk", flat=True))
        number = write_due(moment(on, hour, minute))
        written = list(Message.objects.exclude(pk__in=before).order_by("pk"))
        assert len(written) == number
        return written

    return run


@pytest.fixture
def told_of(
    evaluate: Callable[..., None], tell: Callable[..., list[Message]]
) -> Callable[..., list[Message]]:
    """Evaluate for a day, then write what is due on its morning."""

    def run(on: date, **when: Any) -> list[Message]:
        evaluate(on)
        return tell(on, **when)

    return run


def moment(on: date, hour: int, minute: int = 0) -> datetime:
    return datetime.combine(on, time(hour, minute), tzinfo=UTC)

"""The tasks of a new day: a station is evaluated once for each day of its own."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
import time_machine

from tests.factories.accounts import StationFactory
from tests.factories.fleet import EngineFactory
from tracker.compliance import tasks
from tracker.compliance.models import Finding, Standing

pytestmark = pytest.mark.django_db(transaction=True)
EVENING = datetime(2026, 11, 24, 22, 5, tzinfo=UTC)


@pytest.mark.both
def test_a_new_day_is_evaluated_once(engine, make_provision) -> None:
    make_provision(effective_on=date(2026, 11, 25))
    for at, started, findings in (
        (datetime(2026, 11, 24, 12, 5, tzinfo=UTC), 0, 0),
        (datetime(2026, 11, 25, 0, 5, tzinfo=UTC), 1, 1),
        (datetime(2026, 11, 25, 1, 5, tzinfo=UTC), 0, 1),
    ):
        with time_machine.travel(at, tick=False):
            assert tasks.refresh_every_station() == started
        assert Finding.objects.count() == findings
    assert Standing.objects.get().evaluated_for == date(2026, 11, 25)


def test_the_day_is_that_of_the_station(engine) -> None:
    east = StationFactory(time_zone="Asia/Tokyo")
    EngineFactory(station=east)
    with time_machine.travel(EVENING, tick=False):
        assert tasks.refresh_every_station() == 1
    days = Standing.objects.values_list("station", "evaluated_for")
    assert dict(days) == {
        engine.station_id: date(2026, 11, 24),
        east.pk: date(2026, 11, 25),
    }


def test_a_station_without_engines_is_left_alone(station) -> None:
    assert tasks.refresh_every_station() == 0

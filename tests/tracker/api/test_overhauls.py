"""The overhaul interval in the API: beside the engine in brief, and in full."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest
from django.test import Client

from tests.tracker.compliance.conftest import (
    evaluated,
    interval,
    make_engine,
    make_provision,
    today,
)
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.fleet.models import Engine

__all__ = ["evaluated", "interval", "make_engine", "make_provision", "today"]

API = "/api/v1"
LAW = {
    "id": "base",
    "kind": "base",
    "hours": 500,
    "years": 12,
    "since": "overhaul",
    "binding": ["commercial"],
}
LONGER = {
    "id": "longer",
    "kind": "extension",
    "hours": 700.5,
    "since": "overhaul",
    "enter_by": {"hours": 600},
}


@pytest.fixture
def client(technician: Viewer, signed_in: Any, now: datetime, time_machine: Any) -> Any:
    time_machine.move_to(now, tick=False)
    return signed_in(technician)


def overhaul(client: Client, engine: Engine) -> Any:
    found = client.get(f"{API}/engines/{engine.public_id}/overhaul")
    assert found.status_code == 200
    assert found.json()["engine"] == str(engine.public_id)
    return found.json()["overhaul"]


def test_the_interval_stands_with_its_sources_and_what_would_lengthen_it(
    client, interval, evaluated, make_provision
) -> None:
    base = interval(LAW)
    longer = interval(LONGER, when={"embodied": "SB-24-011"}, beside=base)
    make_provision(
        number="SB-24-011", embodies=["SB-24-011"], man_hours=1_450, title="Feed"
    )
    found = overhaul(client, evaluated("commercial"))
    assert found["state"] == "overdue"
    assert (found["hours"], found["years"]) == (500, 12)
    assert found["hours_from"] == found["years_from"] == str(base.public_id)
    assert found["binding"] is True
    assert (found["ends_hours"], found["ends_on"]) == (500, "2032-03-01")
    assert (found["remaining_hours"], found["remaining_days"]) == (-20, 1_924)
    assert found["used_hours"] == 1.04
    [own] = found["bases"]
    assert (own["number"], own["outcome"]) == ("SI-18-001", "applies")
    [offer] = found["extensions"]
    assert offer["provision"] == str(longer.public_id)
    assert (offer["outcome"], offer["hours"]) == ("within reach", 700.5)
    assert (offer["ends_hours"], offer["enter_hours"]) == (700.5, 600)
    assert offer["lengthens"] is True
    assert offer["reach"] == [
        {
            "steps": [
                {
                    "words": "embody SB-24-011",
                    "kind": "embody",
                    "number": "SB-24-011",
                    "title": "Feed",
                }
            ],
            "man_hours": 14.5,
        }
    ]
    assert found["sentences"][1] == "It is law in commercial operation."


def test_past_a_recommended_interval_it_is_not_overdue(
    client, interval, evaluated
) -> None:
    interval(LAW)
    found = overhaul(client, evaluated("private"))
    assert found["state"] == "past the recommended interval"
    assert found["binding"] is False


def test_what_is_not_known_is_null_and_named(client, interval, evaluated) -> None:
    interval(LAW)
    found = overhaul(client, evaluated())
    assert found["state"] == "past the interval, not known whether past the law"
    assert found["binding"] is None
    assert found["missing"] == ["kind of operation"]


def test_without_a_document_there_is_no_interval(client, evaluated) -> None:
    assert overhaul(client, evaluated("private")) is None


def test_the_engine_shows_it_in_brief_and_its_tag_follows(
    client, technician, interval, evaluated, today, now
) -> None:
    base = interval(LAW)
    interval(LONGER, when={"embodied": "SB-24-011"}, beside=base)
    engine = evaluated("commercial")
    address = f"{API}/engines/{engine.public_id}"
    before = client.get(address)
    assert before.json()["overhaul"] == {
        "ends_hours": 500,
        "ends_on": "2032-03-01",
        "binding": True,
        "missing": [],
        "longer": "within reach",
    }
    changes.embody(
        technician, engine, "SB-24-011", true_from=today, source="log", at=now
    )
    after = client.get(address)
    assert after.json()["overhaul"]["longer"] == "holds"
    assert after.headers["ETag"] != before.headers["ETag"]
    assert client.get(address).headers["ETag"] == after.headers["ETag"]


def test_another_stations_engine_is_not_there(
    stranger, signed_in, interval, evaluated
) -> None:
    interval(LAW)
    engine = evaluated("private")
    address = f"{API}/engines/{engine.public_id}/overhaul"
    assert signed_in(stranger).get(address).status_code == 404


@pytest.mark.parametrize("engines", [1, 12])
def test_the_list_of_engines_asks_as_often_for_many(
    client, interval, evaluated, django_assert_num_queries, engines: int
) -> None:
    interval(LAW)
    for _ in range(engines):
        evaluated("commercial")
    with django_assert_num_queries(5):  # session, user, membership; counted; engines
        client.get(f"{API}/engines")

"""Fuel in the API: what it shows, what it takes, and how it refuses."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.factories.fleet import OwnerFactory
from tests.tracker.api.test_api import API, client, engine
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role
from tracker.fleet.models import Engine, FuelRecord, OwnerLogin

__all__ = ["client", "engine"]

FUEL = {"on": "2026-11-20", "quantity": "85.5", "kind": "leaded"}


def add(client: Client, engine: Engine, **sent: Any) -> Any:
    return client.post(
        f"{API}/engines/{engine.public_id}/fuel",
        {**FUEL, **sent},
        content_type="application/json",
    )


def test_fuel_is_added_and_found_where_the_answer_says(
    client: Client, engine: Engine
) -> None:
    blend = {"kind": "blend", "leaded_share": "1/3", "unit": "US gal", "hours": 480.25}
    added = add(client, engine, **blend, remark="by phone")
    assert added.status_code == 201
    found = client.get(added.headers["Location"]).json()
    assert found == added.json()
    row = FuelRecord.objects.get(public_id=found["id"])
    assert row.hours == 48_025
    shown = {
        name: found[name] for name in ("quantity", "unit", "leaded_share", "hours")
    }
    assert shown == {
        "quantity": "85.5",
        "unit": "US gal",
        "leaded_share": "1/3",
        "hours": 480.25,
    }


def test_a_quantity_may_be_sent_as_a_number(client: Client, engine: Engine) -> None:
    assert add(client, engine, quantity=0.1).json()["quantity"] == "0.1"


def test_what_was_withdrawn_stays_in_the_list_and_says_when_and_why(
    client: Client, engine: Engine, now: Any
) -> None:
    kept, wrong = (add(client, engine, quantity=q).json() for q in ("60", "61"))
    FuelRecord.objects.filter(public_id=wrong["id"]).update(
        withdrawn_at=now, withdrawn_reason="another engine"
    )
    listed = client.get(f"{API}/engines/{engine.public_id}/fuel").json()
    found = client.get(f"{API}/fuel/{wrong['id']}").json()
    assert found["withdrawn_reason"] == "another engine"
    assert found["withdrawn_at"]
    assert listed["results"] == [found, kept]


@pytest.mark.parametrize(
    ("sent", "path", "message"),
    [
        ({"quantity": "0"}, "quantity", "more than 0"),
        ({"quantity": -3}, "quantity", "less than nothing"),
        ({"quantity": "1,234"}, "quantity", "two ways"),
        ({"quantity": "20000"}, "quantity", "at most 10\u00a0000 litres"),
        ({"quantity": True}, "quantity", "Not a valid string"),
        ({"quantity": None}, "quantity", "may not be null"),
        ({"kind": "blend"}, "leaded_share", "is needed"),
        ({"kind": "blend", "leaded_share": "1.2"}, "leaded_share", "from 0 to 1"),
        ({"leaded_share": "0.4"}, "leaded_share", "for a blend only"),
        ({"kind": "diesel"}, "kind", "not a valid choice"),
        ({"unit": "kg"}, "unit", "not a valid choice"),
        ({"hours": 12}, "hours", "480.0 h"),
        ({"hours": "520.2"}, "hours", "as a number"),
        ({"on": "2026-12-24"}, "on", "after today"),
        ({"on": "2019-12-24"}, "on", "before the engine was made"),
        ({"litres": 12}, "litres", "Not known here"),
        ({"remark": "\x07"}, "remark", "control"),
    ],
)
def test_fuel_that_cannot_be_is_refused_with_path_and_reason(
    client: Client, engine: Engine, sent: dict[str, Any], path: str, message: str
) -> None:
    refused = add(client, engine, **sent)
    assert refused.status_code == 400
    assert refused.headers["Content-Type"] == "application/problem+json"
    [error] = refused.json()["errors"]
    assert error["path"] == path
    assert message in error["message"]
    assert not FuelRecord.objects.exists()


def test_the_same_fuel_is_kept_twice_only_where_that_is_confirmed(
    client: Client, engine: Engine
) -> None:
    assert add(client, engine).status_code == 201
    asked = add(client, engine)
    assert asked.status_code == 422
    [error] = asked.json()["errors"]
    assert error["path"] == "quantity"
    assert "Confirm it only if it was taken on twice." in error["message"]
    assert add(client, engine, confirmed=True).status_code == 201
    assert FuelRecord.objects.count() == 2


def test_an_owner_adds_and_sees_fuel_of_their_own_engine_only(
    engine: Engine,
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
) -> None:
    viewer = viewer_as(Role.OWNER)
    owner = signed_in(viewer)
    assert add(owner, engine).status_code == 404
    mine = OwnerFactory(station=viewer.station)
    OwnerLogin.objects.create(owner=mine, user=viewer.user)
    Engine.objects.filter(pk=engine.pk).update(owner=mine)
    added = add(owner, engine)
    assert added.status_code == 201
    Engine.objects.filter(pk=engine.pk).update(owner=None)
    assert owner.get(added.headers["Location"]).status_code == 404


SCALAR = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from(["blend", "0.4", "2/5", "1/0", "9999-12-31", "\u0663", 10**30])
)
VALUE = SCALAR | st.lists(SCALAR, max_size=2) | st.dictionaries(st.text(), SCALAR)
NAMES = (*FUEL, "unit", "leaded_share", "hours", "remark", "confirmed", "other")
SENT = VALUE | st.fixed_dictionaries({}, optional=dict.fromkeys(NAMES, VALUE))


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(sent=SENT)
def test_whatever_is_sent_as_fuel_is_taken_or_refused(
    client: Client, engine: Engine, sent: Any
) -> None:
    address = f"{API}/engines/{engine.public_id}/fuel"
    body = {**FUEL, **sent} if isinstance(sent, dict) else sent
    answer = client.post(address, body, content_type="application/json")
    assert answer.status_code in {201, 400, 422}

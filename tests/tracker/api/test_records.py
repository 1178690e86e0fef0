"""The ledger in the API: what it shows, what is signed through it, how it refuses."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from notices.models import Provision
from tests.factories.accounts import PASSWORD
from tests.factories.fleet import OwnerFactory
from tests.factories.notices import ProvisionFactory, RevisionFactory
from tests.tracker.api.test_api import API, client, engine
from tests.tracker.api.test_fuel import VALUE
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role
from tracker.compliance.ledger import verify_chain
from tracker.compliance.models import Record
from tracker.fleet.models import Engine, OwnerLogin

__all__ = ["client", "engine"]

WORK: dict[str, Any] = {
    "on": "2026-11-20",
    "hours": 480,
    "method": "inspected",
    "description": "Fuel pump inspected, no wear found.",
    "done_by": "Jory Penhale",
    "approved_by": {
        "name": "Runa Tveit",
        "certificate_kind": "inspection authorization",
        "certificate_number": "ZZ-4471",
    },
    "password": PASSWORD,
}
INSPECTED = {"extent": "annual inspection", "airworthy": True}
REFERENCE = {"reference": "AMOC 12-3", "approved_by": "The authority"}


@pytest.fixture
def provision(engine: Engine) -> Provision:
    """The one provision of the confirmed bulletin; its action is open."""
    return Provision.objects.get()


def sign(client: Client, engine: Engine, **sent: Any) -> Any:
    return client.post(
        f"{API}/engines/{engine.public_id}/records",
        {**WORK, **sent},
        content_type="application/json",
    )


def void(client: Client, record: str, **sent: Any) -> Any:
    body = {"reason": "Wrong engine.", "password": PASSWORD, **sent}
    return client.post(
        f"{API}/records/{record}/void", body, content_type="application/json"
    )


def test_work_is_signed_and_found_where_the_answer_says(
    client: Client, engine: Engine, provision: Provision, technician: Viewer
) -> None:
    added = sign(client, engine, provision=str(provision.public_id))
    assert added.status_code == 201
    found = client.get(added.headers["Location"]).json()
    assert found == added.json()
    assert found["sequence"] == 1
    assert found["hours"] == 480
    assert found["provision"] == str(provision.public_id)
    assert found["document_number"] == provision.revision.publication.number
    assert found["recorded_by"] == technician.user.name
    assert verify_chain(engine) is None
    assert client.get(f"{API}/due").json()["count"] == 0


def test_what_is_shown_is_enough_to_compute_the_hashes_again(
    client: Client, engine: Engine
) -> None:
    """With nothing but hashlib and json, as the description of `payload` says."""
    first, second = (
        sign(client, engine, description=f"Oil changed, {n}.").json() for n in (1, 2)
    )
    chain = json.loads(first["payload"])["engine"]["id"]
    assert (
        first["previous_hash"]
        == hashlib.sha256(f"rec-v1\n{chain}".encode()).hexdigest()
    )
    for record in (first, second):
        parts = ["rec-v1", record["previous_hash"], chain]
        said = "\n".join([*parts, str(record["sequence"]), record["payload"]])
        assert record["hash"] == hashlib.sha256(said.encode()).hexdigest()
    assert second["previous_hash"] == first["hash"]


def test_everything_that_can_be_sent_stands_in_the_text(
    client: Client, engine: Engine
) -> None:
    added = sign(
        client,
        engine,
        method="alternative method",
        alternative=REFERENCE,
        document={"number": "SB-9", "revision": "2"},
        inspection={**INSPECTED, "airworthy": False, "discrepancies": ["Oil leak."]},
        airframe_hours=1200.5,
        result="no wear",
        remarks="By torch.\nIn daylight.",
    )
    assert added.status_code == 201
    said = json.loads(added.json()["payload"])
    assert said["alternative"] == REFERENCE
    assert said["inspection"]["discrepancies"] == ["Oil leak."]
    assert said["airframe_hours"] == "1200.50"
    assert said["document"]["number"] == "SB-9"
    assert said["approved_by"] == WORK["approved_by"]
    assert said["remarks"] == "By torch.\nIn daylight."
    assert "password" not in said


def test_a_text_in_another_unicode_form_is_kept_as_it_is_hashed(
    client: Client, engine: Engine
) -> None:
    """U+0065 U+0301 and U+00E9 are the same letter, Unicode Standard Annex 15."""
    added = sign(
        client, engine, description="Re\u0301glage.", document={"number": "E\u0301"}
    )
    assert added.json()["description"] == "R\u00e9glage."
    assert verify_chain(engine) is None


def test_the_list_has_the_newest_first_in_pages(client: Client, engine: Engine) -> None:
    for n in range(3):
        assert sign(client, engine, description=f"Work {n}.").status_code == 201
    address = f"{API}/engines/{engine.public_id}/records"
    first = client.get(address, {"size": 2}).json()
    assert first["count"] == 3
    assert [row["sequence"] for row in first["results"]] == [3, 2]
    assert "payload" not in first["results"][0]


def test_what_is_recorded_already_is_told_with_who_was_first(
    client: Client, engine: Engine, provision: Provision, technician: Viewer
) -> None:
    under = {"provision": str(provision.public_id)}
    first = sign(client, engine, **under).json()
    told = sign(client, engine, **under)
    assert told.status_code == 409
    assert told.headers["Content-Type"] == "application/problem+json"
    said = told.json()
    assert f"entry 1 by {technician.user.name}, 2026-11-24 09:30 UTC" in said["detail"]
    assert said["first"] == {
        "id": first["id"],
        "sequence": 1,
        "recorded_by": technician.user.name,
        "recorded_at": "2026-11-24T09:30:00Z",
    }
    assert Record.objects.count() == 1


@pytest.mark.parametrize(
    ("sent", "path", "message"),
    [
        ({"password": "not mine"}, "password", "not your password"),
        ({"password": ""}, "password", "blank"),
        ({"on": "2026-12-24"}, "on", "lies in the future"),
        ({"on": "2019-12-24"}, "on", "before the engine was made"),
        ({"hours": None}, "hours", "Enter the hours"),
        ({"hours": 481}, "hours", "beyond the last reading"),
        ({"hours": "480"}, "hours", "as a number"),
        ({"hours": -1}, "hours", "from 0"),
        ({"on": "2026-03-01", "hours": 470}, "hours", "does not fit the reading"),
        ({"description": " "}, "description", "blank"),
        ({"description": "\x07"}, "description", "control character U+0007"),
        ({"remarks": "\x1b[2J"}, "remarks", "control character U+001B"),
        ({"method": "prayer"}, "method", "not a valid choice"),
        ({"done_by": ""}, "done_by", "blank"),
        ({"approved_by": None}, "approved_by", "may not be null"),
        (
            {"approved_by": {**WORK["approved_by"], "name": "\x07"}},
            "approved_by.name",
            "control",
        ),
        (
            {"approved_by": {"name": "R. T.", "certificate_kind": "x"}},
            "approved_by.certificate_number",
            "required",
        ),
        (
            {"approved_by": {**WORK["approved_by"], "title": "Dr"}},
            "approved_by.title",
            "Not known here",
        ),
        ({"method": "alternative method"}, "alternative.reference", "Give the ref"),
        ({"alternative": REFERENCE}, "alternative.reference", "only with that method"),
        ({"inspection": INSPECTED}, "airframe_hours", "total time in service"),
        (
            {"inspection": {**INSPECTED, "airworthy": False}, "airframe_hours": 9},
            "inspection.discrepancies",
            "list what was found",
        ),
        (
            {
                "inspection": {**INSPECTED, "discrepancies": ["Leak."]},
                "airframe_hours": 9,
            },
            "inspection.discrepancies",
            "no list of discrepancies",
        ),
        ({"provision": "4001"}, "provision", "UUID"),
        (
            {"provision": "00000000-0000-4000-8000-000000000000"},
            "provision",
            "no such provision",
        ),
        ({"part": "00000000-0000-4000-8000-000000000000"}, "part", "no such part"),
        ({"signed": True}, "signed", "Not known here"),
    ],
)
def test_work_that_cannot_be_is_refused_with_path_and_reason(
    client: Client, engine: Engine, sent: dict[str, Any], path: str, message: str
) -> None:
    refused = sign(client, engine, **sent)
    assert refused.status_code == 400
    assert refused.headers["Content-Type"] == "application/problem+json"
    [error] = refused.json()["errors"]
    assert error["path"] == path
    assert message in error["message"]
    assert not Record.objects.exists()


def test_a_draft_and_what_asks_for_no_action_are_refused(
    client: Client, engine: Engine, station: Any, provision: Provision
) -> None:
    draft = ProvisionFactory(revision=RevisionFactory(publication__station=station))
    refused = sign(client, engine, provision=str(draft.public_id))
    assert "is a draft" in refused.json()["errors"][0]["message"]
    Provision.objects.filter(pk=provision.pk).update(kind=Provision.Kind.PROHIBITION)
    refused = sign(client, engine, provision=str(provision.public_id))
    [error] = refused.json()["errors"]
    assert error["path"] == "provision"
    assert "No record completes it" in error["message"]


def test_a_record_is_voided_by_another_that_says_why(
    client: Client, engine: Engine
) -> None:
    record = sign(client, engine).json()
    refused = void(client, record["id"], password="not mine")
    assert refused.json()["errors"][0]["path"] == "password"
    assert void(client, record["id"], reason="\x07").status_code == 400
    added = void(client, record["id"])
    assert added.status_code == 201
    said = added.json()
    assert (said["kind"], said["voids"], said["method"]) == ("void", record["id"], "")
    assert json.loads(said["payload"])["remarks"] == "Wrong engine."
    found = client.get(f"{API}/records/{record['id']}").json()
    assert found == {**record, "voided_by": said["id"]}
    again = void(client, record["id"])
    assert again.status_code == 400
    assert "is void already, by entry 2" in again.json()["errors"][0]["message"]
    assert void(client, said["id"]).status_code == 400
    assert Record.objects.count() == 2


def test_a_password_that_was_wrong_too_often_is_not_looked_at(
    client: Client, engine: Engine
) -> None:
    for _ in range(5):
        sign(client, engine, password="not mine")
    refused = sign(client, engine)
    assert "too often" in refused.json()["errors"][0]["message"]
    assert not Record.objects.exists()


@pytest.mark.parametrize("method", ["put", "patch", "delete"])
def test_no_record_is_changed_or_deleted(
    client: Client, engine: Engine, method: str
) -> None:
    record = sign(client, engine).json()
    for address in (
        f"{API}/records/{record['id']}",
        f"{API}/records/{record['id']}/void",
        f"{API}/engines/{engine.public_id}/records",
    ):
        assert getattr(client, method)(address).status_code == 405
    assert client.get(f"{API}/records/{record['id']}").json() == record


def test_an_owner_sees_the_records_of_their_own_engine_and_signs_none(
    client: Client,
    engine: Engine,
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
) -> None:
    record = sign(client, engine).json()
    viewer = viewer_as(Role.OWNER)
    owner = signed_in(viewer)
    addresses = (
        f"{API}/records/{record['id']}",
        f"{API}/engines/{engine.public_id}/records",
    )
    assert [owner.get(address).status_code for address in addresses] == [404, 404]
    mine = OwnerFactory(station=viewer.station)
    OwnerLogin.objects.create(owner=mine, user=viewer.user)
    Engine.objects.filter(pk=engine.pk).update(owner=mine)
    assert [owner.get(address).status_code for address in addresses] == [200, 200]
    assert sign(owner, engine, description="Mine.").status_code == 403
    assert void(owner, record["id"]).status_code == 403


def test_another_station_finds_nothing(
    client: Client,
    engine: Engine,
    stranger: Viewer,
    signed_in: Callable[[Viewer], Client],
) -> None:
    record = sign(client, engine).json()
    other = signed_in(stranger)
    assert other.get(f"{API}/records/{record['id']}").status_code == 404
    assert other.get(f"{API}/engines/{engine.public_id}/records").status_code == 404
    assert sign(other, engine, description="More.").status_code == 404
    assert void(other, record["id"]).status_code == 404
    assert Record.objects.count() == 1


SENT = VALUE | st.fixed_dictionaries(
    {},
    optional=dict.fromkeys(
        [
            *(set(WORK) - {"password"}),
            "provision",
            "document",
            "part",
            "part_hours",
            "airframe_hours",
            "result",
            "en_route",
            "late",
            "remarks",
            "alternative",
            "inspection",
            "other",
        ],
        VALUE,
    ),
)


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(sent=SENT)
def test_whatever_is_sent_as_work_is_taken_or_refused(
    client: Client, engine: Engine, sent: Any
) -> None:
    address = f"{API}/engines/{engine.public_id}/records"
    body = {**WORK, **sent} if isinstance(sent, dict) else sent
    answer = client.post(address, body, content_type="application/json")
    assert answer.status_code in {201, 400, 409}


def test_a_day_of_the_past_stays_as_it_was_sent(client: Client, engine: Engine) -> None:
    record = sign(client, engine, on="2025-11-20", hours=470).json()
    assert Record.objects.get(public_id=record["id"]).on == date(2025, 11, 20)

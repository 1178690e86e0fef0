"""The first API: what it shows, what it takes, and how it refuses."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from notices.models import Provision
from tests.factories.fleet import EngineFactory
from tests.factories.notices import ProvisionFactory, RevisionFactory
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.fleet.models import Engine, Reading

API = "/api/v1"
AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)


@pytest.fixture
def engine(station: Any, technician: Viewer, time_machine: Any) -> Engine:
    """An engine read on 2026-01-10 at 480.00 h, under one confirmed bulletin."""
    time_machine.move_to(AT, tick=False)
    revision = RevisionFactory(publication__station=station, confirmed=True)
    ProvisionFactory(revision=revision)
    made = EngineFactory(station=station, serial="4001", built=date(2020, 3, 1))
    changes.start_meter(
        technician,
        made,
        kind="time in service",
        on=date(2026, 1, 10),
        shown=48_000,
        at=AT,
    )
    return made


@pytest.fixture
def client(technician: Viewer, signed_in: Any) -> Client:
    return signed_in(technician)


def add(client: Client, engine: Engine, **sent: Any) -> Any:
    return client.post(
        f"{API}/engines/{engine.public_id}/readings",
        sent,
        content_type="application/json",
    )


def test_an_engine_shows_hours_as_decimals(client: Client, engine: Engine) -> None:
    found = client.get(f"{API}/engines/{engine.public_id}")
    assert found.json()["hours"] == 480
    assert found.json()["read_on"] == "2026-01-10"
    assert found.json()["serial"] == "4001"


def test_the_tag_of_an_engine_changes_with_it(client: Client, engine: Engine) -> None:
    address = f"{API}/engines/{engine.public_id}"
    before = client.get(address).headers["ETag"]
    add(client, engine, on="2026-11-20", shown=520.25)
    assert client.get(address).headers["ETag"] != before


def test_a_reading_is_added_and_found_where_the_answer_says(
    client: Client, engine: Engine
) -> None:
    added = add(client, engine, on="2026-11-20", shown=520.25, remark="by phone")
    assert added.status_code == 201
    found = client.get(added.headers["Location"]).json()
    assert found == added.json()
    assert (found["shown"], found["hours"], found["on"]) == (
        520.25,
        520.25,
        "2026-11-20",
    )
    assert Reading.objects.get(public_id=found["id"]).hours == 52_025


@pytest.mark.parametrize(
    ("sent", "path", "message"),
    [
        ({"on": "2026-11-20", "shown": 12}, "shown", "480.0 h"),
        ({"on": "2026-11-20", "shown": 480.255}, "shown", "two decimal places"),
        ({"on": "2026-11-20", "shown": "520.2"}, "shown", "as a number"),
        ({"on": "2026-11-20", "shown": True}, "shown", "as a number"),
        ({"on": "2026-11-20", "shown": -1}, "shown", "from 0"),
        ({"on": "2026-11-31", "shown": 500}, "on", "Date has wrong format"),
        ({"on": "2026-12-24", "shown": 500}, "on", "after today"),
        ({"shown": 500}, "on", "required"),
        ({"on": "2026-11-20", "shown": 500, "hours": 1}, "hours", "Not known here"),
        ({"on": "2026-11-20", "shown": 500, "remark": "\x07"}, "remark", "control"),
        ({"on": "2026-11-20", "shown": 500, "remark": "x" * 201}, "remark", "200"),
    ],
)
def test_a_reading_that_cannot_be_is_refused_with_path_and_reason(
    client: Client, engine: Engine, sent: dict[str, Any], path: str, message: str
) -> None:
    refused = add(client, engine, **sent)
    assert refused.status_code == 400
    assert refused.headers["Content-Type"] == "application/problem+json"
    assert refused.json()["title"] == "Bad Request"
    [error] = refused.json()["errors"]
    assert error["path"] == path
    assert message in error["message"]
    assert Reading.objects.count() == 1


def test_a_reading_far_beyond_all_use_before_is_asked_about(
    client: Client, engine: Engine
) -> None:
    """On 10 January it showed 480 h; more than 12 h a day cannot be kept up by chance."""
    far = {"on": "2026-01-13", "shown": 551}
    asked = add(client, engine, **far)
    assert asked.status_code == 422
    [error] = asked.json()["errors"]
    assert error["path"] == "shown"
    assert "71.0 h in 3 days" in error["message"]
    assert error["message"].endswith('send "confirmed": true with it.')
    assert Reading.objects.count() == 1
    assert add(client, engine, **far, confirmed=True).status_code == 201
    impossible = {"on": "2026-01-11", "shown": 551, "confirmed": True}
    assert add(client, engine, **impossible).status_code == 400


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        (b"{", "application/json", 400),
        (b"[]", "application/json", 400),
        (b'{"on": "2026-11-20", "shown": NaN}', "application/json", 400),
        (b"on=2026-11-20", "application/x-www-form-urlencoded", 415),
        (b"\xff\xfe", "application/json", 400),
    ],
)
def test_a_body_that_is_not_an_object_is_refused(
    client: Client, engine: Engine, body: bytes, kind: str, status: int
) -> None:
    address = f"{API}/engines/{engine.public_id}/readings"
    refused = client.post(address, body, content_type=kind)
    assert refused.status_code == status
    assert refused.json()["status"] == status
    assert refused.headers["Content-Type"] == "application/problem+json"


def test_a_finding_says_state_point_and_why(client: Client, engine: Engine) -> None:
    [finding] = client.get(f"{API}/engines/{engine.public_id}/findings").json()[
        "results"
    ]
    assert finding["engine"] == str(engine.public_id)
    assert finding["title"] == "Inspect the fuel pump"
    assert finding["state"] in {"outstanding", "undetermined", "overdue"}
    assert finding["reasons"]
    assert finding["sentence"]


def test_a_finding_says_under_what_approval_another_time_counts(
    client: Client, engine: Engine, technician: Viewer
) -> None:
    at = f"{API}/engines/{engine.public_id}/findings"
    [finding] = client.get(at).json()["results"]
    assert finding["alternative"] == ""
    approved = changes.AlternativeEntry(
        reference="26-014",
        approved_by="Office of the authority",
        approved_on=date(2026, 3, 2),
        description="Looked at through the cover.",
        times={"initial": {"hours": 700, "after": "new"}},
    )
    provision = Provision.objects.get(public_id=finding["provision"])
    changes.approve_alternative(technician, engine, provision, approved, at=AT)
    [finding] = client.get(at).json()["results"]
    assert finding["due_hours"] == 700
    sentence = (
        "By alternative method 26-014, approved by Office of the authority on "
        "2 March 2026."
    )
    assert finding["alternative"] == sentence
    assert finding["sentence"].endswith(sentence)


def test_the_due_list_counts_every_state_and_shows_the_one_asked_for(
    client: Client, engine: Engine
) -> None:
    everything = client.get(f"{API}/due").json()
    [row] = everything["results"]
    assert everything["states"][row["state"]] == everything["count"] == 1
    same = client.get(f"{API}/due", {"state": row["state"]}).json()
    assert same["results"] == everything["results"]
    none = client.get(f"{API}/due", {"state": "before further flight"}).json()
    assert none["results"] == []
    assert none["states"] == everything["states"]


@pytest.mark.parametrize(
    ("asked", "path"),
    [
        ({"state": "broken"}, "state"),
        ({"page": "0"}, "page"),
        ({"page": "x"}, "page"),
        ({"size": "501"}, "size"),
    ],
)
def test_a_due_list_that_cannot_be_is_refused(
    client: Client, engine: Engine, asked: dict[str, str], path: str
) -> None:
    refused = client.get(f"{API}/due", asked)
    assert refused.status_code == 400
    assert [error["path"] for error in refused.json()["errors"]] == [path]


def test_a_publication_shows_the_revision_that_holds_with_its_rules(
    client: Client, engine: Engine
) -> None:
    [listed] = client.get(f"{API}/publications").json()["results"]
    found = client.get(f"{API}/publications/{listed['id']}").json()
    assert found["revision"]["label"] == listed["current"]
    [provision] = found["revision"]["provisions"]
    assert provision["rule"]["action"]["initial"] == {"after": "effective", "hours": 50}


def test_an_interval_and_rows_of_oils_stand_there_in_json_and_in_words(
    client: Client, station: Any
) -> None:
    interval = {"id": "base", "kind": "base", "hours": 1500, "since": "overhaul"}
    row = {
        "id": "all-year",
        "grade": "10W-40",
        "class": "mineral",
        "ambient": {"to": 35},
        "fuel": ["leaded"],
    }
    revision = RevisionFactory(publication__station=station, confirmed=True)
    ProvisionFactory(
        revision=revision,
        rule__action={},
        rule__interval=interval,
        rule__condition={"type": ["MX-4"]},
    )
    ProvisionFactory(revision=revision, rule__action={}, rule__fluids=[row])
    address = f"{API}/publications/{revision.publication.public_id}"
    first, second = client.get(address).json()["revision"]["provisions"]
    assert first["rule"]["interval"] == interval
    assert first["rule"]["words"] == {
        "applicability": "Every engine.",
        "condition": "Type designation is MX-4.",
        "action": "",
        "interval": "Overhaul interval: 1\u00a0500\u00a0h since overhaul. It is a "
        "recommendation.",
        "fluids": [],
    }
    assert second["rule"]["fluids"] == [row]
    assert second["rule"]["words"]["condition"] == ""
    assert second["rule"]["words"]["fluids"] == [
        "10W-40, mineral, ambient up to 35 °C, with leaded fuel."
    ]


def test_an_owner_sees_no_publication_that_is_only_a_draft(
    client: Client, viewer_as: Any, signed_in: Any, station: Any
) -> None:
    draft = RevisionFactory(publication__station=station)
    address = f"{API}/publications/{draft.publication.public_id}"
    assert client.get(address).json()["revision"] is None
    owner = signed_in(viewer_as("owner"))
    assert owner.get(address).status_code == 404
    assert owner.get(f"{API}/publications").json()["count"] == 0


def test_a_list_comes_in_pages_with_a_cap(client: Client, engine: Engine) -> None:
    EngineFactory.create_batch(2, station=engine.station)
    first = client.get(f"{API}/engines", {"size": 2}).json()
    assert (first["count"], len(first["results"])) == (3, 2)
    beyond = client.get(f"{API}/engines", {"size": 2, "page": 3})
    assert beyond.status_code == 404
    assert beyond.json()["status"] == 404
    assert client.get(f"{API}/engines", {"size": 10**9}).status_code == 200


def test_without_a_session_the_answer_says_how_to_come_in(db: None) -> None:
    refused = Client().get(f"{API}/engines")
    assert refused.status_code == 401
    assert refused.headers["WWW-Authenticate"] == "Session"
    assert refused.json()["title"] == "Unauthorized"


def test_an_address_that_is_none_is_refused_as_a_problem(client: Client) -> None:
    for address in (f"{API}/nothing", f"{API}/engines/4001", "/api/"):
        refused = client.get(address)
        assert refused.status_code == 404
        assert refused.headers["Content-Type"] == "application/problem+json"


def test_too_many_calls_are_slowed(client: Client, monkeypatch: Any) -> None:
    from rest_framework.throttling import UserRateThrottle

    monkeypatch.setattr(UserRateThrottle, "THROTTLE_RATES", {"user": "2/min"})
    answers = [client.get(f"{API}/engines") for _ in range(3)]
    assert [answer.status_code for answer in answers] == [200, 200, 429]
    assert int(answers[-1].headers["Retry-After"]) > 0
    assert answers[-1].json()["title"] == "Too Many Requests"


def test_the_schema_is_valid_and_raises_no_warning(tmp_path: Any) -> None:
    call_command(
        "spectacular", "--validate", "--fail-on-warn", "--file", str(tmp_path / "s.yml")
    )
    assert "application/problem+json" in (tmp_path / "s.yml").read_text()


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False)
    | st.text(max_size=8)
    | st.sampled_from(["2026-11-20", "0001-01-01", "9999-12-31", "480", 520.5, 10**30]),
    lambda inner: (
        st.lists(inner, max_size=2)
        | st.dictionaries(st.text(max_size=4), inner, max_size=2)
    ),
    max_leaves=4,
)
SENT = JSON | st.fixed_dictionaries(
    {}, optional={"on": JSON, "shown": JSON, "remark": JSON, "other": JSON}
)


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(sent=SENT)
def test_whatever_is_sent_as_a_reading_is_taken_or_refused(
    client: Client, engine: Engine, sent: Any
) -> None:
    address = f"{API}/engines/{engine.public_id}/readings"
    answer = client.post(address, sent, content_type="application/json")
    assert answer.status_code in {201, 400, 422}

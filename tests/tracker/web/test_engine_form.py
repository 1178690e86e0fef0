"""Engines, types and owners by their forms: kept, refused with the reason, guarded."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from notices.models import Provision
from tests.factories.fleet import EngineFactory, EngineTypeFactory, OwnerFactory
from tests.tracker.web.reading import words
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role, Station
from tracker.fleet.models import Engine, EngineType, Fitting, Identity, Operation, Owner

pytestmark = pytest.mark.django_db


def said(response: HttpResponse) -> str:
    return words(response.content.decode())


def address(name: str, engine: Engine) -> str:
    return reverse(f"web:{name}", args=[engine.public_id])


def new_engine(engine_type: EngineType, **given: str) -> dict[str, str]:
    return {
        "engine_type": str(engine_type.public_id),
        "type_complete": "on",
        "serial": "4001",
        "hours_at_new": "0",
        "state": "in service",
        "true_from": "2026-11-20",
        **given,
    }


def test_an_engine_is_entered_and_what_is_empty_stays_unknown(
    page: Client, station: Station
) -> None:
    engine_type = EngineTypeFactory(station=station, designation="MX-4")
    answer = page.post(reverse("web:engine-add"), new_engine(engine_type), follow=True)
    engine = Engine.objects.get(station=station)
    assert answer.redirect_chain[-1][0] == address("engine", engine)
    assert "The engine is entered and evaluated" in said(answer)
    assert (engine.serial, engine.built, engine.owner) == ("4001", None, None)
    assert not Fitting.objects.exists()
    assert not Operation.objects.exists()
    assert Identity.objects.get().rebuilt_known is False


def test_an_engine_is_entered_with_all_that_is_known(
    page: Client, station: Station
) -> None:
    engine_type = EngineTypeFactory(station=station)
    owner = OwnerFactory(station=station)
    entry = new_engine(
        engine_type,
        built="2020-03-01",
        shipped="2020-04-01",
        rebuilt="dated",
        rebuilt_on="2022-01-05",
        owner=str(owner.public_id),
        registration="LN-ABC",
        registry="no",
        position="left",
        uses="private; commercial",
    )
    assert page.post(reverse("web:engine-add"), entry).status_code == 302
    engine = Engine.objects.get()
    assert engine.owner == owner
    assert engine.built == date(2020, 3, 1)
    assert Identity.objects.get().rebuilt == date(2022, 1, 5)
    assert Fitting.objects.get().registry == "NO"
    assert Operation.objects.get().uses == ["private", "commercial"]


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"serial": ""}, "This cannot be left out."),
        ({"built": "1.3.2020"}, '"1.3.2020" is not a date. Write it as 2026-05-31.'),
        ({"built": "2023-02-29"}, '"2023-02-29" is not a date.'),
        (
            {"built": "2026-12-01"},
            "The date of manufacture 2026-12-01 lies after today, 2026-11-24.",
        ),
        (
            {"built": "2020-03-01", "shipped": "2020-02-01"},
            "2020-02-01 is before the date of manufacture, 2020-03-01.",
        ),
        (
            {"hours_at_new": "12h"},
            '"12h" is not a number of hours. Write hours with at most two decimals',
        ),
        ({"rebuilt": "dated"}, "The date of the rebuild is missing."),
        (
            {"aircraft": "no", "registration": "LN-ABC"},
            "An engine that is not fitted has no aircraft.",
        ),
        ({"registry": "Norway"}, '"Norway" is not a state of registry.'),
        (
            {"engine_type": "b6c9a1d0-0000-4000-8000-000000000000"},
            "Choose one from the list; what was sent is not in it.",
        ),
    ],
)
def test_an_engine_that_cannot_be_right_is_refused_and_nothing_is_kept(
    page: Client, station: Station, given: dict[str, str], message: str
) -> None:
    entry = new_engine(EngineTypeFactory(station=station)) | given
    answer = page.post(reverse("web:engine-add"), entry)
    assert answer.status_code == 422
    assert message in said(answer)
    assert "Nothing has been kept yet." in said(answer)
    assert not Engine.objects.exists()


def test_a_serial_that_is_kept_already_is_refused_at_its_field(
    page: Client, station: Station
) -> None:
    engine = EngineFactory(station=station, serial="4001")
    answer = page.post(reverse("web:engine-add"), new_engine(engine.engine_type))
    assert answer.status_code == 422
    assert 'with the serial "4001". Open that engine' in said(answer)
    assert answer.context["form"].errors.keys() == {"serial"}


def state(engine: Engine, **given: str) -> dict[str, str]:
    seen = {"version": str(engine.version), "state": "stored"}
    return {**seen, "true_from": "2026-11-20", **given}


def test_a_change_says_what_was_kept_and_what_it_was_before(
    page: Client, engine: Engine
) -> None:
    answer = page.post(address("engine-state", engine), state(engine), follow=True)
    assert (
        "The state is kept. State: stored, was in service; "
        "Since: 20 Nov 2026, was 24 Nov 2026." in said(answer)
    )
    engine.refresh_from_db()
    assert engine.state == "stored"


def test_a_form_sent_back_as_it_was_writes_nothing(
    page: Client, engine: Engine
) -> None:
    same = state(engine, state="in service", true_from="2026-11-24")
    answer = page.post(address("engine-state", engine), same, follow=True)
    assert "Nothing is different, so nothing was written." in said(answer)
    assert Engine.objects.get().version == engine.version


def test_a_change_by_somebody_else_in_between_is_shown_beside_ones_own(
    page: Client, engine: Engine
) -> None:
    first = state(engine, state="removed", true_from="2026-11-24")
    page.post(address("engine-state", engine), first)
    answer = page.post(
        address("engine-state", engine), state(engine, true_from="2026-11-24")
    )
    assert answer.status_code == 409
    assert "Somebody else has changed" in said(answer)
    assert "State removed stored" in said(answer)
    assert Engine.objects.get().state == "removed"
    seen = str(answer.context["form"]["version"].value())
    again = state(engine, version=seen, true_from="2026-11-24")
    assert page.post(address("engine-state", engine), again).status_code == 302
    assert Engine.objects.get().state == "stored"


@pytest.mark.parametrize("version", ["", "x", "-1", "9" * 400])
def test_a_form_without_its_version_is_refused(
    page: Client, engine: Engine, version: str
) -> None:
    sent = state(engine, version=version)
    answer = page.post(address("engine-state", engine), sent)
    assert answer.status_code == 422
    assert "The form does not say which version it changes." in said(answer)
    assert Engine.objects.get().state == "in service"


def test_an_identity_is_corrected_from_the_start(page: Client, engine: Engine) -> None:
    kept = page.get(address("engine-identity", engine)).context["form"].initial
    sent = {name: value for name, value in kept.items() if value not in (None, "")}
    sent |= {"built": "2020-03-09", "rebuilt": "never", "type_complete": "on"}
    assert page.post(address("engine-identity", engine), sent).status_code == 302
    row = Identity.objects.get(current=True)
    assert (row.built, row.rebuilt_known) == (date(2020, 3, 9), True)
    assert row.true_from == date(1900, 1, 1)


def test_how_an_engine_is_run_is_kept_as_it_was_written(
    page: Client, engine: Engine
) -> None:
    sent = {
        "version": engine.version,
        "uses": "private;commercial",
        "leaded_share": "2/5",
        "oil_low": "185",
        "oil_high": "221.5",
        "oil_unit": "F",
        "ambient_low": "-4",
        "ambient_high": "86",
        "ambient_unit": "F",
        "true_from": "2026-11-20",
    }
    assert page.post(address("engine-operation", engine), sent).status_code == 302
    row = Operation.objects.get()
    assert row.uses == ["private", "commercial"]
    assert (row.leaded_share, row.oil_low, row.oil_high) == ("2/5", "185", "221.5")
    assert (row.ambient_low, row.ambient_high, row.ambient_unit) == ("-4", "86", "F")
    shown = said(page.get(address("engine", engine)))
    assert "Ambient temperature −4 to 86 °F, coming season" in shown
    sent |= {"version": Engine.objects.get().version, "leaded_share": "40"}
    answer = page.post(address("engine-operation", engine), sent)
    assert answer.status_code == 422
    assert 'If 40 % is meant, write "40 %".' in said(answer)
    assert Operation.objects.count() == 1
    sent["leaded_share"] = "49,9 %"
    assert page.post(address("engine-operation", engine), sent).status_code == 302
    assert Operation.objects.get(current=True).leaded_share == "49,9 %"
    shown = said(page.get(address("engine", engine)))
    assert "Leaded share of its fuel 49.9 %, declared" in shown
    fuel = said(page.get(address("engine-fuel", engine)))
    assert "The owner declares a share of 49.9 %." in fuel


@pytest.fixture
def names_operations(make_provision: Callable[..., Provision]) -> None:
    """A law of overhaul in commercial operation, and an inspection for instruction."""
    make_provision(number="SB-1", rule__condition={"operation": ["Flight instruction"]})
    base = {"id": "b", "kind": "base", "hours": 1500, "since": "new"}
    law = make_provision(
        number="SI-2", rule__interval={**base, "binding": ["glider tow"]}
    )
    law.kind = Provision.Kind.INTERVAL
    law.save(update_fields=["kind"])


def run(engine: Engine, *uses: str, other: str = "") -> dict[str, Any]:
    return {
        "version": Engine.objects.get(pk=engine.pk).version,
        "uses": uses,
        "uses-other": other,
        "oil_unit": "C",
        "ambient_unit": "C",
        "true_from": "2026-11-20",
    }


def test_every_operation_that_a_rule_names_is_offered(
    page: Client, engine: Engine, names_operations: None
) -> None:
    where = address("engine-operation", engine)
    for form in (page.get(where), page.get(reverse("web:engine-add"))):
        offered = [
            value for value, _ in form.context["form"].fields["uses"].widget.choices
        ]
        assert offered == ["private", "commercial", "flight instruction", "glider tow"]
    sent = run(engine, "private", "flight instruction", other=" Glider Tow, commercial")
    assert page.post(where, sent).status_code == 302
    kept = ["private", "flight instruction", "glider tow", "commercial"]
    assert Operation.objects.get().uses == kept


def test_an_operation_that_no_rule_names_is_asked_about_once_more(
    page: Client, engine: Engine, names_operations: None
) -> None:
    where, sent = address("engine-operation", engine), run(engine, other="comercial")
    first = page.post(where, sent)
    assert first.status_code == 200
    assert (
        'Nothing is written yet. No document in force names the operation "comercial". '
        "It is offered: private, commercial, flight instruction and glider tow. Kept so, "
        "it counts as none of these, and what SB-1 and SI-2 say of them does not hold "
        "for it."
    ) in said(first)
    assert "To keep it, press “Keep how it is run” below." in said(first)
    assert not Operation.objects.exists()
    assert 'name="uses-other" value="comercial"' in first.content.decode()
    page.post(where, sent | {"foreseen": first.context["ahead"].digest})
    assert Operation.objects.get().uses == ["comercial"]


def test_what_held_till_something_later_is_not_said_to_hold_now(
    page: Client, engine: Engine
) -> None:
    where = address("engine-operation", engine)
    page.post(where, run(engine, "private"))
    earlier = run(engine, "commercial") | {"true_from": "2020-01-01"}
    shown = said(page.post(where, earlier, follow=True))
    assert "It held till what is known of a later day, which holds now." in shown
    assert "was private" not in shown
    assert Operation.objects.get(current=True).uses == ["private"]


def test_an_operation_of_a_new_engine_is_asked_about_as_well(
    page: Client, station: Station
) -> None:
    where = reverse("web:engine-add")
    sent = new_engine(EngineTypeFactory(station=station)) | {"uses-other": "comercial"}
    first = page.post(where, sent)
    assert "it counts as none of these." in said(first)
    assert not Engine.objects.exists()
    again = page.post(where, sent | {"foreseen": first.context["ahead"].digest})
    assert again.status_code == 302
    assert Operation.objects.get().uses == ["comercial"]


def test_an_operation_that_was_kept_in_other_words_is_not_lost(
    page: Client, engine: Engine, technician: Viewer, now: datetime
) -> None:
    """Kept as one before commas parted kinds of operation."""
    Operation.objects.create(
        station=engine.station,
        engine=engine,
        uses=["private, commercial", "instruction"],
        true_from=date(2026, 1, 10),
        recorded_at=now,
        recorded_by=technician.user,
        current=True,
    )
    field = page.get(address("engine-operation", engine)).context["form"]["uses"]
    assert 'value="private, commercial; instruction"' in str(field)


def test_a_transfer_lets_the_reviews_lapse(page: Client, engine: Engine) -> None:
    first, second = OwnerFactory.create_batch(2, station=engine.station)
    for owner in (first, second):
        version = Engine.objects.get().version
        sent = {"owner": str(owner.public_id), "true_from": "2026-11-24"}
        answer = page.post(
            address("engine-owner", engine), {**sent, "version": version}
        )
        assert answer.status_code == 302
    assert Engine.objects.get().owner == second
    assert not engine.reviews.get(current=True).valid


def test_an_owner_of_another_station_is_not_offered_and_not_taken(
    page: Client, engine: Engine, other_station: Station
) -> None:
    foreign = OwnerFactory(station=other_station, name="Elsewhere Club")
    sent = {"owner": str(foreign.public_id), "true_from": "2026-11-24"}
    answer = page.post(
        address("engine-owner", engine), {**sent, "version": engine.version}
    )
    assert answer.status_code == 422
    assert "Elsewhere" not in said(answer)
    assert Engine.objects.get().owner is None


@pytest.mark.parametrize(
    "name",
    ["identity", "aircraft", "state", "owner", "operation", "meter", "part-add"],
)
def test_an_engine_of_another_station_is_not_there(
    stranger: Viewer,
    signed_in: Callable[[Viewer], Client],
    engine: Engine,
    name: str,
) -> None:
    client = signed_in(stranger)
    assert client.get(address(f"engine-{name}", engine)).status_code == 404
    assert client.post(address(f"engine-{name}", engine), {}).status_code == 404


def test_a_type_is_entered_with_its_roles_and_changed(
    page: Client, station: Station
) -> None:
    entry = {
        "designation": "MX-6",
        "maker": "Halvorsen Engines",
        "serial_pattern": "K-#-#",
        "serial_run": "2",
        "parts": "magneto: 2\n\nFuel pump",
    }
    page.post(reverse("web:engine-type-add"), entry)
    made = EngineType.objects.get()
    roles = {role.role: role.count for role in made.part_roles.all()}
    assert roles == {"magneto": 2, "fuel pump": 1}
    change = reverse("web:engine-type-change", args=[made.public_id])
    answer = page.post(change, {**entry, "parts": "magneto: 1"}, follow=True)
    assert "its engines are evaluated again" in said(answer)
    assert [role.count for role in made.part_roles.all()] == [1]
    assert "K-#-#" in said(page.get(reverse("web:engine-type-list")))


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"parts": "magneto: two"}, 'Line 1, "magneto: two", is not a role.'),
        ({"parts": "pump\nPump: 2"}, 'Line 2: the role "Pump" stands twice.'),
        ({"parts": "pump: 0"}, 'An engine cannot hold 0 of "pump".'),
        ({"serial_pattern": "#", "serial_run": "2"}, "so run 2 cannot be the number."),
        ({"designation": "- -"}, '"- -" names no type.'),
    ],
)
def test_a_type_that_cannot_be_right_is_refused(
    page: Client, given: dict[str, str], message: str
) -> None:
    entry = {"designation": "MX-6", "maker": "Halvorsen Engines", **given}
    answer = page.post(reverse("web:engine-type-add"), entry)
    assert answer.status_code == 422
    assert message in said(answer)
    assert not EngineType.objects.exists()


def an_owner(**given: str) -> dict[str, Any]:
    facts = {"name": "Skerry Flying Club", "kind": "club", "time_zone": "Europe/Oslo"}
    return {**facts, **given}


def test_an_owner_is_entered_and_changed(page: Client, station: Station) -> None:
    page.post(reverse("web:owner-add"), an_owner())
    owner = Owner.objects.get()
    change = reverse("web:owner-change", args=[owner.public_id])
    answer = page.post(change, an_owner(phone="+47 555 01"), follow=True)
    assert "Telephone: +47 555 01, was nothing." in said(answer)
    assert Owner.objects.get().phone == "+47 555 01"


def test_a_second_owner_of_the_same_name_is_refused(
    page: Client, station: Station
) -> None:
    OwnerFactory(station=station, name="Skerry Flying Club")
    answer = page.post(reverse("web:owner-add"), an_owner())
    assert answer.status_code == 422
    assert 'This station already has an owner "Skerry Flying Club".' in said(answer)
    wrong = page.post(reverse("web:owner-add"), an_owner(name="B", email="no address"))
    assert 'Write it as "name@place.example".' in said(wrong)
    assert Owner.objects.count() == 1


def test_an_owner_who_signs_in_may_not_change_the_engine(
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
    engine: Engine,
) -> None:
    client = signed_in(viewer_as(Role.OWNER))
    answer = client.post(address("engine-state", engine), state(engine))
    assert answer.status_code == 403
    assert Engine.objects.get().state == "in service"

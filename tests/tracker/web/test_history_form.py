"""What happened to an engine, and the marks on its history, by their forms."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from notices.models import Provision
from tests.tracker.web.reading import words
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.fleet.models import (
    Attribute,
    Engine,
    Modification,
    NamedEvent,
    Overhaul,
    Part,
    Review,
    Search,
)
from tracker.fleet.parts import Fit, PartEntry

pytestmark = pytest.mark.django_db


def said(response: HttpResponse) -> str:
    return words(response.content.decode())


def address(name: str, engine: Engine) -> str:
    return reverse(f"web:engine-{name}", args=[engine.public_id])


@pytest.fixture
def pump(engine: Engine, technician: Viewer, now: datetime) -> Part:
    return changes.add_part(
        technician,
        engine,
        PartEntry(role="fuel pump", number="P-8801", serial="A-17"),
        Fit(),
        true_from=date(2026, 1, 10),
        at=now,
    )


def test_an_overhaul_is_entered_and_withdrawn(page: Client, engine: Engine) -> None:
    sent = {"on": "2026-01-10", "hours": "480", "done_by": "maker", "tested": "sheet 7"}
    assert page.post(address("overhaul-add", engine), sent).status_code == 302
    row = Overhaul.objects.get()
    assert (row.kind, row.hours, row.by) == ("overhaul", 48_000, "maker")
    assert row.tested == "sheet 7"
    args = [engine.public_id, row.public_id]
    withdraw = reverse("web:engine-overhaul-withdraw", args=args)
    empty = page.post(withdraw, {"reason": ""})
    assert empty.status_code == 422
    assert Overhaul.objects.valid().count() == 1
    assert page.post(withdraw, {"reason": "of another engine"}).status_code == 302
    assert not Overhaul.objects.valid().exists()
    again = page.post(withdraw, {"reason": "of another engine"})
    assert again.status_code == 422
    assert "is withdrawn already." in said(again)


@pytest.mark.parametrize(
    ("sent", "message"),
    [
        ({"on": "2019-01-10"}, "2019-01-10 is before the engine was made, 2020-03-01."),
        ({"hours": "600"}, "600.0 h on 2026-01-10 cannot be right."),
        ({"on": "2027-01-10"}, "lies after today, 2026-11-24."),
    ],
)
def test_an_overhaul_that_cannot_be_right_is_refused(
    page: Client, engine: Engine, sent: dict[str, str], message: str
) -> None:
    entry = {"on": "2026-01-10", "tested": "sheet 7", **sent}
    answer = page.post(address("overhaul-add", engine), entry)
    assert answer.status_code == 422
    assert message in said(answer)
    assert not Overhaul.objects.exists()


def test_a_second_overhaul_on_a_day_is_refused(page: Client, engine: Engine) -> None:
    page.post(address("overhaul-add", engine), {"on": "2026-01-10", "tested": "x"})
    answer = page.post(address("rebuild-add", engine), {"on": "2026-01-10"})
    assert answer.status_code == 422
    assert "An overhaul on 2026-01-10 is recorded already." in said(answer)


def test_time_since_new_counts_from_a_rebuild(page: Client, engine: Engine) -> None:
    sent = {"on": "2026-01-10", "hours": "480"}
    assert page.post(address("rebuild-add", engine), sent).status_code == 302
    assert Engine.objects.get().tsn == 4_000


def test_an_event_is_entered_and_withdrawn(page: Client, engine: Engine) -> None:
    sent = {"name": "Propeller strike", "on": "2026-11-24", "hours": "520"}
    assert page.post(address("event-add", engine), sent).status_code == 302
    row = NamedEvent.objects.get()
    assert row.name == "propeller strike"
    args = [engine.public_id, row.public_id]
    withdraw = reverse("web:engine-event-withdraw", args=args)
    assert "Withdraw: propeller strike of 24 November 2026" in said(page.get(withdraw))
    page.post(withdraw, {"reason": "was none"})
    assert not NamedEvent.objects.valid().exists()


def test_an_overhaul_is_not_entered_as_an_event(page: Client, engine: Engine) -> None:
    sent = {"name": "Overhaul", "on": "2026-11-24"}
    answer = page.post(address("event-add", engine), sent)
    assert answer.status_code == 422
    assert "Enter an overhaul as an overhaul, with who did it." in said(answer)
    assert not NamedEvent.objects.exists()


@pytest.mark.parametrize(("word", "embodied"), [("yes", True), ("no", False)])
def test_a_modification_is_noted_as_embodied_or_looked_for(
    page: Client, engine: Engine, word: str, embodied: bool
) -> None:
    sent = {"modification": "SB-24-011", "true_from": "2026-11-24", "source": "plate"}
    answer = page.post(address("modification-add", engine), {**sent, "embodied": word})
    assert answer.status_code == 302
    row = Modification.objects.get()
    assert (row.designation, row.embodied, row.source) == (
        "SB-24-011",
        embodied,
        "plate",
    )


def test_a_modification_without_its_state_or_with_two_names_is_refused(
    page: Client, engine: Engine
) -> None:
    sent = {"modification": "SB-1; SB-2", "true_from": "2026-11-24"}
    unsaid = page.post(address("modification-add", engine), sent)
    assert unsaid.status_code == 422
    assert "This cannot be left out." in said(unsaid)
    two = page.post(address("modification-add", engine), {**sent, "embodied": "yes"})
    assert '"SB-1; SB-2" does not name one modification.' in said(two)
    assert not Modification.objects.exists()


def test_a_property_is_noted_of_the_engine_or_of_a_part(
    page: Client, engine: Engine, pump: Part
) -> None:
    sent = {"name": "drive", "value": "geared", "true_from": "2026-11-24"}
    page.post(address("attribute-add", engine), {**sent, "part": ""})
    page.post(address("attribute-add", engine), {**sent, "part": str(pump.public_id)})
    about = [(row.engine, row.part) for row in Attribute.objects.order_by("pk")]
    assert about == [(engine, None), (None, pump)]


SIGNAL = {"attribute": "signal", "in": ["compensated solid-state", "0-5 V"]}


@pytest.fixture
def asks_for_signal(make_provision: Callable[..., Provision]) -> Provision:
    return make_provision(
        number="SB-1",
        title="Exchange the pump",
        rule__condition={"part": {"role": "fuel pump", "where": SIGNAL}},
    )


def signal(pump: Part, value: str, **given: str) -> dict[str, str]:
    about = {"part": str(pump.public_id), "name": "signal"}
    return {**about, "value": value, "true_from": "2026-11-24", **given}


def test_a_property_offers_the_values_that_rules_name(
    page: Client, engine: Engine, pump: Part, asks_for_signal: Provision
) -> None:
    where = address("attribute-add", engine)
    listed = page.get(where)
    about = "fuel pump, P-8801, serial A-17"
    assert f"signal {about} not known 0-5 V, compensated solid-state SB-1" in said(
        listed
    )
    [one] = listed.context["asked"]
    form = page.get(one.address).context["form"]
    offered = [value for value, _ in form.fields["value"].widget.choices]
    assert offered == ["0-5 V", "compensated solid-state", "another value"]
    sent = signal(pump, "another value") | {"value-other": "Compensated  SOLID-state"}
    assert page.post(where, sent).status_code == 302
    assert Attribute.objects.get().value == "compensated solid-state"


@pytest.mark.parametrize(
    ("given", "asked"),
    [
        (
            {"value": "compensated"},
            'No document in force names the value "compensated" for signal of the fuel '
            'pump. Named are "0-5 V" and "compensated solid-state". Kept so, it is '
            "another value than these, and what SB-1 says of them does not hold for it.",
        ),
        (
            {"value": "", "value-other": "compensated solid state"},
            'No document in force names the value "compensated solid state"',
        ),
        (
            {"name": "signl", "value": "0-5 V"},
            'No document in force asks for a property "signl" of the fuel pump. Asked '
            'for is "signal". Kept so, it decides nothing that they ask.',
        ),
        (
            {"part": "", "value": "0-5 V"},
            'No document in force asks for a property "signal" of the engine itself. '
            "It is asked for as signal of the fuel pump.",
        ),
    ],
)
def test_a_value_that_no_rule_names_is_asked_about_once_more(
    page: Client,
    engine: Engine,
    pump: Part,
    asks_for_signal: Provision,
    given: dict[str, str],
    asked: str,
) -> None:
    where, sent = address("attribute-add", engine), signal(pump, "") | given
    first = page.post(where, sent)
    assert first.status_code == 200
    assert asked in said(first)
    assert not Attribute.objects.exists()
    written = first.context["form"]["value"].value()
    assert written == given.get("value-other", given["value"])
    again = sent | {"foreseen": first.context["ahead"].digest}
    assert page.post(where, again).status_code == 302
    assert Attribute.objects.get().value == written


def test_what_is_asked_of_other_types_is_not_asked_here(
    page: Client, engine: Engine, pump: Part, make_provision: Callable[..., Provision]
) -> None:
    elsewhere = {"all": [{"type": ["ZZ-9"]}, {"attribute": "drive", "in": ["geared"]}]}
    make_provision(number="SB-2", rule__condition=elsewhere)
    assert page.get(address("attribute-add", engine)).context["asked"] == []


def test_what_no_rule_asks_is_noted_as_it_is_written(
    page: Client, engine: Engine, pump: Part
) -> None:
    sent = signal(pump, "compensated")
    assert page.post(address("attribute-add", engine), sent).status_code == 302


def test_a_property_of_a_part_that_is_not_on_the_engine_is_refused(
    page: Client, engine: Engine, pump: Part, make_engine: Callable[..., Engine]
) -> None:
    sent = {"name": "drive", "value": "geared", "true_from": "2026-11-24"}
    wrong = {**sent, "part": str(pump.public_id)}
    answer = page.post(address("attribute-add", make_engine()), wrong)
    assert answer.status_code == 422
    assert "Choose one from the list; what was sent is not in it." in said(answer)
    assert not Attribute.objects.exists()


def test_a_role_is_marked_as_reviewed_and_reviews_lapse(
    page: Client, engine: Engine, pump: Part
) -> None:
    sent = {"scope": "fuel pump", "person": "Runa Tveit", "true_from": "2026-11-24"}
    assert page.post(address("review-add", engine), sent).status_code == 302
    assert Review.objects.get(scope="fuel pump").valid
    lapse = {"reason": "worked on elsewhere", "true_from": "2026-11-24"}
    page.post(address("review-lapse", engine), lapse)
    assert not Review.objects.filter(current=True, valid=True).exists()


def test_a_role_that_the_engine_does_not_know_is_not_reviewed(
    page: Client, engine: Engine
) -> None:
    sent = {"scope": "propeller", "person": "Runa Tveit", "true_from": "2026-11-24"}
    answer = page.post(address("review-add", engine), sent)
    assert answer.status_code == 422
    assert not Review.objects.filter(scope="propeller").exists()


def test_how_far_a_search_went_is_noted_of_engine_and_accessory(
    page: Client, engine: Engine, pump: Part, technician: Viewer
) -> None:
    form = page.get(address("search-add", engine)).context["form"]
    assert form["person"].value() == technician.user.name
    sent = {
        "part": str(pump.public_id),
        "kind": "directives",
        "searched_to": "2026-11-20",
        "source": "Index of the authority",
        "person": "Runa Tveit",
    }
    assert page.post(address("search-add", engine), sent).status_code == 302
    row = Search.objects.get()
    assert (row.part, row.true_from, row.kind) == (
        pump,
        date(2026, 11, 20),
        "directives",
    )
    ahead = page.post(
        address("search-add", engine), {**sent, "searched_to": "2026-12-01"}
    )
    assert ahead.status_code == 422
    assert ahead.context["form"].errors.keys() == {"searched_to"}
    assert Search.objects.count() == 1


NAMES = (
    "overhaul-add",
    "rebuild-add",
    "event-add",
    "modification-add",
    "attribute-add",
    "review-add",
    "review-lapse",
    "search-add",
)


@pytest.mark.parametrize("name", NAMES)
def test_history_is_written_by_the_station_of_the_engine_alone(
    stranger: Viewer,
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
    engine: Engine,
    name: str,
) -> None:
    assert signed_in(stranger).post(address(name, engine), {}).status_code == 404
    owner = signed_in(viewer_as(Role.OWNER))
    assert owner.post(address(name, engine), {}).status_code == 403


def test_an_entry_of_another_engine_is_not_withdrawn(
    page: Client, engine: Engine, make_engine: Callable[..., Engine]
) -> None:
    page.post(address("overhaul-add", engine), {"on": "2026-01-10", "tested": "x"})
    page.post(address("event-add", engine), {"name": "oil change", "on": "2026-01-10"})
    other = make_engine()
    rows = (("overhaul", Overhaul.objects.get()), ("event", NamedEvent.objects.get()))
    for name, row in rows:
        args = [other.public_id, row.public_id]
        withdraw = reverse(f"web:engine-{name}-withdraw", args=args)
        assert page.post(withdraw, {"reason": "x"}).status_code == 404
        row.refresh_from_db()
        assert row.withdrawn_at is None


def test_an_overhaul_without_a_test_is_asked_for_it_once(
    page: Client, engine: Engine
) -> None:
    at = address("overhaul-add", engine)
    answer = page.post(at, {"on": "2026-01-10", "done_by": "maker"})
    assert answer.status_code == 422
    assert "Say against what it was tested" in said(answer)
    assert "tested" in answer.context["form"].errors
    assert not Overhaul.objects.exists()
    page.post(at, {"on": "2026-01-10", "done_by": "maker", "transcribed": "on"})
    history = reverse("web:engine-history", args=[engine.public_id])
    assert "No test noted" in said(page.get(history))
    page.post(at, {"on": "2026-02-10", "tested": "two hours on the stand"})
    assert "Tested: two hours on the stand" in said(page.get(history))

"""Fuel by page and form: what it means for the limits, added, withdrawn, refused."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.factories.compliance import entry
from tests.factories.fleet import OwnerFactory
from tests.tracker.compliance.test_mixes import CHANGED, OIL_CHANGE
from tests.tracker.web.reading import rows_of, words, words_of
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.compliance.fuel_use import PAGE_SIZE
from tracker.fleet.fuel import FuelEntry
from tracker.fleet.models import Engine, FuelRecord, OwnerLogin
from tracker.fleet.register import OperationFacts

pytestmark = pytest.mark.django_db

SENT = {"on": "2026-11-20", "quantity": "85.5", "unit": "L", "kind": "leaded"}


@pytest.fixture
def oil_change(make_provision: Callable[..., Any]) -> Any:
    return make_provision(
        kind="scheduled", title="Change the oil", rule__action=OIL_CHANGE
    )


@pytest.fixture
def changed(
    oil_change: Any, make_engine: Callable[..., Engine], technician: Viewer, now: Any
) -> Engine:
    """An engine at 520 h whose oil was changed at 500 h on 2026-06-01."""
    engine = make_engine()
    done = entry(CHANGED, hours=50_000, provision=oil_change)
    changes.record_work(technician, engine, done, at=now)
    return engine


@pytest.fixture
def fuelled(changed: Engine, technician: Viewer, now: Any) -> Engine:
    """40 of 100 L were leaded: the last 20 of them brought the share over 30 %."""
    taken = [(10, "60", "unleaded", 50_400), (30, "20", "leaded", 51_000)]
    for days, quantity, kind, hours in [*taken, (63, "20", "leaded", 51_600)]:
        on = CHANGED + timedelta(days)
        fuel = FuelEntry(on=on, quantity=quantity, kind=kind, hours=hours)
        changes.add_fuel(technician, changed, fuel, at=now)
    return changed


def at(name: str, *of: Any) -> str:
    return reverse(f"web:{name}", args=[one.public_id for one in of])


# -- the page


def test_the_page_says_which_limit_holds_since_when_and_what_moved_it(
    page: Client, fuelled: Engine
) -> None:
    response = page.get(at("engine-fuel", fuelled))
    text = words_of(response)
    assert "40 % of the fuel is leaded, by 3 fuel records" in text
    assert (
        "It was last done on 1 June 2026 at 500.0 h; fuel counts from then on" in text
    )
    assert (
        "With the fuel of 3 August 2026 the leaded share rose from 25 % to 40 %, over "
        "30 %, so the limit is 50 h instead of 100 h." in text
    )
    assert rows_of(response)[1:4] == [
        "At most 30 % 100 h 600.0 h",
        "Over 30 % and at most 50 % holds since 3 Aug 2026 50 h 550.0 h",
        "Over 50 % 25 h 525.0 h",
    ]


def test_the_page_looks_ahead_in_litres_and_in_hours(
    page: Client, fuelled: Engine
) -> None:
    """40 L burnt from 504.0 h to 516.0 h: 10/3 L an hour; 20 L more make 60 of 120."""
    text = words_of(page.get(at("engine-fuel", fuelled)))
    assert "About 3.3 L an hour, by the fuel and the hours from 11 June 2026" in text
    assert (
        "If only leaded fuel is taken on, the leaded share comes over 50 % after about "
        "20 litres, about 6.0 h of running." in text
    )
    assert (
        "If only unleaded fuel is taken on, the leaded share comes down to 30 % after "
        "about 34 litres, about 10.0 h of running." in text
    )


def test_without_hours_no_hours_are_said(
    page: Client, changed: Engine, technician: Viewer, now: Any
) -> None:
    FuelRecord.objects.all().delete()
    fuel = FuelEntry(on=CHANGED + timedelta(9), quantity="60", kind="unleaded")
    changes.add_fuel(technician, changed, fuel, at=now)
    text = words_of(page.get(at("engine-fuel", changed)))
    assert "after about 26 litres." in text
    assert "What the engine burns is not known" in text


COOL = {"not": {"oil_temperature": {"from": 87, "to": 110}}}


@pytest.fixture
def cool(
    make_provision: Callable[..., Any],
    make_engine: Callable[..., Engine],
    technician: Viewer,
    now: Any,
) -> Engine:
    """An engine with cool oil: 50 h up to 50 % of leaded fuel; last done at 490 h."""

    def after(hours: int) -> dict[str, Any]:
        return {"hours": hours, "after": "last done"}

    cases = [
        {"when": {"leaded_share": {"over": 0.5}}, "then": after(25)},
        {"when": {"leaded_share": {"over": 0.3}}, "then": after(50)},
        {"when": COOL, "then": after(50)},
        {"else": after(100)},
    ]
    action = {**OIL_CHANGE, "repeat": {"cases": cases}}
    provision = make_provision(kind="scheduled", title="Oil", rule__action=action)
    engine = make_engine()
    facts = OperationFacts(uses=("private",), oil_low="60", oil_high="90")
    on = date(2026, 1, 11)
    changes.change_operation(technician, engine, facts, true_from=on, at=now)
    done = entry(CHANGED, hours=49_000, provision=provision)
    changes.record_work(technician, engine, done, at=now)
    return engine


@pytest.fixture
def take(technician: Viewer, now: Any) -> Callable[..., None]:
    def taken(engine: Engine, days: int, quantity: str, kind: str, at: int) -> None:
        on = CHANGED + timedelta(days)
        fuel = FuelEntry(on=on, quantity=quantity, kind=kind, hours=at)
        changes.add_fuel(technician, engine, fuel, at=now)

    return taken


def test_since_when_the_limit_holds_and_since_when_the_share_are_told_apart(
    page: Client, cool: Engine, take: Callable[..., None]
) -> None:
    take(cool, 10, "80", "unleaded", 49_400)
    take(cool, 63, "60", "leaded", 51_400)
    response = page.get(at("engine-fuel", cool))
    assert (
        "Over 30 % and at most 50 % holds since 3 Aug 2026, this limit since "
        "1 Jun 2026 50 h 540.0 h" in rows_of(response)
    )
    assert "the limit is 50 h, since 1 June 2026" in words_of(response)


def test_the_next_threshold_is_one_that_changes_the_limit(
    page: Client, cool: Engine, take: Callable[..., None]
) -> None:
    """80 L without: 80 L more make it half; at 34 L, with 30 %, nothing changes."""
    take(cool, 10, "80", "unleaded", 49_400)
    text = words_of(page.get(at("engine-fuel", cool)))
    assert "only leaded fuel is taken on, the leaded share comes over 50 %" in text
    assert "after about 80 litres." in text
    assert "comes over 30 %" not in text


def test_what_lies_beyond_the_due_point_is_said_to(
    page: Client, cool: Engine, take: Callable[..., None]
) -> None:
    """8 L an hour; 160 L more without make it half, in 20 h; 20 h are left: in time."""
    take(cool, 10, "40", "unleaded", 49_400)
    take(cool, 63, "160", "unleaded", 51_400)
    text = words_of(page.get(at("engine-fuel", cool)))
    assert "after about 200 litres, about 25.0 h of running. It is due before " in text
    assert "due before that, in 20.0 h." in text
    take(cool, 70, "300", "leaded", 51_500)
    text = words_of(page.get(at("engine-fuel", cool)))
    assert "comes down to 50 %" in text
    assert "of running. It is due now." in text


def test_a_limit_that_has_been_passed_says_so(
    page: Client, cool: Engine, take: Callable[..., None]
) -> None:
    take(cool, 10, "80", "unleaded", 49_400)
    rows = rows_of(page.get(at("engine-fuel", cool)))
    assert "Over 50 % 25 h 515.0 h already past" in rows


def test_an_overhaul_limit_that_hangs_on_the_share_is_listed(
    page: Client,
    changed: Engine,
    make_provision: Callable[..., Any],
    take: Callable[..., None],
) -> None:
    """It does not apply with the share of now, and would with another."""
    other = {"type": ["LQ-1"]}
    over = {"leaded_share": {"over": 0.5}}
    for title, member in (("1,200 h", over), ("Other", other)):
        provision = make_provision(
            title=title, rule__condition={"all": [member, over]}, rule__action={}
        )
        kind = type(provision).objects.filter(pk=provision.pk)
        kind.update(kind="overhaul interval")
    text = words_of(page.get(at("engine-fuel", changed)))
    assert "1,200 h: undetermined." in text
    assert "Other" not in text
    take(changed, 10, "1100", "unleaded", 50_400)
    text = words_of(page.get(at("engine-fuel", changed)))
    assert "1,200 h: does not hold." in text
    assert (
        "With a share of at most 50 % it does not apply. With a share over 50 % it "
        "applies." in text
    )


def test_what_may_be_overdue_has_one_word_on_page_and_figure(
    technician: Viewer,
    signed_in: Callable[[Viewer], Client],
    changed: Engine,
    take: Callable[..., None],
    now: Any,
) -> None:
    take(changed, 10, "60", "leaded", 50_400)
    with time_machine.travel(now + timedelta(days=45), tick=False):
        client = signed_in(technician)
        fuel = client.get(at("engine-fuel", changed))
        engine = client.get(at("engine", changed))
    assert "may be overdue May be overdue: read the meter" in words_of(fuel)
    drawn = engine.content.decode().split("<figure", 1)[1].split("</figure>")[0]
    assert "may be overdue" in drawn
    assert not re.search(r"(?<!may be )overdue\b", words(drawn))


def test_where_nothing_is_known_every_limit_may_hold(
    page: Client, changed: Engine
) -> None:
    response = page.get(at("engine-fuel", changed))
    assert [row for row in rows_of(response) if "may hold" in row] == [
        "At most 30 % may hold 100 h 600.0 h",
        "Over 30 % and at most 50 % may hold 50 h 550.0 h",
        "Over 50 % may hold 25 h 525.0 h",
    ]
    text = words_of(response)
    assert "the shortest counts until the share is known" in text
    assert "No fuel has been entered for this engine yet. Until then the leaded" in text


def test_a_declared_habit_is_marked_as_declared(
    page: Client, changed: Engine, technician: Viewer, now: Any
) -> None:
    facts = OperationFacts(uses=("private",), leaded_share="2/5")
    on = date(2026, 11, 1)
    changes.change_operation(technician, changed, facts, true_from=on, at=now)
    response = page.get(at("engine-fuel", changed))
    text = words_of(response)
    assert "40 % of the fuel is leaded, as declared: no fuel is recorded since." in text
    assert "The share is declared, not recorded." in text
    assert any("holds now 50 h" in row for row in rows_of(response))


def test_a_share_exactly_on_a_threshold_is_in_the_lower_class(
    page: Client, changed: Engine, technician: Viewer, now: Any
) -> None:
    for quantity, kind in (("70", "unleaded"), ("30", "leaded")):
        fuel = FuelEntry(on=CHANGED + timedelta(9), quantity=quantity, kind=kind)
        changes.add_fuel(technician, changed, fuel, at=now)
    response = page.get(at("engine-fuel", changed))
    assert "At most 30 % holds since 1 Jun 2026 100 h 600.0 h" in rows_of(response)
    assert "comes over 30 % at once" in words_of(response)


def test_an_engine_that_no_rule_asks_for_fuel_says_so(
    page: Client, engine: Engine
) -> None:
    text = words_of(page.get(at("engine-fuel", engine)))
    assert "No current provision that concerns this engine hangs on the leaded" in text


def test_the_engine_page_says_which_limit_holds_and_leads_to_the_fuel(
    page: Client, fuelled: Engine
) -> None:
    response = page.get(at("engine", fuelled))
    [row] = [row for row in rows_of(response) if "Change the oil" in row]
    assert "so the limit is 50 h instead of 100 h" in row
    assert at("engine-fuel", fuelled) in response.content.decode()


def test_the_engine_page_names_a_declared_share_only_where_no_fuel_is_recorded(
    page: Client, changed: Engine, technician: Viewer, now: Any
) -> None:
    def share() -> str:
        text = words_of(page.get(at("engine", changed)))
        return text.split("Leaded share of its fuel ")[1].split(" Oil temp")[0]

    assert share() == "not known"
    declared = OperationFacts(leaded_share="2/5")
    day = CHANGED + timedelta(1)
    changes.change_operation(technician, changed, declared, true_from=day, at=now)
    assert share() == "40 %, declared"
    fuel = FuelEntry(on=date(2026, 8, 3), quantity="60", kind="unleaded")
    changes.add_fuel(technician, changed, fuel, at=now)
    assert share() == (
        "by the fuel on record, last of 3 Aug 2026; where that is too little, 40 %, "
        "declared"
    )
    changes.withdraw(technician, changed.fuel.get(), reason="another engine", at=now)
    assert share() == "40 %, declared"


def test_every_list_says_which_limit_holds_and_why_it_moved(
    page: Client,
    fuelled: Engine,
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
) -> None:
    moved = (
        "With the fuel of 3 August 2026 the leaded share rose from 25 % to 40 %, over "
        "30 %, so the limit is 50 h instead of 100 h."
    )
    mine = OwnerFactory(station=fuelled.station)
    viewer = viewer_as(Role.OWNER)
    OwnerLogin.objects.create(owner=mine, user=viewer.user)
    Engine.objects.filter(pk=fuelled.pk).update(owner=mine)
    start = reverse("web:due")
    for client, address in (
        (page, reverse("web:due-open")),
        (page, at("engine-status", fuelled)),
        (signed_in(viewer), start),
    ):
        assert moved in words_of(client.get(address))


def test_withdrawn_fuel_stands_in_the_list_with_its_reason(
    page: Client, fuelled: Engine, technician: Viewer, now: Any
) -> None:
    row = fuelled.fuel.first()
    assert row is not None
    changes.withdraw(technician, row, reason="another engine", at=now)
    rows = rows_of(page.get(at("engine-fuel", fuelled)))
    assert [one.split()[:3] for one in rows if "another engine" in one] == [
        ["11", "Jun", "2026"]
    ]
    assert any("Withdrawn, does not count: another engine" in one for one in rows)


@pytest.mark.both
def test_the_page_is_cut_and_takes_as_many_queries_for_any_number_of_records(
    page: Client, fuelled: Engine, technician: Viewer
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            page.get(at("engine-fuel", fuelled))
        return len(asked)

    few = queries()
    rows = [
        FuelRecord(
            station=fuelled.station,
            engine=fuelled,
            on=CHANGED + timedelta(day),
            quantity="3",
            kind="leaded",
            recorded_at=fuelled.created_at,
            recorded_by=technician.user,
        )
        for day in range(PAGE_SIZE + 20)
    ]
    FuelRecord.objects.bulk_create(rows)
    assert queries() == few
    first = page.get(at("engine-fuel", fuelled))
    assert f"1 to {PAGE_SIZE} of {PAGE_SIZE + 23} records" in words_of(first)
    second = words_of(page.get(at("engine-fuel", fuelled), {"page": "2"}))
    assert f"{PAGE_SIZE + 1} to {PAGE_SIZE + 23} of {PAGE_SIZE + 23} records" in second


# -- forms


def said(response: Any) -> str:
    return words(response.content.decode())


def test_fuel_is_entered_as_it_is_written(page: Client, engine: Engine) -> None:
    blend = {"kind": "blend", "leaded_share": "2/5", "unit": "US gal", "hours": "518"}
    answer = page.post(at("engine-fuel-add", engine), {**SENT, **blend}, follow=True)
    assert "The fuel is kept" in said(answer)
    assert "A blend, 40 % leaded 85.5 US gal 518.0 h" in said(answer)
    row = FuelRecord.objects.get()
    assert (row.quantity, row.unit, row.leaded_share) == ("85.5", "US gal", "2/5")


def test_the_form_says_what_was_entered_last_and_offers_the_same(
    page: Client, engine: Engine
) -> None:
    assert "No fuel of this engine is entered yet." in said(
        page.get(at("engine-fuel-add", engine))
    )
    page.post(at("engine-fuel-add", engine), {**SENT, "unit": "US gal"})
    response = page.get(at("engine-fuel-add", engine))
    assert "Last entered: 85.5 US gal of leaded fuel on 20 November 2026" in said(
        response
    )
    assert response.context["form"]["unit"].value() == "US gal"


@pytest.mark.parametrize(
    ("sent", "message"),
    [
        ({"quantity": ""}, "This cannot be left out."),
        ({"quantity": "0"}, "more than 0"),
        ({"quantity": "-5"}, '"-5" is less than nothing.'),
        ({"quantity": "85500"}, "Check the figure and the unit."),
        ({"kind": "blend"}, "Of a blend the leaded share is needed"),
        ({"kind": "blend", "leaded_share": "1.5"}, '"1.5" is more than the whole.'),
        ({"leaded_share": "0.5"}, "A share is given for a blend only"),
        ({"on": "2026-11-25"}, "lies after today, 2026-11-24."),
        ({"on": "2019-01-01"}, "is before the engine was made, 1 March 2020."),
        ({"hours": "900"}, "900.0 h on 2026-11-20 cannot be right."),
        ({"unit": "kg"}, "Choose one from the list; what was sent is not in it."),
    ],
)
def test_fuel_that_cannot_be_is_refused_with_the_reason(
    page: Client, engine: Engine, sent: dict[str, str], message: str
) -> None:
    answer = page.post(at("engine-fuel-add", engine), {**SENT, **sent})
    assert answer.status_code == 422
    assert message in said(answer)
    assert not FuelRecord.objects.exists()


def test_the_same_fuel_is_asked_about_before_it_is_kept_twice(
    page: Client, engine: Engine
) -> None:
    address = at("engine-fuel-add", engine)
    assert page.post(address, SENT).status_code == 302
    asked = page.post(address, SENT)
    assert asked.status_code == 200
    assert "The same fuel is entered for that day already: 85.5 L leaded." in said(
        asked
    )
    assert FuelRecord.objects.count() == 1
    again = {**SENT, "foreseen": asked.context["ahead"].digest}
    assert page.post(address, again).status_code == 302
    assert FuelRecord.objects.count() == 2


def test_of_a_form_sent_twice_at_once_one_is_kept(
    page: Client, engine: Engine, technician: Viewer, now: Any, monkeypatch: Any
) -> None:
    """The other request writes after this one has looked, before it has the lock."""

    def meanwhile(seen: Engine, entry: FuelEntry) -> str:
        changes.add_fuel(technician, seen, entry, at=now)
        return ""

    monkeypatch.setattr("tracker.web.views.fuel.doubt_about_fuel", meanwhile)
    answer = page.post(at("engine-fuel-add", engine), SENT)
    assert answer.status_code == 422
    assert "The same fuel is entered for that day already" in said(answer)
    assert FuelRecord.objects.count() == 1


def test_the_form_shows_what_the_fuel_would_move(page: Client, fuelled: Engine) -> None:
    sent = {**SENT, "quantity": "40", "look_ahead": "1"}
    shown = page.post(at("engine-fuel-add", fuelled), sent)
    assert shown.status_code == 200
    assert "525.0 h" in said(shown)
    assert fuelled.fuel.count() == 3


def test_fuel_is_withdrawn_with_a_reason(page: Client, fuelled: Engine) -> None:
    row = fuelled.fuel.first()
    assert row is not None
    address = at("engine-fuel-withdraw", fuelled, row)
    assert "60 L of unleaded fuel. Only for what was entered by" in said(
        page.get(address)
    )
    assert page.post(address, {"reason": ""}).status_code == 422
    assert page.post(address, {"reason": "another engine"}).status_code == 302
    row.refresh_from_db()
    assert row.withdrawn_reason == "another engine"
    assert page.post(address, {"reason": "again"}).status_code == 422


# -- who may


@pytest.fixture
def owner(
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
    clock_stands: None,
) -> tuple[Client, Viewer]:
    viewer = viewer_as(Role.OWNER)
    return signed_in(viewer), viewer


def test_an_owner_sees_and_enters_fuel_of_their_own_engine_only(
    owner: tuple[Client, Viewer], make_engine: Callable[..., Engine]
) -> None:
    client, viewer = owner
    mine = OwnerFactory(station=viewer.station)
    OwnerLogin.objects.create(owner=mine, user=viewer.user)
    own, other = make_engine(owner=mine), make_engine()
    assert client.post(at("engine-fuel-add", own), SENT).status_code == 302
    assert client.post(at("engine-fuel-add", other), SENT).status_code == 404
    assert client.get(at("engine-fuel", own)).status_code == 200
    assert client.get(at("engine-fuel", other)).status_code == 404
    row = FuelRecord.objects.get()
    assert row.engine == own
    withdrawn = client.post(at("engine-fuel-withdraw", own, row), {"reason": "x"})
    assert withdrawn.status_code == 403
    assert "Withdraw" not in client.get(at("engine-fuel", own)).content.decode()


def test_fuel_of_another_engine_is_not_withdrawn_by_this_ones_address(
    page: Client, fuelled: Engine, make_engine: Callable[..., Engine]
) -> None:
    row = fuelled.fuel.first()
    assert row is not None
    assert page.get(at("engine-fuel-withdraw", make_engine(), row)).status_code == 404

"""Parts by their forms: fitted, found and taken, described, replaced, taken off."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from notices.models import Provision
from tests.factories.fleet import EngineFactory, PartRoleFactory
from tests.tracker.web.reading import words
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.fleet.models import (
    Attribute,
    Engine,
    Overhaul,
    Part,
    PartDescription,
    PartFitting,
)
from tracker.fleet.parts import Fit, PartEntry

pytestmark = pytest.mark.django_db
FITTED = date(2026, 1, 10)


def said(response: HttpResponse) -> str:
    return words(response.content.decode())


def address(name: str, engine: Engine, part: Part | None = None) -> str:
    args = [engine.public_id] if part is None else [engine.public_id, part.public_id]
    return reverse(f"web:engine-part-{name}", args=args)


@pytest.fixture
def pump(engine: Engine, technician: Viewer, now: datetime) -> Part:
    """A fuel pump fitted new at 480 h."""
    entry = PartEntry(role="fuel pump", number="P-8801", serial="A-17")
    return changes.add_part(
        technician, engine, entry, Fit(hours_new=0), true_from=FITTED, at=now
    )


def new_part(**given: str) -> dict[str, str]:
    return {
        "role": "magneto",
        "number": "P-7710",
        "how": "dated",
        "true_from": "2026-11-24",
        **given,
    }


def test_a_part_is_entered_with_its_hours(page: Client, engine: Engine) -> None:
    sent = new_part(place="left", hours_new="120.5", hours_overhaul="20")
    assert page.post(address("add", engine), sent).status_code == 302
    row = PartFitting.objects.get()
    assert (row.place, row.engine_hours) == ("left", 52_000)
    assert (row.part_hours_new, row.part_hours_overhaul) == (12_050, 2_000)


def test_a_part_that_came_with_the_engine_has_no_date(
    page: Client, engine: Engine
) -> None:
    sent = new_part(how="with engine", true_from="")
    assert page.post(address("add", engine), sent).status_code == 302
    row = PartFitting.objects.get()
    assert (row.date_known, row.fitted_new, row.engine_hours) == (False, True, 0)
    assert row.true_from == engine.built


@pytest.mark.parametrize(
    ("sent", "message"),
    [
        ({"true_from": ""}, "The date fitted is missing."),
        (
            {"how": "undated"},
            "A date is written, but not that the part was fitted on it.",
        ),
        ({"role": " "}, "This cannot be left out."),
        ({"true_from": "2026-11-25"}, "lies after today, 2026-11-24."),
        (
            {"hours_new": "10", "hours_overhaul": "20"},
            "20.0 h since overhaul are more than 10.0 h since new.",
        ),
        ({"engine_hours": "900"}, "900.0 h on 2026-11-24 cannot be right."),
        (
            {"built": "2026-11-24", "true_from": "2026-01-10"},
            "before the part was made",
        ),
    ],
)
def test_a_part_that_cannot_be_so_is_refused_and_not_entered(
    page: Client, engine: Engine, sent: dict[str, str], message: str
) -> None:
    answer = page.post(address("add", engine), new_part(**sent))
    assert answer.status_code == 422
    assert message in said(answer)
    assert not Part.objects.exists()


def test_the_day_of_fitting_is_learnt_later(page: Client, engine: Engine) -> None:
    sent = new_part(how="undated", true_from="", hours_new="100")
    assert page.post(address("add", engine), sent).status_code == 302
    part = Part.objects.get()
    shown = page.get(address("fitting", engine, part))
    assert "How a part was fitted" in said(shown)
    learnt = {"how": "dated", "engine_hours": "520", "hours_new": "100"}
    wrong = {**learnt, "true_from": "2026-02-01"}
    answer = page.post(address("fitting", engine, part), wrong)
    assert "The engine was not read on 2026-02-01." in said(answer)
    right = {**learnt, "true_from": "2026-01-10"}
    assert page.post(address("fitting", engine, part), right).status_code == 302
    row = PartFitting.objects.get(current=True)
    assert (row.day, row.engine_hours, row.part_hours_new) == (FITTED, 48_000, 6_000)
    assert "10 Jan 2026" in said(
        page.get(reverse("web:engine-history", args=[engine.public_id]))
    )


def test_a_role_that_is_full_is_refused_by_name(
    page: Client, engine: Engine, pump: Part
) -> None:
    PartRoleFactory(engine_type=engine.engine_type, role="fuel pump", count=1)
    answer = page.post(address("add", engine), new_part(role="fuel pump"))
    assert answer.status_code == 422
    assert "holds 1 of the role fuel pump" in said(answer)
    assert Part.objects.count() == 1


def test_a_part_of_another_engine_is_found_and_taken_with_its_hours(
    page: Client, engine: Engine, pump: Part, make_engine: Callable[..., Engine]
) -> None:
    other = make_engine()
    found = page.get(address("find", other), {"q": "a-17"})
    assert "Fuel pump, P-8801, serial A-17 on" in said(found)
    assert address("take", other, pump) in found.content.decode()
    answer = page.post(address("take", other, pump), {"true_from": "2026-11-24"})
    assert answer.status_code == 302
    row = PartFitting.objects.get(current=True)
    assert (row.engine, row.part_hours_new) == (other, 4_000)


def test_a_part_from_the_shelf_is_fitted_again(
    page: Client, engine: Engine, pump: Part
) -> None:
    sent = {"true_from": "2026-11-24", "reason": "leaks"}
    page.post(address("remove", engine, pump), sent)
    assert "taken off" in said(page.get(address("find", engine), {"q": "P-88"}))
    page.post(address("take", engine, pump), {"true_from": "2026-11-24"})
    row = PartFitting.objects.get(current=True)
    assert (row.removed, row.part_hours_new) == (False, 4_000)


def test_a_part_that_is_on_the_engine_already_is_not_taken_again(
    page: Client, engine: Engine, pump: Part
) -> None:
    answer = page.post(address("take", engine, pump), {"true_from": "2026-11-24"})
    assert answer.status_code == 422
    assert "Move it, or remove it there first." in said(answer)
    assert PartFitting.objects.count() == 1


def test_a_shipping_date_is_learnt_and_the_rest_stays(
    page: Client, engine: Engine, pump: Part
) -> None:
    sent = {"role": "fuel pump", "number": "P-8801", "serial": "A-17"}
    answer = page.post(
        address("describe", engine, pump),
        {**sent, "shipped": "2018-02-01"},
        follow=True,
    )
    assert "Date of shipping: 1 Feb 2018, was nothing." in said(answer)
    row = PartDescription.objects.get(current=True)
    assert (row.shipped, row.serial) == (date(2018, 2, 1), "A-17")
    wrong = {**sent, "built": "2019-01-01", "shipped": "2018-02-01"}
    refused = page.post(address("describe", engine, pump), wrong)
    assert refused.status_code == 422
    assert "2018-02-01 is before the date of manufacture" in said(refused)
    assert PartDescription.objects.count() == 2


def test_a_part_is_replaced_in_its_place(
    page: Client, engine: Engine, pump: Part
) -> None:
    sent = {
        "reason": "worn",
        "true_from": "2026-11-24",
        "role": "fuel pump",
        "number": "P-8802",
        "fitted_new": "on",
    }
    assert page.post(address("replace", engine, pump), sent).status_code == 302
    new = PartFitting.objects.get(current=True, removed=False)
    old = PartFitting.objects.get(current=True, removed=True)
    assert (old.part, old.reason, old.part_hours_new) == (pump, "worn", 4_000)
    assert (new.part_hours_new, new.engine_hours) == (0, 52_000)
    missing = page.post(address("replace", engine, new.part), {**sent, "reason": ""})
    assert missing.status_code == 422
    assert Part.objects.count() == 2


def test_a_part_is_not_taken_off_before_it_was_fitted(
    page: Client, engine: Engine, pump: Part
) -> None:
    sent = {"true_from": "2025-11-24", "reason": "worn"}
    answer = page.post(address("remove", engine, pump), sent)
    assert answer.status_code == 422
    assert "This part is fitted to no engine on 2025-11-24." in said(answer)
    assert PartFitting.objects.count() == 1


def test_an_overhaul_of_a_part_is_entered(
    page: Client, engine: Engine, pump: Part
) -> None:
    sent = {
        "on": "2026-11-20",
        "part_hours": "39",
        "done_by": "Runa Tveit",
        "tested": "Run on the bench, within limits.",
    }
    assert page.post(address("overhaul", engine, pump), sent).status_code == 302
    row = Overhaul.objects.get()
    assert (row.part, row.part_hours, row.by) == (pump, 3_900, "Runa Tveit")


@pytest.mark.parametrize("name", ["describe", "overhaul", "replace", "remove"])
def test_a_part_is_only_there_on_the_engine_that_carries_it(
    page: Client,
    pump: Part,
    make_engine: Callable[..., Engine],
    name: str,
) -> None:
    assert page.get(address(name, make_engine(), pump)).status_code == 404


def test_a_part_of_another_station_is_neither_found_nor_taken(
    page: Client,
    engine: Engine,
    pump: Part,
    stranger: Viewer,
    signed_in: Callable[[Viewer], Client],
) -> None:
    foreign = EngineFactory(station=stranger.station)
    client = signed_in(stranger)
    assert "A-17" not in said(client.get(address("find", foreign), {"q": "A-17"}))
    sent = {"true_from": "2026-11-24"}
    assert client.post(address("take", foreign, pump), sent).status_code == 404
    assert PartFitting.objects.get(current=True).engine == engine


def entered(part: str = "P-8801", serial: str = "a 17") -> dict[str, str]:
    return {
        "role": "fuel pump",
        "number": part,
        "serial": serial,
        "reason": "worn",
        "true_from": "2026-11-24",
    }


def way_of(answer: HttpResponse) -> str:
    return str(answer.context["known_address"])


def test_a_part_that_is_on_another_engine_is_moved_and_not_entered_twice(
    page: Client,
    engine: Engine,
    pump: Part,
    make_engine: Callable[..., Engine],
    technician: Viewer,
    now: datetime,
) -> None:
    other = make_engine()
    changes.set_attribute(
        technician, engine, "signal", "0-5 V", part=pump, true_from=FITTED, at=now
    )
    old = changes.add_part(
        technician,
        other,
        PartEntry(role="fuel pump", number="P-8801", serial="B-2"),
        Fit(place="front"),
        true_from=FITTED,
        at=now,
    )
    answer = page.post(address("replace", other, old), entered())
    assert answer.status_code == 422
    assert f"fuel pump, P-8801, serial A-17 is fitted on {engine} now." in said(answer)
    assert Part.objects.count() == 2
    form = page.get(way_of(answer))
    assert "P-8801, serial B-2 is taken off." in said(form)
    assert form.context["form"]["reason"].value() == "worn"
    moved = page.post(way_of(answer), {"true_from": "2026-11-24", "reason": "worn"})
    assert moved.status_code == 302, said(moved)
    rows = {row.part: row for row in PartFitting.objects.filter(current=True)}
    assert (rows[old].removed, rows[old].reason) == (True, "worn")
    assert (rows[pump].engine, rows[pump].removed) == (other, False)
    assert (rows[pump].place, rows[pump].part_hours_new) == ("front", 4_000)


def test_a_part_on_the_shelf_is_offered(
    page: Client, engine: Engine, pump: Part, technician: Viewer, now: datetime
) -> None:
    changes.remove_part(
        technician, engine, pump, true_from=date(2026, 11, 20), reason="spare", at=now
    )
    sent = new_part(role="fuel pump", number="p8801", serial="A17")
    answer = page.post(address("add", engine), sent)
    assert "it was taken off" in said(answer)
    assert page.get(way_of(answer)).status_code == 200
    kept = page.post(way_of(answer), {"true_from": "2026-11-24"})
    assert kept.status_code == 302
    row = PartFitting.objects.get(current=True)
    assert (row.part, row.removed) == (pump, False)
    assert Part.objects.count() == 1


def test_another_serial_or_none_is_another_part(
    page: Client, engine: Engine, pump: Part
) -> None:
    for serial in ("A-18", ""):
        fitted = PartFitting.objects.get(current=True, removed=False).part
        sent = entered(serial=serial)
        assert page.post(address("replace", engine, fitted), sent).status_code == 302
    assert Part.objects.count() == 3


def test_the_part_that_goes_off_is_no_part_of_another_station(
    page: Client, engine: Engine, pump: Part, make_engine: Callable[..., Engine]
) -> None:
    other = make_engine()
    for instead in (pump.public_id, "no id"):
        where = f"{address('take', other, pump)}?instead={instead}"
        assert page.get(where).status_code == 404


def test_what_rules_ask_of_the_role_is_asked_of_the_new_part(
    page: Client,
    engine: Engine,
    pump: Part,
    make_provision: Callable[..., Provision],
) -> None:
    where = {"attribute": "signal", "in": ["compensated", "0-5 V"]}
    make_provision(
        number="SB-1", rule__condition={"part": {"role": "fuel pump", "where": where}}
    )
    form = page.get(address("replace", engine, pump))
    assert "What rules ask of it Signal may be left out Asked for by SB-1." in said(
        form
    )
    sent = entered(serial="B-3") | {"property-0": "another value"}
    odd = sent | {"property-0-other": "0..5 V"}
    asked = page.post(address("replace", engine, pump), odd)
    assert 'No document in force names the value "0..5 V" for signal' in said(asked)
    assert "To keep it, press “Replace the part” below." in said(asked)
    assert Part.objects.count() == 1
    good = sent | {"property-0": "0-5 V"}
    first = page.post(address("replace", engine, pump), good)
    if first.status_code == 200:
        good |= {"foreseen": first.context["ahead"].digest}
        first = page.post(address("replace", engine, pump), good)
    assert first.status_code == 302
    row = Attribute.objects.get()
    assert (row.part.descriptions.get().serial, row.value) == ("B-3", "0-5 V")

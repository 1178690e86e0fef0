"""A form shows what it would cause: on asking, or first where that gives pause."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from notices.models import Provision
from tests.tracker.compliance.test_parts_together import (
    INDICATOR,
    TRANSMITTER,
    conflicting,
    fit,
    together,
)
from tests.tracker.compliance.test_rehearsing import dump
from tests.tracker.web.reading import rows_of, words_of
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.models import Answer
from tracker.fleet.models import Engine, Operation, Part, PartFitting, Reading
from tracker.fleet.parts import Fit, PartEntry

__all__ = ["conflicting", "fit", "together"]

pytestmark = pytest.mark.django_db
ASK = {"look_ahead": "1"}
NOTHING_YET = "Nothing is written yet."
OFFERS = "Show what it would cause"
Sent = dict[str, str]


def address(name: str, engine: Engine, *more: object) -> str:
    return reverse(f"web:engine-{name}", args=[engine.public_id, *more])


def seen(response: HttpResponse) -> Sent:
    """The digest of what was shown, as the form sends it back."""
    found = re.search(r'name="foreseen" value="(\w{64})"', response.content.decode())
    assert found is not None
    return {"foreseen": found[1]}


def effects(response: HttpResponse) -> list[str]:
    return rows_of(response)[1:]


@pytest.fixture
def commercial(make_provision: Callable[..., Provision], engine: Engine) -> Provision:
    return make_provision(
        number="SB-1",
        title="Inspect the mount",
        rule__condition={"operation": ["commercial"]},
        rule__action={"initial": {"hours": 30, "after": "effective"}},
    )


def operation(engine: Engine, **given: str) -> Sent:
    fresh = Engine.objects.get(pk=engine.pk)
    return {
        "version": str(fresh.version),
        "uses": "commercial",
        "leaded_share": "",
        "oil_low": "",
        "oil_high": "",
        "oil_unit": "C",
        "ambient_low": "",
        "ambient_high": "",
        "ambient_unit": "C",
        "true_from": "2026-11-24",
        **given,
    }


def test_it_is_shown_on_asking_and_nothing_is_written(
    page: Client, engine: Engine, commercial: Provision, now: datetime
) -> None:
    changes.refresh_station(engine.station, now.date(), at=now)
    where = address("operation", engine)
    assert OFFERS in words_of(page.get(where))
    before = dump()
    response = page.post(where, operation(engine) | ASK)
    assert dump() == before
    said = words_of(response)
    assert NOTHING_YET in said
    assert "With it 1 finding would be new, certain or more pressing." in said
    assert "Treat an undetermined item as open." in said
    heading, row = effects(response)
    assert heading == "New, certain or more pressing"
    assert row.startswith("overdue SB-1")
    assert "Kind of operation commercial is commercial." in row
    assert row.endswith("undetermined 510.0 h 510.0 h 10.0 h past")
    assert "No longer missing Kind of operation" in said
    assert 'value="commercial"' in response.content.decode()
    kept = page.post(where, operation(engine) | seen(response), follow=True)
    assert "How the engine is run is kept." in words_of(kept)
    assert Operation.objects.get(current=True).uses == ["commercial"]


def test_on_paper_it_says_what_was_changed(page: Client, engine: Engine) -> None:
    """The form itself is not printed."""
    response = page.post(address("operation", engine), operation(engine) | ASK)
    assert "Operation nothing, then commercial" in words_of(response)
    noted = {"name": "drive", "value": "geared", "true_from": "2026-11-24"}
    response = page.post(address("attribute-add", engine), noted | ASK)
    said = words_of(response)
    assert "Property drive What it is geared Since 24 Nov 2026" in said


def test_what_changes_no_finding_says_so(page: Client, engine: Engine) -> None:
    response = page.post(address("operation", engine), operation(engine) | ASK)
    assert "Nothing is written yet. No finding would change." in words_of(response)
    assert effects(response) == []
    assert not Operation.objects.exists()


def test_without_asking_it_is_kept_at_once(
    page: Client, engine: Engine, commercial: Provision
) -> None:
    response = page.post(address("operation", engine), operation(engine))
    assert response.status_code == 302
    assert Operation.objects.exists()


def test_a_refusal_is_shown_in_place_of_what_it_would_cause(
    page: Client, engine: Engine
) -> None:
    sent = operation(engine, true_from="2026-11-25") | ASK
    response = page.post(address("operation", engine), sent)
    assert response.status_code == 422
    text = response.content.decode()
    assert "lies after today" in text
    assert NOTHING_YET not in text


def test_a_change_of_somebody_else_is_told_before_anything_is_shown(
    page: Client, engine: Engine, technician: Viewer, now: datetime
) -> None:
    sent = operation(engine)
    changes.set_attribute(
        technician, engine, "drive", "geared", true_from=date(2026, 11, 20), at=now
    )
    for asked in ({}, ASK):
        response = page.post(address("operation", engine), sent | asked)
        assert response.status_code == 409
    assert not Operation.objects.exists()


def test_an_answer_can_be_looked_at_first(
    page: Client, engine: Engine, make_provision, now: datetime
) -> None:
    asks = {"ask": "Is the case stamped R?"}
    provision = make_provision(number="SB-2", rule__condition=asks)
    changes.refresh_station(engine.station, now.date(), at=now)
    where = address("answer", engine, provision.revision.public_id)
    sent = {
        "question": "Is the case stamped R?",
        "answer": "no",
        "true_from": "2026-11-24",
    }
    response = page.post(where, sent | ASK)
    heading, row = effects(response)[-2:]
    assert heading == "No longer found"
    assert row.startswith("does not apply SB-2")
    assert row.endswith("undetermined 530.0 h –")
    assert not Answer.objects.exists()


def indicator(**given: str) -> Sent:
    return {
        "role": INDICATOR,
        "number": "G-9",
        "serial": "12",
        "how": "dated",
        "true_from": "2026-11-24",
        **given,
    }


def test_a_part_that_may_not_fit_is_shown_before_it_is_entered(
    page: Client, engine: Engine, fit, together: Provision, technician, now: datetime
) -> None:
    when = {"true_from": date(2026, 2, 1), "at": now}
    changes.review(technician, engine, INDICATOR, "Runa Tveit", **when)
    fit(TRANSMITTER, "passive")
    where = address("part-add", engine)
    before = dump()
    first = page.post(where, indicator())
    assert dump() == before
    assert NOTHING_YET in words_of(first)
    heading, row = effects(first)
    assert heading == "Parts that would not, or might not, go together"
    assert "SL-25-009" in row
    assert (
        "It cannot be said whether these go together: the pressure transmitter T-1, "
        "serial transmitter-1, and the pressure indicator G-9, serial 12." in row
    )
    # something else is written in the form: the parts are other ones, so it is shown again
    second = page.post(where, indicator(serial="13") | seen(first))
    assert "serial 13" in effects(second)[1]
    assert not PartFitting.objects.filter(part__descriptions__number="G-9").exists()
    assert page.post(where, indicator(serial="13") | seen(second)).status_code == 302
    assert PartFitting.objects.filter(part__descriptions__number="G-9").count() == 1


def test_what_is_different_meanwhile_is_shown_again(
    page: Client, engine: Engine, technician: Viewer, make_provision, now: datetime
) -> None:
    about = {
        "role": INDICATOR,
        "rule__condition": {"this": {"number": ["G-*"]}},
        "rule__action": {"initial": {"hours": 5, "after": "effective"}},
    }
    make_provision(number="SB-1", **about)
    changes.refresh_station(engine.station, now.date(), at=now)
    where = address("part-add", engine)
    first = page.post(where, indicator())
    assert len(effects(first)) == 2
    make_provision(number="SB-2", **about)
    changes.refresh_station(engine.station, now.date(), at=now)
    second = page.post(where, indicator() | seen(first))
    assert len(effects(second)) == 3
    assert not Part.objects.exists()
    assert page.post(where, indicator() | seen(second)).status_code == 302
    assert Part.objects.count() == 1


def test_a_part_that_presses_nothing_is_kept_at_once(
    page: Client, engine: Engine, make_provision, now: datetime
) -> None:
    make_provision(number="SB-1")
    changes.refresh_station(engine.station, now.date(), at=now)
    assert page.post(address("part-add", engine), indicator()).status_code == 302


@pytest.mark.parametrize("name", ["describe", "replace", "remove"])
def test_each_part_change_is_shown_first_where_it_gives_pause(
    page: Client,
    engine: Engine,
    technician: Viewer,
    make_provision,
    name: str,
    now: datetime,
) -> None:
    """The provision is about engines without a reviewed pump of the number P-1."""
    entry = PartEntry(role="fuel pump", number="P-1", serial="A")
    when = {"true_from": date(2026, 2, 1), "at": now}
    part = changes.add_part(technician, engine, entry, Fit(), **when)
    changes.review(technician, engine, "fuel pump", "Runa Tveit", **when)
    is_there = {"part": {"role": "fuel pump", "where": {"number": ["P-1"]}}}
    make_provision(number="SB-1", rule__condition={"not": is_there})
    sent = {
        "describe": {"role": "fuel pump", "number": "P-2", "serial": "A"},
        "replace": indicator(role="fuel pump", reason="worn"),
        "remove": {"reason": "worn", "true_from": "2026-11-24"},
    }[name]
    where = address(f"part-{name}", engine, part.public_id)
    before = dump()
    response = page.post(where, sent)
    assert dump() == before
    assert effects(response)[0] == "New, certain or more pressing"
    assert page.post(where, sent | seen(response)).status_code == 302


def test_a_part_taken_from_another_engine_is_shown_for_both(
    page: Client, make_engine, technician: Viewer, make_provision, now: datetime
) -> None:
    first, second = make_engine(), make_engine()
    when = {"true_from": date(2026, 2, 1), "at": now}
    for one in (first, second):
        changes.review(technician, one, "fuel pump", "Runa Tveit", **when)
    entry = PartEntry(role="fuel pump", number="P-1", serial="A")
    part = changes.add_part(technician, first, entry, Fit(), **when)
    make_provision(
        number="SB-1",
        rule__condition={"part": {"role": "fuel pump", "where": {"number": ["P-1"]}}},
    )
    changes.refresh_station(first.station, now.date(), at=now)
    where = address("part-take", second, part.public_id)
    response = page.post(where, {"true_from": "2026-11-24"})
    said = words_of(response)
    assert f"{first} State with it" in said
    assert f"{second} State with it" in said
    assert (
        "1 finding would be new, certain or more pressing and 1 no longer found" in said
    )
    assert PartFitting.objects.get(current=True).engine == first


@pytest.mark.parametrize(
    ("on", "shown", "asked"),
    [("2026-11-24", "529", False), ("2026-11-24", "531", True)],
)
def test_a_far_jump_of_hours_is_asked_about_once(
    page: Client, engine: Engine, on: str, shown: str, asked: bool
) -> None:
    """Read at 520 h on the same day; more than 10 h more is asked."""
    where = address("reading-add", engine)
    sent = {"on": on, "shown": shown}
    first = page.post(where, sent)
    if not asked:
        assert first.status_code == 302
        return
    said = words_of(first)
    assert "Nothing is written yet. 11.0 h in a day" in said
    assert "Read the meter again, and confirm it if it is right." in said
    assert OFFERS not in said
    assert Reading.objects.count() == 2
    other = page.post(where, sent | {"shown": "532"} | seen(first))
    assert "12.0 h in a day" in words_of(other)
    assert page.post(where, sent | seen(first)).status_code == 302
    assert Reading.objects.count() == 3


def test_a_jump_shows_what_would_be_overdue_by_it(
    page: Client, engine: Engine, make_provision, now: datetime
) -> None:
    make_provision(number="SB-1", rule__action={"initial": {"hours": 45, "after": "effective"}})  # fmt: skip
    changes.refresh_station(engine.station, now.date(), at=now)
    sent = {"on": "2026-11-24", "shown": "531"}
    response = page.post(address("reading-add", engine), sent)
    assert effects(response)[1].startswith("overdue SB-1")


def test_a_correction_and_an_old_meter_are_asked_about_too(
    page: Client, engine: Engine
) -> None:
    wrong = engine.readings.get(shown=52_000)
    where = reverse("web:engine-reading-correct", args=[wrong.public_id])
    far = {"on": "2026-01-13", "shown": "551", "remark": "misread"}
    assert "71.0 h in 3 days" in words_of(page.post(where, far))
    meter = {
        "on": "2026-11-24",
        "old_shown": "535",
        "kind": "tachometer",
        "shown": "0",
        "reason": "worn",
    }
    first = page.post(address("meter", engine), meter)
    assert "15.0 h in a day" in words_of(first)
    assert Reading.objects.count() == 2
    assert page.post(address("meter", engine), meter | seen(first)).status_code == 302


def test_what_becomes_of_the_interval_is_told_in_plain_words_one_below_the_other(
    page: Client, interval: Callable[..., Provision], evaluated: Callable[..., Engine]
) -> None:
    """Nothing is struck through: what holds now is as much to be read."""
    law = {"hours": 1500, "since": "overhaul", "binding": ["commercial"]}
    base = interval({"id": "base", "kind": "base", **law})
    longer = {"id": "more", "kind": "extension", "hours": 1800, "since": "overhaul"}
    interval(longer, when={"embodied": "SB-1"}, beside=base)
    engine = evaluated("private")
    answer = page.post(
        address("operation", engine), operation(engine, uses="commercial") | ASK
    )
    said = words_of(answer)
    assert (
        "Now: to 1 500.0 h TSN, recommended by the maker; a longer one is within "
        "reach. With it: to 1 500.0 h TSN, law in this operation; a longer one is "
        "within reach."
    ) in said
    assert "<del>" not in answer.content.decode()

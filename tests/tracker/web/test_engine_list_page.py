"""The list of engines: search, filters, the most urgent state, pages."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.urls import reverse

from tests.factories.fleet import EngineFactory, EngineTypeFactory, OwnerFactory
from tests.tracker.web.reading import rows_of, words_of
from tracker.accounts.models import Role
from tracker.fleet.models import State
from tracker.fleet.register import FittingFacts, give_login

LIST = reverse("web:engine-list")


def within(hours: float) -> dict:
    return {"initial": {"hours": hours, "after": "effective"}}


def test_each_engine_shows_its_most_urgent_state_and_all_counts(
    page, make_engine, make_provision
) -> None:
    make_provision(rule__action=within(39))
    make_provision(rule__action=within(500))
    engine = make_engine()
    [_, row] = rows_of(page.get(LIST))
    assert row.startswith("overdue")
    assert engine.serial in row
    assert "1 overdue, 1 outstanding" in row
    assert row.endswith("520.0 h 24 Nov 2026")


@pytest.mark.parametrize(
    "asked", ["K-612", "k612", "MX-77", "mx77", "ZZ-RHO", "Tamsin"]
)
def test_an_engine_is_found_by_what_it_is_called(page, station, asked: str) -> None:
    EngineFactory(
        station=station,
        serial="K-612-62B",
        engine_type=EngineTypeFactory(station=station, designation="MX-77"),
        owner=OwnerFactory(station=station, name="L. Tamsin"),
        fitting=FittingFacts(fitted=True, registration="ZZ-RHO"),
    )
    EngineFactory(station=station, serial="9001")
    text = words_of(page.get(LIST, {"q": asked}))
    assert "K-612-62B" in text
    assert "9001" not in text


def test_engines_are_narrowed_by_state_and_by_owner(page, station) -> None:
    owner = OwnerFactory(station=station, name="Ostrel Flying Club")
    EngineFactory(station=station, serial="9001", state=State.STORED)
    EngineFactory(station=station, serial="9002", owner=owner)
    assert "9002" not in words_of(page.get(LIST, {"state": "stored"}))
    of_owner = words_of(page.get(LIST, {"owner": str(owner.public_id)}))
    assert "Engines of Ostrel Flying Club" in of_owner
    assert "9001" not in of_owner


def test_engines_with_old_readings_only(page, station, make_engine) -> None:
    read, never = make_engine(), EngineFactory(station=station, serial="9001")
    text = words_of(page.get(LIST, {"hours": "old"}))
    assert never.serial in text
    assert read.serial not in text


def test_an_owner_who_is_not_there_is_a_wrong_address(page, other_station) -> None:
    foreign = OwnerFactory(station=other_station)
    for owner in ("nonsense", str(uuid4()), str(foreign.public_id)):
        assert page.get(LIST, {"owner": owner}).status_code == 404


def test_nothing_found_and_nothing_there_are_told_apart(page, station) -> None:
    assert "No engine is in care yet." in words_of(page.get(LIST))
    EngineFactory(station=station)
    assert "No engine is like that." in words_of(page.get(LIST, {"q": "zzz"}))


def test_a_long_list_has_pages_that_keep_the_search(page, station) -> None:
    EngineFactory.create_batch(51, station=station, state=State.STORED)
    response = page.get(LIST, {"state": "stored", "page": "2"})
    assert "51 to 51 of 51 engines" in words_of(response)
    assert "?state=stored&amp;page=1" in response.content.decode()


def test_only_ones_own_engines_are_listed(
    viewer_as, signed_in, station, other_station, now, clock_stands
) -> None:
    viewer = viewer_as(Role.OWNER)
    owner = OwnerFactory(station=station)
    give_login(owner, viewer.user, now)
    EngineFactory(station=station, serial="9001", owner=owner)
    EngineFactory(station=station, serial="9002")
    EngineFactory(station=other_station, serial="9003")
    text = words_of(signed_in(viewer).get(LIST))
    assert "9001" in text
    assert "9002" not in text
    assert "9003" not in text


@pytest.mark.parametrize("engines", [1, 20])
def test_the_list_asks_as_often_for_many_engines(
    page, make_engine, make_provision, django_assert_num_queries, engines: int
) -> None:
    make_provision(rule__action=within(39))
    for _ in range(engines):
        make_engine()
    # session, user, membership; engines counted; engines; the unclear, counts
    with django_assert_num_queries(7):
        page.get(LIST)

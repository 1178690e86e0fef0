"""Owners: the list with the most urgent state, one owner with their engines."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.urls import reverse

from tests.factories.fleet import OwnerFactory
from tests.tracker.web.reading import rows_of, words_of
from tracker.accounts.models import Role

LIST = reverse("web:owner-list")


def within(hours: float) -> dict:
    return {"initial": {"hours": hours, "after": "effective"}}


def at(owner) -> str:
    return reverse("web:owner", args=[owner.public_id])


def test_an_owner_stands_with_the_most_urgent_state_of_all_their_engines(
    page, station, make_engine, make_provision
) -> None:
    make_provision(rule__action=within(39))
    owner = OwnerFactory(station=station, name="Ostrel Flying Club")
    OwnerFactory(station=station, name="R. Ostlund")
    make_engine(owner=owner)
    make_engine(owner=owner, hours=(48_000, 48_000))
    _, club, person = rows_of(page.get(LIST))
    assert club == "overdue Ostrel Flying Club private 2 1 overdue, 1 outstanding"
    assert person == "nothing due R. Ostlund private 0"


def test_owners_are_found_by_name(page, station) -> None:
    OwnerFactory(station=station, name="Ostrel Flying Club")
    assert "Ostrel" in words_of(page.get(LIST, {"q": "ostrel"}))
    assert "No owner is called like that." in words_of(page.get(LIST, {"q": "zz"}))


def test_the_empty_list_says_what_would_fill_it(page) -> None:
    assert "No owner is entered yet." in words_of(page.get(LIST))


def test_one_owner_stands_with_their_engines(page, station, make_engine) -> None:
    owner = OwnerFactory(station=station, email="office@ostrel.example")
    engine = make_engine(owner=owner)
    other = make_engine()
    text = words_of(page.get(at(owner)))
    assert "office@ostrel.example" in text
    assert engine.serial in text
    assert other.serial not in text
    alone = OwnerFactory(station=station, name="R. Ostlund")
    assert "No engine in care belongs to R. Ostlund" in words_of(page.get(at(alone)))


def test_a_foreign_owner_is_not_found_and_an_owner_may_not_look(
    page, signed_in, viewer_as, station, other_station
) -> None:
    foreign = OwnerFactory(station=other_station)
    assert page.get(at(foreign)).status_code == 404
    assert page.get(reverse("web:owner", args=[uuid4()])).status_code == 404
    client = signed_in(viewer_as(Role.OWNER))
    assert client.get(LIST).status_code == 403
    assert client.get(at(OwnerFactory(station=station))).status_code == 403


@pytest.mark.parametrize("owners", [1, 20])
def test_the_list_asks_as_often_for_many_owners(
    page, station, make_engine, make_provision, django_assert_num_queries, owners: int
) -> None:
    make_provision(rule__action=within(39))
    for owner in OwnerFactory.create_batch(owners, station=station):
        make_engine(owner=owner)
    # session, user, membership; owners counted; owners; the unclear, counts
    with django_assert_num_queries(7):
        page.get(LIST)


@pytest.mark.parametrize("engines", [1, 20])
def test_one_owner_asks_as_often_for_many_engines(
    page, station, make_engine, make_provision, django_assert_num_queries, engines: int
) -> None:
    make_provision(rule__action=within(39))
    owner = OwnerFactory(station=station)
    for _ in range(engines):
        make_engine(owner=owner)
    # session, user, membership; owner; engines counted; engines; the unclear, counts;
    # how they are told; messages
    with django_assert_num_queries(10):
        page.get(at(owner))

"""The page on which a calendar's secret address is made, shown once, and ended."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime

import pytest
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.factories.fleet import OwnerFactory
from tests.tracker.web.reading import words
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role, Station
from tracker.fleet.models import Owner
from tracker.fleet.register import give_login
from tracker.watch.models import CalendarLink

pytestmark = pytest.mark.django_db

PAGE = "/calendar/"
ADDRESS = re.compile(r"http://127\.0\.0\.1:8000(/calendar/[\w-]{43}\.ics)")


def said(response: HttpResponse) -> str:
    return words(response.content.decode())


def made_on(response: HttpResponse) -> str:
    found = ADDRESS.search(response.content.decode())
    assert found is not None
    return found[1]


@pytest.fixture
def owners_person(
    viewer_as: Callable[..., Viewer], station: Station, now: datetime
) -> tuple[Viewer, Owner]:
    viewer, owner = viewer_as(Role.OWNER), OwnerFactory(station=station)
    give_login(owner, viewer.user, now)
    return viewer, owner


def test_an_address_is_made_and_shown_once(page: Client, station: Station) -> None:
    assert "none yet" in said(page.get(PAGE))
    answer = page.post(PAGE)
    assert answer.status_code == 200
    assert f"all engines of {station.name}" in said(answer)
    address = made_on(answer)
    assert Client().get(address).status_code == 200
    again = page.get(PAGE)
    assert ADDRESS.search(again.content.decode()) is None
    assert "made on 24 Nov 2026" in said(again)
    assert answer.headers["Cache-Control"] == "no-store"


def test_another_address_ends_the_one_before(page: Client) -> None:
    first, second = made_on(page.post(PAGE)), made_on(page.post(PAGE))
    assert Client().get(first).status_code == 404
    assert Client().get(second).status_code == 200


def test_an_address_can_be_ended(page: Client) -> None:
    address = made_on(page.post(PAGE))
    answer = page.post(f"{PAGE}end/", follow=True)
    assert "The address is ended." in said(answer)
    assert Client().get(address).status_code == 404
    assert "There was no address to end." in said(page.post(f"{PAGE}end/", follow=True))


def test_it_is_ones_own_and_leaves_that_of_others(
    page: Client, signed_in: Callable[[Viewer], Client], inspector: Viewer
) -> None:
    other = signed_in(inspector)
    address = made_on(page.post(PAGE))
    assert "none yet" in said(other.get(PAGE))
    other.post(PAGE)
    other.post(f"{PAGE}end/")
    assert Client().get(address).status_code == 200


def test_an_owner_has_one_for_each_they_sign_in_for(
    clock_stands: None,
    signed_in: Callable[[Viewer], Client],
    owners_person: tuple[Viewer, Owner],
    station: Station,
    now: datetime,
) -> None:
    viewer, owner = owners_person
    client = signed_in(viewer)
    assert f"Calendar of {owner.name}" in said(client.get(PAGE))
    assert "all engines of" not in said(client.get(PAGE))
    made_on(client.post(PAGE))
    club = OwnerFactory(station=station)
    give_login(club, viewer.user, now)
    assert client.post(PAGE).status_code == 404, "which one is meant?"
    made_on(client.post(PAGE, {"owner": str(club.public_id)}))
    kept = CalendarLink.objects.filter(revoked_at=None)
    assert {link.owner for link in kept} == {owner, club}


@pytest.mark.parametrize("where", [PAGE, f"{PAGE}end/"])
@pytest.mark.parametrize("asked", ["another's", "rubbish"])
def test_an_owner_makes_and_ends_none_of_another(
    signed_in: Callable[[Viewer], Client],
    owners_person: tuple[Viewer, Owner],
    station: Station,
    where: str,
    asked: str,
) -> None:
    other = OwnerFactory(station=station)
    sent = str(other.public_id) if asked == "another's" else asked
    answer = signed_in(owners_person[0]).post(where, {"owner": sent})
    assert answer.status_code == 404
    assert not CalendarLink.objects.exists()


def test_a_person_who_signs_in_for_nobody_is_told_so(
    signed_in: Callable[[Viewer], Client], viewer_as: Callable[..., Viewer]
) -> None:
    client = signed_in(viewer_as(Role.OWNER))
    assert "You sign in for no owner" in said(client.get(PAGE))
    assert client.post(PAGE).status_code == 404


def test_it_is_linked_from_the_list_of_engines(page: Client) -> None:
    body = page.get(reverse("web:engine-list")).content.decode()
    assert f'href="{PAGE}"' in body


@pytest.mark.parametrize("owners", [1, 3])
def test_the_page_asks_the_same_number_of_queries(
    signed_in: Callable[[Viewer], Client],
    owners_person: tuple[Viewer, Owner],
    station: Station,
    now: datetime,
    owners: int,
) -> None:
    viewer, _ = owners_person
    for _ in range(owners - 1):
        give_login(OwnerFactory(station=station), viewer.user, now)
    client = signed_in(viewer)
    with CaptureQueriesContext(connection) as asked:
        client.get(PAGE)
    assert len(asked) == 5  # session, person, roles; addresses, owners

"""The switch of the check page: off from the first, on with an address of its own."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories.accounts import StationFactory
from tests.tracker.web.reading import words, words_of
from tracker.accounts import people
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station

pytestmark = pytest.mark.django_db

SETTINGS = reverse("web:station-settings")
KEPT = {
    "name": "Lowmoor Engines & Co.",
    "time_zone": "Europe/Lisbon",
    "lead_hours": "25",
    "lead_days": "60",
    "reading_age_days": "45",
}


@pytest.fixture
def client(administrator: Viewer, signed_in: Any) -> Client:
    Station.objects.update(name="Lowmoor Engines & Co.")
    return signed_in(administrator)


def kept(administrator: Viewer) -> tuple[bool, str | None]:
    station = Station.objects.get(pk=administrator.station.pk)
    return station.check_is_open, station.check_address


def test_it_is_off_and_an_address_is_suggested_from_the_name(
    client: Client, administrator: Viewer
) -> None:
    assert kept(administrator) == (False, None)
    assert 'value="lowmoor-engines-co"' in client.get(SETTINGS).content.decode()
    assert "switched off" in words_of(client.get(reverse("web:station")))


def test_what_was_only_suggested_is_not_taken_from_others(
    client: Client, administrator: Viewer
) -> None:
    client.post(SETTINGS, {**KEPT, "check_address": "lowmoor-engines-co"})
    assert kept(administrator) == (False, None)


def test_it_is_opened_and_closed_and_keeps_its_address(
    client: Client, administrator: Viewer
) -> None:
    opened = {**KEPT, "check_is_open": "on", "check_address": "Lowmoor"}
    assert client.post(SETTINGS, opened).status_code == 302
    assert kept(administrator) == (True, "lowmoor")
    assert "/check/lowmoor/" in words_of(client.get(reverse("web:station")))
    assert Client().get("/check/lowmoor/").status_code == 200
    client.post(SETTINGS, {**KEPT, "check_address": "lowmoor"})
    assert kept(administrator) == (False, "lowmoor")
    assert Client().get("/check/lowmoor/").status_code == 404


@pytest.mark.parametrize(
    ("address", "message"),
    [
        ("", "An open check page needs an address."),
        ("low moor", "Write small letters from a to z, figures and hyphens only."),
        ("a/b", "Write small letters from a to z, figures and hyphens only."),
        ("x" * 61, "at most 60 characters"),
        ("taken", 'The address "taken" is taken. Choose another one.'),
    ],
)
def test_an_address_that_cannot_be_is_refused(
    client: Client, administrator: Viewer, address: str, message: str
) -> None:
    StationFactory(check_address="taken")
    answer = client.post(
        SETTINGS, {**KEPT, "check_is_open": "on", "check_address": address}
    )
    assert answer.status_code == 422
    assert message in words(answer.content.decode())
    assert kept(administrator) == (False, None)


@pytest.mark.both
def test_two_stations_cannot_take_one_address_at_once(
    administrator: Viewer, other_station: Station
) -> None:
    """The constraint of the database says so, also where the other was quicker."""
    Station.objects.filter(pk=other_station.pk).update(check_address="lowmoor")
    values = {"check_is_open": True, "check_address": "lowmoor", "name": "New"}
    with pytest.raises(people.PeopleRefused, match="is taken"):
        people.change_settings(administrator, values)
    assert Station.objects.get(pk=administrator.station.pk).name != "New"


def test_an_open_page_without_an_address_is_refused_by_the_act_too(
    administrator: Viewer,
) -> None:
    with pytest.raises(people.PeopleRefused, match="needs an address"):
        people.change_settings(administrator, {"check_is_open": True})

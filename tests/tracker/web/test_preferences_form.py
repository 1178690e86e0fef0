"""How an owner is told: said by staff and owners, silenced by the station."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from tests.factories.fleet import OwnerFactory
from tests.tracker.web.reading import words, words_of
from tracker.accounts.access import Forbidden, Viewer
from tracker.accounts.models import Role, Station
from tracker.compliance import changes
from tracker.fleet.errors import Refused
from tracker.fleet.models import Owner, Preference
from tracker.fleet.preferences import PreferenceFacts
from tracker.fleet.register import OwnerFacts, give_login

pytestmark = [pytest.mark.django_db, pytest.mark.both]

SENT = {
    "optional": "on",
    "lead_hours": "",
    "lead_days": "",
    "at_hour": "7",
    "time_zone": "UTC",
    "units": "metric",
}


@pytest.fixture
def owner(station: Station) -> Owner:
    return OwnerFactory(
        station=station, name="Ostrel Flying Club", email="office@ostrel.example"
    )


@pytest.fixture
def as_owner(viewer_as: Any, owner: Owner, now: datetime) -> Viewer:
    viewer: Viewer = viewer_as(Role.OWNER)
    give_login(owner, viewer.user, now)
    return viewer


@pytest.fixture
def manager(signed_in: Any, administrator: Viewer, clock_stands: None) -> Client:
    """A client signed in as the administrator, on the day of the tests."""
    return signed_in(administrator)


def at(owner: Owner, name: str = "owner-preferences") -> str:
    return reverse(f"web:{name}", args=[owner.public_id])


def said(response: HttpResponse, status: int) -> str:
    assert response.status_code == status
    return words(response.content.decode())


def test_staff_say_how_an_owner_is_told_and_the_card_shows_it(
    page: Client, owner: Owner
) -> None:
    sent = SENT | {
        "optional": "",
        "without": ["newly applies", "reading is old"],
        "lead_hours": "12.5",
        "lead_days": "45",
        "at_hour": "6",
        "time_zone": "Europe/Lisbon",
        "units": "US",
    }
    text = words_of(page.post(at(owner), sent, follow=True))
    assert "This is kept, and holds from the next mail on." in text
    assert "Of that, leave out: newly applies, the hours reading is old" in text
    assert "Coming due 12.5 h or 45 days before" in text
    assert "Mail of a day from 06:00, Europe/Lisbon" in text
    assert "What nobody is obliged to do not told" in text
    text = words_of(page.post(at(owner), sent | {"optional": "on"}, follow=True))
    assert "told, but not: newly applies, the hours reading is old" in text
    kept = Preference.objects.get(owner=owner)
    assert (kept.lead_hours, kept.lead_days, kept.units) == (1250, 45, "US")


def test_an_owner_who_never_said_so_is_told_as_the_station_leads(
    page: Client, owner: Owner
) -> None:
    text = words_of(page.get(at(owner, "owner")))
    assert "days before, as the station leads" in text
    assert not Preference.objects.exists()
    assert "Left empty: as the station does" in words_of(page.get(at(owner)))
    unchanged = page.post(at(owner), SENT, follow=True)
    assert "Nothing is different, so nothing was written." in words_of(unchanged)
    assert not Preference.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"lead_hours": "soon"}, '"soon" is not a number of hours'),
        ({"lead_days": "-1"}, "Write 0 days or more."),
        ({"lead_days": "4000"}, "At most 3650 days before can be told."),
        ({"at_hour": "24"}, "Choose one from the list; what was sent is not in it."),
        (
            {"time_zone": "Nowhere"},
            "Choose one from the list; what was sent is not in it.",
        ),
        ({"units": "ells"}, "Choose one from the list; what was sent is not in it."),
        ({"without": ["all"]}, "Choose one from the list; what was sent is not in it."),
    ],
    ids=lambda value: next(iter(value)) if isinstance(value, dict) else "",
)
def test_what_makes_no_sense_is_marked_and_nothing_is_kept(
    page: Client, owner: Owner, wrong: dict[str, Any], message: str
) -> None:
    assert message in said(page.post(at(owner), SENT | wrong), 422)
    assert not Preference.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"without": ["all"]}, "without"),
        ({"lead_hours": -1}, "lead_hours"),
        ({"lead_days": 3651}, "lead_days"),
        ({"at_hour": 24}, "at_hour"),
        ({"units": "ells"}, "units"),
        ({"time_zone": "Nowhere"}, "time_zone"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_the_act_refuses_the_same(
    technician: Viewer, owner: Owner, wrong: dict[str, Any], field: str
) -> None:
    facts = PreferenceFacts(**({"time_zone": "UTC"} | wrong))
    with pytest.raises(Refused) as refused:
        changes.change_preference(technician, owner, facts)
    assert refused.value.field == field
    assert not Preference.objects.exists()


def test_an_owner_says_it_for_themselves_and_for_nobody_else(
    as_owner: Viewer, owner: Owner, station: Station, signed_in: Any, clock_stands: None
) -> None:
    client, other = signed_in(as_owner), OwnerFactory(station=station)
    assert "How you are told" in words_of(client.get(at(owner)))
    answer = client.post(at(owner), SENT | {"at_hour": "5"})
    assert answer.url == reverse("web:message-list")
    assert Preference.objects.get(owner=owner).at_hour == 5
    assert client.get(at(other)).status_code == 404
    assert client.post(at(other), SENT | {"at_hour": "5"}).status_code == 404
    assert Preference.objects.count() == 1
    with pytest.raises(Owner.DoesNotExist):
        changes.change_preference(as_owner, other, PreferenceFacts(time_zone="UTC"))


def test_another_stations_owner_is_not_there(
    page: Client, other_station: Station, technician: Viewer
) -> None:
    foreign = OwnerFactory(station=other_station)
    assert page.post(at(foreign), SENT).status_code == 404
    with pytest.raises(Owner.DoesNotExist):
        changes.change_preference(technician, foreign, PreferenceFacts(time_zone="UTC"))


def test_an_owner_is_told_nothing_for_a_reason_that_is_shown_until_it_ends(
    manager: Client, administrator: Viewer, owner: Owner
) -> None:
    sent = {"reason": "Gave up flying."}
    text = words_of(manager.post(at(owner, "owner-silence"), sent, follow=True))
    name = administrator.user.name
    assert (
        "Ostrel Flying Club is told nothing since 24 November 2026, 09:30, "
        f"by {name}. Why: Gave up flying." in text
    )
    again = manager.post(at(owner, "owner-silence"), sent)
    assert "is not told anything already" in said(again, 422)
    text = words_of(manager.post(at(owner, "owner-silence-end"), follow=True))
    assert "Ostrel Flying Club is told again from now on." in text
    assert "Gave up flying" not in text
    assert not Preference.objects.get(owner=owner).is_silenced


def test_silence_takes_a_reason_and_the_right(
    manager: Client, technician: Viewer, as_owner: Viewer, owner: Owner, now: datetime
) -> None:
    assert "This cannot be left out." in said(
        manager.post(at(owner, "owner-silence"), {"reason": ""}), 422
    )
    for viewer in (technician, as_owner):
        with pytest.raises(Forbidden):
            changes.silence_owner(viewer, owner, "Enough.", at=now)
        with pytest.raises(Forbidden):
            changes.end_silence(viewer, owner)
    assert not Preference.objects.exists()


def test_a_refused_address_stands_on_the_card_until_another_is_entered(
    page: Client, owner: Owner, technician: Viewer, now: datetime
) -> None:
    Preference.objects.create(
        owner=owner,
        refused_address=owner.email,
        refused_at=now,
        refused_reply="550 5.1.1 No such mailbox",
        at_hour=5,
    )
    text = words_of(page.get(at(owner, "owner")))
    assert (
        "Mail to office@ostrel.example was refused on 24 November 2026, 09:30. "
        "The mail server said: “550 5.1.1 No such mailbox”" in text
    )
    facts = {"name": owner.name, "email": "office@ostrel.example", "phone": "77"}
    changes.change_owner_entry(technician, owner, OwnerFacts(**facts), at=now)
    assert "was refused on" in words_of(page.get(at(owner, "owner")))
    facts["email"] = "hangar@ostrel.example"
    changes.change_owner_entry(technician, owner, OwnerFacts(**facts), at=now)
    assert "was refused on" not in words_of(page.get(at(owner, "owner")))
    kept = Preference.objects.get(owner=owner)
    assert (kept.refused_address, kept.refused_at, kept.at_hour) == ("", None, 5)


def test_an_owner_without_an_address_is_said_to_be_out_of_reach(
    page: Client, station: Station
) -> None:
    nobody = OwnerFactory(station=station, name="R. Ostlund")
    text = words_of(page.get(at(nobody, "owner")))
    assert "No mail can go to R. Ostlund: there is no address." in text


def test_whose_data_was_taken_out_cannot_be_told(
    page: Client, owner: Owner, now: datetime
) -> None:
    Owner.objects.filter(pk=owner.pk).update(removed_at=now)
    assert page.get(at(owner)).status_code == 404
    assert "How they are told" not in words_of(page.get(at(owner, "owner")))

"""Signing in and out, choosing a password, and which station is looked at."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from tests.factories.accounts import PASSWORD, MembershipFactory, UserFactory
from tracker.accounts.access import Viewer
from tracker.accounts.models import Membership, Role, Station

SIGN_IN = "/account/login/"
NEW = "another long pass phrase"


@pytest.fixture
def client() -> Client:
    return Client()


def sign_in(client: Client, email: str, password: str = PASSWORD, **sent: str) -> Any:
    return client.post(SIGN_IN, {"login": email, "password": password, **sent})


def is_in(client: Client) -> bool:
    return client.get(reverse("account_stations")).status_code == 200


def test_a_person_signs_in_by_address_however_it_is_written(
    client: Client, technician: Viewer
) -> None:
    assert sign_in(client, technician.user.email.upper()).status_code == 302
    assert is_in(client)


def test_the_session_has_a_new_key_after_signing_in(
    client: Client, technician: Viewer
) -> None:
    client.get(reverse("account_login"))
    client.session.save()
    before = client.session.session_key
    sign_in(client, technician.user.email)
    assert client.session.session_key != before


def test_a_wrong_password_and_an_unknown_address_get_the_same_answer(
    client: Client, technician: Viewer
) -> None:
    wrong = sign_in(client, technician.user.email, "not the pass phrase")
    unknown = sign_in(client, "nobody@station.example", "not the pass phrase")
    plain = [
        re.sub(r'value="[^"]*"', "", answer.content.decode())
        for answer in (wrong, unknown)
    ]
    assert wrong.status_code == unknown.status_code == 200
    assert "You are not signed in." in plain[0]
    assert plain[0] == plain[1]
    assert not is_in(client)


def test_guessing_is_slowed_and_another_person_still_gets_in(
    client: Client, technician: Viewer, inspector: Viewer
) -> None:
    for _ in range(10):
        sign_in(client, technician.user.email, "not the pass phrase")
    refused = sign_in(client, technician.user.email)
    assert "You are not signed in." in refused.content.decode()
    assert not is_in(client)
    assert sign_in(client, inspector.user.email).status_code == 302


def test_too_many_tries_from_one_address_are_refused(db: None, client: Client) -> None:
    answers = [
        sign_in(client, f"person{n}@guess.example").status_code for n in range(61)
    ]
    assert answers[-2:] == [200, 429]


@pytest.mark.parametrize(
    "target",
    [
        "https://evil.example/",
        "//evil.example",
        "/\\evil.example",
        "https:evil.example",
        "javascript:alert(1)",
        "http://127.0.0.1@evil.example/",
    ],
)
def test_signing_in_never_leads_elsewhere(
    client: Client, technician: Viewer, target: str
) -> None:
    answer = sign_in(client, technician.user.email, next=target)
    assert answer.headers["Location"] == "/"


def test_signing_in_leads_back_to_the_page_that_was_asked_for(
    client: Client, administrator: Viewer
) -> None:
    asked = client.get(reverse("web:station-settings"))
    form = client.get(asked.headers["Location"])
    assert 'name="next" value="/station/settings/"' in form.content.decode()
    answer = sign_in(client, administrator.user.email, next="/station/settings/")
    assert answer.headers["Location"] == "/station/settings/"


def test_a_part_of_a_page_is_sent_to_the_sign_in_page(db: None, client: Client) -> None:
    answer = client.get(reverse("web:station"), headers={"HX-Request": "true"})
    assert answer.status_code == 401
    assert answer.headers["HX-Redirect"] == SIGN_IN


def test_signing_out_takes_a_click_and_ends_the_session(
    client: Client, technician: Viewer
) -> None:
    sign_in(client, technician.user.email)
    key = client.session.session_key
    assert client.get(reverse("account_logout")).status_code == 200
    assert is_in(client)
    answer = client.post(reverse("account_logout"))
    assert answer.headers["Clear-Site-Data"] == '"cache", "storage"'
    client.cookies["sessionid"] = key or ""
    assert not is_in(client)


def test_nobody_signs_up(db: None, client: Client) -> None:
    assert client.get("/account/signup/").status_code == 404
    assert client.post("/account/signup/", {"email": "a@b.example"}).status_code == 404


def test_a_person_switched_off_is_out_at_once(
    client: Client, technician: Viewer
) -> None:
    sign_in(client, technician.user.email)
    technician.user.is_active = False
    technician.user.save(update_fields=["is_active"])
    assert not is_in(client)
    again = sign_in(client, technician.user.email)
    assert again.headers["Location"] == reverse("account_inactive")
    assert not is_in(client)


def test_a_password_that_was_made_only_opens_the_page_to_change_it(
    client: Client, administrator: Viewer
) -> None:
    administrator.user.initial_password = True
    administrator.user.save(update_fields=["initial_password"])
    sign_in(client, administrator.user.email)
    change = reverse("account_change_password")
    for page in (reverse("web:station"), reverse("account_stations")):
        assert client.get(page).headers["Location"] == change
    assert client.get("/api/v1/engines").status_code == 403
    sent = {"oldpassword": PASSWORD, "password1": NEW, "password2": NEW}
    assert client.post(change, sent).headers["Location"] == "/"
    assert client.get(reverse("web:station")).status_code == 200


def test_a_weak_password_is_refused_in_words(
    client: Client, technician: Viewer
) -> None:
    sign_in(client, technician.user.email)
    sent = {"oldpassword": PASSWORD, "password1": "short", "password2": "short"}
    answer = client.post(reverse("account_change_password"), sent)
    assert "too short" in answer.content.decode()


def test_a_changed_password_ends_the_other_sessions(technician: Viewer) -> None:
    here, there = Client(), Client()
    for client in (here, there):
        sign_in(client, technician.user.email)
    sent = {"oldpassword": PASSWORD, "password1": NEW, "password2": NEW}
    here.post(reverse("account_change_password"), sent)
    assert is_in(here)
    assert not is_in(there)


def test_a_link_for_a_new_password_works_once_and_names_the_configured_host(
    client: Client, technician: Viewer, settings: Any
) -> None:
    settings.BASE_URL = "https://tracker.example"
    client.post(reverse("account_reset_password"), {"email": technician.user.email})
    [letter] = mail.outbox
    link = re.search(r"https://tracker\.example(/\S+)", str(letter.body))
    assert link, letter.body
    form = client.get(link[1], follow=True)
    sent = {"password1": NEW, "password2": NEW}
    client.post(form.redirect_chain[-1][0], sent)
    assert sign_in(client, technician.user.email, NEW).status_code == 302
    again = Client().get(link[1], follow=True)
    assert "holds no longer" in again.content.decode()


def test_asking_for_a_new_password_tells_nobody_who_signs_in(
    client: Client, technician: Viewer
) -> None:
    answers = [
        client.post(reverse("account_reset_password"), {"email": email}, follow=True)
        for email in (technician.user.email, "nobody@station.example")
    ]
    assert answers[0].content == answers[1].content
    assert [letter.to for letter in mail.outbox] == [[technician.user.email]]


def test_a_person_of_two_stations_looks_at_the_one_chosen(
    client: Client, technician: Viewer, other_station: Station
) -> None:
    MembershipFactory(
        user=technician.user, station=other_station, role=Role.ADMINISTRATOR
    )
    sign_in(client, technician.user.email)
    assert client.get(reverse("web:station")).status_code == 403
    choose = reverse("account_stations")
    page = client.get(choose).content.decode()
    assert f"Look at {other_station.name}" in page
    client.post(choose, {"station": str(other_station.public_id)})
    assert other_station.name in client.get(reverse("web:station")).content.decode()


def test_a_station_that_is_not_ones_own_cannot_be_chosen(
    client: Client, technician: Viewer, other_station: Station
) -> None:
    sign_in(client, technician.user.email)
    for station in (str(other_station.public_id), "", "nonsense"):
        answer = client.post(reverse("account_stations"), {"station": station})
        assert answer.status_code == 404


def test_a_person_of_no_station_is_told_so_on_every_page(
    db: None, client: Client
) -> None:
    sign_in(client, UserFactory(email="alone@post.example").email)
    answer = client.get(reverse("web:station"))
    assert answer.status_code == 403
    assert "You belong to no station" in answer.content.decode()
    assert "alone@post.example" in answer.content.decode()


def test_a_role_that_ends_in_mid_session_ends_at_the_next_request(
    client: Client, administrator: Viewer
) -> None:
    sign_in(client, administrator.user.email)
    assert client.get(reverse("web:station")).status_code == 200
    Membership.objects.filter(user=administrator.user).update(role=Role.TECHNICIAN)
    answer = client.get(reverse("web:station"))
    assert answer.status_code == 403
    assert "You may not change the station." in answer.content.decode()


def test_a_foreign_host_is_not_answered(db: None, client: Client) -> None:
    answer = client.get(SIGN_IN, headers={"Host": "evil.example"})
    assert answer.status_code == 400
    assert "evil" not in answer.content.decode()

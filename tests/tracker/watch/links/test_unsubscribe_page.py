"""Mails that nobody is obliged to send, ended by one press and begun again.

Source: RFC 8058, sections 3.1 and 3.2, cited from secondary sources.
"""

from __future__ import annotations

import pytest
from django.core.signing import Signer
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.factories.fleet import OwnerFactory
from tests.tracker.watch.links.conftest import digest, path_of
from tests.tracker.web.reading import words
from tracker.accounts.models import Station
from tracker.fleet.models import Owner, Preference, Units
from tracker.watch.links import unsubscribe_url
from tracker.watch.links.unsubscribing import SALT, owner_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]

ONE_CLICK = b"List-Unsubscribe=One-Click"
FORM = "application/x-www-form-urlencoded"


@pytest.fixture
def unsubscribe(owner: Owner) -> str:
    return path_of(unsubscribe_url(owner))


def said(response: object) -> str:
    return words(response.content.decode())  # type: ignore[attr-defined]


def is_told(owner: Owner) -> bool:
    kept = Preference.objects.filter(owner=owner).first()
    return kept is None or kept.optional


class TestOneClick:
    """A POST of one pair, without cookie, sign-in or other context; no redirect."""

    def test_the_body_is_of_26_octets(self) -> None:
        assert len(ONE_CLICK) == 26

    @pytest.mark.parametrize("is_multipart", [False, True], ids=["form", "multipart"])
    def test_it_ends_the_mails_of_that_owner_alone(
        self, owner: Owner, unsubscribe: str, is_multipart: bool
    ) -> None:
        other = OwnerFactory(station=owner.station)
        Preference.objects.create(owner=other)
        client = Client(enforce_csrf_checks=True)
        if is_multipart:
            answer = client.post(unsubscribe, {"List-Unsubscribe": "One-Click"})
        else:
            answer = client.post(unsubscribe, ONE_CLICK, content_type=FORM)
        assert answer.status_code == 200
        assert not answer.cookies
        assert not is_told(owner)
        assert is_told(other)

    def test_a_second_time_it_is_the_same(
        self, client: Client, owner: Owner, unsubscribe: str
    ) -> None:
        client.post(unsubscribe, ONE_CLICK, content_type=FORM)
        before = digest()
        again = client.post(unsubscribe, ONE_CLICK, content_type=FORM)
        assert again.status_code == 200
        assert digest() == before

    def test_it_keeps_what_else_the_owner_prefers(
        self, client: Client, owner: Owner, unsubscribe: str
    ) -> None:
        Preference.objects.create(owner=owner, at_hour=20, units=Units.US)
        client.post(unsubscribe, ONE_CLICK, content_type=FORM)
        kept = Preference.objects.get(owner=owner)
        assert (kept.optional, kept.at_hour, kept.units) == (False, 20, Units.US)

    @pytest.mark.parametrize(
        "body",
        [b"", b"List-Unsubscribe=one-click", b"list-unsubscribe=One-Click", b"x=1"],
    )
    def test_another_body_changes_nothing(
        self, client: Client, unsubscribe: str, body: bytes
    ) -> None:
        before = digest()
        answer = client.post(unsubscribe, body, content_type=FORM)
        assert answer.status_code == 422
        assert digest() == before


def test_looking_changes_nothing(
    client: Client, unsubscribe: str, station: Station
) -> None:
    before = digest()
    page = client.get(unsubscribe)
    client.head(unsubscribe)
    assert digest() == before
    assert page.status_code == 200
    assert "Stop these mails" in said(page)
    assert f"Only {station.name} can change that" in said(page)
    assert "mandatory: by law" in said(page)
    assert not page.cookies
    assert page.headers["Referrer-Policy"] == "no-referrer"
    assert page.headers["Cache-Control"] == "no-store"
    assert page.headers["X-Robots-Tag"] == "noindex"


def test_the_button_of_the_page_does_it_and_leads_back(
    client: Client, owner: Owner, unsubscribe: str
) -> None:
    stopped = client.post(unsubscribe, {"List-Unsubscribe": "One-Click"})
    assert "You are told only what is mandatory" in said(stopped)
    assert "Tell me again" in said(client.get(unsubscribe))
    again = client.post(unsubscribe, {"again": "yes"})
    assert "You are told again" in said(again)
    assert is_told(owner)


def tampered(unsubscribe: str, owner: Owner, other: Owner) -> dict[str, str]:
    token = unsubscribe.removeprefix("/unsubscribe/").rstrip("/")
    name, signature = token.split(".")
    elsewhere = Signer(salt="tracker.watch.other", sep=".").sign(str(owner.public_id))
    unsigned = Signer(salt=SALT, sep=".").sign("not an id")
    last = "A" if signature[-1] != "A" else "B"
    return {
        "another owner": f"{other.public_id}.{signature}",
        "another signature": f"{name}.{signature[:-1]}{last}",
        "no signature": name,
        "empty signature": f"{name}.",
        "another purpose": elsewhere,
        "no owner": unsigned,
        "rubbish": "x",
    }


@pytest.mark.parametrize(
    "how",
    [
        "another owner",
        "another signature",
        "no signature",
        "empty signature",
        "another purpose",
        "no owner",
        "rubbish",
    ],
)
def test_a_token_that_was_tampered_with_changes_nothing(
    client: Client, owner: Owner, unsubscribe: str, how: str
) -> None:
    other = OwnerFactory(station=owner.station)
    address = f"/unsubscribe/{tampered(unsubscribe, owner, other)[how]}/"
    before = digest()
    for answer in (
        client.get(address),
        client.post(address, ONE_CLICK, content_type=FORM),
    ):
        assert answer.status_code == 404
        assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert digest() == before


def test_an_owner_whose_data_was_taken_out_is_not_there(
    client: Client, owner: Owner, unsubscribe: str, now: object
) -> None:
    Owner.objects.filter(pk=owner.pk).update(removed_at=now)
    assert client.get(unsubscribe).status_code == 404


def test_the_address_outlives_the_key_it_was_signed_with(
    owner: Owner, unsubscribe: str, settings: object
) -> None:
    token = unsubscribe.removeprefix("/unsubscribe/").rstrip("/")
    old = settings.SECRET_KEY  # type: ignore[attr-defined]
    settings.SECRET_KEY = "another-key-of-this-installation-after-a-change-of-keys"  # type: ignore[attr-defined]
    assert owner_of(token) is None
    settings.SECRET_KEY_FALLBACKS = [old]  # type: ignore[attr-defined]
    assert owner_of(token) == owner


def test_the_address_is_the_same_at_every_call(owner: Owner) -> None:
    assert unsubscribe_url(owner) == unsubscribe_url(owner)


def test_the_page_asks_one_query(client: Client, unsubscribe: str) -> None:
    with CaptureQueriesContext(connection) as asked:
        client.get(unsubscribe)
    assert len(asked) == 1  # the owner with station and preference

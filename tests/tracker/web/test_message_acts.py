"""What staff do with a message from its page: send it again, release it."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories.fleet import OwnerFactory
from tests.tracker.web.reading import words, words_of
from tests.tracker.web.test_messages_page import Write, at, owner, write
from tracker.accounts.models import Role, Station
from tracker.fleet.models import Owner
from tracker.watch.models import Message, MessageState

__all__ = ["owner", "write"]

pytestmark = [pytest.mark.django_db, pytest.mark.both]


def test_a_refused_message_waits_again_for_the_address_of_now(
    page: Client, write: Write, owner: Owner
) -> None:
    one = write("Digest", MessageState.FAILED, reason="Refused.", attempts=2)
    Owner.objects.filter(pk=owner.pk).update(email="hangar@ostrel.example")
    assert "Send it again" in words_of(page.get(at(one)))
    asked = words_of(page.get(at(one, "message-resend")))
    assert "It goes to Ostrel Flying Club, hangar@ostrel.example." in asked
    one.refresh_from_db()
    assert one.state == MessageState.FAILED
    answer = page.post(at(one, "message-resend"), follow=True)
    assert "It waits to be sent." in words_of(answer)
    one.refresh_from_db()
    assert (one.state, one.address) == (MessageState.WAITING, "hangar@ostrel.example")


def test_a_sent_message_goes_once_more_as_one_of_its_own(
    page: Client, write: Write
) -> None:
    one = write("Digest", MessageState.SENT)
    assert "as a message of its own" in words_of(page.get(at(one, "message-resend")))
    answer = page.post(at(one, "message-resend"))
    copy = Message.objects.exclude(pk=one.pk).get()
    assert answer.url == at(copy)
    assert copy.text == one.text
    one.refresh_from_db()
    assert one.state == MessageState.SENT


def test_a_held_message_is_released(page: Client, write: Write) -> None:
    one = write("Digest", MessageState.HELD, reason="Very many at once.")
    assert "Release it" in words_of(page.get(at(one)))
    asked = words_of(page.get(at(one, "message-release")))
    assert "Very many at once. It goes to Ostrel" in asked
    page.post(at(one, "message-release"))
    one.refresh_from_db()
    assert one.state == MessageState.WAITING


@pytest.mark.parametrize(
    ("name", "state", "why"),
    [
        ("message-resend", MessageState.WAITING, "It has not ended yet"),
        ("message-resend", MessageState.HELD, "It has not ended yet"),
        ("message-release", MessageState.SENT, "It is not held back any more."),
    ],
)
def test_what_does_not_stand_so_is_left_as_it_is(
    page: Client, write: Write, name: str, state: str, why: str
) -> None:
    one = write("Digest", state)
    answer = page.post(at(one, name))
    assert answer.status_code == 422
    assert why in words(answer.content.decode())
    assert Message.objects.get().state == state


def test_nothing_goes_to_an_owner_without_an_address(
    page: Client, write: Write, owner: Owner
) -> None:
    one = write("Digest", MessageState.FAILED)
    Owner.objects.filter(pk=owner.pk).update(email="")
    answer = page.post(at(one, "message-resend"))
    assert "Ostrel Flying Club has no address. Enter one first." in words(
        answer.content.decode()
    )
    assert Message.objects.get().state == MessageState.FAILED


def test_another_stations_message_is_not_there_and_owners_may_not(
    page: Client,
    write: Write,
    other_station: Station,
    viewer_as: Any,
    signed_in: Any,
) -> None:
    foreign = write(
        "Foreign", MessageState.FAILED, to=OwnerFactory(station=other_station)
    )
    for name in ("message-resend", "message-release"):
        assert page.post(at(foreign, name)).status_code == 404
        mine = write(f"Mine {name}", MessageState.HELD)
        client = signed_in(viewer_as(Role.OWNER))
        assert client.post(at(mine, name)).status_code == 403
    assert reverse("web:message-list") in page.get(at(mine)).content.decode()

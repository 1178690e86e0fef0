"""What was told to an owner is given out with their data, and taken out with it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest
from django.utils import timezone

from tests.factories.accounts import PASSWORD
from tests.factories.fleet import EngineFactory, OwnerFactory
from tests.tracker.world_of_messages import add_messages
from tracker.accounts.access import Viewer
from tracker.compliance.models import Event
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine, Owner, Preference
from tracker.watch import outbox, personal
from tracker.watch.models import (
    Attempt,
    CalendarLink,
    HoursLink,
    Message,
    MessageKind,
    MessageState,
    Told,
)

pytestmark = [pytest.mark.django_db, pytest.mark.both]

WORD = "Quillfeather"


@pytest.fixture
def engine(administrator: Viewer) -> Engine:
    return EngineFactory(station=administrator.station)


@pytest.fixture
def left(administrator: Viewer, engine: Engine) -> Owner:
    """An owner without an engine, to whom something was written."""
    owner = OwnerFactory(station=administrator.station, email="post@quill.example")
    add_messages(administrator, owner, engine, WORD)
    Preference.objects.filter(owner=owner).update(refused_reply=WORD)
    return owner


def everything_said() -> str:
    models = (Message, Attempt, HoursLink, CalendarLink, Preference)
    rows = [str(row) for model in models for row in model.objects.values_list()]
    return "\n".join(rows).lower()


def test_everything_told_to_a_person_is_given_out(
    administrator: Viewer, left: Owner
) -> None:
    given = personal.personal_data(administrator, left)
    [message] = given["messages"]
    assert message["to"] == "post@quillfeather.example"
    assert message["text"] == f"{WORD} text"
    assert message["state"] == "waiting"
    assert [one["kind"] for one in given["secret_addresses"]] == ["hours", "calendar"]
    assert given["how_told"]["refused_with"] == WORD
    assert given["how_told"]["from_hour"] == 7


def test_what_was_said_and_where_to_goes_and_that_it_went_stays(
    administrator: Viewer, left: Owner, engine: Engine
) -> None:
    before = Message.objects.get()
    assert WORD.lower() in everything_said()
    personal.remove_owner(administrator, left, password=PASSWORD, at=timezone.now())
    assert WORD.lower() not in everything_said()
    after = Message.objects.get()
    kept = ("public_id", "kind", "created_at", "engine_id", "owner_id", "message_id")
    assert [getattr(after, n) for n in kept] == [getattr(before, n) for n in kept]
    assert Attempt.objects.count() == 1
    assert Told.objects.filter(message=after, event=Event.objects.get()).exists()
    assert not Preference.objects.exists()


def test_what_was_not_sent_is_never_sent_and_secret_addresses_answer_no_more(
    administrator: Viewer, left: Owner
) -> None:
    at = timezone.now()
    Message.objects.update(state=MessageState.SENDING, lease_until=at, attempts=1)
    personal.remove_owner(administrator, left, password=PASSWORD, at=at)
    message = Message.objects.get()
    assert message.state == MessageState.PARKED
    assert message.reason == "The personal data of the owner was taken out."
    assert not Message.objects.due(at).exists()
    assert HoursLink.objects.get().revoked_at == at
    assert CalendarLink.objects.get().revoked_at == at


def test_a_sent_message_stays_sent(administrator: Viewer, left: Owner) -> None:
    sent_at = timezone.now()
    Message.objects.update(state=MessageState.SENT, sent_at=sent_at)
    personal.remove_owner(administrator, left, password=PASSWORD, at=sent_at)
    message = Message.objects.get()
    assert (message.state, message.sent_at) == (MessageState.SENT, sent_at)
    assert message.reason == ""


def test_the_hash_tells_whether_two_went_to_the_same_address_and_needs_the_key(
    administrator: Viewer, left: Owner, settings: Any
) -> None:
    again = outbox.Letter(
        station=left.station,
        kind=MessageKind.DIGEST,
        key="the next day",
        address="post@quillfeather.example",
        subject=WORD,
        text=WORD,
        owner=left,
    )
    assert outbox.put(again, at=timezone.now()) is not None
    personal.remove_owner(administrator, left, password=PASSWORD, at=timezone.now())
    first, second = Message.objects.values_list("address", flat=True)
    assert first == second
    assert first.startswith("removed-")
    assert personal._hashed("POST@quillfeather.example") == first
    settings.SECRET_KEY = "another key of an installation"
    assert personal._hashed("post@quillfeather.example") != first


def test_nothing_goes_where_the_owner_may_not_be_removed(
    administrator: Viewer, now: datetime
) -> None:
    owner = OwnerFactory(station=administrator.station)
    engine = EngineFactory(station=owner.station, owner=owner)
    add_messages(administrator, owner, engine, WORD)
    with pytest.raises(Refused, match="still belongs to"):
        personal.remove_owner(administrator, owner, password=PASSWORD, at=now)
    assert Message.objects.get().text == f"{WORD} text"


def test_another_owners_messages_stay(
    administrator: Viewer, left: Owner, engine: Engine
) -> None:
    other = OwnerFactory(station=administrator.station)
    add_messages(administrator, other, EngineFactory(station=left.station), "Holt")
    personal.remove_owner(administrator, left, password=PASSWORD, at=timezone.now())
    kept = Message.objects.get(owner=other)
    assert (kept.address, kept.text) == ("post@holt.example", "Holt text")
    assert HoursLink.objects.get(owner=other).revoked_at is None

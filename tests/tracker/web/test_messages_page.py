"""Messages: the list, one message, and what owners see of them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from email import message_from_bytes
from email.policy import default
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories.fleet import OwnerFactory
from tests.tracker.web.reading import rows_of, words_of
from tests.tracker.world_of_messages import add_event
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role, Station
from tracker.fleet.models import Engine, Owner
from tracker.fleet.register import give_login
from tracker.watch import outbox
from tracker.watch.models import Attempt, Message, MessageKind, MessageState

pytestmark = [pytest.mark.django_db, pytest.mark.both]

LIST = reverse("web:message-list")
Write = Callable[..., Message]


@pytest.fixture
def owner(station: Station) -> Owner:
    return OwnerFactory(
        station=station, name="Ostrel Flying Club", email="office@ostrel.example"
    )


@pytest.fixture
def write(owner: Owner, now: datetime) -> Write:
    """Return a message to the owner in a state, written so many minutes ago."""

    def make(
        subject: str,
        state: str = MessageState.WAITING,
        minutes: int = 0,
        to: Owner | None = None,
        **given: Any,
    ) -> Message:
        recipient = to or owner
        letter = outbox.Letter(
            station=recipient.station,
            kind=MessageKind.DIGEST,
            key=f"{subject}|{recipient.pk}",
            address=recipient.email or "post@owner.example",
            subject=subject,
            text=f"Text of {subject}, <b>as sent</b>",
            owner=recipient,
            engine=given.pop("engine", None),
            events=given.pop("events", ()),
        )
        message = outbox.put(letter, at=now - timedelta(minutes=minutes))
        assert message is not None
        sent_at = now if state == MessageState.SENT else None
        Message.objects.filter(pk=message.pk).update(
            state=state, sent_at=sent_at, **given
        )
        message.refresh_from_db()
        return message

    return make


@pytest.fixture
def owners_page(owner: Owner, viewer_as: Any, signed_in: Any, now: datetime) -> Client:
    """A client signed in for the owner."""
    viewer: Viewer = viewer_as(Role.OWNER)
    give_login(owner, viewer.user, now)
    return signed_in(viewer)


def at(message: Message, name: str = "message") -> str:
    return reverse(f"web:{name}", args=[message.public_id])


def test_the_newest_stands_first_with_recipient_moments_tries_and_reason(
    page: Client, write: Write
) -> None:
    write("Older", MessageState.SENT, 60, attempts=2)
    write("Newer", MessageState.FAILED, 5, attempts=1, reason="No such mailbox.")
    rows = rows_of(page.get(LIST))
    assert rows[-2:] == [
        "refused Newer No such mailbox. Ostrel Flying Club office@ostrel.example – "
        "24 Nov 2026, 09:25 1",
        "sent Older Ostrel Flying Club office@ostrel.example – "
        "24 Nov 2026, 08:30 sent 24 Nov 2026, 09:30 2",
    ]


def test_what_waits_for_a_person_stands_on_top_in_a_box_of_its_own(
    page: Client, write: Write
) -> None:
    write("Held", MessageState.HELD, 30)
    write("Parked", MessageState.PARKED, 20)
    write("Failed", MessageState.FAILED, 10)
    write("Waiting", MessageState.WAITING, 5)
    write("Unsure", MessageState.UNSURE, 4)
    text = words_of(page.get(LIST))
    box, rest = text.split("All messages", 1)
    assert "3 messages wait for somebody here." in box
    assert box.index("Failed") < box.index("Parked") < box.index("Held")
    assert "Waiting" not in box
    assert "Unsure" not in box
    assert "1 waiting" in rest
    assert "1 perhaps sent" in rest
    Message.objects.exclude(subject="Held").delete()
    assert "1 message waits for somebody here." in words_of(page.get(LIST))
    Message.objects.all().delete()
    assert "Nothing waits for somebody here." in words_of(page.get(LIST))


def test_nothing_waits_of_an_owner_who_was_taken_out(
    page: Client, write: Write, owner: Owner, now: datetime
) -> None:
    write("Parked", MessageState.PARKED)
    Owner.objects.filter(pk=owner.pk).update(removed_at=now)
    assert "Nothing waits for somebody here." in words_of(page.get(LIST))


def test_the_list_is_narrowed_by_state_owner_engine_and_words(
    page: Client, write: Write, owner: Owner, engine: Engine, station: Station
) -> None:
    other = OwnerFactory(station=station, name="R. Ostlund", email="r@post.example")
    write("First", MessageState.SENT, engine=engine)
    write("Second", events=[add_event(engine, "second")])
    write("Third", to=other)

    def found(**asked: str) -> set[str]:
        text = words_of(page.get(LIST, asked))
        return {word for word in ("First", "Second", "Third") if word in text}

    assert found() == {"First", "Second", "Third"}
    assert found(state="sent") == {"First"}
    assert found(q="ostlund") == {"Third"}
    assert found(q="office@") == {"First", "Second"}
    assert found(owner=str(other.public_id)) == {"Third"}
    assert found(engine=str(engine.public_id)) == {"First", "Second"}
    text = words_of(page.get(LIST, {"q": "zz"}))
    assert "No message is like that. Look for less, or for all messages." in text


def test_a_wrong_address_of_an_owner_or_engine_is_not_found(
    page: Client, other_station: Station
) -> None:
    foreign = OwnerFactory(station=other_station)
    assert page.get(LIST, {"owner": str(foreign.public_id)}).status_code == 404
    assert page.get(LIST, {"engine": "no"}).status_code == 404


def test_the_empty_list_says_what_would_fill_it(page: Client) -> None:
    assert "No message has been written yet." in words_of(page.get(LIST))


def test_there_is_a_second_page(page: Client, write: Write) -> None:
    for number in range(51):
        write(f"Digest {number}", MessageState.SENT, number)
    assert "51 to 51 of 51 messages" in words_of(page.get(LIST, {"page": "2"}))


def test_one_message_shows_its_tries_its_text_and_what_it_tells_of(
    page: Client, write: Write, engine: Engine, now: datetime
) -> None:
    one = write(
        "Fuel pump overdue",
        MessageState.FAILED,
        reason="The mail server does not know the address.",
        events=[add_event(engine, "SB-26-003")],
    )
    Attempt.objects.create(
        message=one,
        started_at=now,
        ended_at=now,
        outcome="refused",
        code=550,
        reply="5.1.1 No such mailbox",
    )
    answer = page.get(at(one))
    text = words_of(answer)
    assert "It was refused and has not arrived. The mail server does not know" in text
    assert "See to the address of the recipient, then send it again." in text
    assert "1 24 Nov 2026, 09:30 refused 550 5.1.1 No such mailbox" in text
    assert "coming due" in rows_of(answer)[-1]
    assert "SB-26-003" in rows_of(answer)[-1]
    assert one.message_id.strip("<>") in text
    assert "&lt;b&gt;as sent&lt;/b&gt;" in answer.content.decode()


def test_a_message_without_tries_or_events_says_so(page: Client, write: Write) -> None:
    text = words_of(page.get(at(write("Note"))))
    assert "It has not been tried yet." in text
    assert "It tells of no event" in text


def test_another_stations_message_is_not_there(
    page: Client, write: Write, other_station: Station
) -> None:
    foreign = write("Foreign", to=OwnerFactory(station=other_station))
    assert "Foreign" not in words_of(page.get(LIST))
    assert page.get(at(foreign)).status_code == 404


def test_an_owner_sees_their_own_and_nothing_to_do(
    owners_page: Client, write: Write, station: Station, clock_stands: None
) -> None:
    mine = write("Mine", MessageState.FAILED)
    held = write("Kept back", MessageState.HELD)
    theirs = write("Theirs", to=OwnerFactory(station=station))
    text = words_of(owners_page.get(LIST))
    assert "Mine" in text
    assert "Theirs" not in text
    assert "What is to be done" not in text
    assert "How you are told" in text
    assert "send it again" not in words_of(owners_page.get(at(mine))).lower()
    assert "Kept back" not in text
    assert owners_page.get(at(held)).status_code == 404
    assert owners_page.get(at(theirs)).status_code == 404


@pytest.mark.parametrize("count", [1, 20])
def test_the_list_asks_as_often_for_many(
    page: Client,
    write: Write,
    station: Station,
    django_assert_num_queries: Any,
    count: int,
) -> None:
    for number in range(count):
        write(f"Digest {number}", MessageState.HELD, to=OwnerFactory(station=station))
    # session, user, membership; what is to be done; counted; messages; by state
    with django_assert_num_queries(7):
        page.get(LIST)


@pytest.mark.parametrize("count", [1, 20])
def test_one_message_asks_as_often_for_many_events(
    page: Client,
    write: Write,
    engine: Engine,
    django_assert_num_queries: Any,
    count: int,
) -> None:
    events = [add_event(engine, f"SB-{number}") for number in range(count)]
    one = write("Digest", events=events)
    # session, user, membership; the message; its tries; its events
    with django_assert_num_queries(6):
        page.get(at(one))


def test_the_mail_is_given_out_as_a_file_and_never_shown_as_a_page(
    page: Client, write: Write
) -> None:
    one = write("Digest")
    assert at(one, "message-file") in page.get(at(one)).content.decode()
    answer = page.get(at(one, "message-file"))
    assert answer["Content-Type"] == "message/rfc822"
    assert answer["Content-Disposition"] == 'attachment; filename="message.eml"'
    assert answer["Content-Security-Policy"] == "default-src 'none'; sandbox"
    mail = message_from_bytes(answer.content, policy=default)
    assert (mail["Subject"], mail["To"]) == ("Digest", "office@ostrel.example")
    assert mail["Message-ID"] == one.message_id


def test_of_what_cannot_be_a_mail_there_is_no_file(page: Client, write: Write) -> None:
    emptied = write("Emptied", MessageState.PARKED, text="")
    assert page.get(at(emptied, "message-file")).status_code == 404
    text = words_of(page.get(at(emptied)))
    assert "The text was taken out with the personal data of the owner." in text
    assert "send it again" not in text.lower()
    odd = write("Odd")
    Message.objects.filter(pk=odd.pk).update(address="hängar@ostrel.example")
    answer = page.get(at(odd, "message-file"), follow=True)
    assert "No mail can be made of it: The address has signs" in words_of(answer)


def test_the_engines_page_shows_what_was_told_about_it(
    page: Client, write: Write, engine: Engine
) -> None:
    address = reverse("web:engine", args=[engine.public_id])
    text = words_of(page.get(address))
    assert "No message has been written about this engine yet." in text
    write("Of another", MessageState.SENT)
    write("Overdue", MessageState.SENT, engine=engine)
    write("Digest", events=[add_event(engine, "SB-26-003")])
    answer = page.get(address)
    _, text = words_of(answer).split("Messages about this engine", 1)
    assert "sent Overdue to office@ostrel.example" in text
    assert "waiting Digest to office@ostrel.example" in text
    assert "Of another" not in text
    assert f"{LIST}?engine={engine.public_id}" in answer.content.decode()


def test_an_owner_sees_on_the_engines_page_what_went_to_them(
    owners_page: Client,
    owner: Owner,
    write: Write,
    station: Station,
    make_engine: Any,
    clock_stands: None,
) -> None:
    engine = make_engine(owner=owner)
    former = OwnerFactory(station=station, email="former@post.example")
    write("Told before", to=former, engine=engine)
    write("Told now", engine=engine)
    text = words_of(owners_page.get(reverse("web:engine", args=[engine.public_id])))
    assert "Told now" in text
    assert "Told before" not in text

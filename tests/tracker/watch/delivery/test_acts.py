"""Messages sent again or released by a person. Common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest

from tests.sink import Sink
from tracker.accounts.access import Forbidden, Viewer
from tracker.accounts.models import Role
from tracker.fleet.errors import Refused
from tracker.fleet.models import Owner
from tracker.watch.delivery import Delivered
from tracker.watch.delivery.acts import release, resend
from tracker.watch.models import Message, MessageState

pytestmark = [pytest.mark.both, pytest.mark.django_db]
Write = Callable[..., Message]
Send = Callable[..., Delivered]


@pytest.fixture
def refused(sink: Sink, mail: Write, send: Send) -> Message:
    """A message that the server refused, as it then stands."""
    message = mail()
    sink.at_rcpt = lambda _: "550 5.1.1 unknown"
    send()
    sink.at_rcpt = lambda _: "250 OK"
    message.refresh_from_db()
    assert message.state == MessageState.FAILED
    return message


@pytest.mark.parametrize(
    "role", [Role.ADMINISTRATOR, Role.INSPECTOR, Role.TECHNICIAN], ids=str
)
def test_a_refused_message_goes_again_under_the_same_id(
    viewer_as: Callable[..., Viewer],
    role: Role,
    refused: Message,
    sink: Sink,
    send: Send,
    now: datetime,
) -> None:
    again = resend(viewer_as(role), refused, at=now)
    assert again.pk == refused.pk
    assert (again.state, again.attempts, again.reason) == ("waiting", 0, "")
    assert send().as_counts() == {"sent": 1}
    assert [one.message_id for one in sink.taken] == [refused.message_id]


def test_a_refused_message_goes_to_the_address_as_it_is_now(
    technician: Viewer,
    refused: Message,
    owner: Owner,
    sink: Sink,
    send: Send,
    now: datetime,
) -> None:
    Owner.objects.filter(pk=owner.pk).update(email="new@post.example")
    resend(technician, refused, at=now)
    send()
    assert sink.taken[0].recipients == ("new@post.example",)


def test_a_message_put_aside_after_cut_lines_gets_new_tries(
    technician: Viewer, sink: Sink, mail: Write, send: Send, now: datetime
) -> None:
    message = mail()
    Message.objects.update(state=MessageState.PARKED, unsure=3, attempts=12)
    assert resend(technician, message, at=now).unsure == 1
    assert send().as_counts() == {"sent": 1}


def test_a_sent_message_is_written_anew(
    technician: Viewer, sink: Sink, mail: Write, send: Send, now: datetime
) -> None:
    message = mail(headers={"X-Kind": "test"})
    send()
    copy = resend(technician, message, at=now)
    assert copy.pk != message.pk
    assert copy.message_id != message.message_id
    assert (copy.subject, copy.text, copy.headers, copy.owner) == (
        message.subject,
        message.text,
        message.headers,
        message.owner,
    )
    assert copy.created_at == now
    assert resend(technician, message, at=now) == copy, "a second click"
    assert resend(technician, message, at=now + timedelta(minutes=2)) != copy
    assert send(at=now + timedelta(minutes=2)).as_counts() == {"sent": 2}
    message.refresh_from_db()
    assert message.state == MessageState.SENT


@pytest.mark.parametrize("state", ["waiting", "sending", "unsure", "held"])
def test_what_has_not_ended_is_not_sent_again(
    technician: Viewer, mail: Write, now: datetime, state: str
) -> None:
    message = mail()
    Message.objects.update(state=state)
    with pytest.raises(Refused, match="has not ended yet"):
        resend(technician, message, at=now)


def test_what_was_held_is_released(
    technician: Viewer, sink: Sink, mail: Write, send: Send, now: datetime
) -> None:
    message = mail(held="Three times as many as ever.")
    assert not send()
    released = release(technician, message, at=now)
    assert (released.state, released.reason) == ("waiting", "")
    assert send().as_counts() == {"sent": 1}
    with pytest.raises(Refused, match="not held back any more"):
        release(technician, message, at=now)


@pytest.mark.parametrize("act", [resend, release])
def test_who_may_not_and_who_does_not_see_it(
    viewer_as: Callable[..., Viewer],
    stranger: Viewer,
    mail: Write,
    owner: Owner,
    now: datetime,
    act: Any,
) -> None:
    message = mail(held="Read it first.")
    with pytest.raises(Forbidden, match=r"You may not send messages\."):
        act(viewer_as(Role.OWNER), message, at=now)
    with pytest.raises(Message.DoesNotExist):
        act(stranger, message, at=now)
    message.refresh_from_db()
    assert message.state == MessageState.HELD


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        ("email", "", "has no address"),
        ("removed_at", "2026-11-24T09:00Z", "was taken out"),
    ],
)
def test_nothing_goes_to_nowhere(
    technician: Viewer,
    refused: Message,
    owner: Owner,
    now: datetime,
    column: str,
    value: str,
    said: str,
) -> None:
    Owner.objects.filter(pk=owner.pk).update(**{column: value})
    with pytest.raises(Refused, match=said):
        resend(technician, refused, at=now)
    refused.refresh_from_db()
    assert refused.state == MessageState.FAILED

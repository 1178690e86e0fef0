"""An event on its whole way: noted, written, posted to a real receiver, and marked."""

from __future__ import annotations

import json
from datetime import datetime, timedelta

import pytest
import time_machine

from tests.factories.fleet import EngineFactory
from tests.tracker.watch.hooks.receiver import Receiver
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station
from tracker.compliance.models import Event, EventKind
from tracker.watch.delivery import deliver_due
from tracker.watch.hooks import acts, write_events
from tracker.watch.models import Attempt, Hook, Message, MessageState

pytestmark = [pytest.mark.django_db, pytest.mark.both]
LATER = timedelta(hours=3)


@pytest.fixture
def event(station: Station, hook: Hook, now: datetime) -> Event:
    return Event.objects.create(
        station=station,
        engine=EngineFactory(station=station),
        kind=EventKind.OVERDUE,
        key="a",
        said={"word": "overdue"},
        happened_on=now.date(),
        noted_at=now,
    )


def run(at: datetime) -> dict[str, int]:
    """What the two jobs do at a moment; return what came of the tries."""
    with time_machine.travel(at, tick=False):
        write_events(at)
        return deliver_due(at).as_counts()


def test_an_event_is_posted_once_and_marked(
    receiver: Receiver, event: Event, now: datetime
) -> None:
    assert run(now) == {"sent": 1}
    assert run(now + LATER) == {}
    [posted] = receiver.posted
    assert json.loads(posted.body)["id"] == str(event.public_id)
    message = Message.objects.get()
    assert (message.state, message.reply) == (MessageState.SENT, "It answered 200.")
    row = Attempt.objects.get()
    assert (row.outcome, row.code, row.reply) == ("sent", 200, "It answered 200.")


def test_what_is_not_taken_goes_again_with_the_same_key(
    receiver: Receiver, event: Event, now: datetime
) -> None:
    receiver.status = 503
    assert run(now) == {"later": 1}
    receiver.status = 200
    assert run(now + LATER) == {"sent": 1}
    first, second = receiver.posted
    assert first.body == second.body
    assert first.headers["idempotency-key"] == second.headers["idempotency-key"]


def test_a_night_of_failures_loses_nothing(
    receiver: Receiver, event: Event, now: datetime
) -> None:
    receiver.status = 503
    for hours in range(0, 70, 3):
        assert run(now + timedelta(hours=hours)) == {"later": 1}
    receiver.status = 200
    assert run(now + timedelta(hours=71)) == {"sent": 1}


def test_after_three_days_it_is_put_aside_and_can_be_taken_up_again(
    receiver: Receiver,
    administrator: Viewer,
    hook: Hook,
    event: Event,
    now: datetime,
) -> None:
    receiver.status = 503
    run(now)
    assert run(now + timedelta(days=3)) == {"refused": 1}
    message = Message.objects.get()
    assert (message.state, message.reason) == (
        MessageState.PARKED,
        "The webhook is switched off.",
    )
    receiver.status = 200
    assert run(now + timedelta(days=4)) == {}
    with time_machine.travel(now + timedelta(days=4)):
        acts.start(administrator, hook, at=now + timedelta(days=4))
    assert run(now + timedelta(days=4)) == {"sent": 1}


def test_two_webhooks_hear_of_the_same_event(
    receiver: Receiver, administrator: Viewer, event: Event, now: datetime
) -> None:
    url = f"https://localhost:{receiver.port}/more"
    acts.add_hook(administrator, url=url, at=now)
    assert run(now) == {"sent": 2}
    paths = {posted.path for posted in receiver.posted}
    assert paths == {"/events?from=shop", "/more"}
    assert len({posted.headers["idempotency-key"] for posted in receiver.posted}) == 2

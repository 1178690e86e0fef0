"""What an administrator does with webhooks, and what that leaves behind."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta

import pytest

from tracker.accounts.access import Forbidden, Viewer
from tracker.fleet.errors import Refused
from tracker.watch.hooks import acts
from tracker.watch.hooks.listing import hooks_for_page
from tracker.watch.hooks.signing import secret_of
from tracker.watch.models import Attempt, Hook, Message, MessageState

pytestmark = [pytest.mark.django_db, pytest.mark.both]
URL = "https://systems.shop.example/events"
LATER = timedelta(hours=1)


@pytest.fixture
def hook(administrator: Viewer, now: datetime) -> Hook:
    made, _ = acts.add_hook(administrator, url=URL, at=now)
    return made


def test_a_new_webhook_has_a_secret_that_is_not_kept(
    administrator: Viewer, now: datetime
) -> None:
    hook, secret = acts.add_hook(
        administrator, url="https://Systems.shop.example:443/events", at=now
    )
    kept = Hook.objects.values().get()
    assert (kept["url"], kept["made_at"]) == (URL, now)
    assert secret == secret_of(hook)
    assert secret not in json.dumps(kept, default=str)


@pytest.mark.parametrize(
    ("url", "why"),
    [
        ("http://systems.shop.example/", "has to begin with https://"),
        ("https://10.0.0.1/", "not a number"),
        ("https://localhost/", "not one word"),
        ("https://printer.local/", "a local network"),
        (URL, "in the list already"),
    ],
)
def test_an_address_that_will_not_do_is_refused(
    administrator: Viewer, hook: Hook, now: datetime, url: str, why: str
) -> None:
    with pytest.raises(Refused, match=why) as refused:
        acts.add_hook(administrator, url=url, at=now)
    assert refused.value.field == "url"
    assert Hook.objects.count() == 1


def test_another_station_may_name_the_same_address(
    hook: Hook, stranger: Viewer, now: datetime
) -> None:
    other, secret = acts.add_hook(stranger, url=URL, at=now)
    assert other.station == stranger.station
    assert secret != secret_of(hook)


def test_a_station_has_only_so_many_in_use(
    administrator: Viewer, hook: Hook, now: datetime
) -> None:
    for number in range(1, acts.MOST):
        acts.add_hook(administrator, url=f"{URL}/{number}", at=now)
    with pytest.raises(Refused, match="10 webhooks in use"):
        acts.add_hook(administrator, url=f"{URL}/more", at=now)
    acts.stop(administrator, hook, at=now)
    acts.add_hook(administrator, url=f"{URL}/more", at=now)
    with pytest.raises(Refused, match="10 webhooks in use"):
        acts.start(administrator, hook, at=now)


def test_a_new_secret_ends_the_old_one(administrator: Viewer, hook: Hook) -> None:
    old = secret_of(hook)
    new = acts.renew_secret(administrator, hook)
    hook.refresh_from_db()
    assert new == secret_of(hook) != old


def test_what_waits_is_put_aside_and_waits_again(
    administrator: Viewer, hook: Hook, now: datetime
) -> None:
    message = acts.send_test(administrator, hook, at=now)
    acts.stop(administrator, hook, at=now)
    message.refresh_from_db()
    assert message.state == MessageState.PARKED
    assert message.reason == "The webhook is switched off."
    hook.refresh_from_db()
    assert hook.off_reason == f"Switched off by {administrator.user}."
    acts.start(administrator, hook, at=now + LATER)
    message.refresh_from_db()
    assert (message.state, message.reason, message.not_before) == (
        MessageState.WAITING,
        "",
        now + LATER,
    )


def test_what_is_of_another_webhook_or_sent_stays(
    administrator: Viewer, hook: Hook, now: datetime
) -> None:
    other, _ = acts.add_hook(administrator, url=f"{URL}/more", at=now)
    waiting = acts.send_test(administrator, other, at=now)
    sent = acts.send_test(administrator, hook, at=now)
    Message.objects.filter(pk=sent.pk).update(state=MessageState.SENT, sent_at=now)
    acts.stop(administrator, hook, at=now)
    acts.start(administrator, hook, at=now + LATER)
    states = Message.objects.order_by("pk").values_list("state", "not_before")
    assert list(states) == [(MessageState.WAITING, now), (MessageState.SENT, now)]
    assert waiting.pk < sent.pk


def test_what_a_person_put_aside_stays_aside(
    administrator: Viewer, hook: Hook, now: datetime
) -> None:
    message = acts.send_test(administrator, hook, at=now)
    aside = {"state": MessageState.PARKED, "reason": "Not wanted."}
    Message.objects.filter(pk=message.pk).update(**aside)
    acts.stop(administrator, hook, at=now)
    acts.start(administrator, hook, at=now)
    assert Message.objects.values("state", "reason").get() == aside


def test_switching_twice_is_refused(
    administrator: Viewer, hook: Hook, now: datetime
) -> None:
    with pytest.raises(Refused, match="on already"):
        acts.start(administrator, hook, at=now)
    acts.stop(administrator, hook, at=now)
    with pytest.raises(Refused, match="off already"):
        acts.stop(administrator, hook, at=now)
    with pytest.raises(Refused, match="Switch it on before"):
        acts.send_test(administrator, hook, at=now)


def test_a_test_event_is_about_no_engine(
    administrator: Viewer, hook: Hook, now: datetime
) -> None:
    first = acts.send_test(administrator, hook, at=now)
    second = acts.send_test(administrator, hook, at=now)
    assert first.dedupe_key != second.dedupe_key
    assert (first.engine, first.state) == (None, MessageState.WAITING)
    body = json.loads(first.text)
    assert (body["v"], body["kind"], body["noted_at"]) == (1, "test", now.isoformat())


ACTS = [
    lambda who, hook, at: acts.renew_secret(who, hook),
    lambda who, hook, at: acts.stop(who, hook, at=at),
    lambda who, hook, at: acts.start(who, hook, at=at),
    lambda who, hook, at: acts.send_test(who, hook, at=at),
]


@pytest.mark.parametrize("act", ACTS)
def test_only_an_administrator_of_the_station_does_it(
    hook: Hook,
    inspector: Viewer,
    stranger: Viewer,
    now: datetime,
    act: Callable[[Viewer, Hook, datetime], object],
) -> None:
    before = list(Hook.objects.values())
    with pytest.raises(Forbidden):
        act(inspector, hook, now)
    with pytest.raises(Hook.DoesNotExist):
        act(stranger, hook, now)
    assert list(Hook.objects.values()) == before
    assert not Message.objects.exists()


def test_only_an_administrator_adds_one(inspector: Viewer, now: datetime) -> None:
    with pytest.raises(Forbidden):
        acts.add_hook(inspector, url=URL, at=now)
    assert not Hook.objects.exists()


def test_the_list_says_what_came_of_the_last_try(
    administrator: Viewer, hook: Hook, stranger: Viewer, now: datetime
) -> None:
    assert [(h.last_at, h.waiting) for h in hooks_for_page(administrator)] == [
        (None, 0)
    ]
    message = acts.send_test(administrator, hook, at=now)
    acts.send_test(administrator, hook, at=now)
    for minutes, reply in ((5, "It answered 500."), (9, "It answered 503.")):
        at = now + timedelta(minutes=minutes)
        Attempt.objects.create(
            message=message, started_at=at, ended_at=at, outcome="later", reply=reply
        )
    [shown] = hooks_for_page(administrator)
    assert (shown.last_reply, shown.waiting) == ("It answered 503.", 2)
    assert shown.last_at == now + timedelta(minutes=9)
    assert list(hooks_for_page(stranger)) == []

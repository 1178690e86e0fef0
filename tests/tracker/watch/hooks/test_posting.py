"""A message posted to a real receiver, and how its webhook stands after each answer."""

from __future__ import annotations

import functools
import logging
import socket
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine

from tests.tracker.watch.hooks.receiver import Receiver
from tests.tracker.watch.hooks.test_signing import Verify, verify
from tracker.accounts.access import Viewer
from tracker.watch.delivery.answers import Outcome
from tracker.watch.hooks import acts, connecting
from tracker.watch.hooks.posting import Webhooks, post
from tracker.watch.hooks.signing import secret_of
from tracker.watch.models import Hook, Message, MessageState

__all__ = ["verify"]
pytestmark = [pytest.mark.django_db, pytest.mark.both]
DAY = timedelta(days=1)


@pytest.fixture
def message(administrator: Viewer, hook: Hook, now: datetime) -> Message:
    return acts.send_test(administrator, hook, at=now)


def test_what_is_posted_is_taken_and_can_be_checked(
    receiver: Receiver, hook: Hook, message: Message, now: datetime, verify: Verify
) -> None:
    with time_machine.travel(now, tick=False):
        answer = post(message)
    assert (answer.outcome, answer.code, answer.reply) == (
        Outcome.SENT,
        200,
        "It answered 200.",
    )
    [posted] = receiver.posted
    assert posted.body == message.text.encode()
    assert posted.headers["content-type"] == "application/json"
    assert posted.headers["idempotency-key"] == f'"{message.public_id}"'
    secret, url = secret_of(hook), receiver.url
    late = now.timestamp() + 2
    assert verify(secret, url, posted.headers, posted.body, late)
    assert not verify(secret, url, posted.headers, posted.body, late + 600)


def test_every_try_has_the_same_key_and_a_signature_of_its_own(
    receiver: Receiver, message: Message, now: datetime
) -> None:
    for minutes in (0, 5):
        with time_machine.travel(now + timedelta(minutes=minutes), tick=False):
            post(message)
    first, second = receiver.posted
    assert first.headers["idempotency-key"] == second.headers["idempotency-key"]
    assert first.headers["signature"] != second.headers["signature"]


def test_after_a_new_secret_the_old_one_proves_nothing(
    receiver: Receiver,
    administrator: Viewer,
    hook: Hook,
    message: Message,
    now: datetime,
    verify: Verify,
) -> None:
    old = secret_of(hook)
    new = acts.renew_secret(administrator, hook)
    with time_machine.travel(now, tick=False):
        post(message)
    [posted] = receiver.posted
    known = (receiver.url, posted.headers, posted.body, now.timestamp())
    assert (verify(old, *known), verify(new, *known)) == (False, True)


@pytest.mark.parametrize(
    ("status", "outcome"),
    [
        (200, Outcome.SENT),
        (204, Outcome.SENT),
        (301, Outcome.LATER),
        (400, Outcome.LATER),
        (401, Outcome.LATER),
        (404, Outcome.LATER),
        (429, Outcome.LATER),
        (500, Outcome.LATER),
        (503, Outcome.LATER),
    ],
)
def test_a_status_says_whether_it_was_taken(
    receiver: Receiver, hook: Hook, message: Message, status: int, outcome: Outcome
) -> None:
    receiver.status = status
    answer = post(message)
    assert (answer.outcome, answer.code) == (outcome, status)
    hook.refresh_from_db()
    assert (hook.failing_since is None) == (outcome is Outcome.SENT)
    assert hook.off_at is None


def test_nothing_of_an_answer_is_kept(
    receiver: Receiver, hook: Hook, message: Message
) -> None:
    receiver.status = 500
    answer = post(message)
    hook.refresh_from_db()
    assert "thanks" not in answer.reply + hook.off_reason


def test_a_redirect_is_not_followed(
    receiver: Receiver, certificate: Path, message: Message
) -> None:
    with Receiver(certificate) as elsewhere:
        receiver.status, receiver.location = 307, elsewhere.url
        answer = post(message)
        assert elsewhere.posted == []
    assert (answer.outcome, answer.code) == (Outcome.LATER, 307)
    assert answer.reply == "It answered 307. A redirect is not followed."


def test_gone_for_good_switches_it_off_at_once(
    receiver: Receiver, administrator: Viewer, hook: Hook, message: Message
) -> None:
    other = acts.send_test(administrator, hook, at=message.created_at)
    receiver.status = 410
    answer = post(message)
    assert (answer.outcome, answer.code) == (Outcome.REFUSED, 410)
    assert answer.reply == "The webhook is switched off."
    hook.refresh_from_db()
    assert hook.off_at is not None
    assert hook.off_reason == "The receiver says that it is gone for good (410)."
    other.refresh_from_db()
    assert (other.state, other.reason) == (MessageState.PARKED, answer.reply)


def test_three_days_of_failures_switch_it_off(
    receiver: Receiver, hook: Hook, message: Message, now: datetime
) -> None:
    receiver.status = 500
    for after in (timedelta(0), DAY, 3 * DAY - timedelta(seconds=1)):
        with time_machine.travel(now + after, tick=False):
            post(message)
        hook.refresh_from_db()
        assert (hook.failing_since, hook.off_at) == (now, None)
    with time_machine.travel(now + 3 * DAY, tick=False):
        assert post(message).outcome is Outcome.REFUSED
    hook.refresh_from_db()
    assert (hook.failing_since, hook.off_at) == (now, now + 3 * DAY)
    assert hook.off_reason == (
        "Nothing was taken for 3 days. The last answer: It answered 500."
    )


def test_one_that_is_taken_lets_the_days_begin_anew(
    receiver: Receiver, hook: Hook, message: Message, now: datetime
) -> None:
    for status, after in ((500, 0 * DAY), (200, 2 * DAY), (500, 3 * DAY)):
        receiver.status = status
        with time_machine.travel(now + after, tick=False):
            post(message)
    hook.refresh_from_db()
    assert (hook.failing_since, hook.off_at) == (now + 3 * DAY, None)


def test_to_one_that_is_off_nothing_is_posted(
    receiver: Receiver,
    administrator: Viewer,
    hook: Hook,
    message: Message,
    now: datetime,
) -> None:
    acts.stop(administrator, hook, at=now)
    answer = post(message)
    assert (answer.outcome, answer.code) == (Outcome.REFUSED, None)
    assert answer.reply == "The webhook is switched off."
    assert receiver.posted == []


def test_one_without_an_answer_is_asked_once_in_a_batch(
    administrator: Viewer, hook: Hook, message: Message, now: datetime
) -> None:
    asked: list[str] = []

    def nowhere(host: str, port: int) -> list[str]:
        asked.append(host)
        raise socket.gaierror(socket.EAI_NONAME, "Name or service not known")

    second = acts.send_test(administrator, hook, at=now)
    batch = Webhooks(nowhere)
    assert batch.send(message) == batch.send(second)
    assert asked == ["localhost"]
    Webhooks(nowhere).send(second)
    assert asked == ["localhost"] * 2


def test_one_with_an_answer_is_asked_again_in_the_same_batch(
    receiver: Receiver, hook: Hook, message: Message
) -> None:
    receiver.status = 500
    batch = Webhooks()
    batch.send(message)
    batch.send(message)
    assert len(receiver.posted) == 2


@pytest.mark.parametrize(
    ("failing", "minutes"),
    [
        (None, 1),
        (timedelta(minutes=4), 1),
        (timedelta(minutes=80), 10),
        (timedelta(hours=40), 60),
    ],
)
def test_what_waits_for_one_without_an_answer_stands_back(
    hook: Hook,
    message: Message,
    now: datetime,
    failing: timedelta | None,
    minutes: int,
) -> None:
    since = None if failing is None else now - failing
    Hook.objects.filter(pk=hook.pk).update(failing_since=since)
    with time_machine.travel(now, tick=False):
        post(message, resolve=lambda host, port: [])
    message.refresh_from_db()
    assert message.not_before == now + timedelta(minutes=minutes)


def at_addresses(*rounds: list[str]) -> Callable[[str, int], list[str]]:
    following = iter(rounds)
    return lambda host, port: next(following)


@pytest.mark.parametrize(
    "second", [["127.0.0.1"], ["8.8.8.8", "10.0.0.1"], ["::ffff:127.0.0.1"]], ids=str
)
def test_a_name_that_resolves_otherwise_the_second_time_is_refused_then(
    receiver: Receiver,
    hook: Hook,
    message: Message,
    monkeypatch: pytest.MonkeyPatch,
    second: list[str],
) -> None:
    """The first try goes to a public address, which here leads to nobody."""
    connected: list[Any] = []

    def refuse(target: object, addresses: list[str], **_: object) -> int:
        connected.append(addresses)
        raise ConnectionRefusedError

    monkeypatch.setattr("tracker.watch.hooks.posting.exchange", refuse)
    Hook.objects.filter(pk=hook.pk).update(url="https://systems.shop.example/")
    resolve = at_addresses(["8.8.8.8"], second)
    first = post(message, resolve=resolve)
    again = post(message, resolve=resolve)
    assert connected == [["8.8.8.8"]]
    assert first.reply == "It took no connection, or broke it off."
    assert "not public" in again.reply
    assert {first.outcome, again.outcome} == {Outcome.LATER}


def test_what_the_installation_allows_no_longer_is_refused(
    receiver: Receiver, hook: Hook, message: Message, settings: Any
) -> None:
    settings.WEBHOOK_HOSTS = []
    assert "Name the host" in post(message).reply
    assert receiver.posted == []


def test_a_host_that_is_not_found_is_tried_later(hook: Hook, message: Message) -> None:
    def nowhere(host: str, port: int) -> list[str]:
        raise socket.gaierror(socket.EAI_NONAME, "Name or service not known")

    answer = post(message, resolve=nowhere)
    assert (answer.outcome, answer.code) == (Outcome.LATER, None)
    assert answer.reply == "Its host was not found."


@pytest.mark.parametrize(
    ("act", "tls", "words"),
    [
        (
            lambda one: (one.recv(65536), one.sendall(b"220 mail.example\r\n")),
            False,
            "It does not agree on TLS.",
        ),
        (lambda one: one.recv(1), False, "It took no connection, or broke it off."),
        (
            lambda one: (one.recv(65536), one.sendall(b"HELO\r\n\r\n")),
            True,
            "It gave no answer of HTTP: it does not begin as an answer of HTTP does.",
        ),
    ],
    ids=["no TLS", "broken off", "no HTTP"],
)
def test_what_is_no_receiver_is_said_in_words(
    administrator: Viewer,
    raw_server: Callable[..., str],
    now: datetime,
    act: Callable[[socket.socket], None],
    tls: bool,
    words: str,
) -> None:
    hook, _ = acts.add_hook(administrator, url=raw_server(act, tls=tls), at=now)
    answer = post(acts.send_test(administrator, hook, at=now))
    assert (answer.outcome, answer.code, answer.reply) == (Outcome.LATER, None, words)


def test_a_certificate_that_proves_nothing_is_said_in_words(
    receiver: Receiver, message: Message, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SSL_CERT_FILE")
    words = "Its certificate does not prove that it is this host."
    assert post(message).reply == words
    assert receiver.posted == []


def test_a_silent_receiver_is_said_in_words(
    administrator: Viewer,
    raw_server: Callable[..., str],
    now: datetime,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    quick = functools.partial(connecting.exchange, seconds=0.2)
    monkeypatch.setattr("tracker.watch.hooks.posting.exchange", quick)
    url = raw_server(lambda one: one.recv(65536) and one.recv(65536))
    hook, _ = acts.add_hook(administrator, url=url, at=now)
    answer = post(acts.send_test(administrator, hook, at=now))
    assert answer.reply == "It did not answer in time."


def test_no_log_names_the_address_or_the_secret(
    receiver: Receiver, hook: Hook, message: Message, caplog: pytest.LogCaptureFixture
) -> None:
    receiver.status = 500
    with caplog.at_level(logging.DEBUG):
        post(message)
    assert f"webhook {hook.pk}" in caplog.text
    assert secret_of(hook) not in caplog.text
    assert "localhost" not in caplog.text

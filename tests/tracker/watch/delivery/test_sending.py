"""What follows from what a mail server says, over real sockets.

Meaning of the codes: RFC 5321 4.2 and 4.3.2, RFC 3463; of a cut line: RFC 1047. What
follows for the message is common practice, no source.
"""

from __future__ import annotations

import ssl
import threading
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from tests.sink import CUT, Sink
from tests.tracker.watch.delivery.conftest import end_leases
from tracker.fleet.models import Owner, Preference
from tracker.watch.delivery import Delivered, claiming, deliver_due, marking
from tracker.watch.delivery.answers import Outcome
from tracker.watch.models import Attempt, Channel, Message, MessageState

pytestmark = [pytest.mark.both, pytest.mark.django_db]
Write = Callable[..., Message]
Send = Callable[..., Delivered]
MINUTE = timedelta(minutes=1)


def outcomes(message: Message) -> list[str]:
    return list(message.tries.values_list("outcome", flat=True))


def test_what_is_due_is_taken_and_marked(
    sink: Sink, mail: Write, send: Send, now: datetime
) -> None:
    message = mail()
    assert send().as_counts() == {"sent": 1}
    message.refresh_from_db()
    assert (message.state, message.attempts, message.unsure) == ("sent", 1, 0)
    assert message.sent_at is not None
    assert timedelta(0) <= message.sent_at - now < MINUTE
    assert message.claim is None
    assert message.reply == "2.0.0 taken"
    [tried] = message.tries.all()
    assert (tried.outcome, tried.code) == ("sent", 250)
    [taken] = sink.taken
    assert taken.recipients == ("l.marrow@post.example",)
    assert taken.sender == "tracker@localhost"
    assert not send()


def test_what_is_not_due_or_held_waits(
    sink: Sink, mail: Write, send: Send, now: datetime
) -> None:
    mail(at=now + MINUTE)
    mail(held="Read it first.")
    assert not send()
    assert send(at=now + MINUTE).as_counts() == {"sent": 1}


def test_mails_go_in_order_in_one_session(sink: Sink, mail: Write, send: Send) -> None:
    written = [mail() for _ in range(3)]
    assert send(most=2).as_counts() == {"sent": 2}
    assert sink.sessions == 1
    send(most=2)
    assert [one.message_id for one in sink.taken] == [m.message_id for m in written]


REPLIES = [
    # at, the server says, state, outcome, tries counted, tried again
    ("rcpt", "450 4.2.0 greylisted", "waiting", "later", 1),
    ("rcpt", "451 try later", "waiting", "later", 1),
    ("rcpt", "452 4.2.2 full", "waiting", "later", 1),
    ("rcpt", "550 5.1.1 unknown", "failed", "refused", 1),
    ("rcpt", "550 no such user", "failed", "refused", 1),
    ("rcpt", "553 5.1.3 no address", "failed", "refused", 1),
    ("rcpt", "550 5.7.1 relaying denied", "waiting", "ours", 0),
    ("rcpt", "553 5.1.8 sender unknown", "waiting", "ours", 0),
    ("rcpt", "530 5.7.0 sign in", "waiting", "ours", 0),
    ("rcpt", "421 4.3.2 shutting down", "waiting", "ours", 0),
    ("rcpt", CUT, "waiting", "ours", 0),
    ("mail", "451 4.3.0 busy", "waiting", "ours", 0),
    ("mail", "550 5.7.1 not you", "waiting", "ours", 0),
    ("data", "451 4.7.1 later", "waiting", "later", 1),
    ("data", "421 4.3.2 shutting down", "waiting", "ours", 0),
    ("data", "550 5.7.1 looks like spam", "waiting", "ours", 0),
    ("data", "550 refused", "waiting", "ours", 0),
    ("data", "550 5.1.1 unknown", "failed", "refused", 1),
    ("data", "552 5.3.4 too big", "parked", "broken", 1),
    ("data", "554 no", "parked", "broken", 1),
    ("data", CUT, "unsure", "unsure", 0),
]


@pytest.mark.parametrize(("stage", "reply", "state", "outcome", "attempts"), REPLIES)
def test_what_follows_from_each_answer(
    sink: Sink,
    mail: Write,
    send: Send,
    now: datetime,
    stage: str,
    reply: str,
    state: str,
    outcome: str,
    attempts: int,
) -> None:
    message = mail()
    setattr(sink, f"at_{stage}", lambda _: reply)
    assert send().as_counts() == {outcome: 1}
    message.refresh_from_db()
    assert (message.state, message.attempts) == (state, attempts)
    assert outcomes(message) == [outcome]
    assert message.unsure == (outcome == "unsure")
    if reply != CUT:
        [tried] = message.tries.all()
        assert tried.code == int(reply[:3])
        assert message.reply == tried.reply == reply[4:]
    if state == "waiting":
        is_passed_over = message.not_before >= now
        assert is_passed_over == (stage != "mail"), "who said nothing keeps its turn"
        assert message.not_before <= now + 2 * MINUTE
        setattr(sink, f"at_{stage}", lambda _: "250 OK")
        assert send(at=now + 2 * MINUTE).as_counts() == {"sent": 1}
    assert len(sink.taken) == (state in ("waiting", "unsure"))


def test_a_server_that_is_away_does_not_count_against_a_message(
    sink: Sink, mail: Write, send: Send, now: datetime
) -> None:
    message = mail()
    sink.stop()
    assert send().as_counts() == {"ours": 1}
    message.refresh_from_db()
    assert (message.state, message.attempts, message.unsure) == ("waiting", 0, 0)
    assert "refused" in message.reply
    sink.start()
    assert send(at=now + 2 * MINUTE).as_counts() == {"sent": 1}


@pytest.mark.filterwarnings("ignore:Requiring AUTH while not requiring TLS")
def test_a_wrong_password_is_our_fault(
    settings: Any, sink: Sink, mail: Write, send: Send
) -> None:
    sink.stop()
    sink.password = "right"
    sink.start()
    settings.EMAIL_HOST_USER, settings.EMAIL_HOST_PASSWORD = "post", "wrong"
    message = mail()
    assert send().as_counts() == {"ours": 1}
    message.refresh_from_db()
    assert (message.state, message.attempts) == ("waiting", 0)
    assert message.tries.get().code == 535
    settings.EMAIL_HOST_PASSWORD = "right"
    assert send(at=message.not_before).as_counts() == {"sent": 1}


def test_mail_goes_encrypted_to_a_server_that_proves_who_it_is(
    settings: Any,
    certificate: Path,
    sink: Sink,
    mail: Write,
    send: Send,
    monkeypatch: pytest.MonkeyPatch,
    now: datetime,
) -> None:
    sink.stop()
    sink.tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    sink.tls.load_cert_chain(certificate)
    sink.start()
    settings.EMAIL_HOST = "localhost"
    message = mail()
    assert send().as_counts() == {"ours": 1}, "without STARTTLS"
    assert message.tries.get().code == 530
    settings.EMAIL_USE_TLS = True
    assert send().as_counts() == {"ours": 1}, "nobody we trust signed for it"
    assert not sink.taken
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate))
    assert send().as_counts() == {"sent": 1}


def test_a_cut_line_repeats_the_same_bytes_after_the_lease(
    sink: Sink, mail: Write, send: Send, now: datetime
) -> None:
    message = mail()
    sink.at_data = lambda _: CUT
    assert send().as_counts() == {"unsure": 1}
    sink.at_data = lambda _: "250 OK"
    assert not send(at=now + 10 * MINUTE), "the lease has not run out"
    end_leases()
    assert send(at=now + MINUTE).as_counts() == {"sent": 1}
    first, second = sink.taken
    assert first.content == second.content
    assert first.message_id == message.message_id
    message.refresh_from_db()
    assert (message.state, message.attempts, message.unsure) == ("sent", 1, 1)
    assert outcomes(message) == ["unsure", "sent"]


def test_a_line_that_is_always_cut_ends_after_three_times(
    sink: Sink, mail: Write, send: Send
) -> None:
    message = mail()
    sink.at_data = lambda _: CUT
    for _ in range(marking.MOST_UNSURE):
        assert send().as_counts() == {"unsure": 1}
        end_leases()
    assert send().as_counts() == {"parked": 1}
    message.refresh_from_db()
    assert (message.state, message.unsure) == ("parked", 3)
    assert message.reason == "3 tries ended without an answer."
    assert len(sink.taken) == 3


def test_a_message_whose_sender_dies_three_times_is_put_aside(
    sink: Sink, mail: Write, send: Send, now: datetime
) -> None:
    """Only the one in hand is blamed; the others of the batch go on."""
    killer, other = mail(), mail()
    for _ in range(marking.MOST_UNSURE):
        claimed = claiming.claim(
            Channel.MAIL, at=now, most=20, lease=timedelta(seconds=300)
        )
        assert claiming.begin(claimed.messages[0], claimed)
        end_leases()
    assert send().as_counts() == {"parked": 1, "sent": 1}
    killer.refresh_from_db()
    other.refresh_from_db()
    assert (killer.state, killer.unsure) == ("parked", 3)
    assert outcomes(killer) == ["unsure"] * 3
    assert (other.state, other.unsure) == ("sent", 0)
    assert outcomes(other) == ["sent"]


def test_what_cannot_be_sent_is_put_aside_and_the_next_goes_on(
    sink: Sink, mail: Write, send: Send
) -> None:
    broken = mail(address="kärl@post.example")
    fine = mail()
    assert send().as_counts() == {"broken": 1, "sent": 1}
    broken.refresh_from_db()
    assert (broken.state, fine.message_id) == ("parked", sink.taken[0].message_id)
    assert "The address has signs that mail servers do not know." in broken.reason


@pytest.mark.parametrize(
    ("tries", "hours", "reason"),
    [
        (11, 1, "It was tried 12 times."),
        (0, 73, "It was written more than 72 hours ago, and not taken since."),
        (10, 71, ""),
    ],
)
def test_what_is_not_taken_in_the_end_is_put_aside(
    sink: Sink,
    mail: Write,
    send: Send,
    now: datetime,
    tries: int,
    hours: int,
    reason: str,
) -> None:
    message = mail(at=now - timedelta(hours=hours))
    Message.objects.update(attempts=tries)
    sink.at_rcpt = lambda _: "450 later"
    assert send().as_counts() == {"later": 1}
    message.refresh_from_db()
    assert (message.state, message.reason) == (
        "parked" if reason else "waiting",
        reason,
    )


def test_an_old_message_is_tried_all_the_same(
    sink: Sink, mail: Write, send: Send, now: datetime
) -> None:
    """What a sender that stood still for days left behind is not thrown away unseen."""
    mail(at=now - timedelta(days=7))
    assert send().as_counts() == {"sent": 1}


def test_the_wait_grows_to_a_limit_and_is_drawn_anew() -> None:
    for tries, most in [(0, 60), (1, 120), (5, 1920), (7, 7200), (11, 7200)]:
        waits = [marking.wait_seconds(tries) for _ in range(300)]
        assert 0 <= min(waits) < most * 0.1
        assert most * 0.9 < max(waits) <= most


def test_a_refused_address_is_noted_at_its_owner(
    sink: Sink, mail: Write, send: Send, owner: Owner, now: datetime
) -> None:
    message = mail()
    sink.at_rcpt = lambda _: "550 5.1.1 unknown"
    send()
    noted = Preference.objects.get(owner=owner)
    assert noted.refused_address == "l.marrow@post.example"
    assert noted.refused_reply == "5.1.1 unknown"
    assert noted.refused_at == message.tries.get().ended_at


def test_an_address_that_was_changed_meanwhile_is_not_blamed(
    sink: Sink, mail: Write, send: Send, owner: Owner
) -> None:
    mail()
    Owner.objects.filter(pk=owner.pk).update(email="new@post.example")
    sink.at_rcpt = lambda _: "550 5.1.1 unknown"
    send()
    assert not Preference.objects.filter(owner=owner).exists()


def test_after_five_failures_of_ours_one_probes_now_and_then(
    sink: Sink, mail: Write, send: Send, now: datetime
) -> None:
    """The pauses: 60 s, doubling to 10 min."""
    for _ in range(30):
        mail()
    sink.at_mail = lambda _: "550 5.7.1 not you"
    assert send().as_counts() == {"ours": 5}
    assert Message.objects.filter(state=MessageState.WAITING).count() == 30
    at = now
    for pause in (60, 120, 240, 480, 600, 600):
        last = Attempt.objects.latest("pk").ended_at
        assert not send(at=last + timedelta(seconds=pause - 1))
        at = last + timedelta(seconds=pause)
        assert send(at=at).as_counts() == {"ours": 1}
    assert set(Message.objects.values_list("attempts", flat=True)) == {0}
    sink.at_mail = lambda _: "250 OK"
    at += timedelta(minutes=10, seconds=1)
    assert send(at=at).as_counts() == {"sent": 1}, "the probe"
    assert send(at=at).as_counts() == {"sent": 20}
    assert not send(at=now - timedelta(days=1)), "nothing was due yesterday"


def test_one_that_the_server_never_lets_through_does_not_stop_the_others(
    sink: Sink, mail: Write, send: Send, now: datetime
) -> None:
    bad = mail(address="bad@post.example")
    for _ in range(5):
        mail()
    sink.at_rcpt = lambda to: "550 5.7.1 no" if to.startswith("bad") else "250 OK"
    assert send().as_counts() == {"ours": 1, "sent": 5}
    at = now
    for _ in range(8):
        at += timedelta(minutes=11)
        send(at=at)
    mail(at=at)
    at += timedelta(minutes=11)
    found = send(at=at).as_counts()
    at += timedelta(minutes=11)
    assert {**found, **send(at=at).as_counts()}["sent"] == 1
    bad.refresh_from_db()
    assert (bad.state, bad.attempts) == ("waiting", 0)


def test_a_clock_that_was_set_back_does_not_close_a_channel(
    sink: Sink, mail: Write, send: Send, now: datetime
) -> None:
    for _ in range(6):
        mail(at=now - timedelta(days=2))
    sink.at_mail = lambda _: "550 5.7.1 not you"
    send()
    sink.at_mail = lambda _: "250 OK"
    assert send(at=now - timedelta(days=1)).as_counts() == {"sent": 1}


def test_a_lost_lease_changes_nothing_but_is_counted_as_a_try(
    sink: Sink, mail: Write, send: Send
) -> None:
    """Somebody else has it, or it was put aside, while it was on its way."""
    message = mail()
    real = claiming.begin

    def begin_and_lose(one: Message, claimed: claiming.Claim) -> bool:
        begun = real(one, claimed)
        Message.objects.filter(pk=one.pk).update(
            state=MessageState.PARKED, claim=None, lease_until=None, reason="Taken out."
        )
        return begun

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("tracker.watch.delivery.sending.begin", begin_and_lose)
        assert send().as_counts() == {"lost": 1}
    message.refresh_from_db()
    assert (message.state, message.reason) == ("parked", "Taken out.")
    assert message.tries.get().outcome == Outcome.SENT
    assert message.tries.get().reply == ""


def test_what_was_put_aside_after_the_claim_is_not_sent(
    sink: Sink, mail: Write, send: Send
) -> None:
    first, second = mail(), mail()

    def put_aside_meanwhile() -> bool:
        if sink.taken:
            Message.objects.filter(pk=second.pk).update(
                state=MessageState.PARKED, claim=None, lease_until=None
            )
        return False

    assert send(stop=put_aside_meanwhile).as_counts() == {"sent": 1, "lost": 1}
    assert [one.message_id for one in sink.taken] == [first.message_id]


def test_a_sender_that_is_told_to_stop_gives_back_the_rest(
    sink: Sink, mail: Write, send: Send
) -> None:
    for _ in range(3):
        mail()
    assert send(stop=lambda: len(sink.taken) == 1).as_counts() == {"sent": 1}
    waiting = Message.objects.filter(state=MessageState.WAITING, claim=None)
    assert waiting.count() == 2
    assert set(waiting.values_list("unsure", flat=True)) == {0}


def test_nothing_is_begun_once_most_of_the_lease_is_used(
    sink: Sink, mail: Write, send: Send
) -> None:
    for _ in range(3):
        mail()
    lease = timedelta(seconds=0.5)

    def slow(_: str) -> str:
        time.sleep(0.35)
        return "250 OK"

    sink.at_data = slow
    assert send(lease=lease).as_counts() == {"sent": 1}
    assert Message.objects.filter(state=MessageState.WAITING, claim=None).count() == 2


def test_a_session_that_ended_between_two_mails_is_opened_again(
    sink: Sink, mail: Write, send: Send
) -> None:
    for _ in range(3):
        mail()
    said = iter(["250 OK", "421 4.7.0 enough for one session", "250 OK", CUT])
    sink.at_mail = lambda _: next(said, "250 OK")
    assert send().as_counts() == {"sent": 3}
    assert len(sink.taken) == 3
    assert sink.sessions == 3


def test_so_many_mails_a_second_are_sent_at_most(
    settings: Any, sink: Sink, mail: Write, send: Send
) -> None:
    settings.MAIL_RATE = 10
    for _ in range(3):
        mail()
    begun = time.monotonic()
    send()
    assert time.monotonic() - begun >= 0.3


def test_all_that_is_due_goes_in_one_call(
    sink: Sink, mail: Write, now: datetime
) -> None:
    for _ in range(45):
        mail()
    assert deliver_due(now).as_counts() == {"sent": 45}
    assert set(sink.copies.values()) == {1}


@pytest.mark.django_db(transaction=True)
def test_two_senders_at_once_send_each_message_once(
    sink: Sink, mail: Write, send: Send
) -> None:
    written = {mail().message_id for _ in range(60)}
    start = threading.Barrier(2)
    counted: list[Delivered] = []

    def run() -> None:
        start.wait()
        while done := send(most=5):
            counted.append(done)
        connection.close()

    senders = [threading.Thread(target=run) for _ in range(2)]
    for one in senders:
        one.start()
    for one in senders:
        one.join()
    assert sink.copies == dict.fromkeys(written, 1)
    assert sum(done.as_counts()["sent"] for done in counted) == 60


@pytest.mark.sqlite_only
def test_what_is_due_is_found_without_reading_what_was_sent(now: datetime) -> None:
    plan = Message.objects.due(now).filter(channel=Channel.MAIL).explain()
    assert "USING INDEX watch_message_due" in plan
    assert "SCAN watch_message" not in plan


def test_the_queries_of_a_batch_do_not_grow_with_what_waits(
    sink: Sink, mail: Write, send: Send, django_assert_num_queries: Any
) -> None:
    for _ in range(9):
        mail()
    claimed = claiming.claim(
        Channel.MAIL, at=datetime.now().astimezone(), most=9, lease=timedelta(300)
    )
    assert len(claimed.messages) == 9
    claiming.give_back(claimed)
    with django_assert_num_queries(4):  # the due, and claimed, within a savepoint
        claiming.claim(
            Channel.MAIL, at=datetime.now().astimezone(), most=9, lease=timedelta(300)
        )

"""Sender processes killed while they send: no mail is lost, and hardly one comes twice.

At full size, and with more that can fail: tests/bench/bench_outbox.py.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from tests.factories.fleet import OwnerFactory
from tests.senders import Senders
from tests.services.test_worker import database
from tests.sink import CUT, TAKEN, Sink
from tracker.accounts.models import Station
from tracker.watch import outbox
from tracker.watch.models import Message, MessageState

pytestmark = [
    pytest.mark.services,
    pytest.mark.both,
    pytest.mark.django_db(transaction=True),
]
MAILS, KILLS = 90, 2
PATIENCE_SECONDS = 120
GOING = (MessageState.WAITING, MessageState.SENDING, MessageState.UNSURE)


@pytest.fixture
def written(station: Station, now: datetime) -> set[str]:
    owner = OwnerFactory(station=station, email="l.marrow@post.example")
    letters = [
        outbox.Letter(
            station=station,
            owner=owner,
            kind="digest",
            key=f"digest|{n}",
            address=owner.email,
            subject=f"Digest {n}",
            text="What is due.\n",
            html="<p>What is due.</p>",
        )
        for n in range(MAILS)
    ]
    messages = outbox.put_all(letters, at=now - timedelta(minutes=1))
    return {message.message_id for message in messages}


def send_with_kills(sink: Sink, folder: Path, now: datetime, *, asks: bool) -> Senders:
    """Let two send until nothing is on its way; one is killed after every thirty mails."""
    marks = [MAILS * (n + 1) // (KILLS + 1) for n in range(KILLS)]

    def kill() -> None:
        if marks and len(sink.taken) >= marks[0]:
            marks.pop(0)
            senders.kill_one()

    def is_over() -> bool:
        enough = len(sink.copies) == MAILS
        return enough and not Message.objects.filter(state__in=GOING).exists()

    with Senders(database(), sink, folder, now, lease=2, asks=asks) as senders:
        over = senders.run(is_over, patience=PATIENCE_SECONDS, meanwhile=kill)
    assert over, (folder / "senders.log").read_text()
    assert senders.kills == KILLS
    return senders


def contents(sink: Sink) -> dict[str, set[bytes]]:
    found: dict[str, set[bytes]] = {}
    for one in sink.taken:
        found.setdefault(one.message_id, set()).add(one.content)
    return found


def test_a_killed_sender_repeats_the_mail_in_hand_or_none(
    written: set[str], now: datetime, tmp_path: Path
) -> None:
    with Sink() as sink:
        send_with_kills(sink, tmp_path, now, asks=False)
    assert set(sink.copies) == written
    assert Message.objects.filter(state=MessageState.SENT).count() == MAILS
    assert sum(sink.copies.values()) - MAILS <= KILLS
    assert {len(some) for some in contents(sink).values()} == {1}, "the same bytes"


def test_where_the_server_can_be_asked_nothing_comes_twice(
    written: set[str], now: datetime, tmp_path: Path
) -> None:
    """It also cuts the line after every twentieth mail that it took."""
    said = iter(range(1, 1_000_000))

    def answer(_: str) -> str:
        return TAKEN if next(said) % 20 else CUT

    with Sink(at_data=answer) as sink:
        send_with_kills(sink, tmp_path, now, asks=True)
    assert sink.cuts >= MAILS // 20
    assert set(sink.copies) == written
    assert set(sink.copies.values()) == {1}
    assert Message.objects.filter(state=MessageState.SENT).count() == MAILS

"""The command that sends: a line for each batch, and an end when told to."""

from __future__ import annotations

from collections.abc import Callable
from io import StringIO
from threading import Event

import pytest
from django.core.management import call_command
from django.db import OperationalError

from tests.sink import Sink
from tracker.watch.delivery import Delivered
from tracker.watch.management.commands import deliver
from tracker.watch.models import Message

pytestmark = pytest.mark.django_db
Write = Callable[..., Message]
Send = Callable[..., Delivered]


def test_once_ends_when_nothing_is_due(sink: Sink, mail: Write) -> None:
    for _ in range(25):
        mail()
    out = StringIO()
    call_command("deliver", "--once", stdout=out)
    lines = out.getvalue().splitlines()
    assert [line[20:] for line in lines] == ["20 sent", "5 sent"]
    assert len(sink.taken) == 25


def test_the_one_in_hand_is_finished_when_told_to_end(sink: Sink, mail: Write) -> None:
    for _ in range(3):
        mail()
    end, said = Event(), list[str]()

    def end_while_sending(_: str) -> str:
        end.set()
        return "250 OK"

    sink.at_data = end_while_sending
    deliver.deliver_until(end, said.append, once=False)
    assert [line[20:] for line in said] == ["1 sent"]
    states = Message.objects.order_by("pk").values_list("state", flat=True)
    assert list(states) == ["sent", "waiting", "waiting"]


def test_a_database_that_is_away_is_waited_for(
    sink: Sink, mail: Write, send: Send, monkeypatch: pytest.MonkeyPatch
) -> None:
    """How it is with a server that really restarts: tests/bench/bench_outbox.py."""
    mail()
    faults = iter([OperationalError("server closed\n  the connection")])

    def away_at_first(stop: Callable[[], bool]) -> Delivered:
        for fault in faults:
            raise fault
        return send(stop=stop)

    monkeypatch.setattr(deliver, "IDLE_SECONDS", 0.01)
    monkeypatch.setattr(deliver.connection, "close", lambda: None)
    said: list[str] = []
    deliver.deliver_until(Event(), said.append, once=True, batch=away_at_first)
    assert said[0] == "The database is away: server closed the connection"
    assert said[1].endswith("1 sent")

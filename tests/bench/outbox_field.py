"""Mails in a database of their own, and what is counted once faults are over."""

from __future__ import annotations

import argparse
import os
import random
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import django

from tests.private_postgresql import PrivatePostgresql
from tests.senders import Senders
from tests.sink import Sink

AT: Final = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)


class Failed(Exception):  # noqa: N818  # it is the experiment that failed
    """An experiment did not end as it must."""


class Field:
    """The database with its mails, and what is counted in the end."""

    def __init__(
        self, url: str, folder: Path, told: argparse.Namespace, server: Any
    ) -> None:
        self.url, self.folder, self.told, self.server = url, folder, told, server
        self.choice = random.Random(told.seed)  # noqa: S311  # to be repeated

    def fill(
        self, *, every: timedelta = timedelta(0), address: str = "m{}@post.example"
    ) -> list[str]:
        """Write so many mails anew, each so long after the one before; their ids."""
        from tests.factories.accounts import StationFactory
        from tests.factories.fleet import OwnerFactory
        from tracker.watch import outbox
        from tracker.watch.models import Attempt, Channel, Message

        Attempt.objects.all().delete()
        Message.objects.all().delete()
        station = StationFactory()
        owners = [OwnerFactory(station=station) for _ in range(20)]
        written = [
            Message(
                station=station,
                owner=owners[n % len(owners)],
                channel=Channel.MAIL,
                kind="digest",
                dedupe_key=f"{station.pk}|{n}",
                address=address.format(n),
                subject=f"Digest {n}",
                text=f"What is due, {n}.\n" * 20,
                html=f"<p>What is due, {n}.</p>\n" * 20,
                message_id=outbox.message_id(),
                not_before=AT + n * every,
                created_at=AT + n * every,
            )
            for n in range(self.told.mails)
        ]
        Message.objects.bulk_create(written, batch_size=500)
        return [message.message_id for message in written]

    def senders(self, sink: Sink, **told: Any) -> Senders:
        return Senders(self.url, sink, self.folder, AT, **told)

    def is_over(self) -> Callable[[], bool]:
        """Whether nothing is on its way any more; asked often, looked up now and then."""
        from django.db import Error, connection

        from tracker.watch.models import Message, MessageState

        going = (MessageState.WAITING, MessageState.SENDING, MessageState.UNSURE)
        looked = time.monotonic()

        def over() -> bool:
            nonlocal looked
            if time.monotonic() - looked < 0.3:
                return False
            looked = time.monotonic()
            try:
                return not Message.objects.filter(state__in=going).exists()
            except Error:
                connection.close()
                return False

        return over

    def kills_at(self, senders: Senders, sink: Sink) -> Callable[[], None]:
        """Kill one each time that another part of the mails has been taken."""
        times = self.told.kills
        marks = [self.told.mails * (n + 0.5) / times for n in range(times)]

        def kill() -> None:
            if marks and len(sink.taken) >= marks[0]:
                time.sleep(self.choice.uniform(0, 0.03))
                marks.pop(0)
                senders.kill_one()

        return kill

    def figures(self, sink: Sink, begun: float) -> dict[str, Any]:
        """What was lost, repeated and tried; the same id with other bytes is a fault."""
        from tracker.watch.models import Attempt, Message, MessageState

        seconds = time.monotonic() - begun
        copies = sink.copies
        sent = Message.objects.filter(state=MessageState.SENT)
        ids = set(sent.values_list("message_id", flat=True))
        contents: dict[str, set[bytes]] = {}
        for one in sink.taken:
            contents.setdefault(one.message_id, set()).add(one.content)
        tries = Attempt.objects.count()
        unanswered = Attempt.objects.filter(outcome="unsure").count()
        return {
            "mails": self.told.mails,
            "sent": len(ids),
            "lost": len(ids - set(copies)) + self._unended(),
            "repeated": sum(copies.values()) - len(copies),
            "other_bytes": sum(len(some) > 1 for some in contents.values()),
            "most_copies": max(copies.values(), default=0),
            "unanswered": unanswered,
            "tries_per_mail": round(tries / self.told.mails, 3),
            "most_tries": max(
                Message.objects.values_list("attempts", flat=True), default=0
            ),
            "seconds": round(seconds, 1),
            "per_second": round(len(sink.taken) / seconds, 1),
        }

    def _unended(self) -> int:
        from tracker.watch.models import Message, MessageState

        ended = (MessageState.SENT, MessageState.PARKED, MessageState.FAILED)
        return Message.objects.exclude(state__in=ended).count()


def must(is_so: bool, what: str) -> None:
    if not is_so:
        raise Failed(what)


@contextmanager
def field_of(told: argparse.Namespace) -> Iterator[Field]:
    """An empty database with its tables, in a folder of its own."""
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        server = None
        url = f"sqlite:///{folder}/outbox.sqlite3"
        if told.database == "postgresql":
            server = stack.enter_context(PrivatePostgresql())
            url = server.url
        os.environ |= {
            "DJANGO_SETTINGS_MODULE": "tracker.settings",
            "TRACKER_DATABASE_URL": url,
            "TRACKER_DATA_DIR": str(folder),
        }
        django.setup()
        from django.core.management import call_command
        from django.db import connection

        call_command("migrate", verbosity=0)
        try:
            yield Field(url, folder, told, server)
        finally:
            connection.close()

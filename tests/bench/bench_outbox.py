"""What becomes of messages when senders, mail server, database and clock fail.

Run as `python -m tests.bench.bench_outbox [EXPERIMENT ...] [--mails 10000 --kills 50]
[--database postgresql]`: real sender processes, killed with SIGKILL, a real mail server
and a PostgreSQL of its own. Each experiment prints one line of JSON, and ends the run
with status 1 where a mail was lost, or fewer faults were injected than planned.
"""

# ruff: noqa: T201 - a benchmark prints its figures

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import sys
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
from tests.sink import CUT, TAKEN, Sink

AT: Final = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
PATIENCE: Final = 900
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


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


def _killed(field: Field, sink: Sink, **told: Any) -> dict[str, Any]:
    """Send all of it while senders are killed; what every such experiment asks for."""
    field.fill()
    begun = time.monotonic()
    with field.senders(sink, **told) as senders:
        kill = field.kills_at(senders, sink)
        over = senders.run(field.is_over(), patience=PATIENCE, meanwhile=kill)
        found = {"kills": senders.kills} | field.figures(sink, begun)
    must(over, f"not over after {PATIENCE} s: {found}")
    must(senders.kills == field.told.kills, f"only {senders.kills} kills")
    must(found["lost"] == found["other_bytes"] == 0, f"lost or changed: {found}")
    must(found["sent"] == field.told.mails, f"not all were sent: {found}")
    must(found["unanswered"] > senders.kills / 4, f"hardly killed at work: {found}")
    return found


def kills(field: Field) -> dict[str, Any]:
    """Plain SMTP: a killed sender repeats the one mail that it had in hand, or none."""
    with Sink() as sink:
        found = _killed(field, sink)
    must(found["repeated"] <= found["kills"], f"too many repeats: {found}")
    return found


def kills_asked(field: Field) -> dict[str, Any]:
    """A server that can be asked what it took: nothing is repeated."""
    with Sink() as sink:
        found = _killed(field, sink, asks=True)
    must(found["repeated"] == 0, f"repeated: {found}")
    return found


def refused(field: Field) -> dict[str, Any]:
    """The server refuses three of ten for now; waits pass a minute a second."""

    def answer(_: str) -> str:
        is_refused = field.choice.random() < 0.3
        return "450 4.2.1 later" if is_refused else "250 OK"

    with Sink(at_rcpt=answer) as sink:
        found = _killed(field, sink, speed=60)
    must(found["tries_per_mail"] <= 1.6, f"too many tries: {found}")
    must(found["tries_per_mail"] > 1.3, f"hardly anything was refused: {found}")
    must(found["most_tries"] <= 12, f"one was tried too often: {found}")
    return found


def cut(field: Field) -> dict[str, Any]:
    """The server takes one in a hundred and cuts the line: it comes twice."""
    found = _cut(field)
    must(found["repeated"] == found["cuts"], f"repeats are not the cuts: {found}")
    return found


def cut_asked(field: Field) -> dict[str, Any]:
    found = _cut(field, asks=True)
    must(found["repeated"] == 0, f"repeated: {found}")
    return found


def _cut(field: Field, **told: Any) -> dict[str, Any]:
    with Sink(at_data=lambda _: CUT if field.choice.random() < 0.01 else TAKEN) as sink:
        field.fill()
        begun = time.monotonic()
        with field.senders(sink, **told) as senders:
            over = senders.run(field.is_over(), patience=PATIENCE)
        found = {"cuts": sink.cuts} | field.figures(sink, begun)
    must(over and found["lost"] == found["other_bytes"] == 0, f"lost: {found}")
    must(sink.cuts >= field.told.mails * 0.005, f"too few cuts: {found}")
    return found


def dead(field: Field) -> dict[str, Any]:
    """No server for six hours in which mails are written, five minutes a second."""
    hours = 6
    every = timedelta(hours=hours) / field.told.mails
    speed = 300
    with Sink() as sink:
        sink.stop()
        ids = field.fill(every=every)
        begun = time.monotonic()
        with field.senders(sink, speed=speed) as senders:
            end = AT + timedelta(hours=hours)
            is_out = senders.run(lambda: senders.clock.now() >= end, patience=PATIENCE)
            must(is_out, "the outage did not end")
            during = _outage()
            sink.start()
            senders.run(lambda: bool(sink.taken), patience=PATIENCE)
            waited = senders.clock.now() - end
            senders.clock.set(senders.clock.now())
            back = time.monotonic()
            over = senders.run(field.is_over(), patience=PATIENCE)
            found = field.figures(sink, begun) | during
        found |= {
            "outage_hours": hours,
            "minutes_until_first": round(waited / timedelta(minutes=1), 1),
            "seconds_for_all": round(time.monotonic() - back, 1),
            "overtaken": _overtaken(ids, sink, len(ids) // hours),
        }
    must(over and found["lost"] == found["repeated"] == 0, f"lost: {found}")
    must(found["most_tries"] == 1, f"the outage was counted against mails: {found}")
    must(found["tries_in_outage"] >= 30, f"hardly an outage: {found}")
    must(waited + timedelta(seconds=found["seconds_for_all"]) <= HOUR / 4, f"{found}")
    must(found["overtaken"] == 0, f"out of order: {found}")
    return found


def _outage() -> dict[str, int]:
    from tracker.watch.models import Attempt, Message

    counted = Message.objects.filter(attempts__gt=0).count()
    must(counted == 0, f"{counted} messages were blamed for the outage")
    return {"tries_in_outage": Attempt.objects.count()}


def _overtaken(ids: list[str], sink: Sink, near: int) -> int:
    """Count mails taken after one that was written over an hour, so many mails, later.

    Two senders pass each other by a batch or two, which nobody sees.
    """
    place = {key: n for n, key in enumerate(ids)}
    latest, count = 0, 0
    for one in sink.taken:
        count += place[one.message_id] < latest - near
        latest = max(latest, place[one.message_id])
    return count


def restarts(field: Field) -> dict[str, Any]:
    """The database server is restarted, every other time as by a crash."""
    times = 5
    must(field.server is not None, "needs --database postgresql")
    with Sink() as sink:
        field.fill()
        begun = time.monotonic()
        with field.senders(sink, asks=True) as senders:
            over = field.is_over()
            for n in range(times):
                mark = field.told.mails * (n + 0.5) / times
                senders.run(lambda m=mark: len(sink.taken) >= m, patience=PATIENCE)
                field.server.restart("immediate" if n % 2 else "fast")
            is_over = senders.run(over, patience=PATIENCE)
            found = {"restarts": times, "deaths": senders.deaths}
        found |= field.figures(sink, begun)
    must(is_over and found["lost"] == found["other_bytes"] == 0, f"lost: {found}")
    must(found["repeated"] == 0, f"repeated: {found}")
    must(found["deaths"] == 0, f"a sender did not live through it: {found}")
    return found


def clock(field: Field) -> dict[str, Any]:
    """The clock jumps by an hour and a day, there and back, in senders and database."""
    jumps = [HOUR, -HOUR, -HOUR, HOUR, DAY, -DAY, -DAY, DAY]
    with Sink() as sink:
        field.fill()
        begun = time.monotonic()
        with field.senders(sink) as senders:
            over = field.is_over()
            for n, jump in enumerate(jumps):
                mark = field.told.mails * (n // 2 * 2 + 1 + n % 2 / 9) / len(jumps)
                senders.run(
                    lambda m=mark: len(sink.taken) >= m, patience=2 if n % 2 else 60
                )
                must(not over(), "all was sent before the last jump")
                senders.clock.set(senders.clock.now() + jump)
                _shift_leases(jump)
            is_over = senders.run(over, patience=PATIENCE)
        found = {"jumps": len(jumps)} | field.figures(sink, begun)
    must(is_over and found["lost"] == found["other_bytes"] == 0, f"lost: {found}")
    most = 2 * sum(jump > timedelta(0) for jump in jumps)
    must(found["repeated"] <= most, f"more repeats than leases were freed: {found}")
    return found


def _shift_leases(jump: timedelta) -> None:
    """What a jump of the database's own clock does to leases: they end sooner or later.

    One that a jump backwards made longer ends at the next jump forwards.
    """
    from django.db.models import F

    from tracker.watch.models import Message

    held = Message.objects.filter(lease_until__isnull=False)
    held.update(lease_until=F("lease_until") - jump)


def poison(field: Field) -> dict[str, Any]:
    """One in a hundred can be no mail at all, and one kills whoever sends it."""
    from tracker.watch.models import Message

    with Sink() as sink:
        field.fill()
        numbers = range(field.told.mails)
        keys = list(Message.objects.order_by("pk").values_list("pk", flat=True))
        bad = field.choice.sample(numbers, max(1, field.told.mails // 100) + 1)
        broken = [keys[n] for n in bad[1:]]
        Message.objects.filter(pk__in=broken).update(address="kärl@post.example")
        Message.objects.filter(pk=keys[bad[0]]).update(address="deadly@post.example")
        begun = time.monotonic()
        with field.senders(sink) as senders:
            over = senders.run(field.is_over(), patience=PATIENCE)
            found = {"deaths": senders.deaths} | field.figures(sink, begun)
    parked = Message.objects.filter(state="parked")
    found |= {"broken": len(broken), "parked": parked.count()}
    must(over and found["lost"] == found["repeated"] == 0, f"lost: {found}")
    must(found["deaths"] == 3, f"the killer was tried otherwise than 3 times: {found}")
    must(found["parked"] == len(broken) + 1, f"others were put aside: {found}")
    must(found["sent"] == field.told.mails - len(broken) - 1, f"not sent: {found}")
    return found


EXPERIMENTS: Final[dict[str, Callable[[Field], dict[str, Any]]]] = {
    one.__name__: one
    for one in (
        *(kills, kills_asked, refused, cut, cut_asked),
        *(dead, restarts, clock, poison),
    )
}


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


def main() -> None:
    asked = argparse.ArgumentParser(
        description="What becomes of messages under faults."
    )
    asked.add_argument("experiments", nargs="*", choices=[[], *EXPERIMENTS])
    asked.add_argument("--database", choices=["sqlite", "postgresql"], default="sqlite")
    asked.add_argument("--mails", type=int, default=1000)
    asked.add_argument("--kills", type=int, default=5)
    asked.add_argument("--seed", type=int, default=20261124)
    told = asked.parse_args()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # and clear up behind it
    names = told.experiments or [
        name
        for name in EXPERIMENTS
        if name != "restarts" or told.database == "postgresql"
    ]
    with field_of(told) as field:
        for name in names:
            said = {"experiment": name, "database": told.database, "seed": told.seed}
            try:
                found = EXPERIMENTS[name](field)
            except Failed as fault:
                print(json.dumps(said | {"failed": str(fault)}), flush=True)
                log = (field.folder / "senders.log").read_text(errors="replace")
                print(log[-3000:], file=sys.stderr)
                sys.exit(1)
            print(json.dumps(said | found), flush=True)


if __name__ == "__main__":
    main()

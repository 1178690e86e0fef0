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
import signal
import sys
import time
from collections.abc import Callable
from datetime import timedelta
from typing import Any, Final

from tests.bench.outbox_field import AT, Failed, Field, field_of, must
from tests.sink import CUT, TAKEN, Sink

PATIENCE: Final = 900
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


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

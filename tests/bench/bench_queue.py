"""What becomes of messages when the queue fails: Redis is killed while its worker is busy,
again and again, and emptied once.

Run as `python -m tests.bench.bench_queue [--mails 2000 --kills 6] [--database postgresql]`:
a real worker and a real beat, on a Redis of their own. One line of JSON is printed; the
exit status is 1 where a mail was lost or came twice, where nothing was sent for longer
than a minute (and the minute within which beat ticks), or fewer faults were injected
than planned.
"""

# ruff: noqa: T201 - a benchmark prints its figures

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

from tests.bench.outbox_field import Failed, Field, field_of, must
from tests.private_redis import PrivateRedis
from tests.sink import Sink

A_SECOND: Final = 12
"""So many mails a second, so that a worker is busy for minutes."""
DOWN_SECONDS: Final = 3.0
GOES_ON_WITHIN: Final = 60 + 60
PATIENCE: Final = 1200


class Processes:
    """A worker and a beat, started again whenever one ends, as a supervisor would."""

    def __init__(self, environment: dict[str, str], field: Field) -> None:
        self.environment, self.folder, self.restarts = environment, field.folder, -2
        self.running: dict[str, subprocess.Popen[bytes]] = {}

    def look_after(self) -> None:
        for name in ("worker", "beat"):
            if name not in self.running or self.running[name].poll() is not None:
                self.running[name] = self._start(name)
                self.restarts += 1

    def _start(self, name: str) -> subprocess.Popen[bytes]:
        schedule = ["--schedule", str(self.folder / "beat"), "--pidfile="]
        more = {"worker": ["--concurrency", "2"], "beat": schedule}[name]
        with (self.folder / f"{name}.log").open("ab") as out:
            return subprocess.Popen(  # noqa: S603  # our own interpreter and words
                [
                    *(sys.executable, "-m", "celery", "--app", "tracker", name),
                    *("--loglevel", "INFO", *more),
                ],
                env=self.environment,
                stdout=out,
                stderr=subprocess.STDOUT,
            )

    def stop(self) -> None:
        for one in self.running.values():
            one.terminate()
        for one in self.running.values():
            try:
                one.wait(60)
            except subprocess.TimeoutExpired:
                one.kill()


@contextmanager
def processes(field: Field, redis: PrivateRedis, sink: Sink) -> Iterator[Processes]:
    told = {
        "TRACKER_REDIS_URL": redis.url,
        "TRACKER_EMAIL_URL": f"smtp://127.0.0.1:{sink.port}",
        "TRACKER_MAIL_RATE": str(A_SECOND),
    }
    started = Processes({**os.environ, **told}, field)
    try:
        yield started
    finally:
        started.stop()


def disturbed(field: Field) -> dict[str, Any]:
    """Kill Redis each time that another part of the mails was taken; flush it once."""
    from django.utils import timezone

    from tracker.watch.models import Message, Run

    with Sink() as sink, PrivateRedis() as redis, processes(field, redis, sink) as ours:
        field.fill()
        now = timezone.now()
        Message.objects.update(not_before=now, created_at=now)
        faults = field.told.kills + 1
        marks = [field.told.mails * (n + 0.5) / faults for n in range(faults)]
        kills, flushes, over = 0, 0, field.is_over()
        begun = last = time.monotonic()
        seen, pauses = 0, [0.0]
        while not over() and time.monotonic() - begun < PATIENCE:
            ours.look_after()
            if len(sink.taken) > seen:
                pauses.append(time.monotonic() - last)
                seen, last = len(sink.taken), time.monotonic()
            if marks and seen >= marks[0]:
                marks.pop(0)
                if len(marks) == faults // 2:
                    redis.flush()
                    flushes += 1
                else:
                    redis.kill()
                    kills += 1
                    time.sleep(DOWN_SECONDS)
                    redis.start()
            time.sleep(0.05)
        found = {
            "kills": kills,
            "flushes": flushes,
            "restarts_of_processes": ours.restarts,
            "longest_pause_seconds": round(max(pauses[2:], default=0), 1),
            "runs": Run.objects.count(),
            **field.figures(sink, begun),
        }
    must((kills, flushes) == (field.told.kills, 1), f"fewer faults: {found}")
    must(found["lost"] == 0, f"lost: {found}")
    must(found["repeated"] == 0, f"repeated: {found}")
    must(found["longest_pause_seconds"] <= GOES_ON_WITHIN, f"a long pause: {found}")
    return found


def main() -> int:
    asked = argparse.ArgumentParser(description="What becomes of a failing queue.")
    asked.add_argument("--database", choices=["sqlite", "postgresql"], default="sqlite")
    asked.add_argument("--mails", type=int, default=2000)
    asked.add_argument("--kills", type=int, default=6)
    asked.add_argument("--seed", type=int, default=20261124)
    told = asked.parse_args()
    said = {"experiment": "queue", "database": told.database, "seed": told.seed}
    with field_of(told) as field:
        try:
            print(json.dumps(said | disturbed(field)), flush=True)
        except Failed as fault:
            print(json.dumps(said | {"failed": str(fault)}), flush=True)
            for log in sorted(field.folder.glob("*.log")):
                print(
                    log.name, log.read_text(errors="replace")[-3000:], file=sys.stderr
                )
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())

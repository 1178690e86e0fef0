"""A process that sends, as the command does, with what an experiment needs to be other.

Run as `python -m tests.sender '{"lease": 5, ...}'`. `lease`: in seconds, short, so that
what a killed sender held is soon free. `asks`: the sink is asked by VRFY whether it took
a message. `clock`: a file that says which moment it is meant to be. A mail to an address
that begins with `deadly` kills the process, as a fault in a library would.
"""

from __future__ import annotations

import json
import os
import signal
import smtplib
import sys
import time
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from threading import Event
from typing import Any

import django


@dataclass(frozen=True)
class SimulatedClock:
    """The moment `at` was meant to be when the real clock showed `real`, and since then
    time passes `speed` times as fast."""

    file: Path

    def set(self, at: datetime, *, speed: float = 1) -> None:
        beside = self.file.with_suffix(".new")
        said = {"at": at.isoformat(), "real": time.time(), "speed": speed}
        beside.write_text(json.dumps(said))
        beside.replace(self.file)

    def now(self) -> datetime:
        said = json.loads(self.file.read_text())
        passed = (time.time() - said["real"]) * said["speed"]
        return datetime.fromisoformat(said["at"]) + timedelta(seconds=passed)


def main(told: dict[str, Any]) -> None:
    from tracker.watch.delivery import Delivered, deliver_batch
    from tracker.watch.delivery.answers import Answer
    from tracker.watch.delivery.smtp import Smtp
    from tracker.watch.management.commands import deliver
    from tracker.watch.models import Channel, Message

    class Transport(Smtp):
        def send(self, message: Message) -> Answer:
            if message.address.startswith("deadly"):
                os.kill(os.getpid(), signal.SIGKILL)
            return super().send(message)

        def accepted(self, message: Message) -> bool | None:
            if not told.get("asks"):
                return super().accepted(message)
            where = told["port"]
            with smtplib.SMTP("127.0.0.1", where, "localhost", timeout=10) as session:
                return session.verify(message.message_id)[0] == 250

    clock = SimulatedClock(Path(told["clock"]))
    lease = timedelta(seconds=told["lease"])

    def batch(stop: deliver.Stop) -> Delivered:
        transports = {Channel.MAIL: Transport()}
        return deliver_batch(clock.now(), stop=stop, transports=transports, lease=lease)

    end = Event()
    signal.signal(signal.SIGTERM, lambda *_: end.set())

    def say(line: str) -> None:
        sys.stdout.write(f"{line}\n")
        sys.stdout.flush()

    deliver.IDLE_SECONDS = 0.05  # type: ignore[misc]  # an experiment has no time
    deliver.deliver_until(end, say, once=False, batch=batch)


if __name__ == "__main__":
    django.setup()
    main(json.loads(sys.argv[1]))

"""Processes that send, started again whenever one ends, and killed as told."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from tests.sender import SimulatedClock
from tests.sink import Sink

ROOT = Path(__file__).parent.parent


@dataclass
class Senders:
    """So many sender processes at a time, to the sink, on a database.

    `deaths`: how many ended by themselves or were killed, and were started again.
    """

    database: str
    sink: Sink
    folder: Path
    begin: datetime
    number: int = 2
    lease: float = 5
    asks: bool = False
    speed: float = 1
    kills: int = 0
    deaths: int = 0
    running: list[subprocess.Popen[bytes]] = field(default_factory=list)

    def __enter__(self) -> Senders:
        self.clock = SimulatedClock(self.folder / "clock.json")
        self.clock.set(self.begin, speed=self.speed)
        self.log = (self.folder / "senders.log").open("ab")
        self.running = [self._start() for _ in range(self.number)]
        return self

    def __exit__(self, *_: object) -> None:
        for one in self.running:
            one.terminate()
        for one in self.running:
            one.wait(30)
        self.log.close()

    def look_after(self) -> None:
        """Start again whatever has ended."""
        for one in [one for one in self.running if one.poll() is not None]:
            self.deaths += 1
            self.running.remove(one)
            self.running.append(self._start())

    def kill_one(self) -> None:
        """Kill the one that runs longest: another may not have begun to send."""
        one = self.running.pop(0)
        if one.poll() is None:
            one.send_signal(signal.SIGKILL)
            one.wait()
            self.kills += 1
        self.deaths += 1
        self.running.append(self._start())

    def run(
        self,
        is_over: Callable[[], bool],
        *,
        patience: float,
        meanwhile: Callable[[], None] = lambda: None,
    ) -> bool:
        """Look after the senders until it is over; False where patience ended first."""
        end = time.monotonic() + patience
        while time.monotonic() < end:
            self.look_after()
            meanwhile()
            if is_over():
                return True
            time.sleep(0.01)
        return False

    def _start(self) -> subprocess.Popen[bytes]:
        told: dict[str, Any] = {
            "lease": self.lease,
            "asks": self.asks,
            "port": self.sink.port,
            "clock": str(self.clock.file),
        }
        settings = {
            "DJANGO_SETTINGS_MODULE": "tracker.settings",
            "TRACKER_DATABASE_URL": self.database,
            "TRACKER_DATA_DIR": str(self.folder),
            "TRACKER_EMAIL_URL": f"smtp://127.0.0.1:{self.sink.port}",
        }
        return subprocess.Popen(  # noqa: S603  # our own interpreter and words
            [sys.executable, "-m", "tests.sender", json.dumps(told)],
            env={**os.environ, **settings},
            cwd=ROOT,
            stdout=self.log,
            stderr=self.log,
        )

"""Send messages as they become due, in a process of its own that needs no queue."""

from __future__ import annotations

import signal
from argparse import ArgumentParser
from collections.abc import Callable
from threading import Event
from types import FrameType
from typing import Any, Final

from django.core.management.base import BaseCommand
from django.db import InterfaceError, OperationalError, connection
from django.utils import timezone

from tracker.watch.delivery import Delivered, deliver_batch

Stop = Callable[[], bool]
Batch = Callable[[Stop], Delivered]

IDLE_SECONDS: Final = 2
"""How long to wait where nothing is due, or the database is away."""


class Command(BaseCommand):
    help = (
        "Send messages as they become due. Ends on SIGTERM or Ctrl-C after the one in "
        "hand; several may run at once."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--once", action="store_true", help="end when nothing is due any more"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        end = Event()

        def told(number: int, frame: FrameType | None) -> None:
            end.set()

        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, told)
        deliver_until(end, self.stdout.write, once=options["once"])


def deliver_until(
    end: Event, say: Callable[[str], object], *, once: bool, batch: Batch | None = None
) -> None:
    """Send batch by batch, a line for each, until told to end or nothing is due."""
    batch = batch or _batch_now
    while not end.is_set():
        done = _tried(batch, end, say)
        if done:
            say(f"{timezone.now():%Y-%m-%d %H:%M:%S} {done}")
        elif once and done is not None:
            return
        else:
            end.wait(IDLE_SECONDS)


def _batch_now(stop: Stop) -> Delivered:
    return deliver_batch(timezone.now(), stop=stop)


def _tried(batch: Batch, end: Event, say: Callable[[str], object]) -> Delivered | None:
    """Send a batch; None where the database was away, and is asked again later."""
    try:
        return batch(end.is_set)
    except (OperationalError, InterfaceError) as fault:
        say(f"The database is away: {' '.join(str(fault).split())}")
        connection.close()
        return None

"""The loop that ticks where no queue does: inside the web process, or as a command."""

from __future__ import annotations

import atexit
import logging
from threading import Event, Thread
from typing import Final

from django.db import close_old_connections
from django.utils import timezone

from tracker.watch.jobs.ticking import tick

log = logging.getLogger(__name__)

EVERY_SECONDS: Final = 10.0
FIRST_AFTER_SECONDS: Final = 2.0
PATIENCE_SECONDS: Final = 20.0


def tick_until(stopped: Event, *, every: float = EVERY_SECONDS) -> None:
    """Tick until told to stop; what is under way then comes to its end.

    A fault of one tick, a database that does not answer among them, is logged, and the
    next tick comes all the same.
    """
    while not stopped.is_set():
        close_old_connections()
        try:
            tick(timezone.now())
        except Exception:
            log.exception("a tick failed")
        close_old_connections()
        stopped.wait(every)


def tick_beside_web() -> None:
    """Tick in a thread of this process, which goes on serving, until it ends."""
    stopped = Event()

    def run() -> None:
        # Whoever only looks whether the service starts is gone by then.
        if not stopped.wait(FIRST_AFTER_SECONDS):
            tick_until(stopped)

    thread = Thread(target=run, name="ticks", daemon=True)

    def stop() -> None:
        stopped.set()
        thread.join(PATIENCE_SECONDS)

    atexit.register(stop)
    thread.start()

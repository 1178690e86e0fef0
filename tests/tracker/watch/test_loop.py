"""The loop goes on whatever a tick meets, and ends when it is told to."""

from __future__ import annotations

from datetime import datetime
from threading import Event

import pytest

from tracker.watch.jobs import loop

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_tick_that_fails_is_not_the_last(monkeypatch: pytest.MonkeyPatch) -> None:
    stopped, ticks = Event(), []

    def failing(at: datetime) -> int:
        ticks.append(at)
        if len(ticks) == 3:
            stopped.set()
        raise OSError("no such database")

    monkeypatch.setattr(loop, "tick", failing)
    loop.tick_until(stopped, every=0.01)
    assert len(ticks) == 3

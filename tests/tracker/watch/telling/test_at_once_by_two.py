"""Two runs at the same moment tell nobody twice."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier
from typing import Any

import pytest
from django.db import connections

from tests.tracker.watch.telling.conftest import moment
from tracker.compliance.models import Event
from tracker.fleet.models import Engine
from tracker.watch.models import Message, Told
from tracker.watch.telling import write_due

NOW = date(2026, 11, 24)


@pytest.mark.both
@pytest.mark.django_db(transaction=True)
def test_two_runs_write_each_mail_once(
    engine: Engine,
    make_engine: Callable[..., Engine],
    make_provision: Callable[..., Any],
    evaluate: Callable[..., None],
) -> None:
    make_engine(owner=engine.owner, serial="4022")
    make_provision(rule__action={"initial": {"date": "2026-11-01"}})
    make_provision(rule__action={"initial": {"date": "2027-03-01"}})
    evaluate(NOW)
    together = Barrier(4)

    def run(_: int) -> int:
        try:
            together.wait(timeout=20)
            return write_due(moment(NOW, 9, 30))
        finally:
            connections.close_all()

    with ThreadPoolExecutor(max_workers=4) as pool:
        written = sum(pool.map(run, range(4)))
    kinds = sorted(Message.objects.values_list("kind", flat=True))
    assert kinds == ["digest", "overdue", "overdue"]
    assert written == 3
    assert Told.objects.count() == Event.objects.count() == 4
    assert not Event.objects.unsettled().exists()

"""Two hundred people who sign at the same moment: nothing doubles, nothing forks.

Forty of them where somebody waits for the tests.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from tests.factories.accounts import PASSWORD
from tests.tracker.compliance.conftest import make_engine, make_provision
from tests.tracker.web.test_record_form import work
from tracker.accounts.access import Viewer
from tracker.compliance.ledger import breaks
from tracker.compliance.models import Record
from tracker.fleet.models import Engine

__all__ = ["make_engine", "make_provision"]
pytestmark = [pytest.mark.both, pytest.mark.django_db(transaction=True)]
AT_ONCE = 8
EACH = 25 if os.environ.get("CI") else 5


def sign_at_once(
    viewer: Viewer, address: str, sent: Callable[[int], Any]
) -> Counter[int]:
    """Send forms from eight threads that begin together; count the answers."""
    start = Barrier(AT_ONCE)

    def send(thread: int) -> Counter[int]:
        client = Client(raise_request_exception=False)
        client.force_login(viewer.user)
        start.wait()
        answers: Counter[int] = Counter()
        for n in range(EACH):
            answers[client.post(address, sent(thread * EACH + n)).status_code] += 1
        connection.close()
        return answers

    total: Counter[int] = Counter()
    with ThreadPoolExecutor(AT_ONCE) as pool:
        for answers in pool.map(send, range(AT_ONCE)):
            total += answers
    return total


def test_one_action_is_signed_once_and_the_others_are_told(
    technician: Viewer,
    make_engine: Callable[..., Engine],
    make_provision: Callable[..., Any],
) -> None:
    provision = make_provision(number="SB-1", title="Inspect the fuel pump")
    engine = make_engine()
    ids = [engine.public_id, provision.public_id]
    address = reverse("web:engine-record-done", args=ids)
    answers = sign_at_once(
        technician, address, lambda n: work(on="2026-11-24", password=PASSWORD)
    )
    assert answers == {302: 1, 409: AT_ONCE * EACH - 1}
    assert Record.objects.count() == 1
    assert list(breaks(Record.objects.all())) == []


def test_different_work_on_one_engine_is_all_signed_in_one_chain(
    technician: Viewer, make_engine: Callable[..., Engine]
) -> None:
    engine = make_engine()
    address = reverse("web:engine-record-other", args=[engine.public_id])

    def sent(n: int) -> dict[str, Any]:
        return work(on="2026-11-24", description=f"Cylinder {n} looked at.")

    answers = sign_at_once(technician, address, sent)
    assert answers == {302: AT_ONCE * EACH}
    records = Record.objects.filter(engine=engine).order_by("sequence")
    assert [record.sequence for record in records] == list(range(1, AT_ONCE * EACH + 1))
    assert list(breaks(Record.objects.all())) == []
    assert {record.on for record in records} == {date(2026, 11, 24)}

"""Fifty processes killed while they sign: each record is there whole, or not at all.

Every child signs one record after the other, each with a file of its own, and says so
once a record is acknowledged. It is killed with SIGKILL at a moment that nobody chose.
"""

from __future__ import annotations

import os
import random
import select
import signal
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from django.db import connections

from tests.factories.accounts import PASSWORD
from tests.factories.compliance import entry
from tests.tracker.compliance.conftest import make_engine
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.ledger import Upload, breaks, lost_files
from tracker.compliance.models import Attachment, Record
from tracker.fleet.models import Engine

__all__ = ["make_engine"]
pytestmark = [pytest.mark.both, pytest.mark.django_db(transaction=True)]
KILLS = 50
PATIENCE_SECONDS = 60
LONGEST_SECONDS = 0.1
BEGUN, DONE, FAILED = b"begun", b"done", b"failed"


@dataclass(frozen=True)
class Killed:
    """What a child said before it was killed: the records that it was told of."""

    acknowledged: tuple[str, ...]
    while_signing: bool


def sign(viewer: Viewer, engine: Engine, what: str, at: datetime) -> Record:
    photo = Upload("crank.jpg", b"\xff\xd8\xff\xe0" + what.encode() + b"\xff\xd9")
    done = entry(
        date(2026, 11, 20), hours=51_000, description=what, attachments=(photo,)
    )
    [record] = changes.sign_work(viewer, {engine: [done]}, password=PASSWORD, at=at)
    return record


def sign_until_killed(
    pipe: int, viewer: Viewer, engine: Engine, name: str, at: datetime
) -> None:
    """What a child does. It never returns."""
    try:
        for number in range(1_000):
            os.write(pipe, BEGUN + b"\n")
            record = sign(viewer, engine, f"Child {name}, work {number}.", at)
            os.write(pipe, DONE + b" %s\n" % str(record.public_id).encode())
    except BaseException as error:  # noqa: BLE001  # whatever it is, the parent is told
        os.write(pipe, FAILED + b" %s\n" % repr(error).encode())
    os._exit(1)


def killed_child(work: Callable[[int], None], moment: float) -> Killed:
    """Fork, let the child sign once, wait for the moment, and kill it."""
    reading, writing = os.pipe()
    connections.close_all()
    child = os.fork()
    if child == 0:
        os.close(reading)
        work(writing)
    os.close(writing)
    try:
        said = _until_done(reading)
        time.sleep(moment)
        os.kill(child, signal.SIGKILL)
        said += b"".join(_rest(reading))
    finally:
        os.close(reading)
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), said
    assert os.WTERMSIG(status) == signal.SIGKILL
    *lines, last = said.splitlines()
    ids = [line.split()[1].decode() for line in (*lines, last) if line[:4] == DONE]
    return Killed(acknowledged=tuple(ids), while_signing=last == BEGUN)


def _until_done(reading: int) -> bytes:
    said, until = b"", time.monotonic() + PATIENCE_SECONDS
    while DONE not in said or not said.endswith(b"\n"):
        ready, _, _ = select.select([reading], [], [], until - time.monotonic())
        assert ready, "the child has signed nothing in a minute"
        piece = os.read(reading, 65_536)
        assert piece, f"the child has ended by itself: {said!r}"
        said += piece
    return said


def _rest(reading: int) -> Iterator[bytes]:
    while piece := os.read(reading, 65_536):
        yield piece


def test_a_record_is_there_whole_or_not_at_all(
    technician: Viewer,
    make_engine: Callable[..., Engine],
    now: datetime,
    settings: Any,
    tmp_path: Path,
) -> None:
    settings.ATTACHMENT_DIR = tmp_path
    engine = make_engine()
    version = engine.version
    moments = random.Random(20261124)  # noqa: S311  # not for secrets

    def work(name: str) -> Callable[[int], None]:
        return lambda pipe: sign_until_killed(pipe, technician, engine, name, now)

    killed = [
        killed_child(work(str(n)), moments.uniform(0, LONGEST_SECONDS))
        for n in range(KILLS)
    ]
    assert len(killed) == KILLS
    amid = sum(one.while_signing for one in killed)
    assert amid >= KILLS // 2, f"only {amid} were killed while they signed"

    # It waits for what a killed child may have left behind, and shows that it is gone.
    last = sign(technician, engine, "After all of them.", now)
    records = Record.objects.all()
    assert list(breaks(records)) == []
    assert list(lost_files(records)) == []
    acknowledged = {key for one in killed for key in one.acknowledged}
    there = {str(key) for key in records.values_list("public_id", flat=True)}
    assert acknowledged <= there
    unheard = len(there) - len(acknowledged) - 1
    assert 0 <= unheard <= KILLS
    assert Attachment.objects.count() == last.sequence == len(there)
    # Each act also counts the engine's version up, in the same transaction.
    assert Engine.objects.get(pk=engine.pk).version == version + len(there)

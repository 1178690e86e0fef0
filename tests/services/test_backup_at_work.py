"""Backups made while others sign, and backups killed while they are made.

Common practice, no source.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from threading import Event

import pytest
from django.db import connection, connections

from tests.factories.accounts import PASSWORD
from tests.factories.compliance import entry
from tests.tracker.backup.conftest import Place, data, elsewhere, kept, make_engine
from tracker.accounts.access import Viewer
from tracker.backup.manifest import BackupRefused, read_manifest
from tracker.backup.restoring import restore
from tracker.backup.writing import back_up
from tracker.compliance import changes
from tracker.compliance.ledger import Upload
from tracker.compliance.models import Record
from tracker.fleet.models import Engine

__all__ = ["data", "elsewhere", "kept", "make_engine"]
pytestmark = [pytest.mark.both, pytest.mark.django_db(transaction=True)]
WRITERS = 4
BACKUPS = 5
KILLS = 12
PATIENCE_SECONDS = 60


def sign(viewer: Viewer, engine: Engine, what: str, at: datetime) -> str:
    """Sign a record with a file of its own; return its public id."""
    photo = Upload("crank.jpg", b"\xff\xd8\xff\xe0" + what.encode() + b"\xff\xd9")
    done = entry(
        date(2026, 11, 20), hours=51_000, description=what, attachments=(photo,)
    )
    [record] = changes.sign_work(viewer, {engine: [done]}, password=PASSWORD, at=at)
    return str(record.public_id)


@contextmanager
def signing(viewer: Viewer, engines: list[Engine], at: datetime) -> Iterator[list[str]]:
    """Threads that sign until the end of it; the list holds what was acknowledged."""
    acknowledged: list[str] = []
    end = Event()

    def work(writer: int) -> None:
        number = 0
        try:
            while not end.is_set():
                engine = engines[number % len(engines)]
                what = f"Writer {writer}, work {number}."
                acknowledged.append(sign(viewer, engine, what, at))
                number += 1
        finally:
            connection.close()

    with ThreadPoolExecutor(WRITERS) as pool:
        writers: list[Future[None]] = [pool.submit(work, n) for n in range(WRITERS)]
        try:
            yield acknowledged
        finally:
            end.set()
    for writer in writers:
        writer.result()


def test_a_backup_is_of_one_moment_while_others_sign(
    kept: list[Engine],
    technician: Viewer,
    elsewhere: Place,
    now: datetime,
    tmp_path: Path,
) -> None:
    before: list[set[str]] = []
    with signing(technician, kept, now) as acknowledged:
        for number in range(BACKUPS):
            wait_for(lambda n=number: len(acknowledged) > 5 * n)
            before.append(set(acknowledged))
            back_up(tmp_path / f"backup {number}", at=now)
        wait_for(lambda: len(acknowledged) > len(before[-1]))
    counts = [
        read_manifest(tmp_path / f"backup {n}").rows["compliance_record"]
        for n in range(BACKUPS)
    ]
    assert counts == sorted(set(counts))
    with elsewhere.served():
        # Each chain ends where the heads say, and every file of a record is there.
        assert restore(tmp_path / f"backup {BACKUPS - 1}").records == counts[-1]
        there = {str(key) for key in Record.objects.values_list("public_id", flat=True)}
    assert before[-1] <= there
    assert len(there) < len(acknowledged) + 6, "nobody signed after the backup"


def wait_for(reached: Callable[[], bool]) -> None:
    until = time.monotonic() + PATIENCE_SECONDS
    while not reached():
        assert time.monotonic() < until, "nobody signs"
        time.sleep(0.01)


def killed_backup(folder: Path, moment: float, at: datetime) -> None:
    """Fork, back up there, and kill it after so many seconds."""
    connections.close_all()
    child = os.fork()
    if child == 0:
        try:
            back_up(folder, at=at)
        finally:
            os._exit(0)
    time.sleep(moment)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


def test_a_backup_that_was_killed_is_not_there_or_whole(
    kept: list[Engine],
    technician: Viewer,
    elsewhere: Place,
    now: datetime,
    tmp_path: Path,
) -> None:
    for number in range(40):
        sign(technician, kept[0], f"Work {number}.", now)
    began = time.monotonic()
    back_up(tmp_path / "whole", at=now)
    longest = time.monotonic() - began
    moments = random.Random(20261128)  # noqa: S311  # not for secrets
    amid = 0
    for number in range(KILLS):
        folder = tmp_path / f"killed {number}"
        draft = tmp_path / f".killed {number}.writing"
        killed_backup(folder, moments.uniform(0, longest), now)
        amid += draft.exists()
        if folder.exists():
            assert read_manifest(folder).rows == read_manifest(tmp_path / "whole").rows
            continue
        with elsewhere.served(), pytest.raises(BackupRefused):
            restore(folder)
        if draft.exists():
            with pytest.raises(BackupRefused, match="was broken off"):
                back_up(folder, at=now)
            shutil.rmtree(draft)
    assert amid >= KILLS // 3, f"only {amid} were killed while they were made"
    assert elsewhere.is_empty()
    with elsewhere.served():
        assert restore(tmp_path / "whole").records == 46

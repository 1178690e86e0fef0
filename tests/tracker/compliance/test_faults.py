"""Failure at every statement and at every write of a file: all of an act, or nothing.

Each act is carried out again and again, failing at the first statement, then at the
second, and so on until one succeeds; the same for every call that writes a file.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db import DatabaseError, OperationalError, connection

from tests.factories.accounts import PASSWORD
from tests.factories.compliance import entry
from tests.factories.notices import RevisionFactory
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.ledger import RecordRefused, Upload, breaks
from tracker.compliance.models import Record
from tracker.fleet.models import Engine

pytestmark = [pytest.mark.django_db, pytest.mark.both]
PHOTO = Upload("crank.jpg", b"\xff\xd8\xff\xe0photo\xff\xd9")
DONE_ON = date(2026, 11, 20)
OURS = ("accounts", "notices", "fleet", "compliance")
Act = Callable[[], object]


def everything() -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table of ours."""
    return {
        model.__name__: sorted(model._default_manager.values_list(), key=repr)
        for app in OURS
        for model in apps.get_app_config(app).get_models()
    }


@contextmanager
def failing_statement(number: int) -> Iterator[list[int]]:
    """Let the n-th statement from here on fail; the list holds how many there were."""
    seen = [0]

    def run(execute: Any, sql: str, params: Any, many: Any, context: Any) -> Any:
        if not sql.startswith(("SAVEPOINT", "RELEASE", "ROLLBACK")):
            seen[0] += 1
            if seen[0] == number:
                raise OperationalError("made to fail")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(run):
        yield seen


@contextmanager
def failing_write(number: int, monkeypatch: pytest.MonkeyPatch) -> Iterator[list[int]]:
    """Let the n-th call that writes a file fail, as on a full disk."""
    seen = [0]

    def counted(real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any, **given: Any) -> Any:
            seen[0] += 1
            if seen[0] == number:
                raise OSError(28, "No space left on device")
            return real(*args, **given)

        return call

    with monkeypatch.context() as patch:
        for name in ("fsync", "replace"):
            patch.setattr(os, name, counted(getattr(os, name)))
        yield seen


@pytest.fixture
def acts(
    engine: Engine,
    technician: Viewer,
    inspector: Viewer,
    make_provision: Callable[..., Any],
    now: datetime,
    settings: Any,
    tmp_path: Path,
) -> dict[str, Act]:
    settings.ATTACHMENT_DIR = settings.DOCUMENT_DIR = tmp_path
    provision = make_provision(number="SB-1")
    kept = changes.record_work(
        technician, engine, entry(DONE_ON, hours=51_000, description="Oil."), at=now
    )
    revision = RevisionFactory(publication__station=engine.station)
    done = entry(DONE_ON, hours=51_000, provision=provision, attachments=(PHOTO,))
    sheet = (
        "engine type,engine serial,document,revision,date,hours,page\n"
        f"{engine.engine_type},{engine.serial},SL-9,1,2026-02-01,482,7\n"
    ).encode()

    def imported() -> object:
        plan = changes.look_at_compliance(technician, sheet, "past.csv", at=now)
        return changes.import_compliance(
            technician, sheet, "past.csv", digest=plan.digest, at=now
        )

    def uploaded() -> object:
        content = b"%PDF-1.4 page\n%%EOF\n"
        return changes.attach_document(
            inspector, revision, content=content, name="a.pdf", at=now
        )

    return {
        "sign": lambda: changes.sign_work(
            technician, {engine: [done]}, password=PASSWORD, at=now
        ),
        "void": lambda: changes.sign_void(
            technician, kept, reason="Wrong engine.", password=PASSWORD, at=now
        ),
        "import": imported,
        "upload": uploaded,
    }


@pytest.mark.parametrize("name", ["sign", "void", "import", "upload"])
def test_whichever_statement_fails_nothing_is_half_written(
    acts: dict[str, Act], name: str
) -> None:
    before = everything()
    for number in range(1, 400):
        with failing_statement(number) as seen:
            try:
                acts[name]()
            except DatabaseError:
                pass
            else:
                assert seen[0] < number, "the failure came through to nobody"
                break
        assert everything() == before, f"statement {number} left something behind"
    else:
        pytest.fail("the act never succeeded")
    assert number > 5
    assert everything() != before
    assert list(breaks(Record.objects.all())) == []


@pytest.mark.parametrize("name", ["sign", "upload"])
def test_whichever_write_of_a_file_fails_nothing_is_half_written(
    acts: dict[str, Act], name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, said = everything(), set()
    for number in range(1, 40):
        with failing_write(number, monkeypatch):
            try:
                acts[name]()
            except (RecordRefused, ValueError) as refused:
                said.add(str(refused))
            else:
                break
        assert everything() == before
        assert not list(tmp_path.rglob(".incoming-*")), "a draft of a file was left"
    assert 2 < number < 39
    assert all("the disk refused it" in words for words in said)
    assert everything() != before

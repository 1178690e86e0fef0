"""What is no whole backup is refused, and the place to restore into stays empty.

Common practice, no source.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from tests.factories.compliance import ledger_unprotected
from tests.tracker.backup.conftest import Place
from tests.tracker.compliance.test_faults import failing_write
from tracker.backup.kinds import KINDS
from tracker.backup.manifest import (
    HEADS,
    MANIFEST,
    BackupRefused,
    File,
    Manifest,
    file_at,
    read_manifest,
)
from tracker.backup.restoring import restore
from tracker.backup.writing import back_up
from tracker.compliance.models import Record
from tracker.fleet.models import Engine

pytestmark = [pytest.mark.both, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def backup(kept: list[Engine], now: datetime, tmp_path: Path) -> Path:
    folder = tmp_path / "backup"
    back_up(folder, at=now)
    return folder


def database_of(folder: Path) -> Path:
    return folder / KINDS[connection.vendor].file


def change_a_byte(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)


def rewrite(folder: Path, **changed: object) -> None:
    """Write the manifest anew, with a hash that fits, as an insider could."""
    manifest = replace(read_manifest(folder), **changed)  # type: ignore[arg-type]
    (folder / MANIFEST).write_text(manifest.written(), encoding="utf-8")


def of_another_kind(folder: Path) -> None:
    other = {"sqlite": "postgresql", "postgresql": "sqlite"}[connection.vendor]
    rewrite(folder, database=other)


def of_a_newer_service(folder: Path) -> None:
    known = read_manifest(folder).migrations
    rewrite(folder, migrations=[*known, "compliance.9999_of_next_year"])


def leading_out(folder: Path) -> None:
    (folder.parent / "outside").write_bytes(b"not ours")
    outside = file_at(folder, "../outside")
    rewrite(folder, files=[*read_manifest(folder).files, outside])


def without(folder: Path, is_left_out: Callable[[File], bool]) -> None:
    """Leave a file out of the manifest too."""
    files = read_manifest(folder).files
    rewrite(folder, files=[file for file in files if not is_left_out(file)])


def with_other_heads(folder: Path) -> None:
    path = folder / HEADS
    path.write_text(path.read_text().replace("4101", "4107"))
    files = read_manifest(folder).files
    rewrite(folder, files=[file_at(folder, file.name) for file in files])


def with_another_count(folder: Path) -> None:
    rows = {**read_manifest(folder).rows, "compliance_record": 7}
    rewrite(folder, rows=rows)


FAULTS: dict[str, tuple[Callable[[Path], object], str]] = {
    "a byte of the database": (
        lambda folder: change_a_byte(database_of(folder)),
        r"database\.\w+: was changed after",
    ),
    "a byte of an attachment": (
        lambda folder: change_a_byte(next(folder.rglob("*.jpg"))),
        r"attachments/../\w+\.jpg: was changed after",
    ),
    "a byte of a document": (
        lambda folder: change_a_byte(next((folder / "documents").rglob("*.pdf"))),
        r"documents/../\w+\.pdf: was changed after",
    ),
    "a byte of the heads": (
        lambda folder: change_a_byte(folder / HEADS),
        r"heads\.json: was changed after",
    ),
    "the manifest": (
        lambda folder: (folder / MANIFEST).write_text(
            (folder / MANIFEST).read_text().replace('"rows":{', '"rows":{"more":1,')
        ),
        r"manifest\.json was changed after",
    ),
    "no manifest": (
        lambda folder: (folder / MANIFEST).unlink(),
        "no whole backup",
    ),
    "no attachment": (
        lambda folder: next(folder.rglob("*.jpg")).unlink(),
        r"\.jpg: is missing",
    ),
    "no database": (
        lambda folder: database_of(folder).unlink(),
        r"database\.\w+: is missing",
    ),
    "another kind of database": (of_another_kind, "empty database of the same kind"),
    "a newer service": (of_a_newer_service, "knows compliance.9999_of_next_year"),
    "a name that leads out": (leading_out, "which is in no backup"),
    "no database named": (
        lambda folder: without(folder, lambda file: file.name[:8] == "database"),
        r"database\.\w+: is not in the manifest",
    ),
    "an attachment not named": (
        lambda folder: without(folder, lambda file: file.name.endswith(".jpg")),
        r"names are not in the backup: attachments/../\w+\.jpg",
    ),
    "heads that were changed": (with_other_heads, "heads.json: The file of heads was"),
    "another count of rows": (with_another_count, "compliance_record has 6 rows"),
}  # fmt: skip


def test_a_backup_that_is_not_whole_is_not_restored(
    backup: Path, elsewhere: Place, tmp_path: Path
) -> None:
    for number, (fault, (change, said)) in enumerate(FAULTS.items()):
        folder = tmp_path / f"fault {number}"
        shutil.copytree(backup, folder)
        change(folder)
        with elsewhere.served(), pytest.raises(BackupRefused) as refused:
            restore(folder)
        assert re.search(said, str(refused.value)), f"{fault}: {refused.value}"
        assert elsewhere.is_empty(), fault


@pytest.mark.parametrize(
    ("tampering", "said"),
    [
        (
            "UPDATE compliance_record SET payload = '{}' WHERE sequence = 2",
            "serial 4101, record 2: its text is not the text that was recorded",
        ),
        (
            "DELETE FROM compliance_attachment",
            "serial 4102, record 2: its attachments are not those that its text names",
        ),
    ],
)
def test_a_ledger_that_was_broken_before_is_told_of_and_not_restored(
    kept: list[Engine],
    elsewhere: Place,
    now: datetime,
    tmp_path: Path,
    tampering: str,
    said: str,
) -> None:
    with ledger_unprotected(), connection.cursor() as cursor:
        cursor.execute(tampering)
    back_up(tmp_path / "backup", at=now)
    with elsewhere.served(), pytest.raises(BackupRefused, match=said):
        restore(tmp_path / "backup")
    assert elsewhere.is_empty()


def test_nothing_is_restored_over_what_is_there(
    backup: Path, data: Path, elsewhere: Place
) -> None:
    with pytest.raises(CommandError, match=r"Nothing was restored\. .* tables already"):
        call_command("restore", str(backup))
    with elsewhere.served():
        restore(backup)
        with pytest.raises(BackupRefused, match="tables already"):
            restore(backup)
        assert Record.objects.count() == 6


def test_folders_with_files_are_not_restored_into(
    backup: Path, elsewhere: Place
) -> None:
    there = elsewhere.folder / "attachments" / "ab" / "note.txt"
    there.parent.mkdir(parents=True)
    there.write_text("Somebody's own.")
    with elsewhere.served(), pytest.raises(BackupRefused, match=r"as note\.txt"):
        restore(backup)
    there.unlink()
    assert elsewhere.is_empty()


@pytest.mark.sqlite_only
def test_a_log_without_its_database_is_not_restored_beside(
    backup: Path, elsewhere: Place
) -> None:
    log = Path(f"{elsewhere.database}-wal")
    log.parent.mkdir()
    log.write_bytes(b"of another database")
    with elsewhere.served(), pytest.raises(BackupRefused, match="sqlite3-wal belongs"):
        restore(backup)


@pytest.mark.sqlite_only
def test_where_no_database_is_none_is_backed_up(
    elsewhere: Place, now: datetime, tmp_path: Path
) -> None:
    with elsewhere.served(), pytest.raises(BackupRefused, match="There is no database"):
        back_up(tmp_path / "backup", at=now)
    assert list(tmp_path.iterdir()) == []


def test_a_backup_is_not_written_over(
    backup: Path, now: datetime, tmp_path: Path
) -> None:
    before = read_manifest(backup)
    with pytest.raises(CommandError, match="is there already"):
        call_command("backup", str(backup))
    with pytest.raises(BackupRefused, match="There is no folder"):
        back_up(tmp_path / "none" / "backup", at=now)
    (tmp_path / "empty").mkdir()
    assert back_up(tmp_path / "empty", at=now).rows == before.rows
    assert read_manifest(backup) == before


@pytest.mark.parametrize("what", ["backup", "restore"])
def test_whichever_write_of_a_file_fails_nothing_is_left(
    backup: Path,
    elsewhere: Place,
    now: datetime,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    what: str,
) -> None:
    another = tmp_path / "another"

    def act() -> object:
        return back_up(another, at=now) if what == "backup" else restore(backup)

    for number in range(1, 60):
        with elsewhere.served() if what == "restore" else nullcontext():
            try:
                with failing_write(number, monkeypatch):
                    act()
            except (BackupRefused, OSError):
                pass
            else:
                break
        assert not another.exists()
        assert not (tmp_path / ".another.writing").exists()
        assert elsewhere.is_empty()
    assert 5 < number < 59


@pytest.mark.postgresql_only
@pytest.mark.parametrize(
    ("script", "said"),
    [
        ("echo 'pg_dump (PostgreSQL) 9.6.24'", "pg_dump is of PostgreSQL 9, and"),
        (None, "pg_dump is not installed here"),
        (
            'test "$1" = --version && echo 99 || { echo no room >&2; exit 1; }',
            "pg_dump failed: no room",
        ),
    ],
)
def test_without_a_fitting_pg_dump_none_is_made(
    kept: list[Engine],
    now: datetime,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    script: str | None,
    said: str,
) -> None:
    tools = tmp_path / "tools"
    tools.mkdir()
    if script:
        (tools / "pg_dump").write_text(f"#!/bin/sh\n{script}\n")
        (tools / "pg_dump").chmod(0o755)
    monkeypatch.setenv("PATH", str(tools))
    with pytest.raises(BackupRefused, match=said):
        back_up(tmp_path / "backup", at=now)
    assert not list(tmp_path.glob("*backup*"))


def test_a_manifest_reads_as_it_was_written(backup: Path) -> None:
    manifest: Manifest = read_manifest(backup)
    assert (backup / MANIFEST).read_text() == manifest.written()

"""A SQLite database copied while it is written to, and put in place from the copy.

The file itself is never copied: what was written last lies beside it, in the log.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

from django.db import DEFAULT_DB_ALIAS, connection, connections

from tracker.backup.manifest import BackupRefused, settle

FILE: Final = "database.sqlite3"
PATIENCE_SECONDS: Final = 60
_BESIDE: Final = ("-wal", "-shm", "-journal")


@contextmanager
def snapshot(path: Path) -> Iterator[None]:
    """Write the database of one moment; inside, the copy is the service's database."""
    if not _file().is_file():
        raise BackupRefused(f"There is no database {_file()} to back up.")
    try:
        damage = _copy(path)
    except sqlite3.Error as error:
        raise BackupRefused(f"{_file()} could not be copied: {error}.") from error
    if damage:
        raise BackupRefused(f"{_file()} is damaged: {damage}. Restore an older backup.")
    with _pointed_at(path, init_command="PRAGMA query_only=ON"):
        yield


def check_empty() -> None:
    """Raise BackupRefused unless there is no database, or one without a table."""
    path = _file()
    try:
        tables = _tables(path) if path.exists() else 0
    except sqlite3.DatabaseError as error:
        raise BackupRefused(f"{path} is no SQLite database: {error}.") from error
    if tables:
        raise BackupRefused(
            f"The database {path} has {tables} tables already. A backup is only "
            "restored into an empty one: move this file away, or name another."
        )
    for log in _beside(path):
        if log.exists():
            raise BackupRefused(
                f"{log} belongs to a database that is not there any more. "
                "Move it away, or name another database."
            )


@contextmanager
def restored(source: Path) -> Iterator[None]:
    """Inside, the service's database is a draft of the copy; at the end it is kept.

    Nothing stands under the database's own name before.
    """
    path = _file()
    draft = written = path.with_name(f"{path.name}.restoring")
    try:
        _remove(draft)
        path.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, draft)
        with _pointed_at(draft):
            yield
        settle(draft)
        check_empty()  # it may have taken a while
        os.replace(draft, path)
        written = path
        settle(path.parent)
    except BaseException:
        _remove(written)
        raise


def _copy(path: Path) -> str:
    """Copy the database; return what is damaged in it, or nothing."""
    source = sqlite3.connect(_file(), timeout=PATIENCE_SECONDS)
    with closing(source), closing(sqlite3.connect(path)) as copy:
        source.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")  # one file, without a log beside it
        [said] = copy.execute("PRAGMA integrity_check(1)").fetchone()
        return "" if said == "ok" else str(said)


@contextmanager
def _pointed_at(path: Path, **options: object) -> Iterator[None]:
    """Have another file under the connection of this thread, and of no other."""
    usual = connections[DEFAULT_DB_ALIAS]
    other = usual.copy()
    other.settings_dict["NAME"] = str(path)
    other.settings_dict["OPTIONS"] |= options
    connections[DEFAULT_DB_ALIAS] = other
    try:
        yield
    finally:
        other.close()  # the last one: what stands in the log goes into the file
        connections[DEFAULT_DB_ALIAS] = usual


def _file() -> Path:
    return Path(str(connection.settings_dict["NAME"]))


def _tables(path: Path) -> int:
    with closing(sqlite3.connect(path, timeout=PATIENCE_SECONDS)) as target:
        [tables] = target.execute(
            "SELECT count(*) FROM sqlite_master WHERE type = 'table'"
        ).fetchone()
        return int(tables)


def _beside(path: Path) -> list[Path]:
    return [path.with_name(path.name + ending) for ending in _BESIDE]


def _remove(database: Path) -> None:
    for path in (database, *_beside(database)):
        path.unlink(missing_ok=True)

"""A backup written: database, files, heads and versions, all of one moment."""

from __future__ import annotations

import os
import platform
import shutil
from datetime import datetime
from pathlib import Path

import django
from django.db import connection

import tracker
from tracker.backup.kinds import KINDS, applied_migrations, rows_of_tables
from tracker.backup.manifest import (
    HEADS,
    MANIFEST,
    BackupRefused,
    Manifest,
    file_at,
    settle,
)
from tracker.backup.stores import copy_out
from tracker.compliance.ledger import written_heads


def back_up(folder: Path, *, at: datetime) -> Manifest:
    """Write a backup into a new folder, and return what it holds.

    Written under another name and renamed when whole. Raises BackupRefused, and OSError
    where the disk does; nothing is left then.
    """
    folder = folder.resolve()
    draft = written = folder.with_name(f".{folder.name}.writing")
    _check_free(folder, draft)
    draft.mkdir(mode=0o700)  # what it holds is for whoever runs the service alone
    try:
        manifest = _written(draft, at)
        (draft / MANIFEST).write_text(manifest.written(), encoding="utf-8")
        for path in (*draft.rglob("*"), draft):
            settle(path)
        os.replace(draft, folder)
        written = folder
        settle(folder.parent)
    except BaseException:
        shutil.rmtree(written, ignore_errors=True)
        raise
    return manifest


def _check_free(folder: Path, draft: Path) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BackupRefused(
            f"{folder} is there already, and is not written over. Name a new folder."
        )
    if not folder.parent.is_dir():
        raise BackupRefused(f"There is no folder {folder.parent}. Make it first.")
    if draft.exists():
        raise BackupRefused(
            f"{draft} is there: another backup is being written, or was broken off. "
            "Where none is, remove it."
        )


def _written(draft: Path, at: datetime) -> Manifest:
    kind = KINDS[connection.vendor]
    with kind.snapshot(draft / kind.file):
        (draft / HEADS).write_text(written_heads(at), encoding="utf-8")
        rows = rows_of_tables()
        migrations = applied_migrations()
        copied, lost = copy_out(draft)
        database = ".".join(map(str, connection.get_database_version()))
    return Manifest(
        made_at=at,
        database=connection.vendor,
        versions={
            "service": tracker.__version__,
            "django": django.get_version(),
            "python": platform.python_version(),
            "database": database,
        },
        migrations=migrations,
        rows=rows,
        lost=lost,
        files=[file_at(draft, kind.file), file_at(draft, HEADS), *copied],
    )

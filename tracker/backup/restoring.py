"""A backup restored into an empty place, and proved there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.core.management import call_command
from django.db import connection
from django.db.migrations.loader import MigrationLoader

from tracker.backup import stores
from tracker.backup.kinds import KINDS, applied_migrations, rows_of_tables
from tracker.backup.manifest import (
    HEADS,
    BackupRefused,
    Manifest,
    prove,
    read_manifest,
)
from tracker.compliance.ledger import (
    HeadsRefused,
    breaks,
    lost_heads,
    read_heads,
    written_heads,
)
from tracker.compliance.models import Record
from tracker.watch.models import Message, MessageState


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What was restored. `migrated`: migrations newer than the backup."""

    manifest: Manifest
    records: int
    heads: int
    migrated: int
    held: int


def restore(folder: Path) -> Restored:
    """Restore a backup and prove it; BackupRefused leaves everything as it was.

    Every hash is proved before anything is written.
    """
    manifest = read_manifest(folder)
    kind = KINDS[connection.vendor]
    _check_fits(manifest)
    prove(folder, manifest, needed=(kind.file, HEADS))
    kind.check_empty()
    stores.check_empty()
    with stores.restored(folder, manifest), kind.restored(folder / kind.file):
        return _proved(folder, manifest)


def _check_fits(manifest: Manifest) -> None:
    """Raise BackupRefused for another kind of database, or a newer service."""
    if manifest.database != connection.vendor:
        raise BackupRefused(
            f"The backup is of {manifest.database}, and TRACKER_DATABASE_URL names "
            f"{connection.vendor}. Name an empty database of the same kind."
        )
    known = MigrationLoader(None).disk_migrations
    newer = set(manifest.migrations) - {".".join(key) for key in known}
    if newer:
        raise BackupRefused(
            f"The backup was made by version {manifest.versions.get('service')} of the "
            f"service, which knows {min(newer)}; this one does not. Use that version."
        )


def _proved(folder: Path, manifest: Manifest) -> Restored:
    _check_rows(manifest)
    call_command("migrate", interactive=False, verbosity=0)
    heads = _check_ledger((folder / HEADS).read_text(encoding="utf-8"), manifest)
    lost = set(stores.lost_files()) - set(manifest.lost)
    if lost:
        raise BackupRefused(
            "Files that the database names are not in the backup: "
            + ", ".join(sorted(lost))
        )
    migrated = set(applied_migrations()) - set(manifest.migrations)
    return Restored(
        manifest=manifest,
        records=Record.objects.count(),
        heads=heads,
        migrated=len(migrated),
        held=hold_waiting(manifest.made_at),
    )


def _check_rows(manifest: Manifest) -> None:
    found = rows_of_tables()
    for table in sorted(found.keys() | manifest.rows.keys()):
        if found.get(table) != manifest.rows.get(table):
            raise BackupRefused(
                f"Table {table} has {found.get(table, 'no')} rows, and "
                f"{manifest.rows.get(table, 'none')} when the backup was made."
            )


def _check_ledger(text: str, manifest: Manifest) -> int:
    """Raise BackupRefused unless every chain is whole and ends as the heads say."""
    try:
        heads = read_heads(text)
    except HeadsRefused as refused:
        raise BackupRefused(f"{HEADS}: {refused}") from refused
    broken = [*breaks(Record.objects.all()), *lost_heads(heads)]
    if broken:
        raise BackupRefused("\n".join(map(str, broken)))
    if written_heads(manifest.made_at) != text:
        raise BackupRefused(f"There are records that {HEADS} does not know of.")
    return len(heads)


def hold_waiting(made_at: datetime) -> int:
    """Hold back what waited to be sent when the backup was made; return how many.

    Since then it may have been sent: whether to send it again, a person decides.
    """
    open_then = [MessageState.WAITING, MessageState.SENDING, MessageState.UNSURE]
    return Message.objects.filter(state__in=open_then).update(
        state=MessageState.HELD,
        claim=None,
        lease_until=None,
        reason=f"Restored from the backup of {made_at:%Y-%m-%d %H:%M} UTC; "
        "it may have been sent since.",
    )

"""Restore a backup into an empty database and empty folders, and prove it."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError

from tracker.backup.manifest import BackupRefused
from tracker.backup.restoring import Restored, restore


class Command(BaseCommand):
    help = (
        "Restore a backup into an empty database and empty folders, and prove every "
        "hash, chain and file. After a failure they are empty again."
    )
    requires_system_checks = []  # a fault of the pages stops no restoration

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", help="a folder that `backup` has written")

    def handle(self, *args: Any, **options: Any) -> None:
        folder = Path(options["folder"])
        try:
            restored = restore(folder)
        except (BackupRefused, OSError, DatabaseError) as error:
            raise CommandError(f"Nothing was restored. {error}") from error
        for line in _lines(restored):
            self.stdout.write(line)


def _lines(restored: Restored) -> list[str]:
    manifest = restored.manifest
    lines = [
        f"Restored the backup of {manifest.made_at:%Y-%m-%d %H:%M} UTC: "
        f"{sum(manifest.rows.values())} rows and {len(manifest.files)} files, "
        "each with the hash that it had.",
        f"{restored.records} records in {restored.heads} chains: every chain is whole, "
        "and ends where it did.",
    ]
    if restored.migrated:
        lines.append(f"{restored.migrated} newer migrations were applied.")
    if restored.held:
        lines.append(
            f"{restored.held} messages that waited then are held back, as they may have "
            "been sent since."
        )
    lines += [f"{name}: was lost before the backup was made" for name in manifest.lost]
    lines.append("Owners' data that were removed since are here again: remove them.")
    return lines

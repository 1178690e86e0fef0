"""Write a backup: database, documents, attachments, heads and versions."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError
from django.utils import timezone

from tracker.backup.manifest import BackupRefused
from tracker.backup.writing import back_up


class Command(BaseCommand):
    help = (
        "Write everything into a new folder, while the service goes on: exit status 0 "
        "where it is whole, 1 where no backup was made, 2 where the stores had lost files."
    )
    requires_system_checks = []  # a fault of the pages stops no backup

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", help="a folder that does not exist yet")

    def handle(self, *args: Any, **options: Any) -> None:
        folder = Path(options["folder"])
        try:
            manifest = back_up(folder, at=timezone.now())
        except (BackupRefused, OSError, DatabaseError) as error:
            raise CommandError(f"No backup was made. {error}") from error
        self.stdout.write(
            f"Backup written to {folder}: {sum(manifest.rows.values())} rows, "
            f"{len(manifest.files)} files, {manifest.size / 1e6:.1f} MB. "
            "Copy it to where this machine cannot."
        )
        for name in manifest.lost:
            self.stdout.write(f"{name}: was lost or changed before, and is not in it")
        if manifest.lost:
            sys.exit(2)

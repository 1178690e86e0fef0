"""Go through the chain of every engine's records, or of one, and say where it breaks."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from tracker.compliance.ledger import (
    Break,
    HeadsRefused,
    breaks,
    lost_files,
    lost_heads,
    read_heads,
)
from tracker.compliance.models import Record
from tracker.fleet.models import Engine


class Command(BaseCommand):
    help = (
        "Verify the ledger: exit status 0 where it is whole, 1 where it breaks, "
        "2 where it could not be read."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--engine", help="public id of one engine")
        parser.add_argument("--heads", help="a file of heads that must still stand")
        parser.add_argument(
            "--attachments", action="store_true", help="also read every attached file"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        records = Record.objects.all()
        if options["engine"]:
            records = records.filter(engine=_engine(options["engine"]))
        found: list[Break] = list(breaks(records))
        if options["heads"]:
            found += lost_heads(_heads(options["heads"]))
        if options["attachments"]:
            found += lost_files(records)
        for broken in found:
            self.stdout.write(str(broken))
        if found:
            sys.exit(1)
        self.stdout.write(f"{records.count()} records, every chain is whole.")
        if options["heads"]:
            self.stdout.write(f"Every head of {options['heads']} still stands.")
        if options["attachments"]:
            self.stdout.write("Every attached file is there, and is as it was.")


def _engine(public_id: str) -> Engine:
    try:
        return Engine.objects.get(public_id=public_id)
    except (Engine.DoesNotExist, ValidationError):
        raise CommandError(f'There is no engine "{public_id}".', returncode=2) from None


def _heads(path: str) -> Any:
    try:
        return read_heads(Path(path).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, HeadsRefused) as error:
        raise CommandError(f"{path}: {error}", returncode=2) from error

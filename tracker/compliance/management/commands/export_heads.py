"""Write the heads of all chains into a file, to be kept elsewhere."""

from __future__ import annotations

import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from tracker.compliance.ledger import written_heads


class Command(BaseCommand):
    help = "Write the head of every engine's ledger into a dated, hashed file."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "file", nargs="?", help="where to; heads-YYYY-MM-DD.json if left out"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        path = Path(options["file"] or f"heads-{now:%Y-%m-%d}.json")
        if path.exists():
            raise CommandError(f"{path} is there already, and is not written over.")
        draft = path.with_name(f".{path.name}.writing")
        try:
            draft.write_text(written_heads(now), encoding="utf-8")
            os.replace(draft, path)
        except OSError as error:
            draft.unlink(missing_ok=True)
            raise CommandError(f"{path} could not be written: {error}") from error
        self.stdout.write(
            f"Heads written to {path}. Keep it where this machine cannot."
        )

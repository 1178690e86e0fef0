"""Go through the chain of every engine's records, or of one, and say where it breaks."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from tracker.compliance.ledger import breaks
from tracker.compliance.models import Record
from tracker.fleet.models import Engine


class Command(BaseCommand):
    help = "Verify the ledger: exit status 0 where it is whole, 1 where it breaks."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--engine", help="public id of one engine")

    def handle(self, *args: Any, **options: Any) -> None:
        records = Record.objects.for_verifying()
        if options["engine"]:
            records = records.filter(engine=_engine(options["engine"]))
        found = list(breaks(records.iterator()))
        for broken in found:
            self.stdout.write(str(broken))
        if found:
            sys.exit(1)
        self.stdout.write(f"{records.count()} records, every chain is whole.")


def _engine(public_id: str) -> Engine:
    try:
        return Engine.objects.get(public_id=public_id)
    except (Engine.DoesNotExist, ValidationError):
        raise CommandError(f'There is no engine "{public_id}".') from None

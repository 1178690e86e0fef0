"""Answer questions in JSON lines about rules and one engine. No database is needed."""

from __future__ import annotations

import json
import os
import signal
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO

from django.core.management.base import BaseCommand, CommandError

from notices.questions import LONGEST_LINE, answer_line
from notices.rules.conditions import condition_schema
from notices.rules.fluids import rows_schema
from notices.rules.overhaul import interval_schema
from notices.rules.times.actions import action_schema

SCHEMAS = {
    "condition": condition_schema,
    "action": action_schema,
    "interval": interval_schema,
    "fluids": rows_schema,
}


class Command(BaseCommand):
    help = (
        "Read one question in JSON from each line of the files, or of standard input, "
        "and answer each with one line. The status is 1 if a line had an error."
    )
    # Nothing here touches the database, so nothing of it need be in order.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", nargs="*", type=Path, help="none: standard input")
        parser.add_argument(
            "--schema", choices=SCHEMAS, help="print the JSON Schema of a rule instead"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            self._answer(options)
        except BrokenPipeError:
            # Who reads the answers has enough. Nothing may be written any more, not
            # even what Python still holds back when it ends.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            sys.exit(128 + signal.SIGPIPE)

    def _answer(self, options: dict[str, Any]) -> None:
        if options["schema"]:
            self.stdout.write(json.dumps(SCHEMAS[options["schema"]](), indent=2))
            self.stdout.flush()
            return
        errors = 0
        for line in _lines_of(options["file"]):
            answered = answer_line(line)
            errors += answered.is_error
            self.stdout.write(str(answered))
            self.stdout.flush()
        if errors:
            sys.exit(1)


def _lines_of(files: list[Path]) -> Iterator[bytes]:
    if not files:
        yield from _lines_in(sys.stdin.buffer)
    for file in files:
        try:
            with file.open("rb") as lines:
                yield from _lines_in(lines)
        except OSError as failure:
            raise CommandError(f"{file}: {failure.strerror}.") from failure


def _lines_in(lines: BinaryIO) -> Iterator[bytes]:
    """Yield the lines that say something; of one too long only its beginning."""
    while line := lines.readline(LONGEST_LINE + 2):
        rest = line
        while rest and not rest.endswith(b"\n"):
            rest = lines.readline(LONGEST_LINE)
        if line.strip():
            yield line.rstrip(b"\r\n")

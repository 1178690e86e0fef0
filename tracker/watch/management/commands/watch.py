"""Do all that is due, again and again: checks, messages, documents to be read."""

from __future__ import annotations

import signal
from argparse import ArgumentParser
from threading import Event
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from tracker.watch.jobs import tick
from tracker.watch.jobs.loop import tick_until


class Command(BaseCommand):
    help = "Do what is due until stopped; another one beside it does no harm."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--once", action="store_true", help="do what is due now, then end"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["once"]:
            begun = tick(timezone.now())
            self.stdout.write(f"{begun} {'job' if begun == 1 else 'jobs'} begun.")
            return
        stopped = Event()
        for name in (signal.SIGTERM, signal.SIGINT):
            signal.signal(name, lambda *_: stopped.set())
        self.stdout.write("Watching. Stop with Ctrl-C.")
        tick_until(stopped)

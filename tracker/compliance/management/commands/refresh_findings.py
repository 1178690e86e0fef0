"""Evaluate every engine again, of one station or of all."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from tracker.accounts.models import Station
from tracker.compliance.changes import refresh_station
from tracker.fleet.entries import day_at


class Command(BaseCommand):
    help = "Evaluate engines again; only what is different is written."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--station", help="public id of one station")

    def handle(self, *args: Any, **options: Any) -> None:
        for station in _stations(options["station"]):
            at = timezone.now()
            changed = refresh_station(station, day_at(station, at), at=at)
            self.stdout.write(
                f"{station}: {changed.added} findings added, "
                f"{changed.changed} changed, {changed.removed} removed."
            )


def _stations(public_id: str | None) -> list[Station]:
    stations = Station.objects.order_by("pk")
    if public_id is None:
        return list(stations)
    try:
        return [stations.get(public_id=public_id)]
    except (Station.DoesNotExist, ValidationError):
        raise CommandError(f'There is no station "{public_id}".') from None

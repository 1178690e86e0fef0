"""The data of the scenario as it lies under `fixtures/`, with days filled in."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings

from tracker.compliance.scenario.days import with_days

FIXTURES: Path = settings.BASE_DIR / "fixtures"
Row = dict[str, Any]


def rows(name: str, today: date) -> list[Row]:
    """Return the rows of a file, every day in them as an ISO date."""
    read: list[Row] = with_days(_read(name), today)
    return read


def setting(today: date) -> Row:
    """Return the station, its people, and since when they work there."""
    read: Row = with_days(_read("station"), today)
    return read


def publications(today: date) -> list[Row]:
    """Return every publication, in the order of the files."""
    names = sorted(path.stem for path in (FIXTURES / "scenario/publications").iterdir())
    return [row for name in names for row in rows(f"publications/{name}", today)]


def document(name: str) -> bytes:
    return (FIXTURES / "documents" / name).read_bytes()


def _read(name: str) -> Any:
    path = FIXTURES / "scenario" / f"{name}.json"
    return json.loads(path.read_text(encoding="utf-8"))

"""The demo lives through months of nights, each as a full evaluation would leave it."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.tracker.compliance.new_days import walk
from tracker.compliance.scenario.load import load

NOW = datetime(2026, 11, 24, 10, 0, tzinfo=UTC)
DAYS = (1, 2, 3, 7, 12, 13, 16, 17, 20, 32, 50, 90, 180, 366)
"""After the load; an outage lies before each of the later ones."""
LIVED_THROUGH = DAYS if os.environ.get("CI") else DAYS[:6]


@pytest.mark.django_db
def test_each_night_of_the_demo_leaves_what_a_full_evaluation_leaves(
    settings: Any, tmp_path: Path
) -> None:
    settings.DOCUMENT_DIR = tmp_path
    stage = load(NOW)
    assert stage is not None
    nights = walk(
        stage.team.station,
        (date(2026, 11, 24) + timedelta(days=n) for n in LIVED_THROUGH),
    )
    evaluated = [night.evaluated for night in nights]
    assert sum(evaluated[:4]) < 40, "most engines are left alone"
    assert all(evaluated[4:]), evaluated

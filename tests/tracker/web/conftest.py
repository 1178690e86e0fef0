"""Engines and provisions as the compliance tests make them, and a clock that stands."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime

import pytest
import time_machine
from django.test import Client

from tests.tracker.compliance.conftest import (
    engine,
    evaluated,
    interval,
    make_engine,
    make_provision,
    today,
)
from tracker.accounts.access import Viewer

__all__ = ["engine", "evaluated", "interval", "make_engine", "make_provision", "today"]


@pytest.fixture
def clock_stands(now: datetime) -> Iterator[None]:
    with time_machine.travel(now, tick=False):
        yield


@pytest.fixture
def page(
    technician: Viewer, signed_in: Callable[[Viewer], Client], clock_stands: None
) -> Client:
    """A client signed in as a technician, on the day of the tests."""
    return signed_in(technician)


@pytest.fixture
def inspector_page(
    inspector: Viewer, signed_in: Callable[[Viewer], Client], clock_stands: None
) -> Client:
    """The same signed in as an inspector, who confirms what others enter."""
    return signed_in(inspector)

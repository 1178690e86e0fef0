"""The act of adding fuel. An owner may add what their own engine was given."""

from __future__ import annotations

from datetime import datetime

from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import changing
from tracker.fleet import fuel
from tracker.fleet.fuel import FuelEntry
from tracker.fleet.models import Engine, FuelRecord


def add_fuel(
    viewer: Viewer, engine: Engine, entry: FuelEntry, *, at: datetime
) -> FuelRecord:
    """Record fuel taken on; intervals that hang on the leaded share move at once."""
    with changing(viewer, engine, Right.ADD_FUEL, at=at) as locked:
        return fuel.add_fuel(locked, entry, at=at, by=viewer.user)

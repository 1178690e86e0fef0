"""The act of adding fuel. An owner may add what their own engine was given."""

from __future__ import annotations

from datetime import datetime

from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import changing
from tracker.fleet import fuel
from tracker.fleet.errors import Doubtful
from tracker.fleet.fuel import FuelEntry
from tracker.fleet.models import Engine, FuelRecord


def add_fuel(
    viewer: Viewer,
    engine: Engine,
    entry: FuelEntry,
    *,
    at: datetime,
    confirmed: bool = False,
) -> FuelRecord:
    """Record fuel taken on; limits that hang on the leaded share move at once.

    Doubtful where the same is entered for that day already, unless a person has
    `confirmed` that it was taken on twice.
    """
    with changing(viewer, engine, Right.ADD_FUEL, at=at) as locked:
        doubt = "" if confirmed else fuel.doubt_about_fuel(locked, entry)
        added = fuel.add_fuel(locked, entry, at=at, by=viewer.user)
        if doubt:
            # Asked last, so that what cannot be at all is refused and never asked about.
            raise Doubtful("quantity", doubt)
        return added

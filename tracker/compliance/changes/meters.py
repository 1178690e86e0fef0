"""Acts on the meters of an engine. An owner may add a reading of their own engine."""

from __future__ import annotations

from datetime import date, datetime

from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import changing
from tracker.fleet import meters
from tracker.fleet.models import Engine, Meter, Reading


def start_meter(
    viewer: Viewer,
    engine: Engine,
    *,
    kind: str,
    on: date,
    shown: int,
    at: datetime,
    hours: int | None = None,
    remark: str = "",
) -> Reading:
    """Record the first meter of an engine with its first reading, which is returned."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        return meters.start_meter(
            locked,
            kind=kind,
            on=on,
            shown=shown,
            hours=hours,
            remark=remark,
            at=at,
            by=viewer.user,
        )


def change_meter(
    viewer: Viewer,
    engine: Engine,
    *,
    kind: str,
    on: date,
    shown: int,
    reason: str,
    at: datetime,
    old_shown: int | None = None,
) -> Reading:
    """Record that another meter counts from a day on; return its first reading."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        return meters.change_meter(
            locked,
            kind=kind,
            on=on,
            shown=shown,
            reason=reason,
            old_shown=old_shown,
            at=at,
            by=viewer.user,
        )


def add_reading(
    viewer: Viewer,
    engine: Engine,
    *,
    on: date,
    shown: int,
    at: datetime,
    meter: Meter | None = None,
    remark: str = "",
    version: int | None = None,
) -> Reading:
    """Add what the meter showed on a day; ReadingRefused where it cannot be."""
    with changing(viewer, engine, Right.ADD_READING, at=at, version=version) as locked:
        return meters.add_reading(
            locked,
            on=on,
            shown=shown,
            meter=meter,
            remark=remark,
            at=at,
            by=viewer.user,
        )


def correct_reading(
    viewer: Viewer,
    wrong: Reading,
    *,
    shown: int,
    at: datetime,
    on: date | None = None,
    remark: str = "",
) -> Reading:
    """Add the right reading in place of a wrong one, which is kept."""
    with changing(viewer, wrong.engine, Right.EDIT_FLEET, at=at):
        return meters.correct_reading(
            wrong, shown=shown, on=on, remark=remark, at=at, by=viewer.user
        )

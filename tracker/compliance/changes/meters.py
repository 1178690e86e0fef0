"""Acts on the meters of an engine. An owner may add a reading of their own engine."""

from __future__ import annotations

from datetime import date, datetime

from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import changing
from tracker.fleet import meters
from tracker.fleet.doubts import doubt_about
from tracker.fleet.errors import Doubtful
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
    confirmed: bool = False,
) -> Reading:
    """Record that another meter counts from a day on; return its first reading.

    `confirmed`: that of the old one is right however far it has run; else Doubtful.
    """
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        doubt = ""
        if old_shown is not None and not confirmed:
            doubt = doubt_about(locked, on=on, shown=old_shown)
        first = meters.change_meter(
            locked,
            kind=kind,
            on=on,
            shown=shown,
            reason=reason,
            old_shown=old_shown,
            at=at,
            by=viewer.user,
        )
        return _undoubted(first, doubt, "old_shown")


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
    confirmed: bool = False,
) -> Reading:
    """Add what the meter showed on a day; ReadingRefused where it cannot be.

    Doubtful where it means far more use than the engine ever had, unless a person has
    `confirmed` it.
    """
    with changing(viewer, engine, Right.ADD_READING, at=at, version=version) as locked:
        doubt = ""
        if not confirmed:
            doubt = doubt_about(locked, on=on, shown=shown, meter=meter)
        added = meters.add_reading(
            locked,
            on=on,
            shown=shown,
            meter=meter,
            remark=remark,
            at=at,
            by=viewer.user,
        )
        return _undoubted(added, doubt, "shown")


def correct_reading(
    viewer: Viewer,
    wrong: Reading,
    *,
    shown: int,
    at: datetime,
    on: date | None = None,
    remark: str = "",
    confirmed: bool = False,
) -> Reading:
    """Add the right reading in place of a wrong one, which is kept.

    `confirmed`: as `add_reading` asks for it.
    """
    with changing(viewer, wrong.engine, Right.EDIT_FLEET, at=at) as locked:
        doubt = ""
        if not confirmed:
            doubt = doubt_about(locked, on=on or wrong.on, shown=shown, wrong=wrong)
        right = meters.correct_reading(
            wrong, shown=shown, on=on, remark=remark, at=at, by=viewer.user
        )
        return _undoubted(right, doubt, "shown")


def _undoubted(reading: Reading, doubt: str, field: str) -> Reading:
    """Asked last, so that what cannot be at all is refused and never asked about."""
    if doubt:
        raise Doubtful(field, doubt)
    return reading

"""What is stored of an engine's overhaul interval, so that lists can select by it."""

from __future__ import annotations

from typing import Any, Final

from tracker.compliance.intervals.evaluating import EngineInterval

INTERVAL_COLUMNS: Final = (
    "overhaul_hours",
    "overhaul_on",
    "overhaul_binds",
    "overhaul_missing",
    "longer_interval",
)


def interval_columns(interval: EngineInterval | None, *, zero: int) -> dict[str, Any]:
    """Return the columns of `Standing`. `zero`: of the core's hours on the axis.

    Of an estimate its earliest bound is stored; what may be law counts as law.
    """
    if interval is None:
        return {
            "overhaul_hours": None,
            "overhaul_on": None,
            "overhaul_binds": False,
            "overhaul_missing": [],
            "longer_interval": "",
        }
    point = interval.point.point
    hours = point.earliest_hours
    return {
        "overhaul_hours": None if hours is None else hours + zero,
        "overhaul_on": point.earliest_date,
        "overhaul_binds": interval.point.binding is not False,
        "overhaul_missing": list(interval.point.missing),
        "longer_interval": interval.longer,
    }

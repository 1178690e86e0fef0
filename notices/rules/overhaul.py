"""The overhaul interval of one engine: the face of everything about it.

`parse_interval` reads a stored provision, `check_together` what several must not say
together; `overhaul_point` gives what changes only with facts, `overhaul_at` what that
means on a day.
"""

from __future__ import annotations

from notices.rules.intervals.points import overhaul_point
from notices.rules.intervals.provisions import (
    EnterBy,
    Interval,
    check_together,
    interval_schema,
    parse_interval,
)
from notices.rules.intervals.results import (
    Holding,
    Judged,
    Offer,
    OverhaulPoint,
    Reach,
    Step,
)
from notices.rules.intervals.states import OverhaulDue, overhaul_at

__all__ = [
    "EnterBy",
    "Holding",
    "Interval",
    "Judged",
    "Offer",
    "OverhaulDue",
    "OverhaulPoint",
    "Reach",
    "Step",
    "check_together",
    "interval_schema",
    "overhaul_at",
    "overhaul_point",
    "parse_interval",
]

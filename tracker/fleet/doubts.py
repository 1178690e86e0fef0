"""A reading that can be, but means far more use than the engine has ever had.

Such a one is asked about once more before it is kept: a slip of one figure would move
every limit that is counted in hours.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from fractions import Fraction
from math import ceil
from typing import Final

from notices.rules.facts import Hours
from notices.rules.times.history import Reading as CoreReading
from notices.rules.times.history import utilisation
from tracker.fleet.entries import in_hours
from tracker.fleet.meters import meter_on, readings_of
from tracker.fleet.models import Engine, Meter, Reading

NEVER_ASKED: Final = 1000
"""So many hundredths of an hour more than before are never asked about."""
LONG_DAY: Final = 1200
"""Hundredths of an hour a day, kept up from one reading to the next."""
TIMES_USUAL: Final = 4
"""So many times the upper end of the engine's utilisation. Own limits, all three."""


def doubt_about(
    engine: Engine,
    *,
    on: date,
    shown: int,
    meter: Meter | None = None,
    wrong: Reading | None = None,
) -> str:
    """Return why a reading is in question, empty where it is not. Two queries.

    `meter`: the one in use that day if None; `wrong`: the reading that it corrects.
    Counted from the reading before it; the first one of an engine is never in question.
    """
    readings = readings_of([engine], on=on)[engine.pk]
    earlier = [one for one in readings if wrong is None or one.pk != wrong.pk]
    if not earlier:
        return ""
    hours = shown + (meter or meter_on(engine, on)).offset
    return doubt_beside(earlier, on=on, hours=hours)


def doubt_beside(earlier: Sequence[Reading], *, on: date, hours: int) -> str:
    """Return the same beside readings that were read before, in the order of days.

    `hours`: on the engine's axis. Without a reading on that day or before it there is
    nothing to compare with.
    """
    before = [one for one in earlier if one.on <= on]
    if not before:
        return ""
    last = before[-1]
    if last.on == on and hours < last.hours:
        return (
            f"For {on} a reading of {in_hours(last.hours)} is kept already. If that one "
            "is wrong, correct it; confirm this one only if it was taken earlier that "
            "day."
        )
    run = hours - last.hours
    days = max((on - last.on).days, 1)
    usual = _usual(before)
    if run <= NEVER_ASKED or not _is_far(Fraction(run, days), usual):
        return ""
    span = "in a day" if days == 1 else f"in {days} days"
    return (
        f"{in_hours(run)} {span}, since the reading of {last.on}, are "
        f"{_a_day(Fraction(run, days))}. {_usual_words(usual)} Read the meter again, "
        "and confirm it if it is right."
    )


def _is_far(a_day: Fraction, usual: Fraction | None) -> bool:
    return a_day > LONG_DAY or (usual is not None and a_day > TIMES_USUAL * usual)


def _usual(readings: Sequence[Reading]) -> Fraction | None:
    """Return the upper end of the utilisation up to the last reading."""
    read = [CoreReading(on=one.on, hours=Hours(one.hours)) for one in readings]
    rate = utilisation(read, readings[-1].on)
    return None if rate is None else rate.high


def _usual_words(usual: Fraction | None) -> str:
    if usual is None:
        return "How this engine is usually run is not known yet."
    return f"Usually this engine runs up to {_a_day(usual)}."


def _a_day(hundredths: Fraction) -> str:
    """To a tenth of an hour, rounded up, as hours that are used."""
    return f"{in_hours(ceil(hundredths / 10) * 10)} a day"

"""The life of an invented engine: hours on every day, readings of two years.

Hours are hundredths on the engine's axis, in tenths of an hour. The same engine has
the same life on the same day of loading: the seed is its name.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from random import Random

from notices.rules.months import plus_months

TENTH = 10
SEASON = (0.4, 0.5, 0.8, 1.1, 1.3, 1.4, 1.4, 1.3, 1.1, 0.9, 0.5, 0.3)
"""How much is flown in each month, January first; common practice, no source."""
MONTHLY_READ = 1000
"""From so many hundredths a month on the meter is read each month, else each second."""

Knot = tuple[date, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """Known points in order of date, hours never falling; straight lines between.

    `readings`: those of the points that were read from the meter.
    """

    knots: tuple[Knot, ...]
    readings: tuple[Knot, ...]

    @property
    def hours_now(self) -> int:
        return self.knots[-1][1]

    def hours_on(self, on: date) -> int:
        """Return the hours on a day; before the first point and after the last its own."""
        at = bisect_left(self.knots, (on, -1))
        if at == len(self.knots):
            return self.hours_now
        day, hours = self.knots[at]
        if day == on or at == 0:
            return hours
        before, started = self.knots[at - 1]
        run = (hours - started) * (on - before).days // (day - before).days
        return started + run // TENTH * TENTH

    def day_at(self, hours: int) -> date:
        """Return the day on which the engine had run these hours."""
        at = bisect_right([reached for _, reached in self.knots], hours)
        if at == len(self.knots):
            return next(day for day, reached in self.knots if reached == hours)
        before, started = self.knots[max(at - 1, 0)]
        day, reached = self.knots[at]
        days = (day - before).days * (hours - started) // max(reached - started, 1)
        return before + timedelta(days)


def life(
    name: str,
    *,
    today: date,
    built: date,
    hours: int,
    monthly: int,
    last_read: int,
    known: Sequence[Knot] = (),
    also: Sequence[date] = (),
) -> Life:
    """Return a life that ends with `hours`, read `last_read` days ago.

    `monthly`: hundredths flown in an average month of the last two years. `known`:
    points from before these two years, as at an overhaul. `also`: days on which the
    meter was read besides.
    """
    begin = max(plus_months(today, -24), built)
    end = today - timedelta(last_read)
    months = 0 if monthly == 0 else max((end - begin).days * 12 // 365, 1)
    first = max(hours - months * monthly, 0) if begin > built else 0
    steps = months if monthly >= MONTHLY_READ else months // 2
    days = _reading_days(begin, end, steps=max(steps, 1), name=name)
    readings = _spread(days, first, hours, name)
    earlier = [knot for knot in ((built, 0), *known) if knot[0] < begin]
    drawn = Life(knots=readings, readings=readings)
    besides = {(day, drawn.hours_on(day)) for day in also if begin < day < end}
    read = tuple(sorted({*readings, *besides}))
    return Life(knots=(*earlier, *read), readings=read)


def _reading_days(begin: date, end: date, *, steps: int, name: str) -> list[date]:
    dice = Random(f"days of {name}")  # noqa: S311 - plausible days, not a secret
    between = (end - begin) / steps
    days = [begin + between * step for step in range(steps + 1)]
    moved = [day + timedelta(dice.randint(0, 4)) for day in days[1:-1]]
    return [begin, *moved, end]


def _spread(days: Sequence[date], first: int, last: int, name: str) -> tuple[Knot, ...]:
    """Share what was flown among the days, more in summer, never the same twice."""
    dice = Random(f"hours of {name}")  # noqa: S311 - plausible hours, not a secret
    weights = [
        (day - before).days * SEASON[day.month - 1] * dice.uniform(0.7, 1.3)
        for before, day in pairwise(days)
    ]
    total, run, knots = sum(weights), 0.0, [(days[0], first)]
    for day, weight in zip(days[1:-1], weights, strict=False):
        run += weight
        flown = int((last - first) * run / total) // TENTH * TENTH
        knots.append((day, first + flown))
    return (*knots, (days[-1], last))

"""What has happened to one engine in time: work done, events, readings of hours.

Hours stand on the engine's axis (`facts.Axis`), in hundredths. `UNKNOWN` in place of a tuple means that
nobody has said whether there are any; an empty tuple is "known none".
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from functools import cached_property
from operator import attrgetter
from typing import Final

from notices.rules.facts import UNKNOWN, Hours, Unknown

_day = attrgetter("on")
YEAR: Final = timedelta(days=365)
MOST_READINGS: Final = 60
TIME_IN_SERVICE: Final = "time in service"


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """One record of the action. `part_hours`: the part's own hours, where it was done
    while the part was on another engine (`hours` is then not on this engine's axis).

    `number`, `revision`: the document it was done by. `result`: what was found.
    `en_route`: an overrun was flown on the way to where the work could be done.
    """

    on: date | Unknown = UNKNOWN
    hours: Hours | Unknown = UNKNOWN
    number: str | Unknown = UNKNOWN
    revision: str | Unknown = UNKNOWN
    result: str | Unknown = UNKNOWN
    en_route: bool = False
    part_hours: Hours | Unknown = UNKNOWN


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happened, or is planned where its date lies ahead."""

    name: str
    on: date | Unknown = UNKNOWN
    hours: Hours | Unknown = UNKNOWN


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Hours on a date. `meter`: what was read; a stand-in is named in answers."""

    on: date
    hours: Hours
    meter: str = TIME_IN_SERVICE


@dataclass(frozen=True, kw_only=True)
class History:
    """All that a compliance time may ask of the past.

    No slots, so that what is worked out once is kept with it.

    `effective_on`: None and UNKNOWN both mean that there is no effective date to go by.
    `effective_hours`: the engine's on that date, where somebody has noted them.
    """

    effective_on: date | Unknown | None = UNKNOWN
    effective_hours: Hours | Unknown = UNKNOWN
    done: tuple[Done, ...] | Unknown = UNKNOWN
    events: tuple[Event, ...] | Unknown = UNKNOWN
    readings: tuple[Reading, ...] = ()

    @cached_property
    def in_order(self) -> tuple[Reading, ...]:
        """The readings by day, those of one day by hours."""
        return _in_order(self.readings)

    def up_to(self, on: date | Unknown) -> History:
        """Return the history without what is dated after `on`: plans do not count."""
        if isinstance(on, Unknown):
            return self
        done, events = self.done, self.events
        if not isinstance(done, Unknown):
            done = tuple(one for one in done if not _is_after(one.on, on))
        if not isinstance(events, Unknown):
            events = tuple(one for one in events if not _is_after(one.on, on))
        readings = tuple(one for one in self.readings if one.on <= on)
        return History(
            effective_on=self.effective_on,
            effective_hours=self.effective_hours,
            done=done,
            events=events,
            readings=readings,
        )


def _is_after(day: date | Unknown, on: date) -> bool:
    return not isinstance(day, Unknown) and day > on


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Hours on a day: as read, or on the straight line between two readings.

    `lowest`, `highest`: the readings on either side, between which the truth lies.
    """

    hours: Fraction
    lowest: Hours
    highest: Hours

    @property
    def is_read(self) -> bool:
        return self.lowest == self.highest


def hours_on(readings: Sequence[Reading], day: date) -> Estimate | None:
    """Return the hours on `day`, None unless readings lie on it or on both sides.

    Of several readings on one day the highest stands.
    """
    return hours_in(_in_order(readings), day)


def _in_order(readings: Iterable[Reading]) -> tuple[Reading, ...]:
    return tuple(sorted(readings, key=attrgetter("on", "hours")))


def hours_in(ordered: Sequence[Reading], day: date) -> Estimate | None:
    """Return what `hours_on` returns, from readings already in order."""
    split = bisect_right(ordered, day, key=_day)
    if split == 0:
        return None
    before = ordered[split - 1]
    if before.on == day:
        read = before.hours
        return Estimate(hours=Fraction(read), lowest=read, highest=read)
    if split == len(ordered):
        return None
    after = ordered[split]
    share = Fraction((day - before.on).days, (after.on - before.on).days)
    hours = before.hours + share * (after.hours - before.hours)
    return Estimate(hours=hours, lowest=before.hours, highest=after.hours)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """Utilisation in hundredths of an hour a day, with the range it has varied in."""

    a_day: Fraction
    low: Fraction
    high: Fraction


def utilisation(readings: Sequence[Reading], on: date) -> Rate | None:
    """Return how much the engine has been run a day over the year up to `on`.

    The median of the slopes between all pairs of readings (the Theil-Sen estimator,
    which a single wrong reading hardly moves); the range is that of the middle eight
    tenths of these slopes. None, "no basis", under two readings on different days.
    Of more than 60 readings every n-th is taken.
    """
    year = _in_order(one for one in readings if on - YEAR <= one.on <= on)
    every = max(-(-len(year) // MOST_READINGS), 1)
    taken = year[::-every][::-1]  # from the newest back, so that it is kept
    slopes = _slopes([(one.on.toordinal(), one.hours) for one in taken])
    if not slopes:
        return None
    tenth, middle = len(slopes) // 10, len(slopes) // 2
    low, high = Fraction(*slopes[tenth]), Fraction(*slopes[-1 - tenth])
    median = Fraction(*slopes[middle])
    if len(slopes) % 2 == 0:
        median = (Fraction(*slopes[middle - 1]) + median) / 2
    return Rate(a_day=median, low=low, high=high)


def _slopes(points: Sequence[tuple[int, Hours]]) -> list[tuple[int, int]]:
    """Return the slopes between all points of different days, as hours and days.

    Least first, none below 0. Two different slopes over at most 366 days are at least
    1/366^2 apart, which a quotient in floating point still tells apart.
    """
    found = [
        (max(hours - before, 0), day - earlier)
        for at, (day, hours) in enumerate(points)
        for earlier, before in points[:at]
        if day > earlier
    ]
    return sorted(found, key=_quotient)


def _quotient(slope: tuple[int, int]) -> float:
    return slope[0] / slope[1]

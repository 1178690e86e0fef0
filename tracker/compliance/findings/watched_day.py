"""A day that notes how long all that was asked of it comes out the same.

What is worked out for a day depends on the day only through what is asked of it. As long
as every comparison answers as before, so does the whole; what else is read of the day,
as its distance from another, may be different tomorrow. To ask the day itself leaves
nothing to forget when a rule learns a new kind of limit.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any, Final, Self

_DAY: Final = timedelta(days=1)
_PARTS: Final = ("year", "month", "day")
_READINGS: Final = (
    "__add__",
    "__format__",
    "__radd__",
    "__reduce__",
    "__reduce_ex__",
    "__rsub__",
    "__str__",
    "__sub__",
    "ctime",
    "isocalendar",
    "isoformat",
    "isoweekday",
    "replace",
    "strftime",
    "timetuple",
    "weekday",
)
_OF_NUMBERS: Final = (
    "__add__",
    "__float__",
    "__floordiv__",
    "__format__",
    "__index__",
    "__int__",
    "__mod__",
    "__mul__",
    "__neg__",
    "__radd__",
    "__reduce__",
    "__reduce_ex__",
    "__repr__",
    "__rmul__",
    "__rsub__",
    "__str__",
    "__sub__",
    "__truediv__",
)


class WatchedDay(date):
    """A date. `changes_on`: the first later day on which an answer may be another one.

    None where no answer changes with the days to come. Not noted is a look-up by its
    hash: no answer may hang on whether the day stands among the keys of a mapping.
    """

    changes_on: date | None

    def __new__(cls, day: date) -> Self:
        watched = super().__new__(cls, day.year, day.month, day.day)
        watched.changes_on = None
        return watched

    __hash__ = date.__hash__

    def __lt__(self, other: date) -> bool:
        self._turns_on(other)
        return super().__lt__(other)

    def __ge__(self, other: date) -> bool:
        self._turns_on(other)
        return super().__ge__(other)

    def __le__(self, other: date) -> bool:
        self._turns_after(other)
        return super().__le__(other)

    def __gt__(self, other: date) -> bool:
        self._turns_after(other)
        return super().__gt__(other)

    def __eq__(self, other: object) -> bool:
        self._turns_on(other)
        self._turns_after(other)
        return super().__eq__(other)

    def __ne__(self, other: object) -> bool:
        return not self == other

    def _turns_on(self, other: object) -> None:
        """Note that the answer is another one from the other day on."""
        if isinstance(other, date) and super().__lt__(other):
            self._note(other)

    def _turns_after(self, other: object) -> None:
        """Note that the answer is another one from the day after the other day on."""
        if other is self or not isinstance(other, date) or super().__gt__(other):
            return
        if other < date.max:
            self._note(other + _DAY)

    def toordinal(self) -> WatchedOrdinal:
        """Return the day as a number, whose comparisons are noted, too."""
        return WatchedOrdinal(self)

    def read(self) -> None:
        """Note that the date itself was read: tomorrow it is another one."""
        self._note(self.plain() + _DAY)

    def plain(self) -> date:
        """Return the date alone, of which nothing is noted."""
        return date.fromordinal(date.toordinal(self))

    def _note(self, day: date) -> None:
        if self.changes_on is None or day < self.changes_on:
            self.changes_on = day


class WatchedOrdinal(int):
    """The ordinal of a watched day: to compare it is to compare the day."""

    day: WatchedDay

    def __new__(cls, day: WatchedDay) -> Self:
        number = super().__new__(cls, date.toordinal(day))
        number.day = day
        return number

    __hash__ = int.__hash__

    def __lt__(self, other: int) -> bool:
        return bool(self._asked(other) < other)

    def __ge__(self, other: int) -> bool:
        return bool(self._asked(other) >= other)

    def __le__(self, other: int) -> bool:
        return bool(self._asked(other) <= other)

    def __gt__(self, other: int) -> bool:
        return bool(self._asked(other) > other)

    def __eq__(self, other: object) -> bool:
        return bool(self._asked(other) == other)

    def __ne__(self, other: object) -> bool:
        return bool(self._asked(other) != other)

    def _asked(self, other: object) -> int:
        """Note when a comparison may turn at the soonest; return the plain number."""
        number = int.__int__(self)
        if other is self:
            return number
        if not isinstance(other, int):
            self.day.read()
        elif number <= other <= date.max.toordinal():
            _ = self.day == date.fromordinal(other)
        return number


def _part(name: str) -> property:
    def part(self: WatchedDay) -> Any:
        self.read()
        return getattr(self.plain(), name)

    return property(part)


def _reading(name: str) -> Callable[..., Any]:
    def reading(self: WatchedDay, *args: Any, **named: Any) -> Any:
        self.read()
        return getattr(self.plain(), name)(*args, **named)

    return reading


def _calculation(name: str) -> Callable[..., Any]:
    def calculation(self: WatchedOrdinal, *args: Any) -> Any:
        self.day.read()
        return getattr(date.toordinal(self.day), name)(*args)

    return calculation


for _name in _PARTS:
    setattr(WatchedDay, _name, _part(_name))
for _name in _READINGS:
    setattr(WatchedDay, _name, _reading(_name))
for _name in _OF_NUMBERS:
    setattr(WatchedOrdinal, _name, _calculation(_name))

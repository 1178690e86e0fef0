"""Degrees Celsius and Fahrenheit: exact conversion, ranges as entered, words.

F = C x 9/5 + 32, exact by definition. A temperature keeps the unit in which it was
entered and is compared exactly: 200 deg F is 200 deg F.
"""

# ruff: noqa: RUF009 - keyed(...) is dataclasses.field with a form

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from notices.rules.facts import TemperatureRange
from notices.rules.forms import Exact, Words, keyed
from notices.rules.phrases import MINUS

Unit = Literal["C", "F"]
UNITS: Final[tuple[Unit, ...]] = ("C", "F")
UNIT: Final = Words(UNITS)
DEGREES: Final = Exact("degrees", -460, 2000)
ABSOLUTE_ZERO: Final = Fraction("-273.15")


def in_celsius(degrees: Fraction, unit: Unit) -> Fraction:
    """Return the temperature in degrees Celsius, exactly."""
    return degrees if unit == "C" else (degrees - 32) * Fraction(5, 9)


def from_celsius(degrees: Fraction, unit: Unit) -> Fraction:
    """Return a temperature in degrees Celsius in the unit, exactly."""
    return degrees if unit == "C" else degrees * Fraction(9, 5) + 32


def check_physical(degrees: Fraction | None, unit: Unit) -> None:
    """Raise ValueError for a temperature that cannot be."""
    if degrees is not None and in_celsius(degrees, unit) < ABSOLUTE_ZERO:
        raise ValueError(
            f"{degrees_words(degrees, unit)} is colder than anything can be."
        )


def degrees_words(degrees: Fraction, unit: Unit = "C") -> str:
    """Return degrees of the unit, to three decimals at most: "80 °C", "−4.5 °F"."""
    whole, part = divmod(round(abs(degrees) * 1000), 1000)
    decimals = f".{part:03}".rstrip("0") if part else ""
    sign = MINUS if degrees < 0 and (whole or part) else ""
    return f"{sign}{whole}{decimals} °{unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Temperatures from the lowest to the highest, in the unit they were entered in.

    An end that is None is open: a maker's table may say "above 15 °C" and no more.
    """

    low: Fraction | None = keyed("from", DEGREES, default=None)
    high: Fraction | None = keyed("to", DEGREES, default=None)
    unit: Unit = keyed("unit", UNIT, default="C")

    def __post_init__(self) -> None:
        """Refuse a range without an end, upside down, or colder than can be."""
        if self.low is None and self.high is None:
            raise ValueError('Name the lowest temperature "from", the highest "to".')
        check_physical(self.low, self.unit)
        check_physical(self.high, self.unit)
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError('The lowest temperature "from" is above the highest "to".')

    @property
    def celsius(self) -> tuple[Fraction | None, Fraction | None]:
        """Both ends in degrees Celsius, exact."""
        low, high = (
            None if end is None else in_celsius(end, self.unit)
            for end in (self.low, self.high)
        )
        return low, high

    @property
    def closed(self) -> TemperatureRange | None:
        """The range in degrees Celsius, None where an end is open."""
        low, high = self.celsius
        if low is None or high is None:
            return None
        return TemperatureRange(low=low, high=high)

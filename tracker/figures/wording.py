"""Hours, days and distances as they are printed. Hours are whole hundredths."""

from datetime import date
from typing import Final

THIN: Final = "\u202f"
MINUS: Final = "\u2212"
NO_BREAK: Final = "\u00a0"
MONTHS: Final = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def grouped(number: int) -> str:
    """A whole number with narrow blanks between its thousands and a true minus."""
    sign = MINUS if number < 0 else ""
    return sign + f"{abs(number):,}".replace(",", THIN)


def decimal(hundredths: int) -> str:
    """Hours exactly, with one decimal, or with two where the second is not nought."""
    sign = MINUS if hundredths < 0 else ""
    whole, rest = divmod(abs(hundredths), 100)
    figures = f"{rest:02d}" if rest % 10 else f"{rest // 10}"
    return f"{sign}{grouped(whole)}.{figures}"


def hours(hundredths: int) -> str:
    """Hours exactly, with their unit."""
    return f"{decimal(hundredths)}{NO_BREAK}h"


def rounded_down(hundredths: int) -> int:
    """To a tenth of an hour, never later than it is: for due and remaining hours."""
    return hundredths // 10 * 10


def rounded_up(hundredths: int) -> int:
    """To a tenth of an hour, never less than it is: for hours that are used up."""
    return -(-hundredths // 10) * 10


def due_hours(hundredths: int) -> str:
    """The hours at which something is due, to a tenth, rounded down."""
    return hours(rounded_down(hundredths))


def used_hours(hundredths: int) -> str:
    """Hours that have been run, to a tenth, rounded up."""
    return hours(rounded_up(hundredths))


def distance(hundredths: int) -> str:
    """Remaining hours in words: "in 18.9 h", "13.2 h past", "reached"."""
    left = rounded_down(hundredths)
    if hundredths == 0:
        return "reached, still in time"
    if left < 0:
        return f"{hours(-left)} past"
    return f"in {hours(left)}"


def days(count: int) -> str:
    """A number of days with its noun."""
    noun = "day" if abs(count) == 1 else "days"
    return f"{grouped(count)}{NO_BREAK}{noun}"


def days_away(count: int) -> str:
    """Remaining days in words: "in 47 days", "8 days past", "today"."""
    if count == 0:
        return "today, still in time"
    return f"{days(-count)} past" if count < 0 else f"in {days(count)}"


def day(on: date) -> str:
    """A date as it stands in tables: 24 Nov 2026."""
    return f"{on.day} {MONTHS[on.month - 1][:3]} {on.year}"


def long_day(on: date) -> str:
    """A date as it stands in sentences: 24 November 2026."""
    return f"{on.day} {MONTHS[on.month - 1]} {on.year}"


def listed(words: list[str], last: str = "and") -> str:
    """Words as a list in a sentence: a, b and c."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"

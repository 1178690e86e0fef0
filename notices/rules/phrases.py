"""Hours, dates and lists as they stand in English sentences.

Hours are shown to one decimal: due hours rounded down, used hours up. Dates are shown
in full, as in 24 November 2026.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from typing import Final

NO_BREAK: Final = "\u00a0"
MINUS: Final = "\u2212"
LONGEST_QUOTED: Final = 40
_BLANK: Final = re.compile("[ \u00a0\u2009\u202f]")
_GROUPED: Final = re.compile("[0-9]{1,3}(?:[ \u00a0\u2009\u202f][0-9]{3})+(?:[.,]|$)")
_MONTHS: Final = (
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


def date_words(day: date) -> str:
    """Return a date as 24 November 2026."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def due_hours_words(hours: int) -> str:
    """Return hours of a limit, rounded down to tenths: 1234.56 h is 1 234.5 h."""
    return _tenths(hours // 10)


def used_hours_words(hours: int) -> str:
    """Return hours run, rounded up to tenths: 1234.56 h is 1 234.6 h."""
    return _tenths(-(-hours // 10))


def _tenths(tenths: int) -> str:
    sign = MINUS if tenths < 0 else ""
    return f"{sign}{grouped(abs(tenths) // 10)}.{abs(tenths) % 10}{NO_BREAK}h"


def interval_words(hours: int) -> str:
    """Return the hours of an interval, without decimals that say nothing: 50 h."""
    whole, part = divmod(hours, 100)
    decimals = f".{part:02}".rstrip("0") if part else ""
    return f"{grouped(whole)}{decimals}{NO_BREAK}h"


def grouped(whole: int) -> str:
    """Return a whole number with blanks between its thousands."""
    return f"{whole:,}".replace(",", NO_BREAK)


def ungrouped(text: str) -> str:
    """Return a number without the blanks between its thousands; other text as it is.

    So what is shown can be entered again. Whether it is a number is asked afterwards.
    """
    bare = text.strip()
    return _BLANK.sub("", bare) if _GROUPED.match(bare) else bare


def quoted(text: str) -> str:
    """Return a text as it is quoted, no more of it than a line shows."""
    return f'"{text[:LONGEST_QUOTED]}…"' if len(text) > LONGEST_QUOTED else f'"{text}"'


def with_article(noun: str) -> str:
    """Return a noun with its article: an overhaul, a fuel pump."""
    return f"{'an' if noun[:1].casefold() in tuple('aeiou') else 'a'} {noun}"


def counted(number: int, noun: str) -> str:
    """Return a number with its noun: 1 day, 2 days, 1 000 days."""
    return f"{grouped(number)} {noun}" if number == 1 else f"{grouped(number)} {noun}s"


def listed(words: Sequence[str], joint: str) -> str:
    """Return a list as it is spoken: a, b or c."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {joint} {words[-1]}"

"""What stands in one cell of a sheet: text -> value, and value -> what is written.

An empty cell says nothing: it is never a value, and it never takes one away.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from notices.rules.designations import plain_text
from notices.rules.phrases import ungrouped

SEPARATOR: Final = ";"
"""Between several values in one cell."""

Written = str | Decimal | date
"""What a cell is given to be written: text, hours or a date; "" leaves it empty."""

_HOURS = re.compile(r"([0-9]{1,7})(?:[.,]([0-9]{1,2}))?")
_FAILED = frozenset(
    {"#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!"}
)
"""What a formula that failed leaves in its cell (ECMA-376 part 1, 18.17.2.7)."""
_DATE = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a sheet.

    `read`: a cell that is not empty -> its value, ValueError with a sentence if it is
    not understood. `write`: the value -> the cell. `help`: what to write, one sentence.
    """

    name: str
    help: str
    read: Callable[[str], Any]
    write: Callable[[Any], Written]
    required: bool = False


def text(name: str, help: str, *, longest: int, required: bool = False) -> Column:
    """A column of text on one line."""

    def read(cell: str) -> str:
        value = " ".join(unicodedata.normalize("NFC", cell).split())
        if any(unicodedata.category(c) in {"Cc", "Cs"} for c in value):
            raise ValueError(f"{cell[:40]!a} holds a control character. Type it again.")
        if value in _FAILED:
            raise ValueError(
                f"{value} is what a failed formula leaves. Write the text."
            )
        if len(value) > longest:
            raise ValueError(
                f"The text has {len(value)} characters; at most {longest} are kept."
            )
        return value

    return Column(name=name, help=help, read=read, write=str, required=required)


def day(name: str, help: str, *, required: bool = False) -> Column:
    """A column of dates."""
    return Column(
        name=name, help=help, read=read_day, write=lambda on: on, required=required
    )


def hours(name: str, help: str, *, required: bool = False) -> Column:
    """A column of hours: decimal in the sheet, whole hundredths inside."""
    return Column(
        name=name, help=help, read=read_hours, write=written_hours, required=required
    )


def choice(
    name: str, help: str, words: Sequence[str], *, required: bool = False
) -> Column:
    """A column of one of a few words, in any case."""

    def read(cell: str) -> str:
        word = plain_text(cell)
        if word not in words:
            raise ValueError(f'"{cell[:40]}" is none of: {", ".join(words)}.')
        return word

    return Column(name=name, help=help, read=read, write=str, required=required)


def several(name: str, help: str, *, longest: int) -> Column:
    """A column of several texts, separated by semicolons; duplicates count once."""
    single = text(name, help, longest=longest)

    def read(cell: str) -> tuple[str, ...]:
        values = [single.read(piece) for piece in cell.split(SEPARATOR)]
        return tuple(dict.fromkeys(value for value in values if value))

    return Column(name=name, help=help, read=read, write=f"{SEPARATOR} ".join)


def read_day(cell: str) -> date:
    """Return the date; ValueError unless it is written as 2026-05-31."""
    found = _DATE.fullmatch(cell.strip())
    try:
        if found:
            return date(int(found[1]), int(found[2]), int(found[3]))
    except ValueError:
        pass
    raise ValueError(f'"{cell[:40]}" is not a date. Write it as 2026-05-31.')


def read_hours(cell: str) -> int:
    """Return whole hundredths of an hour; ValueError for any other form.

    Decimals after a point or a comma, two at most: 1,234 could be either and is refused.
    """
    found = _HOURS.fullmatch(ungrouped(cell))
    if not found:
        raise ValueError(
            f'"{cell[:40]}" is not a number of hours. '
            "Write hours with at most two decimals, and at most blanks between "
            "thousands: 1234.5."
        )
    return int(found[1]) * 100 + int((found[2] or "").ljust(2, "0"))


def written_hours(hundredths: int) -> Decimal:
    """Return hours as a number: 51230 is 512.3."""
    whole, rest = divmod(hundredths, 100)
    return Decimal(f"{whole}.{rest:02}".rstrip("0").rstrip("."))

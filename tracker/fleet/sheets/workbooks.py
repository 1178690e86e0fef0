"""The first sheet of an XLSX file as rows of text.

A workbook is a compressed archive, and a small one can unpack to far more than memory
holds: so its list of entries is judged before anything of it is opened.
"""

from __future__ import annotations

import io
import struct
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any, Final

import openpyxl

from tracker.fleet.sheets.rows import MOST_ROWS, SheetRefused, SheetRow

MOST_ENTRIES: Final = 1_000
MOST_UNPACKED: Final = 100_000_000
MOST_RATIO: Final = 100
_SMALL: Final = 100_000
"""An entry under this size may shrink as well as it likes."""

_WIDEST: Final = 1_000
"""A row of so many cells is refused unread, be they empty or not."""

# What the readers of archive and markup raise for a file that is broken or hostile.
_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    OSError,
    EOFError,
    LookupError,
    ValueError,
    TypeError,
    AttributeError,
    ArithmeticError,
    SyntaxError,
    RuntimeError,
)


def workbook_rows(content: bytes) -> Iterator[SheetRow]:
    """Yield the rows of the first sheet; values, not formulas. SheetRefused if broken."""
    try:
        _judge_entries(content)
        yield from _rows(content)
    except SheetRefused:
        raise
    except _BROKEN as error:
        raise SheetRefused(
            "The file cannot be read as an XLSX workbook. Open it in a spreadsheet "
            "program and save it again, or save the sheet as CSV UTF-8."
        ) from error


def _judge_entries(content: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        entries = archive.infolist()
    if len(entries) > MOST_ENTRIES:
        raise SheetRefused(f"The workbook has {len(entries):,} entries, too many.")
    unpacked = sum(entry.file_size for entry in entries)
    if unpacked > MOST_UNPACKED:
        raise SheetRefused(
            f"The workbook unpacks to {unpacked:,} bytes; at most {MOST_UNPACKED:,} are "
            "read. Save only the sheet that is needed."
        )
    for entry in entries:
        _judge_entry(entry)


def _judge_entry(entry: zipfile.ZipInfo) -> None:
    name = entry.filename
    if name.startswith(("/", "\\")) or ".." in name or ":" in name:
        raise SheetRefused(
            "The workbook has an entry with a path that leads out of it."
        )
    if entry.flag_bits & 1:
        raise SheetRefused("The workbook is locked by a password. Save it without one.")
    if "vbaproject" in name.lower() or "externallink" in name.lower():
        raise SheetRefused(
            "The workbook holds macros or links to other files. "
            "Save the sheet alone, as CSV UTF-8 or as XLSX without macros."
        )
    if entry.file_size > _SMALL and (
        entry.file_size > MOST_RATIO * max(entry.compress_size, 1)
    ):
        raise SheetRefused(
            f"An entry of the workbook unpacks to more than {MOST_RATIO} times its size. "
            "Save the sheet again, or as CSV UTF-8."
        )


def _rows(content: bytes) -> Iterator[SheetRow]:
    with warnings.catch_warnings():
        # The library warns of styles and validations, which are of no concern here.
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(
            io.BytesIO(content), read_only=True, data_only=True, keep_links=False
        )
        try:
            sheet = book.worksheets[0]
            # What a sheet says of its own size is not believed.
            sheet.reset_dimensions()
            for line, values in enumerate(sheet.iter_rows(values_only=True), start=1):
                _judge_extent(line, len(values))
                yield SheetRow(line, _without_empty_end(values))
        finally:
            book.close()


def _judge_extent(line: int, width: int) -> None:
    """Refuse a sheet that reaches far out, even with nothing in it: it takes long."""
    if line > MOST_ROWS + 1:
        raise SheetRefused(
            f"The sheet goes below line {MOST_ROWS + 1:,}. "
            "Delete empty rows at its end, or split it into several."
        )
    if width > _WIDEST:
        raise SheetRefused(
            f"Line {line} reaches to column {width:,}. Delete the columns to the right."
        )


def _without_empty_end(values: tuple[Any, ...]) -> tuple[str, ...]:
    cells = [_cell(value) for value in values]
    while cells and not cells[-1]:
        cells.pop()
    return tuple(cells)


def _cell(value: Any) -> str:
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case int():
            return str(value)
        case float():
            return _number(value)
        case datetime() if value.time() == time():
            return value.date().isoformat()
        case datetime() | date() | time():
            return value.isoformat()
        case _:
            return str(value).strip()


def _number(value: float) -> str:
    """Return a number without the dust of binary fractions: 512.3000000000001 is 512.3."""
    rounded = round(value, 9)
    if rounded == int(rounded):
        return str(int(rounded))
    return format(Decimal(repr(rounded)), "f")

"""Bytes of a sheet -> its header and rows as text, within limits. Nothing is believed."""

from __future__ import annotations

import csv
import hashlib
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from tracker.fleet.sheets.rows import MOST_ROWS, SheetRefused, SheetRow

MOST_BYTES: Final = 10_000_000
MOST_COLUMNS: Final = 200
LONGEST_CELL: Final = 10_000

_WORKBOOK = b"PK\x03\x04"
# What `writing.guarded` puts before text that a spreadsheet would run as a formula.
_GUARD = re.compile(r"'+\s*(?:[=+\-@\uff1d\uff0b\uff0d\uff20]|(?<=[\t\r\n]))")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet as text. `digest`: SHA-256 of the file, to apply what was looked at."""

    name: str
    digest: str
    header: SheetRow
    rows: tuple[SheetRow, ...]


def read_sheet(content: bytes, name: str) -> Sheet:
    """Return the first sheet of a CSV or XLSX file; SheetRefused with the reason.

    `name`: the file's name, only to speak of it; what it holds decides how it is read.
    """
    if len(content) > MOST_BYTES:
        raise SheetRefused(
            f"The file has {len(content):,} bytes; at most {MOST_BYTES:,} are read. "
            "Split it into several."
        )
    if content.startswith(_WORKBOOK):
        # Only a workbook needs the library, which takes a while to load.
        from tracker.fleet.sheets.workbooks import workbook_rows

        rows = workbook_rows(content)
    else:
        rows = _csv_rows(content)
    filled = list(_within_limits(row for row in rows if any(row.cells)))
    if not filled:
        raise SheetRefused("The file is empty. Its first row names the columns.")
    return Sheet(
        name=name,
        digest=hashlib.sha256(content).hexdigest(),
        header=filled[0],
        rows=tuple(filled[1:]),
    )


def _within_limits(rows: Iterable[SheetRow]) -> Iterator[SheetRow]:
    for number, row in enumerate(rows):
        if number > MOST_ROWS:
            raise SheetRefused(
                f"The file has more than {MOST_ROWS:,} rows. Split it into several."
            )
        if len(row.cells) > MOST_COLUMNS:
            raise SheetRefused(
                f"Line {row.line} has {len(row.cells)} columns; at most {MOST_COLUMNS} "
                "are read."
            )
        longest = max(len(cell) for cell in row.cells)
        if longest > LONGEST_CELL:
            raise SheetRefused(
                f"Line {row.line} has a cell of {longest:,} characters; at most "
                f"{LONGEST_CELL:,} are read."
            )
        yield row


def _csv_rows(content: bytes) -> Iterator[SheetRow]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise SheetRefused(
            f"Byte {error.start + 1} of the file is not UTF-8 text. "
            'Save the sheet as "CSV UTF-8" or as XLSX.'
        ) from error
    if "\0" in text:
        raise SheetRefused("The file holds null characters and is not a CSV file.")
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True
    )
    line = 1
    try:
        for cells in reader:
            yield SheetRow(line, tuple(unguarded(cell.strip()) for cell in cells))
            line = reader.line_num + 1
    except csv.Error as error:
        raise SheetRefused(
            f"Line {line} of the file cannot be read as CSV: {error}. "
            "Look for a quotation mark that is not closed or not doubled."
        ) from error


def _delimiter(text: str) -> str:
    """Return which of comma, semicolon and tab parts the first row most often."""
    first = next((row for row in text.splitlines() if row.strip()), "")
    return max(",;\t", key=lambda sign: _parts(first, sign))


def _parts(row: str, sign: str) -> int:
    try:
        return len(next(csv.reader([row], delimiter=sign)))
    except csv.Error:
        return 0


def unguarded(cell: str) -> str:
    """Return the cell without the apostrophe that our own export put before it."""
    return cell[1:] if _GUARD.match(cell) else cell

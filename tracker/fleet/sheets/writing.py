"""Columns and rows -> a CSV or XLSX file, such that no text in it runs as a formula."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from tracker.fleet.sheets.cells import Column, Written

# Also text that begins with our own apostrophe, so that exactly one comes off again.
_FORMULA = re.compile(r"'*\s*(?:[=+\-@\uff1d\uff0b\uff0d\uff20]|(?<=[\t\r\n]))")


def guarded(text: str) -> str:
    """Return text with an apostrophe before what a spreadsheet would run as a formula."""
    return f"'{text}" if _FORMULA.match(text) else text


def write_csv(columns: Sequence[Column], rows: Iterable[Mapping[str, Any]]) -> bytes:
    """Return the rows as CSV in UTF-8; every text is quoted, numbers are not.

    A row gives values by the column's name; what is missing or None stays empty.
    """
    file = io.StringIO(newline="")
    writer = csv.writer(file, quoting=csv.QUOTE_NONNUMERIC)
    writer.writerow([column.name for column in columns])
    for row in rows:
        writer.writerow([_csv_cell(cell) for cell in _written(columns, row)])
    # The mark tells spreadsheet programs that the file is UTF-8.
    return file.getvalue().encode("utf-8-sig")


def write_xlsx(columns: Sequence[Column], rows: Iterable[Mapping[str, Any]]) -> bytes:
    """Return the rows as a workbook with typed cells: text, numbers, dates."""
    import openpyxl
    from openpyxl.cell import WriteOnlyCell

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Sheet 1")

    def cell(value: Written) -> Any:
        shown: Any = value
        made = WriteOnlyCell(sheet, value=shown)
        if isinstance(value, str):
            # The library takes text that begins with "=" for a formula.
            made.data_type = "s"
        return made

    sheet.append([cell(column.name) for column in columns])
    for row in rows:
        sheet.append([cell(value) for value in _written(columns, row)])
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def _written(columns: Sequence[Column], row: Mapping[str, Any]) -> list[Written]:
    return [
        "" if row.get(column.name) is None else column.write(row[column.name])
        for column in columns
    ]


def _csv_cell(cell: Written) -> str | Decimal:
    match cell:
        case Decimal():
            return cell
        case date():
            return cell.isoformat()
        case _:
            return guarded(cell)

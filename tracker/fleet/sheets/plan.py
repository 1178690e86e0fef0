"""What a sheet would do, row by row, before anything is written.

A sheet is described by its columns. `entered` turns its rows into values and lists
every fault; what the rows mean beside what is kept already is each sheet's own affair.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any, Generic, TypeVar

from notices.rules.designations import plain_text
from tracker.fleet.errors import Refused
from tracker.fleet.sheets.cells import Column
from tracker.fleet.sheets.reading import Sheet
from tracker.fleet.sheets.rows import SheetRow

Wish = TypeVar("Wish")


class Action(Enum):
    """What becomes of a good row."""

    ADD = "add"
    CHANGE = "change"
    UNCHANGED = "unchanged"


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """Why a row, or a column as a whole, cannot be taken. `column`: "" for the row."""

    line: int
    column: str
    reason: str

    def __str__(self) -> str:
        where = f"line {self.line}"
        return (
            f"{where}, {self.column}: {self.reason}"
            if self.column
            else (f"{where}: {self.reason}")
        )


@dataclass(frozen=True, slots=True)
class Change:
    """One cell that differs from what is kept; `before` is "" where nothing is."""

    column: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """A row whose cells were all understood. `values` by column, without empty cells."""

    line: int
    values: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRow(Generic[Wish]):
    """A good row. `about`: what it is about, to read; `wish`: what would be written.

    `doubt`: why a figure in it is in question although it can be; empty if none is.
    """

    line: int
    about: str
    action: Action
    changes: tuple[Change, ...]
    wish: Wish
    doubt: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan(Generic[Wish]):
    """All good rows and all faults of a sheet. `digest` names the file that was read."""

    name: str
    digest: str
    rows: tuple[PlannedRow[Wish], ...]
    faults: tuple[Fault, ...]

    def of(self, action: Action) -> tuple[PlannedRow[Wish], ...]:
        return tuple(row for row in self.rows if row.action is action)

    @property
    def to_add(self) -> tuple[PlannedRow[Wish], ...]:
        return self.of(Action.ADD)

    @property
    def to_change(self) -> tuple[PlannedRow[Wish], ...]:
        return self.of(Action.CHANGE)

    @property
    def in_question(self) -> tuple[PlannedRow[Wish], ...]:
        return tuple(row for row in self.rows if row.doubt)

    @property
    def unchanged(self) -> tuple[PlannedRow[Wish], ...]:
        return self.of(Action.UNCHANGED)


class RowFault(ValueError):  # noqa: N818  # becomes a Fault once its line is known
    """Why the row in hand cannot be taken, and because of which column."""

    def __init__(self, column: str, reason: str) -> None:
        self.column = column
        super().__init__(reason)


class RowRefused(Refused):
    """A row that was good when it was looked at, and no longer is when written."""

    def __init__(self, line: int, refused: Refused) -> None:
        super().__init__(refused.field, f"Line {line}: {refused}")


def entered(
    sheet: Sheet, columns: Sequence[Column]
) -> tuple[list[Entered], list[Fault]]:
    """Return the rows that could be read, and the faults of all others.

    Without a column that is required, or with one that stands twice, there are no rows.
    """
    places, faults, usable = _header(sheet.header, columns)
    rows = []
    for row in sheet.rows if usable else ():
        values, bad = _values(row, places, columns)
        if bad:
            faults += bad
        else:
            rows.append(Entered(line=row.line, values=values))
    return rows, faults


def changes_between(
    columns: Sequence[Column], kept: Mapping[str, Any], values: Mapping[str, Any]
) -> tuple[Change, ...]:
    """Return the cells that differ from what is kept, in the order of the columns."""
    return tuple(
        Change(
            column.name,
            ""
            if kept.get(column.name) is None
            else str(column.write(kept[column.name])),
            str(column.write(values[column.name])),
        )
        for column in columns
        if column.name in values and values[column.name] != kept.get(column.name)
    )


def _header(
    header: SheetRow, columns: Sequence[Column]
) -> tuple[dict[int, Column | None], list[Fault], bool]:
    known = {plain_text(column.name): column for column in columns}
    places: dict[int, Column | None] = {}
    faults = []
    usable = True
    for place, cell in enumerate(header.cells):
        if not cell:
            continue
        column = known.get(plain_text(cell.replace("_", " ")))
        if column is None:
            faults.append(Fault(header.line, cell[:60], _unknown(columns)))
            places[place] = None
        elif column in places.values():
            faults.append(Fault(header.line, column.name, "This column stands twice."))
            usable = False
        else:
            places[place] = column
    for column in columns:
        if column.required and column not in places.values():
            faults.append(Fault(header.line, column.name, "This column is missing."))
            usable = False
    return places, faults, usable


def _unknown(columns: Sequence[Column]) -> str:
    names = ", ".join(column.name for column in columns)
    return f"There is no such column, and what stands in it is not read. Known are: {names}."


def _values(
    row: SheetRow, places: dict[int, Column | None], columns: Sequence[Column]
) -> tuple[dict[str, Any], list[Fault]]:
    values: dict[str, Any] = {}
    faults = []
    for place, cell in enumerate(row.cells):
        if not cell:
            continue
        if place not in places:
            nameless = f'"{cell[:40]}" stands under no column name.'
            faults.append(Fault(row.line, f"column {place + 1}", nameless))
            continue
        column = places[place]
        if column is None:
            continue
        try:
            values[column.name] = column.read(cell)
        except ValueError as error:
            faults.append(Fault(row.line, column.name, str(error)))
    named = {fault.column for fault in faults} | set(values)
    faults += [
        Fault(row.line, column.name, "This cell is empty and must not be.")
        for column in columns
        if column.required and column.name not in named
    ]
    return values, faults

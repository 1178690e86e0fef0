"""The parts sheet: one row a fitted part. Its columns, and what each row says now.

Hours are those at fitting, which never change, so that an old sheet stays true.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any, Final

from tracker.fleet.entries import day_at
from tracker.fleet.fitted_parts import FittedPart, parts_fitted
from tracker.fleet.models import Engine
from tracker.fleet.sheets import cells
from tracker.fleet.sheets.cells import Column
from tracker.fleet.sheets.writing import write_csv, write_xlsx

NEW: Final = "new"


def _read_fitted(cell: str) -> date | str:
    return NEW if cell.strip().casefold() == NEW else cells.read_day(cell)


COLUMNS: Final[tuple[Column, ...]] = (
    cells.text("engine type", "Type designation.", longest=60, required=True),
    cells.text("engine serial", "Serial of the engine.", longest=60, required=True),
    cells.text("role", "Fuel pump, magneto and so on.", longest=60, required=True),
    cells.text("place", "Left, right and the like.", longest=20),
    cells.text("part number", "As on its plate.", longest=60),
    cells.text("part serial", "As on its plate.", longest=60),
    cells.text("change", "Change letter of the drawing.", longest=10),
    cells.day("date of manufacture", "Of the part: 2018-01-09."),
    cells.day("date of shipping", "Of the part: 2018-02-01."),
    Column(
        name="fitted",
        help=f'The day it was fitted, or "{NEW}" if it came with the engine.',
        read=_read_fitted,
        write=lambda fitted: fitted,
    ),
    cells.hours(
        "hours since new",
        "Of the part when it was fitted; now, where that day is not known.",
    ),
    cells.hours("hours since overhaul", "Of the part, at the same moment."),
)


def row_of(engine: Engine, part: FittedPart) -> dict[str, Any]:
    """Return what the sheet says of a fitted part, by column; unknown is left out."""
    description, fitting = part.description, part.fitting
    fitted: date | str | None = None
    if fitting.day is not None:
        fitted = fitting.day
    elif fitting.fitted_new:
        fitted = NEW
    values = {
        "engine type": engine.engine_type.designation,
        "engine serial": engine.serial,
        "role": description.role,
        "place": fitting.place,
        "part number": description.number,
        "part serial": description.serial,
        "change": description.change,
        "date of manufacture": description.built,
        "date of shipping": description.shipped,
        "fitted": fitted,
        "hours since new": fitting.part_hours_new,
        "hours since overhaul": fitting.part_hours_overhaul,
    }
    return {name: value for name, value in values.items() if value not in (None, "")}


def export_parts(
    engines: Iterable[Engine], *, at: datetime, xlsx: bool = False
) -> bytes:
    """Return a file of the parts fitted now to engines, by engine. Four queries."""
    wanted = {engine.pk: engine for engine in engines}
    if not wanted:
        return write_xlsx(COLUMNS, ()) if xlsx else write_csv(COLUMNS, ())
    station = next(iter(wanted.values())).station
    parts = parts_fitted(wanted.values(), on=day_at(station, at), known_at=at)
    order = {key: place for place, key in enumerate(wanted)}
    rows = [
        row_of(wanted[part.fitting.engine_id], part)
        for part in sorted(parts, key=lambda part: order[part.fitting.engine_id])
    ]
    return write_xlsx(COLUMNS, rows) if xlsx else write_csv(COLUMNS, rows)

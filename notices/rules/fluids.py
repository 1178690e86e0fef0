"""Which oil suits an engine: rows of a maker's table against climate, fuel and engine.

    row := {"id", "grade": "15W-50", "class": "mineral" | "semi-synthetic" | "synthetic",
            "ambient": {"from"?: -20, "to"?: 40, "unit"?: "C" | "F"},
            "fuel": ["unleaded", "leaded"], "when"?: condition, "note"?}

A row is suited if its ambient range covers both ends of the season's climate, every
fuel in use is allowed and its condition holds. Which class is to be preferred is what
the row's own note says.
"""

# ruff: noqa: RUF009 - keyed(...) is dataclasses.field with a form

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any, Final

from notices.rules.conditions import SCHEMA_VERSION, Condition, condition_schema
from notices.rules.errors import Fault, RuleError, child_path
from notices.rules.forms import (
    Json,
    ListOf,
    ObjectOf,
    RefusedError,
    Text,
    Words,
    keyed,
)
from notices.rules.temperatures import Span
from notices.rules.times.limits import ConditionForm
from notices.rules.viscosity import Grade, grade_if_j300

CLASSES: Final = ("mineral", "semi-synthetic", "synthetic")
FUELS: Final = ("unleaded", "leaded")


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidRow:
    """One row of a maker's table of oils. `grade` as the maker writes it."""

    id: str = keyed("id", Text('a name of the row such as "summer"'))
    grade: str = keyed("grade", Text('a grade such as "15W-50"', grade_if_j300))
    kind: str = keyed("class", Words(CLASSES))
    ambient: Span = keyed("ambient", ObjectOf(Span, "ambient temperatures"))
    fuel: tuple[str, ...] = keyed("fuel", ListOf(Words(FUELS), "fuels"))
    when: Condition | None = keyed("when", ConditionForm(), default=None)
    note: str = keyed("note", Text("a note"), default="")

    def __post_init__(self) -> None:
        if len(set(self.fuel)) != len(self.fuel):
            raise ValueError("A fuel is named twice.")

    @property
    def viscosity(self) -> Grade | None:
        """The grade as SAE J300 knows it, None for one that is not of J300."""
        return grade_if_j300(self.grade)

    def to_json(self) -> dict[str, Any]:
        """Return the JSON value; `parse_rows` reads it back to an equal row."""
        written: dict[str, Any] = _ROW.write(self)
        return written


_ROW: Final = ObjectOf(FluidRow, "a row of the table of oils")
_ROWS: Final = ListOf(_ROW, "rows")
MOST_ROWS: Final = 200


def parse_rows(raw: Json, *, path: str = "") -> tuple[FluidRow, ...]:
    """Return the rows that a JSON list says; RuleError with every fault and its path."""
    faults: list[Fault] = []
    try:
        rows: tuple[FluidRow, ...] = _ROWS.read(raw, path, faults)
    except RefusedError as refused:
        raise RuleError(faults) from refused
    if len(rows) > MOST_ROWS:
        faults.append(Fault(path, f"A table has at most {MOST_ROWS} rows."))
    seen: set[str] = set()
    for index, row in enumerate(rows):
        if row.id in seen:
            message = f'There is a row "{row.id}" already. Give each row its own id.'
            faults.append(Fault(child_path(child_path(path, index), "id"), message))
        seen.add(row.id)
    if faults:
        raise RuleError(faults)
    return rows


def rows_to_json(rows: Sequence[FluidRow]) -> list[dict[str, Any]]:
    """Return the JSON list; `parse_rows` reads it back to equal rows."""
    return [row.to_json() for row in rows]


def rows_schema() -> dict[str, Json]:
    """Return the JSON Schema of a table of rows, with the version of this form."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Oils and fluids",
        "version": SCHEMA_VERSION,
        **_ROWS.schema(),
        "maxItems": MOST_ROWS,
        "$defs": condition_schema()["$defs"],
    }


class Verdict(Enum):
    """What a row of oils is for one engine."""

    SUITED = "suited"
    SUITED_WITH_NOTE = "suited with a note"
    NOT_SUITED = "not suited"
    UNDETERMINED = "undetermined"


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One row for one engine. `why`: one reason, as a sentence; `missing`: facts."""

    row: FluidRow
    verdict: Verdict
    why: str
    missing: tuple[str, ...] = ()

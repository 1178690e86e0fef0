"""Which oil suits an engine: rows of a maker's table against climate, fuel and engine.

    row := {"id", "grade": "15W-50", "class": "mineral" | "semi-synthetic" | "synthetic",
            "ambient": {"from"?: -20, "to"?: 40, "unit"?: "C" | "F"},
            "fuel": ["unleaded", "leaded"], "when"?: condition, "note"?}

A row is suited if its ambient range covers both ends of the season's climate, every
fuel in use is allowed and its condition holds. Which class is to be preferred is what
the row's own note says. The viscosity grade only gives the order: SAE J300 recommends
no ambient temperature, the engine maker's table does.
"""

# ruff: noqa: RUF009 - keyed(...) is dataclasses.field with a form

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from typing import Any, Final

from notices.rules.applicability.subjects import EngineSubject, prepare
from notices.rules.applicability.wording import sentence
from notices.rules.conditions import SCHEMA_VERSION, Condition, condition_schema
from notices.rules.errors import Fault, RuleError, child_path
from notices.rules.evaluate import Answer, Outcome, compile_condition
from notices.rules.facts import (
    UNKNOWN,
    Asked,
    EngineFacts,
    TemperatureRange,
    Unknown,
)
from notices.rules.forms import (
    Json,
    ListOf,
    ObjectOf,
    RefusedError,
    Text,
    Words,
    keyed,
)
from notices.rules.temperatures import Span, Unit, degrees_words, from_celsius
from notices.rules.times.limits import ConditionForm
from notices.rules.viscosity import (
    HOT_GRADES,
    WARMEST_CRANKING_CELSIUS,
    Grade,
    grade_if_j300,
)

CLIMATE: Final = "ambient temperatures of the coming season"
FUEL_IN_USE: Final = "kind of fuel in use"
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
    SUITED_WITH_NOTE = "suited, see note"
    UNDETERMINED = "undetermined"
    NOT_SUITED = "not suited"


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One row for one engine.

    `why`: the first reason against it, its notes, or what it covers, in sentences.
    `missing`: the facts without which nothing can be said.
    """

    row: FluidRow
    verdict: Verdict
    why: str
    missing: tuple[str, ...] = ()

    @property
    def suited(self) -> bool | None:
        """Whether it suits, with or without a note; None where that is not known."""
        if self.verdict is Verdict.UNDETERMINED:
            return None
        return self.verdict is not Verdict.NOT_SUITED


def fuels_of(share: Fraction | Unknown) -> frozenset[str] | Unknown:
    """Return the kinds of fuel in use, by the leaded share: at 0 or 1 it is one."""
    if isinstance(share, Unknown):
        return UNKNOWN
    return frozenset(
        kind
        for kind, is_used in zip(FUELS, (share < 1, share > 0), strict=True)
        if is_used
    )


def advise(
    rows: Sequence[FluidRow],
    facts: EngineFacts,
    asked: Asked,
    *,
    ambient: TemperatureRange | Unknown,
    fuel: frozenset[str] | Unknown,
    unit: Unit | None = None,
) -> tuple[Advice, ...]:
    """Return every row with what it is for this engine.

    `ambient`: lowest and highest of the coming season. `fuel`: the kinds in use. What
    suits stands first, in the order of SAE J300 from the coldest start; grades that are
    not of J300 after those, as given. `unit`: of the degrees in sentences, None for
    that in which each row was entered.
    """
    subject = prepare(facts, asked)
    advice = (_advice(row, subject, ambient, fuel, unit) for row in rows)
    return tuple(sorted(advice, key=_order))


_PLACES: Final = {True: 0, None: 1, False: 2}


def _order(advice: Advice) -> tuple[int, bool, Grade]:
    grade = advice.row.viscosity
    return _PLACES[advice.suited], grade is None, grade or _LAST


_LAST: Final = Grade(None, HOT_GRADES[-1])


def _advice(
    row: FluidRow,
    subject: EngineSubject,
    ambient: TemperatureRange | Unknown,
    fuel: frozenset[str] | Unknown,
    unit: Unit | None,
) -> Advice:
    unit = unit or row.ambient.unit
    held = None if row.when is None else compile_condition(row.when).answer_of(subject)
    against = [
        *_against_climate(row, ambient, unit),
        *_against_fuel(row, fuel),
        *_against_engine(held),
    ]
    if against:
        return Advice(row=row, verdict=Verdict.NOT_SUITED, why=against[0])
    missing = _missing(row, ambient, fuel, held)
    if missing:
        why = sentence(f"Not known: {', '.join(missing)}")
        return Advice(row=row, verdict=Verdict.UNDETERMINED, why=why, missing=missing)
    assert not isinstance(ambient, Unknown)
    notes = [*_own_note(row), *_standard_notes(row, ambient, unit)]
    if notes:
        why = " ".join(notes)
        return Advice(row=row, verdict=Verdict.SUITED_WITH_NOTE, why=why)
    return Advice(row=row, verdict=Verdict.SUITED, why=_covered(ambient, unit))


def _against_climate(
    row: FluidRow, ambient: TemperatureRange | Unknown, unit: Unit
) -> Iterator[str]:
    if isinstance(ambient, Unknown):
        return
    low, high = row.ambient.celsius
    if low is not None and ambient.low < low:
        yield (
            f"Too thick for a start at {_degrees(ambient.low, unit)}: "
            f"the table gives it from {_degrees(low, unit)}."
        )
    if high is not None and ambient.high > high:
        yield (
            f"Too thin at {_degrees(ambient.high, unit)}: "
            f"the table gives it up to {_degrees(high, unit)}."
        )


def _degrees(celsius: Fraction, unit: Unit) -> str:
    return degrees_words(from_celsius(celsius, unit), unit)


def _against_fuel(row: FluidRow, fuel: frozenset[str] | Unknown) -> Iterator[str]:
    if isinstance(fuel, Unknown):
        return
    for kind in FUELS:
        if kind in fuel and kind not in row.fuel:
            yield f"Not for {kind} fuel."


def _against_engine(held: Answer | None) -> Iterator[str]:
    if held is not None and held.outcome is Outcome.DOES_NOT_APPLY:
        yield from held.reasons


def _missing(
    row: FluidRow,
    ambient: TemperatureRange | Unknown,
    fuel: frozenset[str] | Unknown,
    held: Answer | None,
) -> tuple[str, ...]:
    """Return the facts that are lacking and could still decide."""
    lacking = []
    if isinstance(ambient, Unknown):
        lacking.append(CLIMATE)
    if isinstance(fuel, Unknown) and len(row.fuel) < len(FUELS):
        lacking.append(FUEL_IN_USE)
    if held is not None and held.outcome is Outcome.UNDETERMINED:
        lacking.extend(held.missing)
    return tuple(lacking)


def _own_note(row: FluidRow) -> Iterator[str]:
    if row.note:
        yield sentence(row.note.strip())


def _standard_notes(
    row: FluidRow, ambient: TemperatureRange, unit: Unit
) -> Iterator[str]:
    """Yield what SAE J300 does not say, where the row goes further than it."""
    grade = row.viscosity
    if grade is None:
        yield f"SAE J300 knows no grade {row.grade}, so its place in the order is open."
        return
    cranking = grade.cranking_celsius
    lowest = _degrees(ambient.low, unit)
    if cranking is None:
        if ambient.low < WARMEST_CRANKING_CELSIUS:
            yield (
                f"SAE J300 tests no cold cranking of grade {grade}, "
                f"and the season goes down to {lowest}."
            )
    elif ambient.low < cranking:
        tested = _degrees(Fraction(cranking), unit)
        yield (
            f"SAE J300 tests cold cranking of {grade.cold}W at {tested}, "
            f"and the season goes down to {lowest}."
        )


def _covered(ambient: TemperatureRange, unit: Unit) -> str:
    low, high = _degrees(ambient.low, unit), _degrees(ambient.high, unit)
    return f"Covers the season from {low} to {high} and the fuel in use."

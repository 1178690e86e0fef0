"""Which oil suits one engine, as a JSON object, and the answer.

    {"rows": [row, ...], "engine": engine, "ambient"?: {"from", "to", "unit"?}}
      -> {"rows": [{"id", "grade", "suited": true | false | null, "verdict", "why",
                    "missing"}]}

`ambient`: lowest and highest temperature of the coming season; sentences say degrees in
its unit. The kinds of fuel in use
follow from the engine's `leaded_share`. What suits stands first. `suited` is null where
a fact is missing.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, TypeVar

from notices.rules.errors import Fault, RuleError
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, Unknown
from notices.rules.facts_json import engine_from_json
from notices.rules.fluids import Advice, FluidRow, advise, fuels_of, parse_rows
from notices.rules.forms import Json, ObjectOf, RefusedError
from notices.rules.objects import ObjectReader
from notices.rules.temperatures import Span

T = TypeVar("T")
_KEYS: Final = ("rows", "engine", "ambient")
_AMBIENT: Final = ObjectOf(Span, 'temperatures such as {"from": -15, "to": 34}')


def fluids_from_json(raw: Json, *, path: str = "") -> dict[str, Json]:
    """Return the answer to one question; RuleError with all faults of the question."""
    faults: list[Fault] = []
    try:
        reader = ObjectReader(raw, path, _KEYS, "a question", faults)
    except RefusedError as refused:
        raise RuleError(faults) from refused
    rows: tuple[FluidRow, ...] = _needed(reader, "rows", parse_rows, ())
    engine = _needed(reader, "engine", engine_from_json, EngineFacts())
    ambient = _ambient(reader)
    if faults:
        raise RuleError(faults)
    closed = UNKNOWN if ambient is None else ambient.closed
    assert closed is not None
    advice = advise(
        rows,
        engine,
        Asked(),
        ambient=closed,
        fuel=fuels_of(engine.leaded_share),
        unit=None if ambient is None else ambient.unit,
    )
    return {"rows": [_advice_to_json(one) for one in advice]}


def _needed(reader: ObjectReader, key: str, parse: Callable[..., T], otherwise: T) -> T:
    if not reader.given(key):
        message = f'The key "{key}" is missing.'
        reader.faults.append(Fault(reader.path, message))
        return otherwise
    try:
        return parse(reader.raw[key], path=reader.at(key))
    except RuleError as error:
        reader.faults.extend(error.faults)
        return otherwise


def _ambient(reader: ObjectReader) -> Span | None:
    """Return the season, closed at both ends; None where it is not known."""
    span: Span | Unknown = reader.value("ambient", _AMBIENT)
    if isinstance(span, Unknown):
        return None
    if span.closed is None:
        message = 'Both "from" and "to" are needed: a season has both ends.'
        reader.faults.append(Fault(reader.at("ambient"), message))
        return None
    return span


def _advice_to_json(advice: Advice) -> dict[str, Json]:
    return {
        "id": advice.row.id,
        "grade": advice.row.grade,
        "suited": advice.suited,
        "verdict": advice.verdict.value,
        "why": advice.why,
        "missing": list(advice.missing),
    }

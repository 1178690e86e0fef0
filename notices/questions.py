"""Questions to the rules as JSON lines, and their answers; no database is needed.

    {"id": 1, "evaluate": {"condition": c, "engine": engine, "on"?: date, "part"?: index}}
    {"id": 2, "due": {...}}    as in notices/rules/due_json.py
    {"id": 3, "operating": {...}}    as in notices/rules/operating_json.py
    {"id": 4, "fluids": {...}}    as in notices/rules/fluids_json.py
    {"id": 5, "overhaul": {...}}    as in notices/rules/overhaul_json.py

A line that cannot be answered gives {"id", "error": {"path", "message"}}, and where it
has several faults "errors" lists them all. What cannot be is refused; "notes" names what is
dated after the day asked for and does not count. An answer with `"sharp": false` had more
completions of the unknown facts than are tried: not wrong, but more might be known.
"""

from __future__ import annotations

import json
import logging
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final, TypeVar

from notices.rules.conditions import parse_condition
from notices.rules.due_json import due_from_json
from notices.rules.errors import Fault, RuleError, child_path
from notices.rules.evaluate import evaluate
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, PartFacts, Unknown
from notices.rules.facts_json import engine_from_json
from notices.rules.fluids_json import fluids_from_json
from notices.rules.forms import DateForm, RefusedError, note_unknown_keys, shown
from notices.rules.operating_json import operating_from_json
from notices.rules.overhaul_json import overhaul_from_json
from notices.rules.past_json import contradictions, plans

Json = Any
T = TypeVar("T")
LONGEST_LINE: Final = 1_000_000
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """One answer, ready to be written. `is_error`: the question was not answered."""

    body: Mapping[str, Json]
    is_error: bool = False

    def __str__(self) -> str:
        return json.dumps(self.body, default=float)


def answer_line(line: bytes) -> Answered:
    """Return the answer to one line. Never raises for what the line says."""
    try:
        return Answered(body=answer(_parsed(line)))
    except RuleError as error:
        faults = error.faults
    except RecursionError:
        faults = (Fault("", "The line is nested too deeply to be read."),)
    # Whatever one line brings about, the lines after it are still to be answered.
    except Exception:  # noqa: BLE001
        _log.exception("a question could not be answered")
        faults = (Fault("", "This could not be answered; the log says more."),)
    return Answered(body=_refusal(_id_in(line), faults), is_error=True)


def answer(asked: Json) -> dict[str, Json]:
    """Return the answer to one question; RuleError with every fault of the question."""
    if not isinstance(asked, Mapping):
        raise RuleError([Fault("", f"Expected an object, not {shown(asked)}.")])
    kinds = [key for key in asked if key != "id"]
    if len(kinds) != 1 or kinds[0] not in QUESTIONS:
        understood = " or ".join(f'"{kind}"' for kind in QUESTIONS)
        found = ", ".join(f'"{kind}"' for kind in kinds) or "none"
        message = f'Expected "id" and one question, {understood}; found {found}.'
        raise RuleError([Fault("", message)])
    kind = kinds[0]
    said = {"id": asked.get("id"), **QUESTIONS[kind](asked[kind], kind)}
    faults = contradictions(asked[kind], kind)
    if faults:
        raise RuleError(faults)
    notes = plans(asked[kind], kind)
    return {**said, "notes": list(notes)} if notes else said


def _evaluated(raw: Json, path: str) -> dict[str, Json]:
    if not isinstance(raw, Mapping):
        raise RuleError([Fault(path, f"Expected an object, not {shown(raw)}.")])
    faults: list[Fault] = []
    note_unknown_keys(raw, ("condition", "engine", "on", "part"), path, faults)
    condition = _read(parse_condition, raw, "condition", path, faults)
    engine = _read(engine_from_json, raw, "engine", path, faults)
    on = _day(raw.get("on"), child_path(path, "on"), faults)
    part = _part(raw.get("part"), engine, child_path(path, "part"), faults)
    if faults or condition is None or engine is None:
        raise RuleError(faults)
    found = evaluate(condition, engine, Asked(on=on, part=part))
    said: dict[str, Json] = {
        "outcome": found.outcome.value,
        "reasons": list(found.reasons),
        "missing": list(found.missing),
    }
    return said if found.sharp else {**said, "sharp": False}


QUESTIONS: Final[Mapping[str, Callable[[Json, str], dict[str, Json]]]] = {
    "evaluate": _evaluated,
    "due": lambda raw, path: due_from_json(raw, path=path),
    "overhaul": lambda raw, path: overhaul_from_json(raw, path=path),
    "operating": lambda raw, path: operating_from_json(raw, path=path),
    "fluids": lambda raw, path: fluids_from_json(raw, path=path),
}


def _read(
    parse: Callable[..., T],
    raw: Mapping[str, Json],
    key: str,
    path: str,
    faults: list[Fault],
) -> T | None:
    """Return what stands under a key that must be there; None with its faults noted."""
    if raw.get(key) is None:
        faults.append(Fault(path, f'The key "{key}" is missing.'))
        return None
    try:
        return parse(raw[key], path=child_path(path, key))
    except RuleError as error:
        faults += error.faults
        return None


def _day(raw: Json, path: str, faults: list[Fault]) -> date | Unknown:
    if raw is None:
        return UNKNOWN
    try:
        day: date = DateForm().read(raw, path, faults)
    except RefusedError:
        return UNKNOWN
    return day


def _part(
    index: Json, engine: EngineFacts | None, path: str, faults: list[Fault]
) -> PartFacts | None:
    if index is None or engine is None:
        return None
    if isinstance(index, int) and 0 <= index < len(engine.parts) and index is not True:
        return engine.parts[index]
    faults.append(
        Fault(
            path,
            f"Expected the index of one of the {len(engine.parts)} parts of the engine, "
            f"counted from 0, not {shown(index)}.",
        )
    )
    return None


def _parsed(line: bytes) -> Json:
    """Return the JSON value of a line; RuleError where JSON leaves room for doubt."""
    if len(line) > LONGEST_LINE:
        raise _unreadable(f"is longer than {LONGEST_LINE} bytes")
    try:
        text = line.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _unreadable(f"is not UTF-8 from byte {error.start + 1} on") from error
    try:
        return json.loads(
            text,
            object_pairs_hook=_without_repeated_keys,
            parse_constant=_no_constant,
            parse_float=_exact,
        )
    except json.JSONDecodeError as error:
        raise _unreadable(
            f"is not JSON: {error.msg} at character {error.colno}"
        ) from error
    except RuleError:
        raise
    except ValueError as error:
        # An integer of thousands of digits, which Python itself refuses.
        raise _unreadable("holds a number that is too long") from error


def _id_in(line: bytes) -> Json:
    """Return the id of a line that is wrong in another way, None where none is found."""
    try:
        asked = json.loads(line[:LONGEST_LINE])
    except (ValueError, RecursionError):
        return None
    number = asked.get("id") if isinstance(asked, Mapping) else None
    return number if isinstance(number, str | int) else None


def _unreadable(what: str) -> RuleError:
    return RuleError([Fault("", f"The line {what}.")])


def _without_repeated_keys(pairs: list[tuple[str, Json]]) -> dict[str, Json]:
    found = dict(pairs)
    if len(found) != len(pairs):
        keys = [key for key, _ in pairs]
        repeated = next(key for key in keys if keys.count(key) > 1)
        raise _unreadable(f'has the key "{repeated}" twice in one object')
    return found


def _no_constant(word: str) -> Json:
    raise _unreadable(f"holds {word}, which is not a number")


def _exact(text: str) -> Decimal:
    if not math.isfinite(float(text)):
        raise _unreadable(f"holds {text}, which is too large a number")
    return Decimal(text)


def _refusal(number: Json, faults: tuple[Fault, ...]) -> dict[str, Json]:
    said = [{"path": fault.path, "message": fault.message} for fault in faults]
    refusal: dict[str, Json] = {"id": number, "error": said[0]}
    return refusal if len(said) == 1 else {**refusal, "errors": said}

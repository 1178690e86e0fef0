"""One question about the overhaul interval as a JSON object, and its answer.

    {"provisions": [p, ...], "engine": engine, "on": date,
     "costs"?: {"SB-24-011": man-hours, ...}, "events"?: [{"event", "on", "hours"}],
     "readings"?: [{"on", "hours", "meter"}], "lead"?: {"hours", "days"},
     "hours_a_day"?: number}

p as in notices/rules/intervals/provisions.py, the rest as in a question about what is
due. Two base intervals that both hold for the engine are refused. An extension with
`"cut": true` had more ways to be made to hold than are tried: some may be left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from notices.rules.due_json import (
    Question,
    due_to_json,
    history_of,
    rate_of,
    with_reading,
)
from notices.rules.errors import Fault, RuleError, child_path
from notices.rules.facts import Asked, Hours, Unknown
from notices.rules.forms import (
    HoursForm,
    Json,
    RefusedError,
    note_unknown_keys,
    number_of,
    shown,
)
from notices.rules.overhaul import (
    Interval,
    Judged,
    Offer,
    OverhaulDue,
    check_together,
    overhaul_at,
    overhaul_point,
    parse_interval,
)

MOST_PROVISIONS: Final = 200
_HOURS: Final = HoursForm()
_KEYS: Final = (
    "provisions", "engine", "on", "costs", "events", "readings", "lead", "hours_a_day",
)  # fmt: skip


def overhaul_from_json(raw: Json, *, path: str = "") -> dict[str, Json]:
    """Return the answer to one question; RuleError with all faults of the question."""
    if not isinstance(raw, Mapping):
        raise RuleError([Fault(path, f"Expected an object, not {shown(raw)}.")])
    question = Question(raw, path)
    note_unknown_keys(raw, _KEYS, path, question.faults)
    intervals = _intervals(question)
    engine, on, lead = question.engine(), question.day(), question.lead()
    history, costs = history_of(question), _costs(question)
    rate = rate_of(question, history, on)
    if question.faults:
        raise RuleError(question.faults)
    assert on is not None
    engine, reading = with_reading(engine, history, on)
    try:
        point = overhaul_point(intervals, engine, Asked(on=on), history, costs=costs)
    except RuleError as error:
        faults = [Fault(question.at(one.path), one.message) for one in error.faults]
        raise RuleError(faults) from error
    if point.conflict:
        raise RuleError(
            _conflicts(point.conflict, intervals, question.at("provisions"))
        )
    answer = overhaul_at(
        point,
        on=on,
        hours=engine.axis_now,
        lead=lead,
        rate=rate,
        reading_on=None if reading is None else reading.on,
        meter=None if reading is None else reading.meter,
    )
    return overhaul_to_json(answer)


def _intervals(question: Question) -> tuple[Interval, ...]:
    """Return the provisions; what is wrong with one or with several is noted."""
    raw, path = question.raw.get("provisions"), question.at("provisions")
    if not isinstance(raw, list | tuple) or len(raw) > MOST_PROVISIONS:
        found = "too many" if isinstance(raw, list | tuple) else shown(raw)
        message = (
            f"Expected a list of at most {MOST_PROVISIONS} provisions, not {found}."
        )
        question.faults.append(Fault(path, message))
        return ()
    intervals = []
    for index, one in enumerate(raw):
        try:
            intervals.append(parse_interval(one, path=child_path(path, index)))
        except RuleError as error:
            question.faults.extend(error.faults)
    if len(intervals) == len(raw):
        try:
            check_together(intervals, path=path)
        except RuleError as error:
            question.faults.extend(error.faults)
    return tuple(intervals)


def _costs(question: Question) -> dict[str, Hours]:
    raw, path = question.raw.get("costs"), question.at("costs")
    if raw is None:
        return {}
    if not isinstance(raw, Mapping):
        message = f"Expected man-hours by document as an object, not {shown(raw)}."
        question.faults.append(Fault(path, message))
        return {}
    costs = {}
    for number, hours in raw.items():
        try:
            at = child_path(path, str(number))
            costs[str(number)] = _HOURS.read(hours, at, question.faults)
        except RefusedError:
            continue
    return costs


def _conflicts(
    ids: tuple[str, ...], intervals: tuple[Interval, ...], path: str
) -> list[Fault]:
    first, *others = [i for i, one in enumerate(intervals) if one.id in ids]
    return [
        Fault(
            child_path(path, index),
            f"{child_path(path, first)} is a base interval that holds for this engine, "
            'too. Tell them apart with "when".',
        )
        for index in others
    ]


def overhaul_to_json(answer: OverhaulDue) -> dict[str, Json]:
    """Return an engine's interval on a day as JSON; null where something is not known."""
    point = answer.point
    binding = point.binding
    return {
        "hours": None if point.hours is None else _HOURS.write(point.hours),
        "years": point.years,
        "from": {"hours": point.from_hours, "years": point.from_years},
        "binding": None if isinstance(binding, Unknown) else binding,
        "word": answer.word,
        "used": None if answer.used is None else number_of(answer.used),
        "due": due_to_json(answer.due),
        "restrictions": [_judged(one) for one in point.restrictions],
        "extensions": [_extension(one) for one in point.offers],
    }


def _judged(one: Judged) -> dict[str, Json]:
    return {
        "id": one.id,
        "outcome": one.holding.value,
        "missing": list(one.missing),
        "reasons": list(one.reasons),
    }


def _extension(offer: Offer) -> dict[str, Json]:
    man_hours = [one.man_hours for one in offer.reach]
    said = {
        "id": offer.id,
        "outcome": offer.holding.value,
        "reach": [[step.words for step in one.steps] for one in offer.reach],
        "man_hours": [None if h is None else _HOURS.write(h) for h in man_hours],
        "missing": list(offer.missing),
        "reasons": list(offer.reasons),
        "fixed": list(offer.fixed),
    }
    return {**said, "cut": True} if offer.cut else said

"""Limits and the times made of them: what a compliance time says, as stored in JSON.

    limit  := {"hours": 50, "after": anchor, "meter"?} | {"days": 90, "after": anchor}
            | {"months": 12, "after": anchor, "calendar"?} | {"date": "2027-06-30"}
            | {"event": name, "after"?: anchor} | {"unknown": "why"}
    anchor := "effective" | "new" | "manufacture" | "overhaul" | "last done"
            | {"part": role, "since": "new" | "fitted" | "overhaul"}
            | {"event": name, "after"?: anchor} | {"date": "1960-07-01"}
    time   := limit | {"first_of": [time, ...]} | {"last_of": [time, ...]}
            | {"cases": [{"when": condition, "then": time}, ..., {"else": time}]}
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, Final, Literal

from notices.rules.conditions import (
    Condition,
    condition_schema,
    parse_condition,
)
from notices.rules.conditions import to_json as condition_to_json
from notices.rules.errors import RuleError, child_path
from notices.rules.facts import Hours
from notices.rules.json_nodes import (
    BROKEN,
    DATE,
    TEXT,
    TRUTH,
    Faults,
    Kind,
    Schema,
    hours_kind,
    list_kind,
    node_schema,
    one_of_kind,
    read_mapping,
    read_node,
    reference,
    same,
    shown,
    stored,
    whole_kind,
    write_node,
    wrong,
)

SCHEMA_VERSION: Final = 1
FURTHER_FLIGHT: Final = "further flight"
METERS: Final = ("time in service", "tachometer", "engine running")

Mark = Literal["effective", "new", "manufacture", "overhaul", "last done"]
MARKS: Final[tuple[Mark, ...]] = (
    "effective",
    "new",
    "manufacture",
    "overhaul",
    "last done",
)
_ASK_AFTER: Final = 'Say what it is counted from, as in "after": "effective".'


def event_key(name: str) -> str:
    """Return the form in which names of events compare: no case, no leading "next"."""
    words = name.casefold().split()
    return " ".join(words[1:] if len(words) > 1 and words[0] == "next" else words)


ANCHOR: Final = reference("anchor", lambda: _ANCHOR)
TIME: Final = reference("time", lambda: _TIME)
_METER: Final = one_of_kind(METERS)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartAnchor:
    """From when the fitted part of this role was new, fitted here or overhauled."""

    role: str = stored("part", TEXT)
    since: str = stored(
        "since",
        one_of_kind(("new", "fitted", "overhaul")),
        ask='Add "since": "new", "fitted" or "overhaul".',
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class EventAnchor:
    """From the latest event of this name, of any date unless `after` is given."""

    name: str = stored("event", TEXT)
    after: Anchor | None = stored("after", ANCHOR, default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class DateAnchor:
    """From a fixed date."""

    on: date = stored("date", DATE)


Anchor = Mark | PartAnchor | EventAnchor | DateAnchor


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursLimit:
    """So many hours of time in service after the anchor. `meter`: what is read for it."""

    hours: Hours = stored("hours", hours_kind(at_least=1))
    after: Anchor = stored("after", ANCHOR, ask=_ASK_AFTER)
    meter: str = stored("meter", _METER, default=METERS[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthsLimit:
    """So many months after the anchor. `calendar`: to the last day of that month."""

    months: int = stored("months", whole_kind(at_least=1, at_most=1200))
    after: Anchor = stored("after", ANCHOR, ask=_ASK_AFTER)
    calendar: bool = stored("calendar", TRUTH, default=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class DaysLimit:
    """So many days after the anchor."""

    days: int = stored("days", whole_kind(at_least=1, at_most=36500))
    after: Anchor = stored("after", ANCHOR, ask=_ASK_AFTER)


@dataclass(frozen=True, slots=True, kw_only=True)
class DateLimit:
    """On or before a fixed date."""

    on: date = stored("date", DATE)


@dataclass(frozen=True, slots=True, kw_only=True)
class EventLimit:
    """At the first event of this name after the anchor.

    Without `after`: after the effective date in an initial time, after the last record
    in a repeat.
    """

    name: str = stored("event", TEXT)
    after: Anchor | None = stored("after", ANCHOR, default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownLimit:
    """A duty whose time is not known; `why` is shown."""

    why: str = stored("unknown", TEXT)


Limit = HoursLimit | MonthsLimit | DaysLimit | DateLimit | EventLimit | UnknownLimit

_TIMES: Final = list_kind(TIME, expected="a list of one time or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstOf:
    """Whichever occurs first."""

    members: tuple[Time, ...] = stored("first_of", _TIMES)


@dataclass(frozen=True, slots=True, kw_only=True)
class LastOf:
    """Whichever occurs later."""

    members: tuple[Time, ...] = stored("last_of", _TIMES)


def _read_condition(raw: object, faults: Faults, path: str) -> Any:
    try:
        return parse_condition(raw, path=path)
    except RuleError as refused:
        return faults.extend(refused.faults)


CONDITION: Final = Kind(
    expected="a condition",
    read=_read_condition,
    write=condition_to_json,
    schema=lambda: {"$ref": "#/$defs/condition"},
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One case: the time that holds where the condition does."""

    when: Condition = stored("when", CONDITION)
    then: Time = stored("then", TIME)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Else:
    then: Time = stored("else", TIME)


def _read_cases(raw: object, faults: Faults, path: str) -> Any:
    if not isinstance(raw, list | tuple) or not raw:
        return wrong(raw, _CASES.expected, faults, path)
    cases = [
        _read_case(item, index == len(raw) - 1, faults, child_path(path, index))
        for index, item in enumerate(raw)
    ]
    return BROKEN if any(case is BROKEN for case in cases) else tuple(cases)


def _read_case(raw: object, is_last: bool, faults: Faults, path: str) -> Any:
    if isinstance(raw, dict) and "else" in raw:
        if not is_last:
            return faults.add(path, '"else" must be the last case.')
        return read_node(_Else, raw, faults, path)
    return read_node(Case, raw, faults, path)


_CASES: Final = Kind(
    expected="a list of cases, each with when and then, the last perhaps with else",
    read=_read_cases,
    write=lambda cases: [write_node(case) for case in cases],
    schema=lambda: {
        "type": "array",
        "minItems": 1,
        "items": {"anyOf": [node_schema(Case), node_schema(_Else)]},
    },
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cases:
    """The time of the first case that holds; nothing is due where none does."""

    entries: tuple[Case | _Else, ...] = stored("cases", _CASES)

    @property
    def cases(self) -> tuple[Case, ...]:
        return tuple(entry for entry in self.entries if isinstance(entry, Case))

    @property
    def otherwise(self) -> Time | None:
        last = self.entries[-1]
        return last.then if isinstance(last, _Else) else None


Time = Limit | FirstOf | LastOf | Cases

_ANCHOR_NODES: Final[dict[str, type]] = {
    "part": PartAnchor,
    "event": EventAnchor,
    "date": DateAnchor,
}
_TIME_NODES: Final[dict[str, type]] = {
    "hours": HoursLimit,
    "months": MonthsLimit,
    "days": DaysLimit,
    "date": DateLimit,
    "event": EventLimit,
    "unknown": UnknownLimit,
    "first_of": FirstOf,
    "last_of": LastOf,
    "cases": Cases,
}


def _read_anchor(raw: object, faults: Faults, path: str) -> Any:
    if isinstance(raw, str):
        return raw if raw in MARKS else wrong(raw, _ANCHOR.expected, faults, path)
    return _read_one_of(_ANCHOR_NODES, _ANCHOR.expected, raw, faults, path)


def _read_time(raw: object, faults: Faults, path: str) -> Any:
    time = _read_one_of(_TIME_NODES, _TIME.expected, raw, faults, path)
    if isinstance(time, HoursLimit) and time.after == "manufacture":
        return faults.add(
            child_path(path, "after"),
            "Hours cannot be counted from the date of manufacture. "
            'Use "new" for time since new.',
        )
    return time


def _read_one_of(
    nodes: dict[str, type], expected: str, raw: object, faults: Faults, path: str
) -> Any:
    found = read_mapping(raw, expected, faults, path)
    if found is None:
        return BROKEN
    keys = [key for key in nodes if key in found]
    if len(keys) == 1:
        return read_node(nodes[keys[0]], found, faults, path)
    if keys:
        both = " and ".join(f'"{key}"' for key in keys)
        return faults.add(
            path, f"{both} exclude each other. Write two times in a first_of or last_of."
        )
    return faults.add(path, f"Expected {expected}, found keys {shown(list(found))}.")


def _write_anchor(anchor: Anchor) -> Any:
    return anchor if isinstance(anchor, str) else write_node(anchor)


_ANCHOR: Final = Kind(
    expected='"effective", "new", "manufacture", "overhaul", "last done", '
    "or an object with part, event or date",
    read=_read_anchor,
    write=_write_anchor,
    schema=lambda: {
        "anyOf": [
            {"enum": list(MARKS)},
            *(node_schema(node) for node in _ANCHOR_NODES.values()),
        ]
    },
)
_TIME: Final = Kind(
    expected="a time: an object with one of " + ", ".join(_TIME_NODES),
    read=_read_time,
    write=write_node,
    schema=lambda: {"anyOf": [node_schema(node) for node in _TIME_NODES.values()]},
)


def parse_time(raw: object, *, path: str = "") -> Time:
    """Return the time that a JSON value says. Raises RuleError with all its faults."""
    faults = Faults()
    time = _read_time(raw, faults, path)
    faults.raise_if_any()
    parsed: Time = time
    return parsed


def time_to_json(time: Time) -> dict[str, Any]:
    """Return the JSON value of a time; `parse_time` reads it back to the same time."""
    return write_node(time)


def definitions() -> dict[str, Schema]:
    """Return the schemas that times and actions refer to, by name."""
    return {
        "anchor": _ANCHOR.schema(),
        "time": _TIME.schema(),
        "condition": {k: v for k, v in condition_schema().items() if k[0] != "$"},
    }


def time_schema() -> Schema:
    """Return the JSON schema of a time, with the version of this form."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Compliance time",
        "version": SCHEMA_VERSION,
        "$ref": "#/$defs/time",
        "$defs": definitions(),
    }

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

# ruff: noqa: RUF009 - keyed(...) is dataclasses.field with a form

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property, lru_cache
from typing import Any, Final, Literal

from notices.rules.conditions import (
    Condition,
    condition_schema,
    parse_condition,
)
from notices.rules.conditions import to_json as condition_to_json
from notices.rules.designations import KEPT
from notices.rules.errors import Fault, RuleError
from notices.rules.evaluate import CompiledCondition, compile_condition
from notices.rules.facts import Hours
from notices.rules.forms import (
    DateForm,
    Flag,
    Form,
    HoursForm,
    Json,
    ListOf,
    ObjectOf,
    RefusedError,
    Text,
    Whole,
    Words,
    keyed,
    refuse,
    shown,
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


def event_key(name: str) -> str:
    """Return the form in which names of events compare: no case, no leading "next"."""
    return _event_key(name)


@lru_cache(maxsize=KEPT)
def _event_key(name: str) -> str:
    words = name.casefold().split()
    return " ".join(words[1:] if len(words) > 1 and words[0] == "next" else words)


@dataclass(frozen=True, slots=True)
class Deferred:
    """A form defined further down; in schemas a reference to `#/$defs/name`."""

    name: str
    form: Callable[[], Form]

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Any:
        """Return what the form reads."""
        return self.form().read(raw, path, faults)

    def write(self, value: Any) -> Json:
        """Return what the form writes."""
        return self.form().write(value)

    def schema(self) -> dict[str, Json]:
        """A reference."""
        return {"$ref": f"#/$defs/{self.name}"}


ANCHOR: Final = Deferred("anchor", lambda: _ANCHOR)
TIME: Final = Deferred("time", lambda: _TIME)
_EVENT: Final = Text('the name of an event such as "overhaul"')


@dataclass(frozen=True, slots=True, kw_only=True)
class PartAnchor:
    """From when the fitted part of this role was new, fitted here or overhauled."""

    role: str = keyed("part", Text("the role of a part"))
    since: str = keyed("since", Words(("new", "fitted", "overhaul")))


@dataclass(frozen=True, slots=True, kw_only=True)
class EventAnchor:
    """From the latest event of this name, of any date unless `after` is given."""

    name: str = keyed("event", _EVENT)
    after: Anchor | None = keyed("after", ANCHOR, default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class DateAnchor:
    """From a fixed date."""

    on: date = keyed("date", DateForm())


Anchor = Mark | PartAnchor | EventAnchor | DateAnchor


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursLimit:
    """So many hours of time in service after the anchor. `meter`: what is read for it."""

    hours: Hours = keyed("hours", HoursForm())
    after: Anchor = keyed("after", ANCHOR)
    meter: str = keyed("meter", Words(METERS), default=METERS[0])

    def __post_init__(self) -> None:
        if self.hours == 0:
            raise ValueError('No hours at all is {"event": "further flight"}.')
        if self.after == "manufacture":
            raise ValueError(
                "Hours cannot be counted from the date of manufacture. "
                'Write "after": "new" for time since new.'
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthsLimit:
    """So many months after the anchor. `calendar`: to the last day of that month."""

    months: int = keyed("months", Whole(1, 1200))
    after: Anchor = keyed("after", ANCHOR)
    calendar: bool = keyed("calendar", Flag(), default=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class DaysLimit:
    """So many days after the anchor."""

    days: int = keyed("days", Whole(1, 36500))
    after: Anchor = keyed("after", ANCHOR)


@dataclass(frozen=True, slots=True, kw_only=True)
class DateLimit:
    """On or before a fixed date."""

    on: date = keyed("date", DateForm())


@dataclass(frozen=True, slots=True, kw_only=True)
class EventLimit:
    """At the first event of this name after the anchor.

    Without `after`: after the effective date in an initial time, after the last record
    in a repeat.
    """

    name: str = keyed("event", _EVENT)
    after: Anchor | None = keyed("after", ANCHOR, default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnknownLimit:
    """A duty whose time is not known; `why` is shown."""

    why: str = keyed("unknown", Text("why the time is not known"))


Limit = HoursLimit | MonthsLimit | DaysLimit | DateLimit | EventLimit | UnknownLimit

_TIMES: Final = ListOf(TIME, "times")


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstOf:
    """Whichever occurs first."""

    members: tuple[Time, ...] = keyed("first_of", _TIMES)


@dataclass(frozen=True, slots=True, kw_only=True)
class LastOf:
    """Whichever occurs later."""

    members: tuple[Time, ...] = keyed("last_of", _TIMES)


@dataclass(frozen=True, slots=True)
class ConditionForm:
    """A condition, as `conditions.py` reads and writes it."""

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Condition:
        """Return the condition."""
        try:
            return parse_condition(raw, path=path)
        except RuleError as error:
            faults.extend(error.faults)
            raise RefusedError(path) from error

    def write(self, value: Condition) -> Json:
        """Return the stored condition."""
        return condition_to_json(value)

    def schema(self) -> dict[str, Json]:
        """A reference to the schema of conditions."""
        return {"$ref": "#/$defs/engine"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One case: the time that holds where the condition does."""

    when: Condition = keyed("when", ConditionForm())
    then: Time = keyed("then", TIME)


@dataclass(frozen=True, slots=True, kw_only=True)
class Otherwise:
    """The time that holds where no case does."""

    then: Time = keyed("else", TIME)


@dataclass(frozen=True, slots=True)
class _CaseForm:
    """One case, or the last one with else."""

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Any:
        """Return a Case or an Otherwise."""
        is_else = isinstance(raw, Mapping) and "else" in raw
        return ObjectOf(Otherwise if is_else else Case, "a case").read(
            raw, path, faults
        )

    def write(self, value: Any) -> Json:
        """Return the case."""
        return ObjectOf(type(value), "a case").write(value)

    def schema(self) -> dict[str, Json]:
        """Either of the two."""
        kinds = (Case, Otherwise)
        return {"anyOf": [ObjectOf(kind, "a case").schema() for kind in kinds]}


@dataclass(frozen=True, kw_only=True)
class Cases:
    """The time of the first case that holds; nothing is due where none does.

    No slots, so that what is worked out once is kept with it.
    """

    entries: tuple[Case | Otherwise, ...] = keyed("cases", ListOf(_CaseForm(), "cases"))

    def __post_init__(self) -> None:
        if any(isinstance(entry, Otherwise) for entry in self.entries[:-1]):
            raise ValueError('"else" must be the last case.')

    @cached_property
    def cases(self) -> tuple[Case, ...]:
        return tuple(entry for entry in self.entries if isinstance(entry, Case))

    @cached_property
    def compiled(self) -> tuple[CompiledCondition, ...]:
        """The condition of each case, ready to be asked."""
        return tuple(compile_condition(case.when) for case in self.cases)

    @property
    def otherwise(self) -> Time | None:
        last = self.entries[-1]
        return last.then if isinstance(last, Otherwise) else None


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


@dataclass(frozen=True, slots=True)
class _Nodes:
    """One of several nodes, told apart by the key that only it has, or a bare word."""

    nodes: Mapping[str, type]
    what: str
    words: tuple[str, ...] = ()

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Any:
        """Return the node, or the word."""
        if isinstance(raw, str) and raw in self.words:
            return raw
        if not isinstance(raw, Mapping):
            raise refuse(faults, path, f"Expected {self.what}, not {shown(raw)}.")
        keys = [key for key in self.nodes if key in raw]
        if len(keys) != 1:
            raise refuse(faults, path, self._which_one(keys))
        return ObjectOf(self.nodes[keys[0]], self.what).read(raw, path, faults)

    def _which_one(self, keys: list[str]) -> str:
        if not keys:
            return f"Expected {self.what}."
        both = " and ".join(f'"{key}"' for key in keys)
        return f"{both} exclude each other: write several in a first_of or last_of."

    def write(self, value: Any) -> Json:
        """Return the stored node."""
        if isinstance(value, str):
            return value
        return ObjectOf(type(value), self.what).write(value)

    def schema(self) -> dict[str, Json]:
        """Any of them."""
        objects = [ObjectOf(kind, self.what).schema() for kind in self.nodes.values()]
        words: list[Json] = [{"enum": list(self.words)}] if self.words else []
        return {"anyOf": words + objects}


_ANCHOR: Final[Form] = _Nodes(
    _ANCHOR_NODES,
    '"effective", "new", "manufacture", "overhaul", "last done", '
    'or an object with "part", "event" or "date"',
    words=MARKS,
)
_TIME: Final[Form] = _Nodes(
    _TIME_NODES, "a time: an object with one of " + ", ".join(_TIME_NODES)
)


def parse_time(raw: object, *, path: str = "") -> Time:
    """Return the time that a JSON value says. Raises RuleError with all its faults."""
    faults: list[Fault] = []
    try:
        time: Time = TIME.read(raw, path, faults)
    except RefusedError as error:
        raise RuleError(faults) from error
    return time


def time_to_json(time: Time) -> dict[str, Any]:
    """Return the JSON value of a time; `parse_time` reads it back to the same time."""
    written: dict[str, Any] = TIME.write(time)
    return written


def definitions() -> dict[str, Json]:
    """Return the schemas that times and actions refer to, by name."""
    return {
        "anchor": _ANCHOR.schema(),
        "time": _TIME.schema(),
        **condition_schema()["$defs"],
    }


def time_schema() -> dict[str, Json]:
    """Return the JSON schema of a time, with the version of this form."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Compliance time",
        "version": SCHEMA_VERSION,
        "$ref": "#/$defs/time",
        "$defs": definitions(),
    }

"""One provision about the overhaul interval, as stored in JSON, and several together.

    p := {"id", "kind": "base" | "extension" | "restriction", "hours"?, "years"?,
          "since": "new" | "overhaul", "when"?: condition,
          "enter_by"?: {"hours"?, "years"?}, "binding"?: true | [operation, ...],
          "builds_on"?: id of another provision that must hold too}

`binding`: the operations in which the interval is law; true in every operation (an
airworthiness limitation, a directive); absent or empty, it is a recommendation only.
"""

# ruff: noqa: RUF009 - keyed(...) is dataclasses.field with a form

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, Literal

from notices.rules.conditions import Always, Condition, condition_schema
from notices.rules.errors import Fault, RuleError, child_path
from notices.rules.evaluate import CompiledCondition, compile_condition
from notices.rules.facts import Hours
from notices.rules.forms import (
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
from notices.rules.times.limits import ConditionForm

SCHEMA_VERSION: Final = 1
MOST_HOURS: Final = 50_000
MOST_YEARS: Final = 100
MOST_IN_A_ROW: Final = 12
"""So many provisions may build on each other, one on the next."""

Kind = Literal["base", "extension", "restriction"]
Since = Literal["new", "overhaul"]
KINDS: Final[tuple[Kind, ...]] = ("base", "extension", "restriction")

_HOURS: Final = HoursForm()
_ID: Final = Text('the id of a provision such as "base-mx4"')
_USES: Final = ListOf(Text('a use such as "commercial"'), 'uses such as "commercial"')


@dataclass(frozen=True, slots=True)
class _IntervalHours:
    """Hours of an interval: some, and not past any sense."""

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Hours:
        """Return the hours in hundredths."""
        hours = _HOURS.read(raw, path, faults)
        if hours == 0:
            message = (
                "An interval has more than 0 h. Leave hours out if there are none."
            )
            raise refuse(faults, path, message)
        if hours > MOST_HOURS * 100:
            message = (
                f"Expected an interval of at most {MOST_HOURS} h, not {shown(raw)}."
            )
            raise refuse(faults, path, message)
        return hours

    def write(self, value: Hours) -> Json:
        """Return decimal hours."""
        return _HOURS.write(value)

    def schema(self) -> dict[str, Json]:
        """A number above 0."""
        bounds = {"exclusiveMinimum": 0, "maximum": MOST_HOURS}
        hours = {k: v for k, v in _HOURS.schema().items() if k != "minimum"}
        return {**hours, **bounds}


@dataclass(frozen=True, slots=True)
class _BindingForm:
    """True for every operation, or the operations in which it is law."""

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Any:
        """Return True or the operations, none for an empty list."""
        if raw is True:
            return True
        if isinstance(raw, list | tuple) and not raw:
            return ()
        if isinstance(raw, bool):
            message = (
                "Leave it out where the interval is a recommendation, write true where "
                "it is law in every operation, or list the operations."
            )
            raise refuse(faults, path, message)
        return _USES.read(raw, path, faults)

    def write(self, value: Any) -> Json:
        """Return true or the list."""
        return True if value is True else _USES.write(value)

    def schema(self) -> dict[str, Json]:
        """True or an array, which may be empty."""
        uses = {k: v for k, v in _USES.schema().items() if k != "minItems"}
        return {"anyOf": [{"const": True}, uses]}


@dataclass(frozen=True, slots=True, kw_only=True)
class EnterBy:
    """What the engine must not have exceeded when it entered an extension.

    Counted as the extension itself counts, since new or since overhaul.
    """

    hours: Hours | None = keyed("hours", _IntervalHours(), default=None)
    years: int | None = keyed("years", Whole(1, MOST_YEARS), default=None)

    def __post_init__(self) -> None:
        if self.hours is None and self.years is None:
            raise ValueError("Say by when it must be entered: add hours or years.")


@dataclass(frozen=True, kw_only=True)
class Interval:
    """One provision about the overhaul interval. See the module for the JSON form.

    No slots, so that what is worked out once is kept with it.
    """

    id: str = keyed("id", _ID)
    kind: Kind = keyed("kind", Words(KINDS))
    hours: Hours | None = keyed("hours", _IntervalHours(), default=None)
    years: int | None = keyed("years", Whole(1, MOST_YEARS), default=None)
    since: Since = keyed("since", Words(("new", "overhaul")))
    when: Condition | None = keyed("when", ConditionForm(), default=None)
    enter_by: EnterBy | None = keyed(
        "enter_by", ObjectOf(EnterBy, "hours and years"), default=None
    )
    binding: tuple[str, ...] | Literal[True] = keyed(
        "binding", _BindingForm(), default=()
    )
    builds_on: str | None = keyed("builds_on", _ID, default=None)

    def __post_init__(self) -> None:
        """Refuse what is no interval, and what its kind has no use for."""
        if self.hours is None and self.years is None:
            raise ValueError("Say how long the interval is: add hours or years.")
        if self.enter_by is not None and self.kind != "extension":
            raise ValueError(
                f'"enter_by" belongs to an extension, not to a {self.kind}. Take it out.'
            )
        if self.builds_on is not None and self.kind == "base":
            raise ValueError(
                '"builds_on" belongs to an extension or a restriction: a base stands '
                "alone. Take it out."
            )
        if self.builds_on == self.id:
            raise ValueError(
                f'"{self.id}" builds on itself. Name another provision, or take '
                '"builds_on" out.'
            )

    @cached_property
    def compiled_when(self) -> CompiledCondition | None:
        """The condition, ready to be asked; None where it holds for every engine."""
        return None if self.when is None else compile_condition(self.when)

    def to_json(self) -> dict[str, Json]:
        """Return the JSON value; `parse_interval` reads it back to an equal one."""
        written: dict[str, Json] = _INTERVAL.write(self)
        return written


_INTERVAL: Final = ObjectOf(Interval, "a provision about the overhaul interval")


def parse_interval(raw: object, *, path: str = "") -> Interval:
    """Return the provision that a JSON value says.

    Raises RuleError with every fault, each with its path and what was expected there.
    """
    faults: list[Fault] = []
    try:
        interval: Interval = _INTERVAL.read(raw, path, faults)
    except RefusedError as error:
        raise RuleError(faults) from error
    return interval


def interval_schema() -> dict[str, Json]:
    """Return the JSON schema of one provision, with the version of this form.

    What a schema cannot say (no "enter_by" outside an extension, what several
    provisions must not say together) the parser and `check_together` say.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Overhaul interval",
        "version": SCHEMA_VERSION,
        **_INTERVAL.schema(),
        "anyOf": [{"required": ["hours"]}, {"required": ["years"]}],
        "$defs": condition_schema()["$defs"],
    }


def check_together(intervals: Sequence[Interval], *, path: str = "provisions") -> None:
    """Raise RuleError with all that several provisions must not say together.

    That is: an id twice, "builds_on" that names nothing, leads back to itself or through
    too many others, and two base intervals that nothing tells apart.
    """
    faults = [
        *_repeated_ids(intervals, path),
        *_dangling(intervals, path),
        *_circles(intervals, path),
        *_bases_alike(intervals, path),
    ]
    if faults:
        raise RuleError(faults)


def _repeated_ids(intervals: Sequence[Interval], path: str) -> Iterator[Fault]:
    first: dict[str, int] = {}
    for index, one in enumerate(intervals):
        if one.id in first:
            at = child_path(path, first[one.id])
            message = f'The id "{one.id}" is that of {at}, too. Give each its own.'
            yield Fault(child_path(child_path(path, index), "id"), message)
        first.setdefault(one.id, index)


def _dangling(intervals: Sequence[Interval], path: str) -> Iterator[Fault]:
    known = {one.id for one in intervals}
    for index, one in enumerate(intervals):
        if one.builds_on is not None and one.builds_on not in known:
            message = f'No provision has the id "{one.builds_on}".'
            yield Fault(child_path(child_path(path, index), "builds_on"), message)


def _circles(intervals: Sequence[Interval], path: str) -> Iterator[Fault]:
    by_id = {one.id: one for one in intervals}
    for index, one in enumerate(intervals):
        way = [one.id]
        following = by_id.get(one.builds_on or "")
        while following is not None and following.id not in way:
            way.append(following.id)
            following = by_id.get(following.builds_on or "")
        if following is one:
            listed = ", which builds on ".join(f'"{name}"' for name in (*way, one.id))
            message = f"These build on each other in a circle: {listed}. Break it."
        elif len(way) > MOST_IN_A_ROW:
            message = (
                f"With this one {len(way)} provisions build on each other in a row; at "
                f"most {MOST_IN_A_ROW} may."
            )
        else:
            continue
        yield Fault(child_path(child_path(path, index), "builds_on"), message)


def _bases_alike(intervals: Sequence[Interval], path: str) -> Iterator[Fault]:
    seen: list[tuple[int, Condition | None]] = []
    for index, one in enumerate(intervals):
        if one.kind != "base":
            continue
        when = None if isinstance(one.when, Always) else one.when
        for earlier, other in seen:
            if when == other:
                at = child_path(path, earlier)
                message = (
                    f"{at} is a base interval for the same engines. Keep one, or tell "
                    'them apart with "when".'
                )
                yield Fault(child_path(path, index), message)
                break
        seen.append((index, when))

"""What an action says about its time: when, by when, how often, until when, what counts.

    action := {"when"?: condition, "initial": time, "credit"?: credit, "repeat"?: time,
               "until"?: time, "restart"?: "done" | "planned", "tolerance"?: tolerance,
               "ends_with"?: [number | condition, ...], "counts"?: [name, ...]}
    credit := true | {"of"?: [number | {"number", "revisions"}, ...], "within"?: time}
    tolerance := {"hours"?, "days"?, "en_route"?, "early"?}
    other times := {"initial"?: time, "repeat"?: time}

`counts` names events that count as doing this action: an annual inspection counts as a
100-hour inspection (14 CFR 91.409(b)), so the latter says
`"counts": ["annual inspection"]`.
"""

# ruff: noqa: RUF009 - keyed(...) is dataclasses.field with a form

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from notices.rules.applicability.nodes import AnyOf, Complied, Embodied
from notices.rules.conditions import Condition
from notices.rules.errors import Fault, RuleError
from notices.rules.evaluate import CompiledCondition, compile_condition
from notices.rules.facts import Hours
from notices.rules.forms import (
    Either,
    Flag,
    HoursForm,
    Json,
    ListOf,
    Made,
    ObjectOf,
    RefusedError,
    Text,
    Whole,
    Words,
    keyed,
    refuse,
)
from notices.rules.times.limits import (
    SCHEMA_VERSION,
    TIME,
    ConditionForm,
    Time,
    definitions,
)

_NUMBER: Final = Text('the number of a document such as "SB-24-011"')


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A document whose earlier compliance counts, in these revisions or in any."""

    number: str = keyed("number", _NUMBER)
    revisions: tuple[str, ...] | None = keyed(
        "revisions", ListOf(Text('a revision such as "2"'), "revisions"), default=None
    )


_DOCUMENT: Final = Either(
    (
        Made(_NUMBER, lambda text: Document(number=text), lambda one: one.number),
        ObjectOf(Document, "a document with number and revisions"),
    ),
    pick=lambda raw: int(not isinstance(raw, str)),
    holds=lambda document: int(document.revisions is not None),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Credit:
    """Which work done before the effective date counts.

    `of`: only under these documents, None for any. `within`: the first due point after
    such work is no later than this time, counted from it ("last done").
    """

    of: tuple[Document, ...] | None = keyed(
        "of", ListOf(_DOCUMENT, "documents"), default=None
    )
    within: Time | None = keyed("within", TIME, default=None)


@dataclass(frozen=True, slots=True)
class _CreditForm:
    """True for any earlier work, or which and for how long."""

    def read(self, raw: Json, path: str, faults: list[Fault]) -> Credit:
        """Return the credit."""
        if raw is True:
            return Credit()
        credit: Credit = _CREDIT.read(raw, path, faults)
        if credit == Credit():
            raise refuse(faults, path, 'Write true, or say which work with "of".')
        return credit

    def write(self, value: Credit) -> Json:
        """Return true or the object."""
        return _CREDIT.write(value) or True

    def schema(self) -> dict[str, Json]:
        """True or an object with something in it."""
        return {"anyOf": [{"const": True}, {**_CREDIT.schema(), "minProperties": 1}]}


_CREDIT: Final = ObjectOf(Credit, "true, or which earlier work counts,")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """How far past its limit work is not yet overdue.

    `en_route`: only while under way to a place where the work can be done. `early`:
    under "planned", work done early by no more than this does not move the grid.
    """

    hours: Hours | None = keyed("hours", HoursForm(), default=None)
    days: int | None = keyed("days", Whole(1, 3660), default=None)
    en_route: bool = keyed("en_route", Flag(), default=False)
    early: bool = keyed("early", Flag(), default=False)

    def __post_init__(self) -> None:
        if self.hours is None and self.days is None:
            raise ValueError("Say how large the tolerance is: add hours or days.")


_ENDING: Final = Either(
    (_NUMBER, ConditionForm()),
    pick=lambda raw: int(not isinstance(raw, str)),
    holds=lambda ending: int(not isinstance(ending, str)),
)


@dataclass(frozen=True, kw_only=True)
class Action:
    """The times of one action, as parsed. See the module for the JSON form.

    No slots, so that what is worked out once is kept with it.
    """

    when: Condition | None = keyed("when", ConditionForm(), default=None)
    initial: Time = keyed("initial", TIME)
    credit: Credit | None = keyed("credit", _CreditForm(), default=None)
    repeat: Time | None = keyed("repeat", TIME, default=None)
    until: Time | None = keyed("until", TIME, default=None)
    restart: str = keyed("restart", Words(("done", "planned")), default="done")
    tolerance: Tolerance | None = keyed(
        "tolerance", ObjectOf(Tolerance, "a tolerance"), default=None
    )
    ends_with: tuple[str | Condition, ...] = keyed(
        "ends_with", ListOf(_ENDING, "numbers and conditions"), default=()
    )
    counts: tuple[str, ...] = keyed(
        "counts",
        ListOf(Text('an event such as "annual inspection"'), "events"),
        default=(),
    )

    def __post_init__(self) -> None:
        if self.repeat is None and self.until is not None:
            raise ValueError('"until" ends a repeat. Add "repeat", or take it out.')
        if self.repeat is None and self.restart == "planned":
            raise ValueError('"restart" needs a "repeat". Add one, or take it out.')

    @cached_property
    def compiled_when(self) -> CompiledCondition | None:
        """The condition, ready to be asked."""
        return None if self.when is None else compile_condition(self.when)

    @cached_property
    def compiled_ends(self) -> tuple[CompiledCondition, ...]:
        """What ends it, ready to be asked; a number: embodied or complied with."""
        return tuple(compile_condition(_as_condition(end)) for end in self.ends_with)

    def to_json(self) -> dict[str, Any]:
        """Return the JSON value; `parse_action` reads it back to an equal action."""
        written: dict[str, Any] = _ACTION.write(self)
        return written


def _as_condition(end: str | Condition) -> Condition:
    if isinstance(end, str):
        return AnyOf(members=(Embodied(number=end), Complied(number=end)))
    return end


_ACTION: Final = ObjectOf(Action, "an action")


def parse_action(raw: object, *, path: str = "") -> Action:
    """Return the action that a JSON value says.

    Raises RuleError with every fault, each with its path and what was expected there.
    """
    faults: list[Fault] = []
    try:
        action: Action = _ACTION.read(raw, path, faults)
    except RefusedError as error:
        raise RuleError(faults) from error
    return action


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherTimes:
    """Times approved in place of those of an action; None leaves the action's own."""

    initial: Time | None = keyed("initial", TIME, default=None)
    repeat: Time | None = keyed("repeat", TIME, default=None)

    def to_json(self) -> dict[str, Any]:
        """Return the keys that take the place of those of the action's own JSON."""
        written: dict[str, Any] = _OTHER_TIMES.write(self)
        return written


_OTHER_TIMES: Final = ObjectOf(OtherTimes, "other times of an action")


def parse_other_times(raw: object, *, path: str = "") -> OtherTimes:
    """Return the times that a JSON value says. Raises RuleError with every fault."""
    faults: list[Fault] = []
    try:
        times: OtherTimes = _OTHER_TIMES.read(raw, path, faults)
    except RefusedError as error:
        raise RuleError(faults) from error
    return times


def action_schema() -> dict[str, Json]:
    """Return the JSON schema of an action, with the version of this form."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Action",
        "version": SCHEMA_VERSION,
        **_ACTION.schema(),
        "$defs": definitions(),
    }

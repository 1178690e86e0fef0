"""What an action says about its time: when, by when, how often, until when, what counts.

    action := {"when"?: condition, "initial": time, "credit"?: credit, "repeat"?: time,
               "until"?: time, "restart"?: "done" | "planned", "tolerance"?: tolerance,
               "ends_with"?: [number | condition, ...], "counts"?: [name, ...]}
    credit := true | {"of"?: [number | {"number", "revisions"}, ...], "within"?: time}
    tolerance := {"hours"?, "days"?, "en_route"?, "early"?}

`counts` names events that count as doing this action: an annual inspection counts as a
100-hour inspection (14 CFR 91.409(b)), so the latter says
`"counts": ["annual inspection"]`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from notices.rules.conditions import Condition
from notices.rules.facts import Hours
from notices.rules.json_nodes import (
    BROKEN,
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
    stored,
    whole_kind,
    write_node,
)
from notices.rules.limits import (
    CONDITION,
    SCHEMA_VERSION,
    TIME,
    Time,
    definitions,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A document whose earlier compliance counts, in these revisions or in any."""

    number: str = stored("number", TEXT)
    revisions: tuple[str, ...] | None = stored(
        "revisions",
        list_kind(TEXT, expected="a list of revisions as printed"),
        default=None,
    )


def _read_document(raw: object, faults: Faults, path: str) -> Any:
    if isinstance(raw, str):
        number = TEXT.read(raw, faults, path)
        return number if number is BROKEN else Document(number=number)
    return read_node(Document, raw, faults, path)


def _write_document(document: Document) -> Any:
    if document.revisions is None:
        return document.number
    return write_node(document)


_DOCUMENT: Final = Kind(
    expected="the number of a document, or an object with number and revisions",
    read=_read_document,
    write=_write_document,
    schema=lambda: {"anyOf": [TEXT.schema(), node_schema(Document)]},
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Credit:
    """Which work done before the effective date counts.

    `of`: only under these documents, None for any. `within`: the first due point after
    such work is no later than this time, counted from it ("last done").
    """

    of: tuple[Document, ...] | None = stored(
        "of",
        list_kind(_DOCUMENT, expected="a list of documents"),
        default=None,
    )
    within: Time | None = stored("within", TIME, default=None)


def _read_credit(raw: object, faults: Faults, path: str) -> Any:
    if raw is True:
        return Credit()
    if read_mapping(raw, _CREDIT.expected, faults, path) is None:
        return BROKEN
    if not raw:
        return faults.add(path, "An empty credit says nothing. Write true, or add of.")
    return read_node(Credit, raw, faults, path)


def _write_credit(credit: Credit) -> Any:
    return write_node(credit) or True


_CREDIT: Final = Kind(
    expected="true, or an object with of and perhaps within",
    read=_read_credit,
    write=_write_credit,
    schema=lambda: {
        "anyOf": [{"const": True}, {**node_schema(Credit), "minProperties": 1}]
    },
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """How far past its limit work is not yet overdue.

    `en_route`: only while under way to a place where the work can be done. `early`:
    under "planned", work done early by no more than this does not move the grid.
    """

    hours: Hours | None = stored("hours", hours_kind(at_least=1), default=None)
    days: int | None = stored(
        "days", whole_kind(at_least=1, at_most=3660), default=None
    )
    en_route: bool = stored("en_route", TRUTH, default=False)
    early: bool = stored("early", TRUTH, default=False)


def _read_tolerance(raw: object, faults: Faults, path: str) -> Any:
    tolerance = read_node(Tolerance, raw, faults, path)
    is_empty = isinstance(tolerance, Tolerance) and (
        tolerance.hours is None and tolerance.days is None
    )
    if is_empty:
        return faults.add(path, "Say how large the tolerance is: add hours or days.")
    return tolerance


_TOLERANCE: Final = Kind(
    expected="a tolerance with hours or days",
    read=_read_tolerance,
    write=write_node,
    schema=lambda: {
        **node_schema(Tolerance),
        "anyOf": [{"required": ["hours"]}, {"required": ["days"]}],
    },
)


def _read_ending(raw: object, faults: Faults, path: str) -> Any:
    kind = TEXT if isinstance(raw, str) else CONDITION
    return kind.read(raw, faults, path)


_ENDING: Final = Kind(
    expected="the number of a document or modification, or a condition",
    read=_read_ending,
    write=lambda end: end if isinstance(end, str) else CONDITION.write(end),
    schema=lambda: {"anyOf": [TEXT.schema(), CONDITION.schema()]},
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """The times of one action, as parsed. See the module for the JSON form."""

    when: Condition | None = stored("when", CONDITION, default=None)
    initial: Time = stored(
        "initial", TIME, ask="Say by when the action is due the first time."
    )
    credit: Credit | None = stored("credit", _CREDIT, default=None)
    repeat: Time | None = stored("repeat", TIME, default=None)
    until: Time | None = stored("until", TIME, default=None)
    restart: str = stored("restart", one_of_kind(("done", "planned")), default="done")
    tolerance: Tolerance | None = stored("tolerance", _TOLERANCE, default=None)
    ends_with: tuple[str | Condition, ...] = stored(
        "ends_with",
        list_kind(_ENDING, expected="a list of numbers or conditions"),
        default=(),
    )
    counts: tuple[str, ...] = stored(
        "counts", list_kind(TEXT, expected="a list of names of events"), default=()
    )

    def to_json(self) -> dict[str, Any]:
        """Return the JSON value; `parse_action` reads it back to an equal action."""
        return write_node(self)


def _read_action(raw: object, faults: Faults, path: str) -> Any:
    action = read_node(Action, raw, faults, path)
    if not isinstance(action, Action) or action.repeat is not None:
        return action
    for key, given in (
        ("until", action.until is not None),
        ("restart", action.restart == "planned"),
    ):
        if given:
            at = f"{path}.{key}" if path else key
            action = faults.add(at, 'This needs a "repeat". Add one, or take it out.')
    return action


def parse_action(raw: object, *, path: str = "") -> Action:
    """Return the action that a JSON value says.

    Raises RuleError with every fault, each with its path and what was expected there.
    """
    faults = Faults()
    action = _read_action(raw, faults, path)
    faults.raise_if_any()
    parsed: Action = action
    return parsed


def action_schema() -> Schema:
    """Return the JSON schema of an action, with the version of this form."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Action",
        "version": SCHEMA_VERSION,
        **node_schema(Action),
        "$defs": definitions(),
    }

"""Reading and writing of compliance times: what is good, and what is said of the rest."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given

from notices.rules.errors import RuleError
from notices.rules.times.actions import (
    action_schema,
    parse_action,
    parse_other_times,
)
from notices.rules.times.limits import event_key, parse_time, time_schema, time_to_json
from tests.times import ACTIONS

AFTER = {"after": "effective"}

GOOD_TIMES: list[dict[str, Any]] = [
    # every limit
    {"hours": 50, "after": "effective"},
    {"hours": 0.05, "after": "last done"},
    {"hours": 50, "after": "new", "meter": "tachometer"},
    {"months": 12, "after": "manufacture"},
    {"months": 12, "after": "overhaul", "calendar": True},
    {"days": 90, "after": {"date": "1960-07-01"}},
    {"date": "2027-06-30"},
    {"event": "overhaul"},
    {"event": "further flight", "after": {"event": "propeller strike"}},
    {"unknown": "the table is not reproduced"},
    # every anchor
    {"hours": 50, "after": {"part": "magneto", "since": "fitted"}},
    {"hours": 50, "after": {"event": "oil change", "after": "effective"}},
    # nested
    {"first_of": [{"hours": 50, **AFTER}, {"last_of": [{"date": "2027-06-30"}]}]},
    {
        "cases": [
            {"when": {"type": ["MX-4"]}, "then": {"hours": 50, **AFTER}},
            {"else": {"hours": 100, **AFTER}},
        ]
    },
]

BAD_TIMES: list[tuple[object, str, str]] = [
    # not a time at all
    (None, "", "Expected a time"),
    ("50 h", "", "Expected a time"),
    ({}, "", "Expected a time"),
    ({"hours": 50, "months": 12, **AFTER}, "", "exclude each other"),
    # numbers
    ({"hours": 0, **AFTER}, "", "further flight"),
    ({"hours": -1, **AFTER}, "hours", "from 0"),
    ({"hours": 50.001, **AFTER}, "hours", "two decimal places"),
    ({"hours": True, **AFTER}, "hours", "as a number"),
    ({"hours": "50", **AFTER}, "hours", "as a number"),
    ({"months": 1.5, **AFTER}, "months", "whole number"),
    ({"months": 0, **AFTER}, "months", "from 1"),
    ({"days": 0, **AFTER}, "days", "from 1"),
    ({"date": "2027-02-30"}, "date", "not a day"),
    # anchors
    ({"hours": 50}, "", '"after" is missing'),
    ({"hours": 50, "after": "today"}, "after", '"effective"'),
    ({"hours": 50, "after": "manufacture"}, "", "date of manufacture"),
    ({"hours": 50, "after": {"part": "magneto"}}, "after", '"since" is missing'),
    (
        {"hours": 50, "after": {"part": "magneto", "since": "built"}},
        "after.since",
        '"new" or "fitted" or "overhaul"',
    ),
    ({"hours": 50, "after": {"event": " "}}, "after.event", "not an empty text"),
    # unknown keys
    ({"hours": 50, **AFTER, "calendar": True}, "calendar", "not known here"),
    # nested: the path leads there
    ({"first_of": []}, "first_of", "at least one"),
    ({"first_of": [{"hours": 50}]}, "first_of[0]", '"after" is missing'),
    (
        {"cases": [{"else": {"date": "2027-06-30"}}, {"when": {"always": True}}]},
        "cases[1]",
        '"then" is missing',
    ),
    (
        {"cases": [{"when": {"kind": 1}, "then": {"date": "2027-06-30"}}]},
        "cases[0].when",
        "",
    ),
]


@pytest.mark.parametrize("raw", GOOD_TIMES)
def test_a_time_is_written_as_it_was_read(raw: dict[str, Any]) -> None:
    assert time_to_json(parse_time(raw)) == raw


@pytest.mark.parametrize(("raw", "path", "message"), BAD_TIMES)
def test_a_bad_time_is_refused_where_it_is_bad(
    raw: object, path: str, message: str
) -> None:
    with pytest.raises(RuleError) as refused:
        parse_time(raw)
    assert any(
        fault.path.startswith(path) and message in fault.message
        for fault in refused.value.faults
    ), refused.value.faults


def test_else_must_come_last() -> None:
    due = {"date": "2027-06-30"}
    case = {"when": {"always": True}, "then": due}
    with pytest.raises(RuleError, match="must be the last"):
        parse_time({"cases": [{"else": due}, case]})


@pytest.mark.parametrize(
    ("raw", "path", "message"),
    [
        ({}, "", '"initial" is missing'),
        ({"until": {"date": "2027-06-30"}}, "", "ends a repeat"),
        ({"restart": "planned"}, "", 'needs a "repeat"'),
        ({"restart": "later"}, "restart", '"done" or "planned"'),
        ({"tolerance": {}}, "tolerance", "how large"),
        ({"tolerance": {"en_route": True}}, "tolerance", "how large"),
        ({"credit": False}, "credit", "an object"),
        ({"credit": {}}, "credit", "Write true"),
        ({"credit": {"of": [{"revisions": ["1"]}]}}, "credit.of[0]", '"number"'),
        ({"ends_with": [3]}, "ends_with[0]", ""),
        ({"counts": "annual"}, "counts", "list"),
    ],
)
def test_a_bad_action_is_refused_where_it_is_bad(
    raw: dict[str, Any], path: str, message: str
) -> None:
    whole = raw if not raw else {"initial": {"date": "2027-06-30"}, **raw}
    with pytest.raises(RuleError) as refused:
        parse_action(whole, path="rule")
    at = f"rule.{path}" if path else "rule"
    assert any(
        fault.path == at and message in fault.message for fault in refused.value.faults
    ), refused.value.faults


def test_all_faults_of_an_action_come_together() -> None:
    with pytest.raises(RuleError) as refused:
        parse_action(
            {"initial": {"hours": 50}, "repeat": {"months": 0, **AFTER}, "x": 1}
        )
    assert {fault.path for fault in refused.value.faults} == {
        "initial",
        "repeat.months",
        "x",
    }


@given(raw=ACTIONS)
def test_an_action_is_written_as_what_reads_the_same(raw: dict[str, Any]) -> None:
    action = parse_action(raw)
    assert parse_action(action.to_json()) == action


@pytest.mark.parametrize(
    "name", ["Overhaul", "overhaul", "next overhaul", "Next  OVERHAUL", " overhaul "]
)
def test_names_of_events_compare_without_case_and_without_next(name: str) -> None:
    assert event_key(name) == "overhaul"


def test_the_schemas_name_their_version_and_every_definition_they_refer_to() -> None:
    for schema in (time_schema(), action_schema()):
        assert schema["version"] == 1
        assert _references(schema) <= {f"#/$defs/{name}" for name in schema["$defs"]}
    assert set(action_schema()["properties"]) == {
        "when",
        "initial",
        "credit",
        "repeat",
        "until",
        "restart",
        "tolerance",
        "ends_with",
        "counts",
    }
    assert action_schema()["required"] == ["initial"]


def _references(node: Any) -> set[str]:
    if isinstance(node, list):
        return set().union(*map(_references, node)) if node else set()
    if not isinstance(node, dict):
        return set()
    own = {node["$ref"]} if "$ref" in node else set()
    return own.union(*map(_references, node.values()))


@given(ACTIONS, ACTIONS)
def test_other_times_take_the_place_of_those_of_an_action_and_nothing_else(
    raw: dict[str, Any], other: dict[str, Any]
) -> None:
    stated = {key: other[key] for key in ("initial", "repeat") if key in other}
    times = parse_other_times(stated)
    assert parse_other_times(times.to_json()) == times
    action, merged = parse_action(raw), parse_action({**raw, **times.to_json()})
    assert merged.initial == parse_action(other).initial
    assert merged.repeat == (times.repeat or action.repeat)
    assert (merged.when, merged.ends_with) == (action.when, action.ends_with)


def test_other_times_say_nothing_else() -> None:
    with pytest.raises(RuleError) as refused:
        parse_other_times({"when": {"always": True}})
    assert [fault.path for fault in refused.value.faults] == ["when"]

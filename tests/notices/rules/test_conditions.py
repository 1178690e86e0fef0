"""Conditions as JSON: round trips, faults with their paths, the schema, sentences."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings

from notices.rules.applicability.nodes import Condition
from notices.rules.applicability.wording import condition_sentence
from notices.rules.conditions import condition_schema, parse_condition, to_json
from notices.rules.errors import RuleError
from tests import strategies

EVERY_NODE: list[dict[str, Any]] = [
    {"all": [{"always": True}]},
    {"any": [{"always": True}, {"not": {"type": ["MX-4", "MX-6*"]}}]},
    {"serial": ["4001..4987", "5002", "5100.."], "suffix": "any"},
    {"serial": ["K-1-500.."], "suffix": "same", "run": 2},
    {"built": {"from": "2019-03-01", "before": "2022-01-01"}},
    {"shipped": {"after": "2019-03-01", "to": "2022-01-01"}},
    {"rebuilt": {"from": "2019-03-01"}},
    {"rebuilt": True},
    {"rebuilt": False},
    {"overhauled": {"after": "2019-03-01", "by": ["maker"], "which": "any"}},
    {"overhauled": {"to": "2019-03-01", "not_by": ["maker"]}},
    {"overhauled": False},
    {"overhauled": True},
    {"embodied": "SB-24-011"},
    {"complied": "SB-24-011", "revisions": ["1", "2"], "when": {"after": "2024-01-01"}},
    {"complied": "SB-24-011"},
    {"hours": {"since": "new", "over": 500, "under": 1000.25, "at": "effective"}},
    {"hours": {"since": "overhaul", "from": 0, "to": 12.5}},
    {"attribute": "drive", "in": ["geared"]},
    {"aircraft": ["TR-2*"]},
    {"registry": ["NO", "US"]},
    {"operation": ["private", "commercial"]},
    {"leaded_share": {"over": 0.25}},
    {"oil_temperature": {"from": -20.5, "to": 105}},
    {"oil_temperature": {"from": 190, "to": 230, "unit": "F"}},
    {"ask": "Is the serial listed in table 1 of SB-24-011?"},
    {"result": ["pitted"]},
    {"part": {"role": "fuel pump"}},
    {
        "part": {
            "role": "fuel pump",
            "count": "every",
            "where": {
                "all": [
                    {"number": ["P-880*"]},
                    {"serial": ["A-1..A-9"]},
                    {"built": {"from": "2019-03-01"}},
                    {"shipped": {"from": "2019-03-01"}},
                    {"fitted": {"from": "2019-03-01"}},
                    {"fitted": "new"},
                    {"overhauled": {"by": ["maker"]}},
                    {"hours": {"since": "fitted", "over": 10}},
                    {"change": {"from": "K", "to": "AB"}},
                    {"change": {"to": "12"}},
                    {"attribute": "signal", "in": ["0-5 V"]},
                    {"ask": "Is the plate red?"},
                ]
            },
        }
    },
    {"this": {"any": [{"number": ["P-1"]}, {"change": {"from": ""}}]}},
]


@pytest.mark.parametrize("raw", EVERY_NODE)
def test_what_is_read_is_written_back(raw: dict[str, Any]) -> None:
    condition = parse_condition(raw)
    assert to_json(condition) == raw
    assert parse_condition(json.loads(json.dumps(to_json(condition)))) == condition


@settings(max_examples=60)
@given(strategies.conditions())
def test_reading_what_was_written_gives_the_same(condition: Condition) -> None:
    assert parse_condition(to_json(condition)) == condition
    assert hash(parse_condition(to_json(condition))) == hash(condition)


FAULTS = [
    # Not a condition at all.
    ([], "", 'Expected a condition such as {"type": ["MX-4"]}, not a list.'),
    ({}, "", "The condition is empty."),
    ({"typ": ["MX-4"]}, "typ", '"typ" is not a test of an engine. Expected one of:'),
    (
        {"type": ["A"], "ask": "b"},
        "",
        'One node holds one test, but here are "type", "ask"',
    ),
    ({"all": []}, "all", "Expected at least one condition; the list is empty."),
    ({"any": {"type": ["A"]}}, "any", "Expected a list of at least one condition"),
    ({"not": ["x"]}, "not", "Expected a condition"),
    ({"not": {"always": True}, "x": 1}, "x", "is not known here"),
    ({"always": False}, "always", "Expected true, not false."),
    # Designations and serials.
    ({"type": "MX-4"}, "type", "Expected a list of designations"),
    ({"type": []}, "type", "the list is empty"),
    ({"type": ["*"]}, "type[0]", "names no designation"),
    ({"type": ["M*4"]}, "type[0]", "has a star inside"),
    ({"type": ["MX-4", 6]}, "type[1]", "not 6"),
    ({"serial": ["L-1..M-2"]}, "serial[0]", 'differ in their letters: "L" and "M"'),
    ({"serial": ["1", "1-2..", "9..1"]}, "serial[2]", "runs backwards"),
    ({"serial": ["1.."], "run": 2}, "serial[0]", "run 2 cannot be its number"),
    ({"serial": ["1.."], "run": 0}, "run", "Expected a number from 1"),
    ({"serial": ["1.."], "suffix": "none"}, "suffix", 'Expected "any" or "same"'),
    # Dates and overhauls.
    ({"built": {}}, "built", 'Name at least one of "from"'),
    ({"built": "2019-01-01"}, "built", "as an object"),
    ({"built": {"from": "2019-01-01", "after": "2019-01-01"}}, "built", "not both"),
    (
        {"built": {"after": "2019-01-01", "before": "2019-01-02"}},
        "built",
        "No day lies",
    ),
    ({"built": {"from": "2019-13-01"}}, "built.from", "not a day of the calendar"),
    ({"built": {"since": "2019-01-01"}}, "built.since", '"since" is not known here'),
    ({"overhauled": {}}, "overhauled", 'write true for "ever overhauled"'),
    ({"overhauled": {"by": "maker"}}, "overhauled.by", "Expected a list"),
    (
        {"overhauled": {"by": ["m"], "which": "first"}},
        "overhauled.which",
        '"last" or "any"',
    ),
    # Numbers.
    ({"hours": {"over": 5}}, "hours", 'The key "since" is missing.'),
    ({"hours": {"since": "fitted", "over": 5}}, "hours.since", '"new" or "overhaul"'),
    ({"hours": {"since": "new"}}, "hours", "Name at least one"),
    ({"hours": {"since": "new", "over": 5, "under": 5}}, "hours", "No hours lie"),
    ({"hours": {"since": "new", "over": "5"}}, "hours.over", "as a number"),
    ({"hours": {"since": "new", "over": 0.001}}, "hours.over", "two decimal places"),
    ({"leaded_share": {"over": 25}}, "leaded_share.over", "a share from 0 to 1"),
    (
        {"leaded_share": {"over": 0.5, "to": 0.5}},
        "leaded_share",
        "Nothing lies between",
    ),
    (
        {"oil_temperature": {"from": 1e9}},
        "oil_temperature.from",
        "degrees from -460 to 2000",
    ),
    ({"oil_temperature": {"from": -300}}, "oil_temperature", "colder than anything"),
    ({"oil_temperature": {"from": 9, "unit": "K"}}, "oil_temperature.unit", '"C" or'),
    # Texts.
    ({"embodied": ""}, "embodied", "not an empty text"),
    ({"attribute": "drive"}, "", 'The key "in" is missing.'),
    ({"ask": "x" * 2001}, "ask", "At most 2000 characters"),
    # Parts.
    ({"part": "fuel pump"}, "part", "Expected an object such as"),
    ({"part": {"where": {"always": True}}}, "part.role", "not null"),
    ({"part": {"role": "x", "count": "two"}}, "part.count", '"some" or "every"'),
    (
        {"part": {"role": "x", "where": {"type": ["A"]}}},
        "part.where.type",
        "not a test of a part",
    ),
    ({"part": {"role": "x", "rule": 1}}, "part.rule", "is not known here"),
    ({"number": ["P-1"]}, "number", "is not a test of an engine"),
    ({"this": {"change": {"from": "I"}}}, "this.change.from", "not a change letter"),
    ({"this": {"change": {"from": "K", "to": "3"}}}, "this.change", "Write two tests"),
    ({"this": {"change": {"from": "L", "to": "K"}}}, "this.change", "comes after"),
    ({"this": {"fitted": "old"}}, "this.fitted", 'Expected "new"'),
]


@pytest.mark.parametrize(("raw", "path", "message"), FAULTS)
def test_a_fault_is_named_by_its_path(raw: Any, path: str, message: str) -> None:
    with pytest.raises(RuleError) as refused:
        parse_condition(raw, path="condition")
    (fault,) = refused.value.faults
    joint = "." if path and not path.startswith("[") else ""
    assert fault.path == f"condition{joint}{path}"
    assert message in fault.message


def test_all_faults_of_a_rule_come_together() -> None:
    raw = {
        "all": [
            {"type": ["MX-4"]},
            {"serial": ["L-500..M-900"], "sufix": "any"},
            {"any": [{"built": {}}, {"part": {"role": "", "count": 2}}]},
        ]
    }
    with pytest.raises(RuleError) as refused:
        parse_condition(raw)
    assert [fault.path for fault in refused.value.faults] == [
        "all[1].serial[0]",
        "all[1].sufix",
        "all[2].any[0].built",
        "all[2].any[1].part.role",
        "all[2].any[1].part.count",
    ]
    assert str(refused.value).startswith('all[1].serial[0]: The ends of "L-500..M-900"')


def test_a_rule_without_end_is_refused() -> None:
    raw: dict[str, Any] = {"always": True}
    for _ in range(50):
        raw = {"not": raw}
    with pytest.raises(RuleError, match="40 deep"):
        parse_condition(raw)
    with pytest.raises(RuleError, match="at most 5000 nodes"):
        parse_condition({"all": [{"always": True}] * 6000})


def test_the_schema_names_every_node_and_its_version() -> None:
    schema = condition_schema()
    assert schema["version"] == 1
    keys = {
        key
        for scope in ("engine", "part")
        for node in schema["$defs"][scope]["oneOf"]
        for key in node["required"]
    }
    used = {key for raw in EVERY_NODE for key in _keys(raw)}
    assert keys <= used
    assert json.loads(json.dumps(schema)) == schema


def _keys(raw: Any) -> set[str]:
    if isinstance(raw, dict):
        return {*raw, *(key for value in raw.values() for key in _keys(value))}
    if isinstance(raw, list):
        return {key for value in raw for key in _keys(value)}
    return set()


def accepts(schema: Any, value: Any, root: Any) -> bool:
    """Check a value against the few words of JSON Schema that the schema uses."""
    if "$ref" in schema:
        found = root["$defs"][schema["$ref"].removeprefix("#/$defs/")]
        return accepts(found, value, root)
    if "oneOf" in schema:
        return sum(accepts(s, value, root) for s in schema["oneOf"]) == 1
    if "anyOf" in schema:
        return any(accepts(s, value, root) for s in schema["anyOf"])
    if "const" in schema:
        return bool(value == schema["const"])
    if "enum" in schema:
        return value in schema["enum"]
    match schema["type"]:
        case "object":
            return (
                isinstance(value, dict)
                and set(schema["required"]) <= set(value) <= set(schema["properties"])
                and all(
                    accepts(schema["properties"][key], inner, root)
                    for key, inner in value.items()
                )
            )
        case "array":
            return isinstance(value, list) and all(
                accepts(schema["items"], inner, root) for inner in value
            )
        case "string":
            return isinstance(value, str)
        case "boolean":
            return isinstance(value, bool)
    return (
        isinstance(value, int | float)
        and schema["minimum"] <= value <= schema["maximum"]
    )


@pytest.mark.parametrize("raw", EVERY_NODE)
def test_the_schema_accepts_what_the_parser_accepts(raw: dict[str, Any]) -> None:
    schema = condition_schema()
    assert accepts(schema, raw, schema)
    assert not accepts(schema, {**raw, "extra": 1}, schema)


SENTENCES = """
{"type": ["MX-4", "MX-6*"]} | Type designation is MX-4 or of the MX-6 series.
{"serial": ["4001..4987", "5100.."]} | Serial number is from 4001 to 4987 or 5100 or above.
{"not": {"serial": ["..50"], "suffix": "any"}} | Serial number is not 50 or below, whatever follows.
{"built": {"from": "2019-03-01", "before": "2022-01-01"}} | Date of manufacture is on or after 1 March 2019 and before 1 January 2022.
{"not": {"embodied": "SB-1"}} | SB-1 is not embodied.
{"complied": "SB-1", "revisions": ["1", "2"]} | The ledger holds a record for SB-1 at revision 1 or 2.
{"hours": {"since": "overhaul", "over": 500.5, "at": "effective"}} | Time since overhaul on the effective date is over 500.5 h.
{"overhauled": {"after": "1995-12-15", "not_by": ["maker"]}} | The last overhaul was after 15 December 1995 and not by maker.
{"overhauled": false} | It was never overhauled.
{"leaded_share": {"over": 0.25}} | Share of leaded fuel is over 25 %.
{"oil_temperature": {"from": 80, "to": 105}} | Oil temperature is at least 80 °C and at most 105 °C throughout.
{"oil_temperature": {"from": 190, "under": 230.5, "unit": "F"}} | Oil temperature is at least 190 °F and under 230.5 °F throughout.
{"oil_temperature": {"over": -40, "unit": "F"}} | Oil temperature is over −40 °F throughout.
{"ask": "Is it listed?"} | The answer to "Is it listed?" is yes.
{"all": [{"embodied": "SB-1"}, {"any": [{"embodied": "SB-2"}, {"embodied": "SB-3"}]}]} | SB-1 is embodied and (SB-2 is embodied or SB-3 is embodied).
{"part": {"role": "fuel pump", "where": {"number": ["P-880*"]}}} | A fitted fuel pump meets this: part number is one that begins with P-880.
{"not": {"part": {"role": "fuel pump"}}} | No fuel pump is fitted.
"""


@pytest.mark.parametrize("row", SENTENCES.strip().splitlines())
def test_a_condition_reads_as_a_sentence(row: str) -> None:
    rule, sentence = (cell.strip() for cell in row.split(" | "))
    assert condition_sentence(parse_condition(json.loads(rule))) == sentence


@settings(max_examples=40)
@given(strategies.conditions())
def test_every_condition_has_a_sentence(condition: Condition) -> None:
    words = condition_sentence(condition)
    assert words[0] != words[0].lower() or not words[0].isalpha()
    assert words.endswith((".", "?"))

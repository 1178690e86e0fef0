"""The guide to rules says of every form what the code makes of it; rules as text."""

from __future__ import annotations

import json

import pytest
from hypothesis import given

from notices.rules.applicability.nodes import ENGINE_LEAVES, PART_LEAVES, ThisPart
from notices.rules.conditions import condition_schema, parse_condition, to_json
from notices.rules.times.limits import parse_time, time_schema
from tests.strategies import conditions
from tracker.web.forms.rules import read_rule, rule_text
from tracker.web.rule_guide import ENGINE, JOINING, OF_A_PART, TIMES, rule_guide


def test_every_test_that_the_code_knows_has_an_example_of_itself() -> None:
    for kind in ENGINE_LEAVES:
        assert type(parse_condition(ENGINE[kind])) is kind
    for kind in PART_LEAVES:
        inside = parse_condition({"this": OF_A_PART[kind]})
        assert isinstance(inside, ThisPart)
        assert type(inside.where) is kind
    assert (set(ENGINE), set(OF_A_PART)) == (set(ENGINE_LEAVES), set(PART_LEAVES))


def test_every_joint_and_every_time_of_the_schema_has_an_example_of_itself() -> None:
    for kind, raw in JOINING.items():
        assert type(parse_condition(raw)) is kind
    for kind, raw in TIMES.items():
        assert type(parse_time(raw)) is kind
    times = time_schema()["$defs"]["time"]["anyOf"]
    assert {one["required"][0] for one in times} == {
        next(iter(t)) for t in TIMES.values()
    }
    tests = condition_schema()["$defs"]["engine"]["oneOf"]
    shown = [next(iter(raw)) for raw in [*JOINING.values(), *ENGINE.values()]]
    assert sorted(one["required"][0] for one in tests) == sorted(shown)


def test_each_example_is_said_in_words() -> None:
    for chapter in rule_guide():
        for example in chapter.examples:
            assert example.reads
            assert example.means.endswith(".")
            assert read_rule(example.text)


@given(conditions())
def test_a_rule_laid_out_as_text_reads_as_the_same_rule(condition) -> None:
    raw = to_json(condition)
    assert read_rule(rule_text(raw)) == json.loads(json.dumps(raw))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "This is not JSON: line 1, column 1: expecting value, found its end"),
        (
            '{"a": 1,\n "b" 2}',
            "line 2, column 6: expecting ':' delimiter, found \"2}\"",
        ),
        ("{" * 30_000, "The rule has 30000 characters; at most 20000 are read."),
        ("[" * 15_000, "The rule is nested too deeply."),
        ("3", 'A rule is an object with at least one key, such as {"always": true}.'),
        ('{"a": Infinity}', "Infinity is not a number that a rule may hold."),
        ('{"a": {"b": 1, "b": 2}}', '"b" stands twice in one object'),
    ],
)
def test_text_that_is_no_rule_is_refused_with_where(text: str, message: str) -> None:
    with pytest.raises(ValueError) as refused:
        read_rule(text)
    assert message in str(refused.value)

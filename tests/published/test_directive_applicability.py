"""Published airworthiness directives, entered as rules, with what each means for engines.

Each file in `directives/` names one directive of the FAA with its Federal Register page,
"not seen" where the copy that was read gave none, and the hosts at which its text was
seen. The rules and the engines are entered in our own schema. An open item that the
directive leaves to a list elsewhere (a bulletin's table) is a question to a person.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from notices.rules.conditions import parse_condition
from notices.rules.evaluate import compile_condition, evaluate
from notices.rules.facts import Asked
from notices.rules.facts_json import engine_from_json

DIRECTIVES = [
    json.loads(path.read_text(encoding="utf-8"))
    for path in sorted((Path(__file__).parent / "directives").glob("*.json"))
]
CASES = [
    pytest.param(directive, case, id=f"{directive['directive']}-{number}")
    for directive in DIRECTIVES
    for number, case in enumerate(directive["cases"], start=1)
]


def outcome_of(rule: Any, engine: Any) -> str:
    condition = parse_condition(rule)
    facts = engine_from_json(engine)
    answer = evaluate(condition, facts, Asked())
    assert compile_condition(condition).outcome(facts, Asked()) is answer.outcome
    assert (answer.outcome.value == "undetermined") is bool(answer.missing)
    assert answer.reasons
    return answer.outcome.value


@pytest.mark.parametrize(("directive", "case"), CASES)
def test_a_directive_applies_as_published(directive: Any, case: Any) -> None:
    assert outcome_of(directive["rule"], case["engine"]) == case["expected"]


ACTIONS = [
    pytest.param(
        directive, action, case, id=f"{directive['directive']}-{number}-{action}"
    )
    for directive in DIRECTIVES
    for number, case in enumerate(directive["cases"], start=1)
    for action in case.get("actions", ())
]


@pytest.mark.parametrize(("directive", "action", "case"), ACTIONS)
def test_an_action_of_a_directive_is_required_as_published(
    directive: Any, action: str, case: Any
) -> None:
    rule = directive["actions"][action]
    assert outcome_of(rule, case["engine"]) == case["actions"][action]


def test_all_cases_are_entered() -> None:
    assert len(DIRECTIVES) == 8
    assert len(CASES) == 104


MISSING = [
    ("51-24-01", 8, ("serial number",)),
    ("51-24-01", 11, ("aircraft it is fitted in",)),
    ("74-26-09", 11, ("nameplate of magneto, serial 349001",)),
    ("80-17-14", 10, ("cylinders",)),
    ("80-25-02R2", 13, ("change letter of pushrod set 73806",)),
    ("82-13-01", 10, ("which parts are fitted as magneto",)),
    (
        "2004-10-14",
        12,
        ("complete type designation (recorded as O-360)",),
    ),
]


@pytest.mark.parametrize(("number", "place", "missing"), MISSING)
def test_an_undetermined_directive_names_what_is_missing(
    number: str, place: int, missing: tuple[str, ...]
) -> None:
    directive = next(d for d in DIRECTIVES if d["directive"] == number)
    engine = engine_from_json(directive["cases"][place - 1]["engine"])
    answer = evaluate(parse_condition(directive["rule"]), engine, Asked())
    assert answer.missing == missing

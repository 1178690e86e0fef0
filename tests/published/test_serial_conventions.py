"""Phrases about serials and dates as published documents use them.

Sources, by row: "from ... through ..." with both ends included is AD 2018-03-05, 83 FR
6107. "After" a date and "any one of the following conditions" are AD 97-15-11, 62 FR
40262, 28 July 1997, amendment 39-10085. The rows marked `from memory` (inclusive, up to
and including, and subsequent, all except) are usage of the trade for which no quotation
was seen; that numbers compare as numbers is common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest

from notices.rules.conditions import parse_condition
from notices.rules.evaluate import evaluate
from notices.rules.facts import Asked
from notices.rules.facts_json import engine_from_json

YES, NO, UNKNOWN = "applies", "does not apply", "undetermined"


def outcome(rule: Any, engine: Any) -> str:
    facts = engine_from_json(engine)
    return evaluate(parse_condition(rule), facts, Asked()).outcome.value


SERIALS = [
    # "S/N 1 through 100 inclusive" - from memory
    ({"serial": ["1..100"]}, {"1": YES, "100": YES, "101": NO, "0": NO}),
    # "up to and including 4410" - from memory
    ({"serial": ["..4410"]}, {"4410": YES, "4411": NO}),
    # "4410 and subsequent" - from memory
    ({"serial": ["4410.."]}, {"4409": NO, "4410": YES, "99999": YES}),
    # "all except 50 through 60" - from memory
    (
        {"not": {"serial": ["50..60"]}},
        {"49": YES, "50": NO, "60": NO, "61": YES},
    ),
    # 20 to 100 compares numbers, not texts - common practice, no source
    ({"serial": ["20..100"]}, {"30": YES, "100": YES, "101": NO, "3": NO}),
]


@pytest.mark.parametrize(("rule", "expected"), SERIALS)
def test_a_phrase_about_serials(rule: Any, expected: dict[str, str]) -> None:
    found = {serial: outcome(rule, {"serial": serial}) for serial in expected}
    assert found == expected


def test_from_through_includes_both_dates() -> None:
    """AD 2018-03-05, 83 FR 6107: made from 8 June 2016 through 2 October 2017."""
    rule = {"built": {"from": "2016-06-08", "to": "2017-10-02"}}
    found = [
        outcome(rule, {"built": day})
        for day in ("2016-06-07", "2016-06-08", "2017-10-02", "2017-10-03")
    ]
    assert found == [NO, YES, YES, NO]


KIT = "cylinder kit"
AD_97_15_11 = {
    "all": [
        {"type": ["O-540*", "IO-540*"]},
        {"not": {"type": ["O-540-J1A5D", "IO-540-W1A5D"]}},
        {
            "any": [
                {"ask": "Is the serial listed in AD 97-15-11?"},
                {"part": {"role": KIT, "where": {"fitted": {"after": "1995-12-15"}}}},
                {
                    "overhauled": {
                        "after": "1995-12-15",
                        "not_by": ["maker"],
                        "which": "any",
                    }
                },
            ]
        },
    ]
}
"""The three conditions of AD 97-15-11; of its many models only those of the cases."""


def engine(**known: Any) -> dict[str, Any]:
    """An engine whose serial is not listed, with no kit fitted and never overhauled."""
    return {
        "type": "O-540-A1D5",
        "answers": {"Is the serial listed in AD 97-15-11?": False},
        "overhauled": False,
        "roles_reviewed": [KIT],
        **known,
    }


def kit(fitted: str | None) -> list[dict[str, Any]]:
    return [{"role": KIT, "fitted": fitted}]


AD_CASES = [
    ("kit installed on the day", engine(parts=kit("1995-12-15")), NO),
    ("kit installed the day after", engine(parts=kit("1995-12-16")), YES),
    (
        "overhauled by the maker",
        engine(overhauled={"on": "1996-05-01", "by": "maker"}),
        NO,
    ),
    (
        "overhauled elsewhere",
        engine(overhauled={"on": "1996-05-01", "by": "shop"}),
        YES,
    ),
    ("an excepted model", engine(type="O-540-J1A5D", parts=kit("1996-01-01")), NO),
    ("kit of unknown date", engine(parts=kit(None)), UNKNOWN),
    (
        "another excepted model",
        engine(type="IO-540-W1A5D", parts=kit("1996-01-01")),
        NO,
    ),
    ("a model not excepted", engine(type="IO-540-K1A5", parts=kit("1996-01-01")), YES),
]


@pytest.mark.parametrize(("what", "facts", "expected"), AD_CASES)
def test_any_one_of_three_conditions(what: str, facts: Any, expected: str) -> None:
    assert outcome(AD_97_15_11, facts) == expected, what


def test_a_condition_that_needs_a_part_names_what_is_missing() -> None:
    facts = engine_from_json(engine(parts=kit(None)))
    answer = evaluate(parse_condition(AD_97_15_11), facts, Asked())
    assert answer.missing == (f"date of fitting of {KIT}",)

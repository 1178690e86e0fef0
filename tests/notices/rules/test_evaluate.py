"""The meaning of conditions: worked examples."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from notices.rules.conditions import parse_condition
from notices.rules.evaluate import (
    Answer,
    Outcome,
    compile_condition,
    evaluate,
    prepare,
)
from notices.rules.facts import Asked, EngineFacts, Hours
from notices.rules.facts_json import engine_from_json

YES, NO, OPEN = "applies", "does not apply", "undetermined"
NOTHING_SAID = Asked()


def answer_of(rule: Any, engine: Any, asked: Asked = NOTHING_SAID) -> Answer:
    """Both ways of evaluating, which must agree."""
    facts = engine_from_json(engine)
    condition = parse_condition(rule)
    answer = evaluate(condition, facts, asked)
    assert compile_condition(condition).outcome(facts, asked) is answer.outcome
    return answer


def pumps(*parts: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"parts": [{"role": "fuel pump", **part} for part in parts], **more}


P880 = {"number": ["P-880*"]}
SOME = {"part": {"role": "fuel pump", "where": P880}}
EVERY = {"part": {"role": "fuel pump", "count": "every", "where": P880}}
FITTING, OTHER = {"number": "P-8801"}, {"number": "P-1"}
REVIEWED = {"roles_reviewed": ["Fuel Pump"]}
TSO = {"hours": {"since": "overhaul", "over": 500}}

EXAMPLES = [
    # Designations: without case, blanks and hyphens; a star is a beginning.
    ({"type": ["MX-4*"]}, {"type": "mx 4t"}, YES),
    ({"type": ["MX-4*"]}, {"type": "LMX-4"}, NO),
    ({"type": ["MX-4"]}, {"type": "MX-4T"}, NO),
    ({"type": ["MX-32-H*"]}, {"type": "MX-32", "type_complete": False}, OPEN),
    ({"type": ["MX-32*"]}, {"type": "MX-32", "type_complete": False}, YES),
    ({"type": ["MX-36*"]}, {"type": "MX-32", "type_complete": False}, NO),
    # Known not to be fitted is not unknown.
    ({"aircraft": ["TR-2*"]}, {"aircraft": False}, NO),
    ({"aircraft": ["TR-2*"]}, {}, OPEN),
    ({"registry": ["NO"]}, {"registry": "no"}, YES),
    # History: absent only once reviewed.
    ({"embodied": "SB-1"}, {}, OPEN),
    ({"embodied": "SB-1"}, {"history_reviewed": True}, NO),
    ({"embodied": "SB-1"}, {"not_embodied": ["sb1"]}, NO),
    ({"embodied": "SB-1"}, {"embodied": ["sb 1"]}, YES),
    ({"complied": "SB-1"}, {"complied": [{"number": "SB-1"}]}, YES),
    (
        {"complied": "SB-1", "revisions": ["2"]},
        {"complied": [{"number": "SB-1", "revision": "1"}]},
        OPEN,
    ),
    (
        {"complied": "SB-1", "revisions": ["2"]},
        {"complied": [{"number": "SB-1", "revision": "1"}], "history_reviewed": True},
        NO,
    ),
    # Hours: strict and inclusive, TSO not above TSN, from new if never overhauled.
    ({"hours": {"since": "new", "over": 500}}, {"hours": {"new": 500}}, NO),
    ({"hours": {"since": "new", "from": 500}}, {"hours": {"new": 500}}, YES),
    ({"hours": {"since": "new", "under": 500}}, {"hours": {"new": 499.99}}, YES),
    ({"hours": {"since": "new", "over": 500}}, {"hours": {"overhaul": 600}}, YES),
    (TSO, {"hours": {"new": 400}}, NO),
    (TSO, {"hours": {"new": 600}}, OPEN),
    (TSO, {"hours": {"new": 600}, "overhauled": False}, YES),
    (TSO, {"hours": {"new": 600}, "overhauled": {"hours": 400}}, NO),
    # Dates stand in order: built, shipped, overhauled.
    ({"shipped": {"before": "2019-01-01"}}, {"built": "2020-01-01"}, NO),
    ({"built": {"before": "2021-01-01"}}, {"shipped": "2020-01-01"}, YES),
    ({"overhauled": {"to": "2019-12-31"}}, {"built": "2020-01-01"}, NO),
    (
        {"overhauled": {"after": "2019-12-31", "which": "any"}},
        {"overhauled": [{"on": "2020-01-01"}, {}]},
        YES,
    ),
    ({"rebuilt": True}, {"rebuilt": True}, YES),
    ({"rebuilt": {"after": "2020-01-01"}}, {"rebuilt": True}, OPEN),
    ({"rebuilt": False}, {"rebuilt": False}, YES),
    # The last overhaul, or any of them.
    (
        {"overhauled": {"by": ["maker"]}},
        {"overhauled": [{"by": "Maker"}, {"by": "shop"}]},
        NO,
    ),
    (
        {"overhauled": {"by": ["maker"], "which": "any"}},
        {"overhauled": [{"by": "Maker"}, {"by": "shop"}]},
        YES,
    ),
    # The whole range of temperature, any of the uses.
    (
        {"oil_temperature": {"from": 80, "to": 101}},
        {"oil_temperature": {"from": 85, "to": 101}},
        YES,
    ),
    (
        {"oil_temperature": {"from": 80, "to": 100}},
        {"oil_temperature": {"from": 85, "to": 101}},
        NO,
    ),
    # A unit is kept and compared exactly; 110 deg C is 230 deg F, 85 are 185.
    (
        {"oil_temperature": {"from": 190, "to": 230, "unit": "F"}},
        {"oil_temperature": {"from": 88, "to": 110}},
        YES,
    ),
    (
        {"oil_temperature": {"from": 190, "under": 230, "unit": "F"}},
        {"oil_temperature": {"from": 88, "to": 110}},
        NO,
    ),
    (
        {"oil_temperature": {"from": 200, "to": 200, "unit": "F"}},
        {"oil_temperature": {"from": 200, "to": 200, "unit": "F"}},
        YES,
    ),
    ({"operation": ["Private"]}, {"operation": ["club", "private"]}, YES),
    ({"leaded_share": {"over": 0.25}}, {"leaded_share": 0.25}, NO),
    ({"leaded_share": {"from": 0}}, {}, YES),
    (
        {"attribute": "Drive", "in": [" Geared"]},
        {"attributes": {"drive": "geared "}},
        YES,
    ),
    # Parts of a role.
    (SOME, pumps(), OPEN),
    (SOME, pumps(**REVIEWED), NO),
    (SOME, pumps(FITTING), YES),
    (SOME, pumps(OTHER), OPEN),
    (SOME, pumps(OTHER, **REVIEWED), NO),
    (SOME, pumps(OTHER, role_counts={"fuel pump": 1}), NO),
    (SOME, pumps({}, **REVIEWED), OPEN),
    (EVERY, pumps(**REVIEWED), NO),
    (EVERY, pumps(FITTING), OPEN),
    (EVERY, pumps(FITTING, **REVIEWED), YES),
    (EVERY, pumps(FITTING, **REVIEWED, role_counts={"fuel pump": 2}), OPEN),
    (EVERY, pumps(FITTING, FITTING, role_counts={"fuel pump": 2}), YES),
    (EVERY, pumps(FITTING, OTHER), NO),
    # Fitted with the engine is in no period of fitting.
    (
        {"part": {"role": "fuel pump", "where": {"fitted": {"to": "2020-01-01"}}}},
        pumps({"fitted": "new"}, **REVIEWED),
        NO,
    ),
    # One fact under two tests, and one part under two tests, is one.
    ({"any": [{"ask": "X?"}, {"not": {"ask": "X?"}}]}, {}, YES),
    (
        {"any": [SOME, {"part": {"role": "fuel pump", "where": {"not": P880}}}]},
        pumps({}),
        YES,
    ),
    (
        {"all": [{"serial": ["K-500..K-900"]}, {"not": {"serial": ["K-600..K-650"]}}]},
        {"serial": "K-612-62B"},
        NO,
    ),
]


@pytest.mark.parametrize(("rule", "engine", "expected"), EXAMPLES)
def test_a_condition_means_what_it_says(rule: Any, engine: Any, expected: str) -> None:
    answer = answer_of(rule, engine)
    assert answer.outcome.value == expected
    assert bool(answer.missing) is (expected == OPEN)
    assert answer.sharp


CHANGES = [
    ("K", {"from": "K"}, YES),
    ("J", {"from": "K"}, NO),
    ("AA", {"from": "Y"}, YES),
    ("", {"to": "A"}, YES),
    ("", {"from": "A"}, NO),
    ("k", {"to": "K"}, YES),
    ("12", {"from": "9"}, YES),
    ("3", {"from": "K"}, OPEN),
    ("I", {"from": "H"}, OPEN),
]


@pytest.mark.parametrize(("change", "bounds", "expected"), CHANGES)
def test_change_letters_run_in_drawing_order(
    change: str, bounds: dict[str, str], expected: str
) -> None:
    rule = {"part": {"role": "fuel pump", "where": {"change": bounds}}}
    engine = pumps({"change": change}, **REVIEWED)
    assert answer_of(rule, engine).outcome.value == expected


PUMP = {"number": "P-8801", "serial": "A-17"}
REASONS = [
    (
        SOME,
        pumps(PUMP),
        "Fitted fuel pump P-8801, serial A-17: part number P-8801 is one that begins "
        "with P-880.",
    ),
    (SOME, pumps(**REVIEWED), "No fuel pump is fitted."),
    (SOME, pumps(), "It is not known which fuel pump is fitted."),
    ({"type": ["MX-4"]}, {"type": "MX-4"}, "Type designation MX-4 is MX-4."),
    (
        {"type": ["MX-4"]},
        {},
        "Type designation is not known; the rule asks whether it is MX-4.",
    ),
    (
        {"all": [{"type": ["MX-4"]}, {"serial": ["4001..4987"]}]},
        {"serial": "5000"},
        "Serial number 5000 is not from 4001 to 4987.",
    ),
    (
        {"serial": ["K-500..K-900"]},
        {"serial": "K-612-62B"},
        "Serial number K-612-62B does not settle whether it is from K-500 to K-900.",
    ),
    (TSO, {"hours": {"overhaul": 512.3}}, "Time since overhaul 512.3 h is over 500 h."),
    ({"not": {"embodied": "SB-1"}}, {"embodied": ["SB-1"]}, "SB-1 is embodied."),
    (
        {"overhauled": {"by": ["maker"]}},
        {"overhauled": {"on": "2021-04-03", "by": "maker"}},
        "Overhaul history: overhauls recorded: 3 April 2021 by maker, "
        "so the last overhaul was by maker.",
    ),
    ({"ask": "Listed?"}, {}, 'The question "Listed?" has not been answered.'),
    (
        {"oil_temperature": {"to": 230, "unit": "F"}},
        {"oil_temperature": {"from": 85, "to": 110.01}},
        "Oil temperature 185 °F to 230.018 °F is not at most 230 °F throughout.",
    ),
    (
        {"oil_temperature": {"from": -10}},
        {"oil_temperature": {"from": -4, "to": 5, "unit": "F"}},
        "Oil temperature −20 °C to −15 °C is not at least −10 °C throughout.",
    ),
    (
        {"aircraft": ["TR-2"]},
        {"aircraft": False},
        "Aircraft it is fitted in (none) is not TR-2.",
    ),
    (
        {"any": [{"ask": "X?"}, {"not": {"ask": "X?"}}]},
        {},
        "The outcome is the same whatever is found for: the answer to the question: X?",
    ),
]


@pytest.mark.parametrize(("rule", "engine", "reason"), REASONS)
def test_a_reason_carries_the_engines_own_value(
    rule: Any, engine: Any, reason: str
) -> None:
    assert answer_of(rule, engine).reasons == (reason,)


def test_missing_facts_are_named_in_words() -> None:
    where = {"all": [P880, {"shipped": {"after": "2020-01-01"}}]}
    rule = {
        "all": [
            {"built": {"after": "2019-01-01"}},
            {"part": {"role": "fuel pump", "where": where}},
        ]
    }
    answer = answer_of(rule, pumps(PUMP, **REVIEWED))
    assert answer.missing == (
        "date of manufacture",
        "shipping date of fuel pump P-8801, serial A-17",
    )


@pytest.mark.parametrize(
    "rule",
    [
        {"serial": ["4001..4987"]},
        {"not": {"serial": ["4001..4987"]}},
        # one fact under two tests, each of which it may meet
        {"all": [{"serial": ["4001.."]}, {"not": {"serial": ["4987.."]}}]},
    ],
)
def test_by_a_serial_that_is_none_of_its_type_nothing_is_settled(rule: Any) -> None:
    engine = {"serial": "5OO2", "serial_pattern": "#"}
    answer = answer_of(rule, engine)
    assert answer.outcome.value == OPEN
    assert answer.missing == ("serial number of this type (recorded as 5OO2)",)
    assert "Serial number 5OO2 is not a serial number of this type;" in str(
        answer.reasons
    )


def test_a_serial_that_is_complete_is_not_asked_for_again() -> None:
    """It has the shape of its type: what the document means is what is not known."""
    engine = {"serial": "K-650-11", "serial_pattern": "K-#-#"}
    answer = answer_of({"serial": ["K-500..K-900"]}, engine)
    assert answer.missing == ("whether the document means serial number K-650-11",)


def test_the_part_that_a_provision_is_about_is_asked() -> None:
    engine = engine_from_json(pumps(FITTING, OTHER))
    rule = parse_condition({"this": P880})
    first, second = (Asked(part=part) for part in engine.parts)
    assert evaluate(rule, engine, first).outcome is Outcome.APPLIES
    assert evaluate(rule, engine, second).outcome is Outcome.DOES_NOT_APPLY
    nobody = evaluate(rule, engine, Asked())
    assert nobody.outcome is Outcome.UNDETERMINED
    assert nobody.missing == ("the part that the provision is about",)


def test_the_same_part_under_this_and_its_role_is_one_fact() -> None:
    rule = parse_condition({"any": [{"this": {"not": P880}}, SOME]})
    engine = engine_from_json(pumps({}))
    answer = evaluate(rule, engine, Asked(part=engine.parts[0]))
    assert answer.outcome is Outcome.APPLIES


def test_questions_belong_to_the_revision_that_asks() -> None:
    rule = parse_condition({"ask": "Listed?"})
    engine = EngineFacts(answers={("revision 1", "Listed?"): True})
    assert evaluate(rule, engine, Asked(scope="revision 1")).outcome is Outcome.APPLIES
    other = evaluate(rule, engine, Asked(scope="revision 2"))
    assert other.outcome is Outcome.UNDETERMINED


def test_hours_on_the_effective_date_come_from_the_circumstances() -> None:
    rule = {"hours": {"since": "new", "under": 100, "at": "effective"}}
    engine = {"at_effective": {"hours": {"new": 120}}}
    assert answer_of(rule, engine).outcome.value == NO
    asked = Asked(effective_hours=Hours(9_999))
    assert answer_of(rule, engine, asked).outcome.value == YES


def test_an_engine_made_after_the_effective_date_had_no_hours_then() -> None:
    rule = {"hours": {"since": "new", "under": 100, "at": "effective"}}
    asked = Asked(effective_on=date(2020, 1, 1))
    assert answer_of(rule, {"built": "2020-01-02"}, asked).outcome.value == YES
    assert answer_of(rule, {"built": "2020-01-01"}, asked).outcome.value == OPEN


def test_the_share_since_the_action_wins_over_the_engines_own() -> None:
    rule = {"leaded_share": {"over": 0.25}}
    asked = Asked(leaded_share=engine_from_json({"leaded_share": 0.5}).leaded_share)
    assert answer_of(rule, {"leaded_share": 0.1}, asked).outcome.value == YES


def test_the_result_of_the_last_record_is_asked() -> None:
    rule = {"result": ["pitted"]}
    assert answer_of(rule, {}, Asked(result=" Pitted")).outcome.value == YES
    assert answer_of(rule, {}, Asked(result=None)).outcome.value == NO
    assert answer_of(rule, {}, Asked()).outcome.value == OPEN


@pytest.mark.parametrize(("questions", "sharp"), [(6, True), (7, False)])
def test_at_most_64_cases_are_tried_together(questions: int, sharp: bool) -> None:
    pairs = [
        {"any": [{"ask": f"Q{n}?"}, {"not": {"ask": f"Q{n}?"}}]}
        for n in range(questions)
    ]
    answer = answer_of({"all": pairs}, {})
    assert answer.sharp is sharp
    assert answer.outcome.value == (YES if sharp else OPEN)
    assert len(answer.missing) == (0 if sharp else questions)


def test_dates_that_contradict_each_other_are_taken_as_recorded() -> None:
    engine = {"built": "2020-01-01", "overhauled": {"on": "2019-01-01"}}
    assert answer_of({"built": {"from": "2020-01-01"}}, engine).outcome.value == YES
    assert answer_of({"shipped": {"to": "2018-01-01"}}, engine).outcome.value == OPEN


def test_one_engine_is_prepared_once_for_many_conditions() -> None:
    subject = prepare(engine_from_json({"type": "MX-4"}), Asked())
    rules = [parse_condition({"type": [name]}) for name in ("MX-4", "MX-6")]
    found = [compile_condition(rule).outcome_of(subject) for rule in rules]
    assert found == [Outcome.APPLIES, Outcome.DOES_NOT_APPLY]


FOUR, SIX, QUESTION = {"type": ["MX-4"]}, {"type": ["MX-6*"]}, {"ask": "x"}
NEEDS = [
    ({"all": [QUESTION, FOUR]}, ["MX-4"]),
    ({"any": [FOUR, {"all": [SIX, QUESTION]}]}, ["MX-4", "MX-6*"]),
    ({"any": [FOUR, QUESTION]}, None),
    ({"not": FOUR}, None),
]


@pytest.mark.parametrize(("rule", "expected"), NEEDS)
def test_a_compiled_condition_names_the_types_it_needs(
    rule: Any, expected: list[str] | None
) -> None:
    found = compile_condition(parse_condition(rule)).needs
    assert (None if found is None else [p.text for p in found]) == expected


def test_an_outcome_is_not_a_boolean() -> None:
    with pytest.raises(TypeError):
        bool(Outcome.APPLIES)

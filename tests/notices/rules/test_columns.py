"""The laws of columns: what a whole fleet is told at once is what each engine is told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st

from notices.rules.applicability.deciding import tree_of
from notices.rules.applicability.leaf_tests import NO, OPEN, YES, Value, leaf_test
from notices.rules.applicability.nodes import (
    Built,
    Condition,
    Rebuilt,
    SerialIn,
    Shipped,
    TypeIn,
)
from notices.rules.applicability.trees import joined
from notices.rules.columns import Columns, IdentityRow, columns_of
from notices.rules.conditions import parse_condition
from notices.rules.evaluate import (
    compile_condition,
    outcome_of_value,
    prepare,
)
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, Overhaul, Unknown
from notices.rules.serials import parse_range, parse_serial
from tests import strategies
from tests.oracle import TooManyWorldsError, opinion
from tests.strategies import unknown_or

MANY = settings(
    max_examples=100,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
NOTHING_SAID = Asked()
WORD = 2**63 - 1
"""The greatest number of a machine word."""

FACTS_OF = {
    TypeIn: ("type", "type_complete"),
    SerialIn: ("serial", "serial_pattern", "serial_run"),
    Built: ("built",),
    Shipped: ("shipped",),
    Rebuilt: ("rebuilt",),
}
"""By kind of test, the facts that stand in columns for it."""


def is_serial(text: str) -> bool:
    try:
        parse_serial(text)
    except ValueError:
        return False
    return True


RUNS = st.one_of(
    st.sampled_from(["K", "L", "-", ".", "KL", "AB "]),
    st.integers(0, 12).map(str),
    st.sampled_from(["007", str(WORD - 1), str(WORD), str(WORD + 1), "9" * 30]),
)
SERIALS = st.one_of(
    st.sampled_from(strategies.SERIALS),
    st.lists(RUNS, min_size=1, max_size=4).map("".join).filter(is_serial),
)
PATTERNS = st.sampled_from([None, "#", "K-#", "L-#-#", "K#-5", "#-#", "7"])


@st.composite
def serial_leaves(draw: st.DrawFn) -> dict[str, Any]:
    """Serials and ranges of every shape, open ones among them."""
    first, last = draw(SERIALS), draw(SERIALS)
    texts = [f"{first}..", f"..{first}", first, f"{first}..{last}", f"{last}..{first}"]
    leaf: dict[str, Any] = {"serial": draw(st.sampled_from(texts).map(lambda t: [t]))}
    leaf |= draw(
        st.fixed_dictionaries(
            {},
            optional={
                "suffix": st.sampled_from(["any", "same"]),
                "run": st.integers(1, 2),
            },
        )
    )
    try:
        parse_range(leaf["serial"][0], run=leaf.get("run"), suffix=leaf.get("suffix"))
    except ValueError:
        assume(False)
    return leaf


def identity_leaves() -> st.SearchStrategy[dict[str, Any]]:
    periods = strategies.periods()
    return st.one_of(
        serial_leaves(),
        strategies.some_of(strategies.TYPE_PATTERNS).map(lambda v: {"type": v}),
        periods.map(lambda p: {"built": p}),
        periods.map(lambda p: {"shipped": p}),
        st.one_of(periods, st.booleans()).map(lambda p: {"rebuilt": p}),
    )


CONDITIONS = st.one_of(
    strategies.conditions(),
    strategies.trees(st.one_of(identity_leaves(), strategies.engine_leaves()), 6).map(
        parse_condition
    ),
)
DAYS = st.sampled_from(strategies.DAYS)
ENGINES = st.builds(
    replace,
    strategies.engines(),
    serial=unknown_or(SERIALS),
    serial_pattern=PATTERNS,
    serial_run=st.sampled_from([None, 1, 2, 3]),
)
AT_ODDS = st.builds(
    replace,
    ENGINES,
    built=unknown_or(DAYS),
    shipped=unknown_or(DAYS),
    overhauls=unknown_or(
        st.lists(st.builds(Overhaul, on=unknown_or(DAYS)), max_size=2).map(tuple)
    ),
)
"""Their dates need not stand in order."""

FLEETS = st.lists(st.one_of(ENGINES, AT_ODDS), max_size=5)


def identity_of(facts: EngineFacts) -> IdentityRow:
    return IdentityRow(*(getattr(facts, name) for name in IdentityRow._fields))


def columns(fleet: Sequence[EngineFacts]) -> Columns:
    return columns_of(map(identity_of, fleet))


def only(facts: EngineFacts, *names: str) -> EngineFacts:
    """The engine, of which nothing but these facts is known."""
    return EngineFacts(**{name: getattr(facts, name) for name in names})


def by_single_facts(condition: Condition, facts: EngineFacts) -> Value:
    """The plain value, each test asked of an engine of which its fact alone is known."""
    tree = tree_of(condition)

    def alone(leaf: Any, test: Any) -> Value:
        names = FACTS_OF.get(type(leaf))
        if names is None:
            return OPEN
        return int(test(prepare(only(facts, *names), NOTHING_SAID)))

    values = [alone(*one) for one in zip(tree.leaves, tree.tests, strict=True)]
    return joined(tree.shape, values)


@MANY
@given(CONDITIONS, FLEETS)
def test_the_value_is_the_plain_one_of_single_facts(
    condition: Condition, fleet: list[EngineFacts]
) -> None:
    value = columns(fleet).value(condition)
    assert value.dtype == "int8"
    assert value.tolist() == [by_single_facts(condition, facts) for facts in fleet]


@MANY
@given(
    strategies.trees(identity_leaves(), 6).map(parse_condition),
    st.lists(ENGINES, max_size=5),
)
def test_of_an_engine_of_which_its_identity_alone_is_known_it_is_the_plain_value(
    condition: Condition, fleet: list[EngineFacts]
) -> None:
    """Both dates are known or neither is: else one says something of the other."""
    fleet = [
        one
        if isinstance(one.built, Unknown) == isinstance(one.shipped, Unknown)
        else replace(one, built=UNKNOWN, shipped=UNKNOWN)
        for one in fleet
    ]
    root = tree_of(condition).root
    known = [only(one, *IdentityRow._fields) for one in fleet]
    plain = [root(prepare(facts, NOTHING_SAID)) for facts in known]
    assert columns(fleet).value(condition).tolist() == plain


SHIPPED_LATE = parse_condition({"shipped": {"before": "2019-01-02"}})
OVERHAULED_BEFORE_IT_WAS_MADE = EngineFacts(
    built=date(2019, 1, 5), overhauls=(Overhaul(on=date(2019, 1, 1)),)
)


@MANY
@given(CONDITIONS, FLEETS, strategies.circumstances())
@example(SHIPPED_LATE, [OVERHAULED_BEFORE_IT_WAS_MADE], (0, UNKNOWN))
def test_what_is_settled_is_settled_alike_with_all_facts(
    condition: Condition, fleet: list[EngineFacts], said: tuple[int, Any]
) -> None:
    place, result = said
    rule = compile_condition(condition)
    for value, facts in zip(columns(fleet).value(condition), fleet, strict=True):
        part = facts.parts[place] if place < len(facts.parts) else None
        outcome = rule.outcome(facts, Asked(part=part, result=result))
        assert value == OPEN or outcome is outcome_of_value(int(value))


@MANY
@given(strategies.conditions(), st.lists(strategies.engines(), max_size=3))
def test_what_is_settled_is_so_in_every_completion(
    condition: Condition, fleet: list[EngineFacts]
) -> None:
    assume("ThisPart" not in repr(condition))
    for value, facts in zip(columns(fleet).value(condition), fleet, strict=True):
        if value != OPEN:
            known = only(facts, *IdentityRow._fields)
            try:
                seen = opinion(condition, known, NOTHING_SAID)
            except TooManyWorldsError:
                continue
            assert seen.outcomes == {value == YES}


@MANY
@given(st.lists(CONDITIONS, max_size=3), FLEETS)
def test_those_left_are_those_to_which_a_condition_may_apply(
    conditions: list[Condition], fleet: list[EngineFacts]
) -> None:
    left = columns(fleet).left_by(conditions)
    assert left == [
        place
        for place, facts in enumerate(fleet)
        if any(by_single_facts(one, facts) != NO for one in conditions)
    ]


NUMBERED = [f"K-{number}" for number in (1, 12, 11, 3, 2, 10)]
TOLD = [
    # In the order in which they were given, whatever their numbers are.
    ({"serial": ["K-2..K-10"]}, NUMBERED, [NO, NO, NO, YES, YES, YES]),
    ({"serial": ["..K-2", "K-12"]}, NUMBERED, [YES, YES, NO, NO, YES, NO]),
    # Longer than a machine word, and next to its end.
    ({"serial": [f"..{WORD}"]}, [str(WORD), str(WORD + 1), "9" * 40], [YES, NO, NO]),
    ({"serial": [f"{WORD + 1}.."]}, [str(WORD), str(WORD + 1)], [NO, YES]),
    ({"serial": [f"{WORD}..{WORD}"]}, [str(WORD - 1), str(WORD)], [NO, YES]),
    ({"serial": ["1.." + "9" * 39]}, ["5", "9" * 40], [YES, NO]),
    # A further run, and one that lacks.
    ({"serial": ["K-5..K-9"]}, ["K-7", "K-7-62B", "7", "K-4-62B"], [YES, OPEN, OPEN, NO]),
    ({"serial": ["K-7-2..K-7-9"]}, ["K-7-3", "K-6-3", "K-7-1"], [YES, NO, NO]),
    # What nobody knows, and what stands in no column.
    ({"serial": ["K-5..K-9"]}, [UNKNOWN], [OPEN]),
    ({"embodied": "SB-1"}, NUMBERED[:2], [OPEN, OPEN]),
    ({"any": [{"embodied": "SB-1"}, {"serial": ["K-1"]}]}, NUMBERED[:2], [YES, OPEN]),
    ({"all": [{"embodied": "SB-1"}, {"serial": ["K-1"]}]}, NUMBERED[:2], [OPEN, NO]),
    ({"always": True}, NUMBERED[:2], [YES, YES]),
    ({"not": {"always": True}}, NUMBERED[:1], [NO]),
    ({"serial": ["K-1"]}, [], []),
]  # fmt: skip


def test_the_pattern_of_a_type_may_name_a_number_itself() -> None:
    """Only 7 fits the pattern, so of the others nothing is certain."""
    fleet = columns_of(
        IdentityRow(serial=str(number), serial_pattern="7") for number in range(4, 10)
    )
    value = fleet.value(parse_condition({"serial": ["5..9"]}))
    assert value.tolist() == [OPEN, OPEN, OPEN, YES, OPEN, OPEN]


@pytest.mark.parametrize(("rule", "serials", "expected"), TOLD)
def test_a_fleet_is_told_engine_by_engine(
    rule: Any, serials: list[str | Unknown], expected: list[Value]
) -> None:
    fleet = columns_of(IdentityRow(serial=serial) for serial in serials)
    assert fleet.value(parse_condition(rule)).tolist() == expected


def test_a_range_of_serials_is_not_asked_engine_by_engine(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A thousand engines of one kind: five stretches of numbers, one test of each."""
    fleet = columns_of(IdentityRow(serial=f"K-{number}") for number in range(1000))
    asked: list[Any] = []

    def counted(leaf: SerialIn) -> Any:
        test = leaf_test(leaf)
        return lambda subject: asked.append(subject) or test(subject)

    monkeypatch.setattr("notices.rules.columns.leaf_test", counted)
    value = fleet.value(parse_condition({"serial": ["K-100..K-199"]}))
    assert value.sum() == 100
    assert len(asked) == 5

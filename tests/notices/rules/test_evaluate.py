"""The meaning of conditions: worked examples, and laws against a naive oracle."""

from __future__ import annotations

from typing import Any

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from notices.rules.condition_nodes import Condition
from notices.rules.evaluate import Outcome, compile_condition, evaluate
from notices.rules.facts import Asked, EngineFacts
from tests import strategies
from tests.oracle import TooManyWorldsError, opinion

SMALL = settings(
    max_examples=400,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)


@st.composite
def cases(draw: st.DrawFn, most: int = 6) -> tuple[Condition, EngineFacts, Asked]:
    engine = draw(strategies.engines())
    asked = draw(strategies.circumstances(engine))
    return draw(strategies.conditions(most)), engine, asked


def seen_by_oracle(case: tuple[Condition, EngineFacts, Asked]) -> Any:
    condition, engine, asked = case
    assume(asked.part is not None or "ThisPart" not in repr(condition))
    try:
        return opinion(condition, engine, asked)
    except TooManyWorldsError:
        assume(False)


@SMALL
@given(cases())
def test_evaluation_agrees_with_every_completion(case: Any) -> None:
    seen = seen_by_oracle(case)
    answer = evaluate(*case)
    expected = {
        frozenset({True}): Outcome.APPLIES,
        frozenset({False}): Outcome.DOES_NOT_APPLY,
        frozenset({True, False}): Outcome.UNDETERMINED,
    }[frozenset(seen.outcomes)]
    if answer.sharp or answer.outcome is not Outcome.UNDETERMINED:
        assert answer.outcome is expected
    assert compile_condition(case[0]).outcome(*case[1:]) is answer.outcome


@SMALL
@given(cases())
def test_the_missing_facts_are_those_that_can_change_the_outcome(case: Any) -> None:
    seen = seen_by_oracle(case)
    answer = evaluate(*case)
    if answer.sharp:
        assert set(answer.missing) == seen.telling
    else:
        assert set(answer.missing) >= seen.telling

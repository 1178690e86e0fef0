"""The laws of evaluation, on random conditions and engines, against a naive oracle."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from random import Random
from typing import Any

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from notices.rules.applicability.nodes import AllOf, AnyOf, Condition, Not
from notices.rules.evaluate import Outcome, compile_condition, evaluate
from notices.rules.facts import UNKNOWN, EngineFacts, HoursKept
from tests import strategies
from tests.oracle import Opinion, TooManyWorldsError, opinion
from tests.strategies import Case, cases

FEW = settings(
    max_examples=120,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)


def seen_by_oracle(case: Case) -> Opinion:
    condition, engine, asked = case
    assume(asked.part is not None or "ThisPart" not in repr(condition))
    try:
        return opinion(condition, engine, asked)
    except TooManyWorldsError:
        assume(False)
        raise


@FEW
@given(cases())
def test_evaluation_agrees_with_every_completion(case: Case) -> None:
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
    assert answer.reasons


@FEW
@given(cases())
def test_the_missing_facts_are_those_that_can_change_the_outcome(case: Case) -> None:
    seen = seen_by_oracle(case)
    answer = evaluate(*case)
    if answer.sharp:
        assert set(answer.missing) == seen.telling
    else:
        assert set(answer.missing) >= seen.telling


@FEW
@given(cases(), st.data())
def test_learning_a_fact_never_turns_a_settled_outcome(
    case: Case, data: st.DataObject
) -> None:
    condition, engine, asked = case
    before = evaluate(*case)
    assume(before.outcome is not Outcome.UNDETERMINED)
    learned = data.draw(st.sampled_from([engine, *one_more_fact(engine)]))
    after = evaluate(condition, learned, asked)
    if after.sharp:
        assert after.outcome is before.outcome


def one_more_fact(engine: EngineFacts) -> Iterator[EngineFacts]:
    """Yield the engine with one more fact known, in ways that go with the rest."""
    simple: dict[str, tuple[Any, ...]] = {
        "type": strategies.TYPES if engine.type_complete else ("MX-4",),
        "serial": strategies.SERIALS,
        "rebuilt": (None, *strategies.DAYS),
        "aircraft": (None, "TR-20", "TR-3"),
        "registry": (None, "NO"),
        "operation": (frozenset({"private"}), frozenset({"club"})),
        "leaded_share": strategies.SHARES,
    }
    for name, values in simple.items():
        if getattr(engine, name) is UNKNOWN:
            yield from (replace(engine, **{name: value}) for value in values)
    if not engine.history_reviewed:
        yield replace(engine, history_reviewed=True)
        absent = engine.not_embodied - {"SB-2"}
        if absent == engine.not_embodied:
            yield replace(engine, embodied=engine.embodied | {"SB-2"})
    if not engine.roles_reviewed and not engine.role_counts:
        yield replace(engine, roles_reviewed=frozenset({strategies.ROLE}))
    if engine.hours == HoursKept() and engine.overhauls != ():
        low, _, mid, high, _ = strategies.HOURS
        yield replace(engine, hours=HoursKept(new=high, overhaul=mid))
        yield replace(engine, hours=HoursKept(new=low))


@FEW
@given(cases())
def test_not_twice_is_the_same(case: Case) -> None:
    condition, engine, asked = case
    twice = Not(member=Not(member=condition))
    assert evaluate(twice, engine, asked) == evaluate(*case)


@FEW
@given(
    st.lists(strategies.conditions(3), min_size=2, max_size=3), cases(1), st.randoms()
)
def test_the_order_of_members_changes_nothing(
    members: list[Condition], case: Case, shuffled: Random
) -> None:
    _, engine, asked = case
    other = list(members)
    shuffled.shuffle(other)
    for kind in (AllOf, AnyOf):
        one = evaluate(kind(members=tuple(members)), engine, asked)
        two = evaluate(kind(members=tuple(other)), engine, asked)
        assert one.outcome is two.outcome
        assert one.sharp is two.sharp
        assert set(one.missing) == set(two.missing)

"""Random provisions about the overhaul interval, and engines they are asked of, in JSON."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from notices.rules.applicability.nodes import Condition
from notices.rules.conditions import parse_condition
from notices.rules.facts import Asked, EngineFacts
from tests import strategies
from tests.strategies import Case

USE = "commercial"
KINDS = ("base", "extension", "restriction")
BINDING = st.sampled_from([[], [USE], ["private"], ["Commercial", "club"], True])


@st.composite
def provisions(draw: st.DrawFn, most: int = 6) -> list[dict[str, Any]]:
    """Provisions of which at most one is a base, each hanging on a fact of its own.

    Provision n holds if M-n is embodied.
    """
    kinds = draw(st.lists(st.sampled_from(KINDS[1:]), max_size=most - 1))
    if draw(st.integers(0, 3)):
        kinds.insert(draw(st.integers(0, len(kinds))), "base")
    return [draw(_provision(kind, index)) for index, kind in enumerate(kinds)]


def _provision(kind: str, index: int) -> st.SearchStrategy[dict[str, Any]]:
    fixed = {
        "id": st.just(f"p-{index}"),
        "kind": st.just(kind),
        "since": st.sampled_from(["new", "overhaul"]),
        "when": st.just({"embodied": f"M-{index}"}),
        "binding": BINDING,
    }
    hours = {"hours": st.integers(1, 60)}
    years = {"years": st.integers(1, 9)}
    return st.one_of(
        st.fixed_dictionaries({**fixed, **hours}),
        st.fixed_dictionaries({**fixed, **years}),
        st.fixed_dictionaries({**fixed, **hours, **years}),
    )


def doable_leaves() -> st.SearchStrategy[dict[str, Any]]:
    """Tests that a person can often make true, and a few that nobody can."""
    parts = strategies.trees(strategies.part_leaves(), 2)
    role = {"role": st.just(strategies.ROLE)}
    counted = {"count": st.sampled_from(["some", "every"])}
    return st.one_of(
        st.sampled_from(("SB-1", "SB-2", "SB-3")).map(lambda n: {"embodied": n}),
        strategies.complied_leaves(),
        st.fixed_dictionaries({**role, **counted, "where": parts}).map(
            lambda body: {"part": body}
        ),
        st.just({"part": {"role": strategies.ROLE}}),
        st.sampled_from(
            [
                {"attribute": "drive", "in": ["geared"]},
                {"ask": strategies.QUESTIONS[0]},
                {"operation": ["private"]},
            ]
        ),
    )


def doable_conditions(most: int) -> st.SearchStrategy[Condition]:
    """Conditions over them."""
    return strategies.trees(doable_leaves(), most).map(parse_condition)


def doable_cases(most: int = 6) -> st.SearchStrategy[Case]:
    """A condition that can often be made to hold, an engine, and the day asked for."""
    drawn = st.tuples(
        doable_conditions(most), strategies.engines(), strategies.circumstances()
    )
    return drawn.map(_case)


def _case(drawn: tuple[Condition, EngineFacts, tuple[int, Any]]) -> Case:
    condition, facts, (_, result) = drawn
    return condition, facts, Asked(on=strategies.DAYS[2], result=result)

"""The hours kept for an engine are known, and how many it had run when new may not be."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from notices.rules.compliance_time import (
    Done,
    Due,
    Event,
    History,
    Reading,
    due,
    parse_action,
)
from notices.rules.conditions import parse_condition
from notices.rules.evaluate import evaluate
from notices.rules.facts import (
    UNKNOWN,
    Asked,
    Axis,
    EngineFacts,
    Hours,
    HoursKept,
    Overhaul,
    PartFacts,
)

TODAY = date(2026, 6, 1)
EFFECTIVE = date(2026, 1, 15)
PUMP = PartFacts(
    role="fuel pump",
    fitted=date(2025, 6, 1),
    hours=HoursKept(new=Hours(30_000), fitted=Hours(8_000)),
)
PAST = History(
    effective_on=EFFECTIVE,
    done=(),
    events=(Event(name="oil change", on=date(2026, 5, 1), hours=Hours(51_000)),),
    readings=(Reading(on=EFFECTIVE, hours=Hours(49_000)),),
)


def engine(new: int | None = None, **known: Any) -> EngineFacts:
    """An engine whose axis shows 520 h. `new`: what it showed when the engine was new."""
    zero = UNKNOWN if new is None else Hours(new)
    since = UNKNOWN if new is None else Hours(52_000 - new)
    made = EngineFacts(
        built=date(2001, 5, 1),
        axis=Axis(now=Hours(52_000), new=zero),
        hours=HoursKept(new=since),
        overhauls=(Overhaul(on=date(2024, 2, 1), hours=Hours(40_000)),),
        parts=(PUMP,),
    )
    return replace(made, **known)


def due_for(facts: EngineFacts, limit: Any, history: History = PAST) -> Due:
    action = {"initial": limit}
    if limit["after"] == "last done":
        action = {"initial": {"hours": 1, "after": "effective"}, "repeat": limit}
    asked = Asked(on=TODAY, effective_on=EFFECTIVE)
    return due(parse_action(action), facts, asked, history)


def outcome(facts: EngineFacts, rule: Any, effective: int | None = None) -> str:
    hours = UNKNOWN if effective is None else Hours(effective)
    asked = Asked(on=TODAY, effective_on=EFFECTIVE, effective_hours=hours)
    answer = evaluate(parse_condition(rule), facts, asked)
    return answer.outcome.value


# -- time since new is not known


@pytest.mark.parametrize(
    ("after", "hours"),
    [
        ("effective", 49_000),
        ("last done", 50_000),
        ("overhaul", 40_000),
        ({"event": "oil change"}, 51_000),
        ({"part": "fuel pump", "since": "fitted"}, 44_000),
        ({"part": "fuel pump", "since": "new"}, 22_000),
    ],
)
def test_a_limit_from_a_mark_on_the_axis_is_computed_without_tsn(
    after: Any, hours: int
) -> None:
    done = Done(on=date(2026, 3, 1), hours=Hours(50_000))
    past = replace(PAST, done=(done,)) if after == "last done" else PAST
    answer = due_for(engine(), {"hours": 100, "after": after}, past)
    assert (answer.hours, answer.missing) == (hours + 10_000, ())
    assert answer.remaining_hours == hours + 10_000 - 52_000


def test_a_limit_from_new_names_tsn_as_missing() -> None:
    answer = due_for(engine(), {"hours": 2000, "after": "new"})
    assert (answer.state.value, answer.hours) == ("undetermined", None)
    assert answer.missing == ("time since new of the engine",)


def test_an_engine_never_overhauled_has_no_overhaul_to_count_from_either() -> None:
    answer = due_for(engine(overhauls=()), {"hours": 2000, "after": "overhaul"})
    assert answer.missing == ("time since new of the engine",)


def test_a_part_that_came_with_the_engine_has_its_hours_from_new() -> None:
    pump = PartFacts(role="fuel pump", fitted="new")
    limit = {"hours": 500, "after": {"part": "fuel pump", "since": "fitted"}}
    assert due_for(engine(parts=(pump,)), limit).hours is None
    assert due_for(engine(new=1_000, parts=(pump,)), limit).hours == 51_000


@pytest.mark.parametrize("at", ["now", "effective"])
def test_a_condition_on_hours_since_new_is_open(at: str) -> None:
    rule = {"hours": {"since": "new", "over": 200, "at": at}}
    assert outcome(engine(), rule, effective=49_000) == "undetermined"
    assert outcome(engine(new=0), rule, effective=49_000) == "applies"


def test_hours_since_overhaul_come_from_the_axis() -> None:
    rule = {"hours": {"since": "overhaul", "from": 120, "to": 120}}
    assert outcome(engine(), rule) == "applies"


def test_hours_of_a_part_on_the_effective_date_come_from_the_axis() -> None:
    """It has run 300 h by now, the engine 30 h of them since the effective date."""
    rule = {"hours": {"since": "new", "from": 270, "to": 270, "at": "effective"}}
    of_pump = {"part": {"role": "fuel pump", "where": rule}}
    assert outcome(engine(), of_pump, effective=49_000) == "applies"
    assert outcome(engine(), of_pump) == "undetermined"


# -- rebuilt by its maker: 14 CFR 91.421(c) lets a new record begin at zero


def test_what_counts_from_new_counts_from_the_new_zero() -> None:
    facts = engine(new=49_500, rebuilt=date(2026, 2, 1))
    assert due_for(facts, {"hours": 100, "after": "new"}).hours == 59_500
    rule = {"hours": {"since": "new", "from": 25, "to": 25}}
    assert outcome(facts, rule) == "applies"


def test_the_axis_runs_on_through_a_rebuild() -> None:
    facts = engine(new=49_500, rebuilt=date(2026, 2, 1))
    assert due_for(facts, {"hours": 50, "after": "effective"}).hours == 54_000
    done = (Done(on=date(2026, 1, 20), hours=Hours(49_100)),)
    past = replace(PAST, done=done)
    assert due_for(facts, {"hours": 50, "after": "last done"}, past).hours == 54_100


def test_on_a_date_before_the_rebuild_it_had_no_hours_since_new() -> None:
    rule = {"hours": {"since": "new", "to": 0, "at": "effective"}}
    assert outcome(engine(new=49_500), rule, effective=49_000) == "applies"
    assert outcome(engine(new=48_000), rule, effective=49_000) == "does not apply"

"""The laws of overhaul intervals: against a naive walk, and against trying everything."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from itertools import chain, combinations, product
from typing import Any
from unittest.mock import patch

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from notices.rules.applicability.nodes import AllOf, Complied, Embodied, PartWhere
from notices.rules.compliance_time import History, State
from notices.rules.designations import plain_text
from notices.rules.evaluate import Outcome, evaluate
from notices.rules.facts import (
    Asked,
    Compliance,
    EngineFacts,
    Hours,
    HoursKept,
    Overhaul,
)
from notices.rules.intervals import reaching
from notices.rules.intervals.acts import (
    Act,
    Acts,
    Choice,
    Fitment,
    Wanted,
    acts_in,
    changed,
    wanted_of,
)
from notices.rules.intervals.judging import Inquiry
from notices.rules.intervals.reaching import reach_of
from notices.rules.overhaul import (
    Holding,
    Interval,
    OverhaulPoint,
    check_together,
    overhaul_at,
    overhaul_point,
    parse_interval,
)
from tests.oracle_overhaul import Held, Marks, run
from tests.overhauls import USE, doable_cases, doable_conditions, provisions
from tests.strategies import Case, engines

FEW = settings(
    max_examples=100,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
NEW = date(2000, 1, 1)
TODAY = date(2020, 1, 1)


def month(number: int) -> date:
    """The first day of a month, counted from when the engine was new."""
    return date(NEW.year + number // 12, 1 + number % 12, 1)


@st.composite
def fleets(draw: st.DrawFn) -> tuple[list[Held], Marks, Marks, EngineFacts]:
    """Provisions that hold or not, and an engine with its marks in hours and months."""
    several = draw(provisions())
    holding = [
        draw(
            st.booleans()
            if p["kind"] == "base"
            else st.sampled_from([True, False, None])
        )
        for p in several
    ]
    hours, months = draw(st.integers(0, 30)), draw(st.integers(0, 60))
    was_overhauled = draw(st.booleans())
    names = [
        (p["when"]["embodied"], holds)
        for p, holds in zip(several, holding, strict=True)
    ]
    facts = EngineFacts(
        built=NEW,
        hours=HoursKept(new=Hours(4000)),
        operation=frozenset({USE}),
        overhauls=(Overhaul(on=month(months), hours=Hours(hours * 100)),)
        if was_overhauled
        else (),
        embodied=frozenset(name for name, holds in names if holds is True),
        not_embodied=frozenset(name for name, holds in names if holds is False),
    )
    held = list(zip(several, holding, strict=True))
    if not was_overhauled:
        hours = months = 0
    return held, Marks(0, hours), Marks(0, months), facts


def point_of(
    held: Sequence[Held], facts: EngineFacts, on: date = TODAY
) -> OverhaulPoint:
    intervals = [parse_interval(p) for p, _ in held]
    check_together(intervals)
    return overhaul_point(intervals, facts, Asked(on=on), History())


@FEW
@given(fleets())
def test_the_interval_is_where_the_provisions_let_the_engine_run_to(
    drawn: tuple[list[Held], Marks, Marks, EngineFacts],
) -> None:
    held, hours, months, facts = drawn
    point = point_of(held, facts)
    by_hours = run(held, "hours", hours, use=USE).last
    by_months = run(held, "years", months, use=USE).last
    assert point.point.hours == (None if by_hours is None else by_hours * 100)
    assert point.point.on == (None if by_months is None else month(by_months))


@FEW
@given(fleets())
def test_each_figure_is_that_of_the_provision_it_names(
    drawn: tuple[list[Held], Marks, Marks, EngineFacts],
) -> None:
    held, _, _, facts = drawn
    point = point_of(held, facts)
    by_id = {p["id"]: p for p, _ in held}
    if point.from_hours is None:
        assert point.hours is None
    else:
        assert point.hours == by_id[point.from_hours]["hours"] * 100
    if point.from_years is None:
        assert point.years is None
    else:
        assert point.years == by_id[point.from_years]["years"]


@FEW
@given(fleets(), st.integers(0, 120), st.integers(0, 200))
def test_overdue_is_only_what_is_past_by_law(
    drawn: tuple[list[Held], Marks, Marks, EngineFacts], now: int, months: int
) -> None:
    held, hour_marks, month_marks, facts = drawn
    by_hours = run(held, "hours", hour_marks, use=USE)
    by_months = run(held, "years", month_marks, use=USE)
    answer = overhaul_at(
        point_of(held, facts), on=month(months), hours=Hours(now * 100)
    )

    def is_past(last_hour: int | None, last_month: int | None) -> bool:
        return (last_hour is not None and now > last_hour) or (
            last_month is not None and months > last_month
        )

    past_law = is_past(by_hours.lawful, by_months.lawful)
    assert answer.is_past == is_past(by_hours.last, by_months.last)
    assert (answer.due.state is State.OVERDUE) == past_law
    if answer.is_past and not past_law:
        assert answer.word == "past the recommended interval"
        assert answer.due.state is State.OUTSTANDING
    assert answer.due.sentence == answer.sentence


@FEW
@given(fleets(), st.randoms(use_true_random=False))
def test_the_order_of_the_provisions_changes_no_figure(
    drawn: tuple[list[Held], Marks, Marks, EngineFacts], order: Any
) -> None:
    held, _, _, facts = drawn
    shuffled = list(held)
    order.shuffle(shuffled)
    one, other = point_of(held, facts), point_of(shuffled, facts)
    assert (one.hours, one.years) == (other.hours, other.years)
    assert (one.point.hours, one.point.on) == (other.point.hours, other.point.on)
    assert one.binding is other.binding
    assert set(one.missing) == set(other.missing)


@FEW
@given(fleets())
def test_what_is_not_known_is_counted_to_the_safe_side(
    drawn: tuple[list[Held], Marks, Marks, EngineFacts],
) -> None:
    """Under a base in hours, no fact that is learned brings the hours forward."""
    held, _, _, facts = drawn
    bases = [p for p, holds in held if p["kind"] == "base" and holds and "hours" in p]
    assume(bases)
    before = point_of(held, facts)
    for name in (p["when"]["embodied"] for p, holds in held if holds is None):
        for learned in (
            replace(facts, embodied=facts.embodied | {name}),
            replace(facts, not_embodied=facts.not_embodied | {name}),
        ):
            after = point_of(held, learned).point.hours
            assert before.point.hours is not None
            assert after is not None
            assert after >= before.point.hours


@FEW
@given(fleets())
def test_what_hangs_on_a_fact_names_it(
    drawn: tuple[list[Held], Marks, Marks, EngineFacts],
) -> None:
    held, _, _, facts = drawn
    open_facts = {
        f"whether {p['when']['embodied']} is embodied"
        for p, holds in held
        if holds is None
    }
    has_base = any(p["kind"] == "base" and holds for p, holds in held)
    said = set(point_of(held, facts).missing)
    assert said == open_facts | (set() if has_base else {"base interval"})


@FEW
@given(fleets(), doable_conditions(3))
def test_a_point_is_stored_as_json_and_read_back_the_same(
    drawn: tuple[list[Held], Marks, Marks, EngineFacts], condition: Any
) -> None:
    held, _, _, facts = drawn
    offered = Interval(
        id="offer", kind="extension", hours=Hours(9000), since="new", when=condition
    )
    intervals = [*(parse_interval(p) for p, _ in held), offered]
    point = overhaul_point(intervals, facts, Asked(on=TODAY), History())
    stored = json.dumps(point.to_json())
    assert OverhaulPoint.from_json(json.loads(stored)) == point


@FEW
@given(fleets(), st.dates(date(2000, 1, 1), date(2040, 1, 1)))
def test_the_point_does_not_change_with_the_day(
    drawn: tuple[list[Held], Marks, Marks, EngineFacts], day: date
) -> None:
    held, _, _, facts = drawn
    assume(day >= month(60))
    assert point_of(held, facts, day) == point_of(held, facts)


# What makes an extension hold, against trying every set of things to do.

Steps = tuple[str, ...]


def every_choice(
    wanted: Sequence[Wanted], facts: EngineFacts
) -> Iterator[list[Choice]]:
    """Every subset of the single acts, with every way of fitting out each role."""
    acts = Acts(wanted, facts)
    singles: dict[Choice, None] = {}
    roles: dict[str, tuple[Fitment, ...]] = {}
    for leaf in (one.leaf for one in wanted):
        match leaf:
            case Embodied():
                singles[acts.for_embodied(leaf)] = None
            case Complied():
                singles.update(dict.fromkeys(acts.for_complied(leaf)))
            case PartWhere():
                roles[plain_text(leaf.role)] = acts.for_role(leaf)
    several = chain.from_iterable(
        combinations(singles, size) for size in range(len(singles) + 1)
    )
    for chosen, fitted in product(several, product(*roles.values())):
        yield [*chosen, *fitted]


def smallest_by_brute_force(
    intervals: Sequence[Interval], facts: EngineFacts, asked: Asked
) -> set[Steps]:
    """Try everything, and keep what holds and holds no smaller set that does."""
    conditions = [one.when for one in intervals if one.when is not None]
    wanted = [w for condition in conditions for w in wanted_of(condition, asked)]
    tried = list(every_choice(wanted, facts))
    assume(len(tried) <= 700)
    holding: list[Counter[str]] = []
    for choices in sorted(tried, key=lambda one: len(acts_in(one))):
        words = Counter(act.step.words for act in acts_in(choices))
        if any(smaller <= words for smaller in holding):
            continue
        after = changed(facts, choices)
        outcomes = [
            evaluate(condition, after, asked).outcome for condition in conditions
        ]
        if all(outcome is Outcome.APPLIES for outcome in outcomes):
            holding.append(words)
    return {tuple(sorted(words.elements())) for words in holding}


def words_of(several: Sequence[Sequence[Act]]) -> set[Steps]:
    return {tuple(sorted(act.step.words for act in acts)) for acts in several}


def extension(id_: str, condition: Any, builds_on: str | None = None) -> Interval:
    return Interval(
        id=id_,
        kind="extension",
        hours=Hours(200_000),
        since="new",
        when=condition,
        builds_on=builds_on,
    )


@FEW
@given(doable_cases())
def test_what_makes_an_extension_hold_is_found_by_trying_everything_too(
    case: Case,
) -> None:
    condition, facts, asked = case
    one = extension("x", condition)
    inquiry = Inquiry([one], facts, asked, History(), {})
    found = reach_of(inquiry.chain(one), inquiry)
    smallest = smallest_by_brute_force([one], facts, asked)
    if not found.cut:
        assert words_of(found.sure) == smallest


@FEW
@given(doable_cases(), st.sampled_from([1, 400, 2000]))
def test_with_little_work_less_may_be_found_and_that_is_said(
    case: Case, work: int
) -> None:
    condition, facts, asked = case
    one = extension("x", condition)
    inquiry = Inquiry([one], facts, asked, History(), {})
    smallest = smallest_by_brute_force([one], facts, asked)
    with patch.object(reaching, "MOST_WORK", work):
        found = reach_of(inquiry.chain(one), inquiry)
    for words in words_of(found.sure):
        assert any(Counter(small) <= Counter(words) for small in smallest)
    assert found.cut or words_of(found.sure) == smallest


@FEW
@given(doable_cases(3), doable_conditions(3))
def test_that_goes_through_what_an_extension_builds_on(case: Case, below: Any) -> None:
    condition, facts, asked = case
    one, base = extension("x", condition, "y"), extension("y", below)
    inquiry = Inquiry([one, base], facts, asked, History(), {})
    found = reach_of(inquiry.chain(one), inquiry)
    smallest = smallest_by_brute_force([one, base], facts, asked)
    if not found.cut:
        assert words_of(found.sure) == smallest


@FEW
@given(doable_cases(3), doable_conditions(3))
def test_a_row_stands_as_one_condition_of_all_would(case: Case, below: Any) -> None:
    condition, facts, asked = case
    together = evaluate(AllOf(members=(condition, below)), facts, asked)
    assume(together.sharp)
    several = [extension("x", condition, "y"), extension("y", below)]
    verdict = Inquiry(several, facts, asked, History(), {}).verdict(several[0])
    assert verdict.outcome is together.outcome
    assert set(verdict.missing) == set(together.missing)


@FEW
@given(doable_cases())
def test_an_extension_stands_as_its_condition_and_its_reach_say(case: Case) -> None:
    condition, facts, asked = case
    point = overhaul_point([extension("x", condition)], facts, asked, History())
    [offer] = point.offers
    outcome = evaluate(condition, facts, asked).outcome
    if outcome is Outcome.APPLIES:
        assert (offer.holding, offer.reach) == (Holding.HOLDS, ())
    elif outcome is Outcome.UNDETERMINED:
        assert offer.holding is Holding.UNDETERMINED
        assert offer.missing
    else:
        assert offer.holding is not Holding.HOLDS
        assert bool(offer.reach) == (offer.holding is Holding.WITHIN_REACH)
        assert bool(offer.missing) == (offer.holding is Holding.UNDETERMINED)
    assert offer.reasons


# The same with things to do that are made up here: embody, and comply in a revision.

RECORDS = ("SB-1", "sb 1")
REVISIONS = ("1", "2", "another")
Done = tuple[str, str]


def paper_leaves() -> st.SearchStrategy[dict[str, Any]]:
    some = st.lists(st.sampled_from(REVISIONS[:2]), min_size=1, max_size=2, unique=True)
    return st.one_of(
        st.sampled_from(["M-1", "M-2", "M-3"]).map(lambda n: {"embodied": n}),
        st.sampled_from(RECORDS).map(lambda n: {"complied": n}),
        some.map(lambda r: {"complied": "SB-1", "revisions": r}),
        st.sampled_from(["geared", "direct"]).map(
            lambda v: {"attribute": "drive", "in": [v]}
        ),
    )


def after(facts: EngineFacts, done: Sequence[Done]) -> EngineFacts:
    embodied = {number for kind, number in done if kind == "embody"}
    records = tuple(
        Compliance(number="SB-1", revision=revision, on=TODAY)
        for kind, revision in done
        if kind == "comply"
    )
    return replace(
        facts,
        embodied=facts.embodied | embodied,
        not_embodied=facts.not_embodied - embodied,
        complied=(*facts.complied, *records),
    )


@FEW
@given(st.data(), engines())
def test_the_smallest_sets_are_those_of_a_list_of_things_to_do_written_here(
    data: st.DataObject, facts: EngineFacts
) -> None:
    """Revisions that say the same to every test stand for each other."""
    raw = data.draw(trees_of(paper_leaves()))
    one = extension(
        "x",
        parse_interval(
            {"id": "x", "kind": "extension", "hours": 1, "since": "new", "when": raw}
        ).when,
    )
    asked = Asked(on=TODAY)
    assert one.when is not None
    acts: list[Done] = [("embody", f"M-{n}") for n in (1, 2, 3)]
    acts += [("comply", revision) for revision in REVISIONS]
    holding: list[set[Done]] = []
    for size in range(len(acts) + 1):
        for done in combinations(acts, size):
            if any(smaller <= set(done) for smaller in holding):
                continue
            if evaluate(one.when, after(facts, done), asked).outcome is Outcome.APPLIES:
                holding.append(set(done))
    [offer] = overhaul_point([one], facts, asked, History()).offers
    if offer.holding is Holding.HOLDS:
        assert holding == [set()]
        return
    told = [{(s.kind, _what(s.words, s.number)) for s in r.steps} for r in offer.reach]
    assert {frozenset(k for k, _ in steps) for steps in told} == {
        frozenset(k for k, _ in steps) for steps in holding
    }
    for steps in told:
        assert any(_stands_for(steps, smaller) for smaller in holding)
    for smaller in holding:
        assert any(_stands_for(steps, smaller) for steps in told)


def _what(words: str, number: str) -> str:
    return words.partition(" revision ")[2] if "comply" in words else number


def _stands_for(told: set[tuple[str, str]], done: set[Done]) -> bool:
    """Say whether these things done are what the steps ask for."""

    def is_one(step: tuple[str, str], act: Done) -> bool:
        if step[0] != act[0]:
            return False
        return (step[0] == "embody" and step[1] == act[1]) or (
            step[0] == "comply" and (not step[1] or act[1] in step[1].split(" or "))
        )

    return len(told) == len(done) and all(
        any(is_one(step, act) for act in done) for step in told
    )


def trees_of(leaves: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    several = st.lists(leaves, min_size=1, max_size=3)
    joint = several.map(lambda m: {"all": m}) | several.map(lambda m: {"any": m})
    nested = st.lists(joint | leaves, min_size=1, max_size=3)
    return nested.map(lambda m: {"all": m}) | nested.map(lambda m: {"any": m}) | leaves

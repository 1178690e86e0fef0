"""The leaded share over a window, its crossings and what lies ahead: examples and laws."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from notices.rules.applicability.deciding import exact_value, tree_of
from notices.rules.applicability.subjects import prepare
from notices.rules.compliance_time import History, due_point, parse_action, parse_time
from notices.rules.conditions import parse_condition
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, Hours, HoursKept, Unknown
from notices.rules.operating import (
    Fuel,
    Mix,
    Threshold,
    ahead,
    crossings,
    fuel,
    mix_since,
    points_by_share,
    share_classes,
    thresholds,
)
from notices.rules.times.history import Done

START = date(2026, 4, 1)
OVER_30 = Threshold(share=Fraction(3, 10), inclusive=False)
OVER_50 = Threshold(share=Fraction(1, 2), inclusive=False)
FROM_50 = Threshold(share=Fraction(1, 2), inclusive=True)


def day(number: int) -> date:
    return START + timedelta(days=number)


def taken(number: int, litres: Any, leaded: Any, hours: int | None = None) -> Fuel:
    return Fuel(
        on=day(number),
        litres=Fraction(litres),
        leaded=Fraction(leaded),
        hours=UNKNOWN if hours is None else Hours(hours),
    )


def test_a_share_on_a_threshold_stays_on_it_in_mixed_units() -> None:
    """3 of 10 parts in gallons, 3 of 10 in litres: 30 % and nothing more."""
    entries = [
        ("7", "US gal", "unleaded"),
        ("3", "US gal", "leaded"),
        ("70,7", "L", "unleaded"),
        ("30.3", "L", "leaded"),
    ]
    records = [
        fuel(on=day(1), quantity=quantity, unit=unit, kind=kind)
        for quantity, unit, kind in entries
    ]
    mix = mix_since(records, since=day(0), on=day(9))
    assert mix.share == Fraction(3, 10)
    assert not OVER_30.passed_by(Fraction(3, 10))
    more = fuel(on=day(2), quantity="0.000001", unit="L", kind="leaded")
    now = mix_since([*records, more], since=day(0), on=day(9))
    assert isinstance(now.share, Fraction)
    assert OVER_30.passed_by(now.share)


def test_the_window_runs_from_when_it_was_last_done() -> None:
    records = [
        taken(0, 10, 1, hours=9900),  # the day it was done, before it by hours
        taken(0, 20, 1, hours=10000),  # the same hours: after
        taken(0, 30, 1),  # the same day, hours not known: after
        taken(-1, 40, 1, hours=20000),  # a day before, whatever its hours
        taken(5, 50, 0),
        taken(9, 60, 1),  # a plan on the day asked for
    ]
    mix = mix_since(records, since=day(0), since_hours=Hours(10000), on=day(8))
    assert mix == Mix(
        share=Fraction(1, 2),
        source="records",
        litres=Fraction(100),
        leaded_litres=Fraction(50),
        count=3,
        first_on=day(0),
        last_on=day(5),
    )


def test_never_done_takes_all_fuel() -> None:
    mix = mix_since([taken(-900, 1, 1), taken(2, 1, 0)], since=None, on=day(3))
    assert (mix.share, mix.count) == (Fraction(1, 2), 2)


def test_a_habit_stands_in_only_where_nothing_is_recorded() -> None:
    habit = Fraction(2, 5)
    assert mix_since([], since=None, on=day(1), declared=habit) == Mix(
        share=habit, source="declared"
    )
    before = [taken(-1, 10, 1)]
    assert (
        mix_since(before, since=day(0), on=day(1), declared=habit).source == "declared"
    )
    assert mix_since(before, since=day(-2), on=day(1), declared=habit).share == 1
    assert mix_since([], since=day(0), on=day(1)) == Mix()
    assert Mix().share is UNKNOWN


def test_too_little_fuel_for_the_hours_run_does_not_tell() -> None:
    """2 litres an hour are the least: common practice, no source."""
    asked: dict[str, Any] = {
        "since": day(0),
        "since_hours": Hours(50_000),
        "on": day(9),
        "hours_now": Hours(52_000),
        "declared": Fraction(2, 5),
    }
    little = [taken(1, 20, 1), taken(2, Fraction(199, 10), 1)]
    mix = mix_since(little, **asked)
    assert (mix.share, mix.source) == (Fraction(2, 5), "declared")
    assert (mix.count, mix.too_little_for) == (2, Hours(2_000))
    assert crossings(little, [OVER_50], **asked) == ()
    assert ahead(mix, [OVER_50], next_leaded=Fraction(1)) == ()
    enough = [*little, taken(3, Fraction(1, 10), 1)]
    assert mix_since(enough, **asked).share == 1
    assert mix_since(little, **(asked | {"declared": UNKNOWN})).share is UNKNOWN
    for unknown in ("since_hours", "hours_now"):
        assert mix_since(little, **(asked | {unknown: UNKNOWN})).share == 1


def test_a_record_crosses_nothing_while_there_is_too_little_for_its_hours() -> None:
    asked: dict[str, Any] = {"since": day(0), "since_hours": Hours(0), "on": day(9)}
    records = [taken(1, 1, 1, hours=4_000), taken(2, 100, 0, hours=4_100)]
    declared = Fraction(3, 5)
    (crossed,) = crossings(records, [OVER_50], declared=declared, **asked)
    assert (crossed.index, crossed.before, crossed.after) == (
        1,
        declared,
        Fraction(1, 101),
    )
    assert crossed.was_declared


def test_a_record_without_a_place_leaves_the_share_unknown() -> None:
    done_at: dict[str, Any] = {"since": UNKNOWN, "since_hours": Hours(500)}
    placed = [taken(0, 10, 1, hours=499), taken(1, 10, 0, hours=500)]
    assert mix_since(placed, **done_at, on=day(9)).share == 0
    assert mix_since([*placed, taken(2, 1, 1)], **done_at, on=day(9)) == Mix()
    assert crossings([taken(2, 1, 1)], [OVER_30], **done_at, on=day(9)) == ()


THRESHOLDS = [
    # A test, at which share it changes its answer, and whether that share has passed.
    ({"over": 0.3}, [(0.3, False)]),
    ({"to": 0.3}, [(0.3, False)]),
    ({"from": 0.3}, [(0.3, True)]),
    ({"under": 0.3}, [(0.3, True)]),
    ({"over": 0.3, "to": 0.5}, [(0.3, False), (0.5, False)]),
    ({"from": 0.3, "to": 0.3}, [(0.3, True), (0.3, False)]),
    # Every share is at least 0 and none is over 1: nothing changes there.
    ({"from": 0, "to": 1}, []),
    ({"over": 0, "under": 1}, [(0, False), (1, True)]),
    ({"over": 1}, []),
    ({"under": 0}, []),
]


@pytest.mark.parametrize(("bounds", "expected"), THRESHOLDS)
def test_a_test_changes_its_answer_at_its_ends(
    bounds: dict[str, float], expected: list[tuple[float, bool]]
) -> None:
    found = thresholds(parse_condition({"not": {"leaded_share": bounds}}))
    assert [(float(one.share), one.inclusive) for one in found] == expected


def test_thresholds_are_found_wherever_an_action_asks() -> None:
    def over(share: float) -> dict[str, Any]:
        return {"leaded_share": {"over": share}}

    def case(share: float) -> dict[str, Any]:
        late = {"hours": 9, "after": "last done"}
        return {"cases": [{"when": over(share), "then": late}, {"else": late}]}

    action = parse_action(
        {
            "when": {"any": [{"not": over(0.1)}, {"type": ["MX-4"]}]},
            "initial": {"first_of": [case(0.2), {"months": 12, "after": "new"}]},
            "repeat": {"last_of": [case(0.3), {"cases": [{"else": case(0.4)}]}]},
            "until": case(0.5),
            "credit": {"within": case(0.6)},
            "ends_with": ["SB-1", over(0.7), over(0.1)],
        }
    )
    assert [float(one.share * 10) for one in thresholds(action)] == [
        1,
        2,
        3,
        4,
        5,
        6,
        7,
    ]
    assert thresholds(parse_time({"hours": 9, "after": "new"})) == ()


def test_classes_lie_between_thresholds() -> None:
    condition = parse_condition(
        {"any": [{"leaded_share": {"over": 0.3, "under": 0.5}}]}
    )
    first, second, third = share_classes(thresholds(condition))
    assert (first.holds(Fraction(3, 10)), second.holds(Fraction(3, 10))) == (
        True,
        False,
    )
    assert (second.holds(Fraction(1, 2)), third.holds(Fraction(1, 2))) == (False, True)
    (whole,) = share_classes(())
    assert whole.bounds is None
    assert whole.holds(Fraction(1))


def test_a_crossing_names_the_record_and_the_share_on_both_sides() -> None:
    records = [
        taken(9, 20, 1),  # out of order, as sheets may be
        taken(1, 70, 0),
        taken(5, 30, 1),
        taken(12, 120, 0),
    ]
    found = crossings(records, [OVER_30, OVER_50], since=day(0), on=day(30))
    assert [
        (one.index, one.on, one.upward, one.before, one.after) for one in found
    ] == [
        (0, day(9), True, Fraction(30, 100), Fraction(50, 120)),
        (3, day(12), False, Fraction(50, 120), Fraction(50, 240)),
    ]
    assert {one.threshold for one in found} == {OVER_30}


def test_the_first_record_crosses_from_the_habit_or_from_nowhere() -> None:
    leaded, unleaded = [taken(1, 10, 1)], [taken(1, 10, 0)]
    asked: dict[str, Any] = {"since": day(0), "on": day(2)}
    (new,) = crossings(leaded, [OVER_50], **asked)
    assert (new.before, new.after, new.was_declared) == (UNKNOWN, 1, False)
    assert crossings(unleaded, [OVER_50], **asked) == ()
    (fallen,) = crossings(unleaded, [OVER_50], **asked, declared=Fraction(3, 5))
    assert (fallen.before, fallen.upward, fallen.was_declared) == (
        Fraction(3, 5),
        False,
        True,
    )
    assert crossings(leaded, [OVER_50], **asked, declared=Fraction(3, 5)) == ()


def mixed(unleaded: int, leaded: int) -> Mix:
    records = [
        taken(n, litres, share)
        for n, (litres, share) in enumerate([(unleaded, 0), (leaded, 1)])
        if litres
    ]
    return mix_since(records, since=None, on=day(9))


AHEAD = [
    # Unleaded and leaded litres so far, added share, threshold: litres, beyond, upward.
    (70, 20, 1, OVER_30, (10, True, True)),
    (70, 30, 1, OVER_30, (0, True, True)),
    (80, 20, 1, FROM_50, (60, False, True)),
    (60, 40, 0, OVER_30, (Fraction(100, 3), False, False)),
    (20, 80, 0, FROM_50, (60, True, False)),
    (80, 20, Fraction(2, 5), OVER_30, (100, True, True)),
    # Away from it, or no nearer to it than its own share.
    (80, 20, 0, OVER_30, (None, False, True)),
    (60, 40, 1, OVER_30, (None, False, False)),
    (80, 20, Fraction(3, 10), OVER_30, (None, False, True)),
    (20, 80, Fraction(1, 2), FROM_50, (None, False, False)),
]


@pytest.mark.parametrize(("unleaded", "leaded", "added", "at", "expected"), AHEAD)
def test_the_litres_to_a_threshold_are_solved_exactly(
    unleaded: int, leaded: int, added: Any, at: Threshold, expected: tuple[Any, ...]
) -> None:
    (one,) = ahead(mixed(unleaded, leaded), [at], next_leaded=Fraction(added))
    assert (one.litres, one.beyond, one.upward) == expected


def test_hours_follow_from_what_the_engine_burns() -> None:
    asked = ahead(
        mixed(80, 20),
        [OVER_50, OVER_30],
        next_leaded=Fraction(1),
        litres_an_hour=Fraction(18),
    )
    assert [(one.threshold, one.litres, one.hours) for one in asked] == [
        (OVER_30, Fraction(100, 7), Fraction(50, 63)),
        (OVER_50, Fraction(60), Fraction(10, 3)),
    ]
    with pytest.raises(ValueError, match="burns more than 0 litres"):
        ahead(
            mixed(1, 1), [OVER_30], next_leaded=Fraction(1), litres_an_hour=Fraction(0)
        )


def test_of_a_declared_habit_nothing_is_said_ahead() -> None:
    habit = Mix(share=Fraction(1, 5), source="declared")
    assert ahead(habit, [OVER_30], next_leaded=Fraction(1)) == ()


# Laws. Shares and litres come from small pools, so that thresholds are met exactly.

SHARES = st.sampled_from([Fraction(n, 10) for n in range(11)])
FUELS = st.builds(
    Fuel,
    on=st.integers(-3, 6).map(day),
    litres=st.sampled_from([Fraction(n) for n in (5, 10, 20, Fraction(1, 3))]),
    leaded=SHARES,
    hours=st.one_of(st.just(UNKNOWN), st.sampled_from([Hours(90), Hours(100)])),
)
STEPS = st.builds(Threshold, share=SHARES, inclusive=st.booleans())
SINCE = st.one_of(st.none(), st.just(UNKNOWN), st.integers(-2, 3).map(day))
SINCE_HOURS = st.sampled_from([UNKNOWN, Hours(95), Hours(100)])


def naive_share(
    records: list[Fuel],
    since: date | Unknown | None,
    since_hours: Hours | Unknown,
    on: date,
) -> Fraction | Unknown:
    """Count millionths of litres one record after the other, as one would on paper."""
    total = leaded = Fraction(0)
    for one in records:
        if one.on > on:
            continue
        if since is not None:
            if since is UNKNOWN or since == one.on:
                hours_tell = one.hours is not UNKNOWN and since_hours is not UNKNOWN
                if not hours_tell and since is UNKNOWN:
                    return UNKNOWN
                if hours_tell and one.hours < since_hours:  # type: ignore[operator]  # both known
                    continue
            elif one.on < since:  # type: ignore[operator]  # a date here
                continue
        total, leaded = total + one.litres, leaded + one.litres * one.leaded
    return leaded / total if total else UNKNOWN


def unplaced(records: list[Fuel], window: dict[str, Any]) -> bool:
    """Whether one of them alone cannot be told to lie before or after."""
    since, hours = window["since"], window["since_hours"]
    return since is UNKNOWN and any(
        one.on <= window["on"] and (hours is UNKNOWN or one.hours is UNKNOWN)
        for one in records
    )


@given(st.lists(FUELS, max_size=6), SINCE, SINCE_HOURS, st.integers(0, 6).map(day))
def test_the_share_agrees_with_adding_up(
    records: list[Fuel],
    since: date | Unknown | None,
    since_hours: Hours | Unknown,
    on: date,
) -> None:
    mix = mix_since(records, since=since, since_hours=since_hours, on=on)
    assert mix.share == naive_share(records, since, since_hours, on)
    assert (mix.source == "records") is (mix.share is not UNKNOWN)


@given(
    st.lists(FUELS, max_size=6),
    SINCE,
    SINCE_HOURS,
    st.sampled_from([UNKNOWN, *map(Hours, (90, 100, 600, 1_095, 1_100, 9_000))]),
    st.one_of(st.just(UNKNOWN), SHARES),
)
def test_the_habit_stands_in_where_adding_up_finds_too_little(
    records: list[Fuel],
    since: date | Unknown | None,
    since_hours: Hours | Unknown,
    hours_now: Hours | Unknown,
    declared: Fraction | Unknown,
) -> None:
    """Two litres for each hour run, counted from what one would add up on paper."""
    window: dict[str, Any] = {"since": since, "since_hours": since_hours, "on": day(6)}
    plain = mix_since(records, **window)
    asked = window | {"hours_now": hours_now, "declared": declared}
    mix = mix_since(records, **asked)
    run = None
    if since_hours is not UNKNOWN and hours_now is not UNKNOWN:
        run = Fraction(hours_now - since_hours, 100)
    if plain.count and (run is None or plain.litres >= 2 * run):
        assert mix == plain
        return
    assert mix.share == (UNKNOWN if unplaced(records, window) else declared)
    assert (mix.too_little_for is not None) is bool(plain.count)
    assert mix.litres == plain.litres
    assert crossings(records, [OVER_30, OVER_50], **asked) == ()
    assert ahead(mix, [OVER_30, OVER_50], next_leaded=Fraction(1)) == ()


@given(
    st.lists(FUELS, min_size=1, max_size=6), st.lists(STEPS, max_size=3, unique=True)
)
def test_crossings_are_where_the_share_of_the_days_so_far_changes_sides(
    records: list[Fuel], steps: list[Threshold]
) -> None:
    in_order = sorted(enumerate(records), key=lambda pair: pair[1].on)
    expected = set()
    for number, (index, _) in enumerate(in_order):
        sides = []
        for upto in (number, number + 1):
            share = naive_share([r for _, r in in_order[:upto]], None, UNKNOWN, day(99))
            sides.append(
                {s for s in steps if share is not UNKNOWN and s.passed_by(share)}
            )
        expected |= {(index, step) for step in sides[0] ^ sides[1]}
    found = crossings(records, steps, since=None, on=day(99))
    assert {(one.index, one.threshold) for one in found} == expected
    assert len(found) == len(expected)


@given(st.lists(FUELS, min_size=1, max_size=5), STEPS, SHARES)
def test_adding_the_litres_really_leads_across(
    records: list[Fuel], step: Threshold, added: Fraction
) -> None:
    mix = mix_since(records, since=None, on=day(99))
    (one,) = ahead(mix, [step], next_leaded=added)

    def passed_after(litres: Fraction) -> bool:
        more = [Fuel(on=day(50), litres=litres, leaded=added)] if litres else []
        share = mix_since([*records, *more], since=None, on=day(99)).share
        assert isinstance(share, Fraction)
        return step.passed_by(share)

    assert one.upward is not passed_after(Fraction(0))
    drop = Fraction(1, 10**9)
    if one.litres is None:
        assert passed_after(Fraction(10**12)) is not one.upward
        return
    assert passed_after(one.litres) is (one.upward is not one.beyond)
    assert passed_after(one.litres + drop) is one.upward
    if one.litres > drop:
        assert passed_after(one.litres - drop) is not one.upward


BOUNDS = st.tuples(
    st.sampled_from(["over", "from", "to", "under"]), st.integers(0, 10)
).map(lambda pair: {"leaded_share": {pair[0]: pair[1] / 10}})


def joined(inner: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    pair = st.lists(inner, min_size=1, max_size=2)
    return st.one_of(
        pair.map(lambda m: {"all": m}),
        pair.map(lambda m: {"any": m}),
        inner.map(lambda m: {"not": m}),
    )


CONDITIONS = st.recursive(BOUNDS, joined, max_leaves=4)
TWENTIETHS = [Fraction(n, 20) for n in range(21)]


@given(CONDITIONS)
def test_a_condition_changes_only_at_its_thresholds(raw: Any) -> None:
    """Brute force: within a class of shares every answer is the same."""
    condition = parse_condition(raw)
    tree = tree_of(condition)
    for shares in share_classes(thresholds(condition)):
        answers = {
            exact_value(tree, prepare(EngineFacts(leaded_share=share), Asked()))
            for share in (*TWENTIETHS, shares.some)
            if shares.holds(share)
        }
        assert len(answers) == 1
        assert shares.holds(shares.some)


@given(st.lists(st.tuples(CONDITIONS, st.integers(1, 9)), min_size=1, max_size=3))
def test_the_points_by_share_are_those_of_every_share(
    cases: list[tuple[Any, int]],
) -> None:
    """Brute force on random actions: twentieths from 0 to 1, exactly on the ends too."""
    written: list[Any] = [
        {"when": when, "then": {"hours": hours * 10, "after": "last done"}}
        for when, hours in cases
    ]
    action = parse_action(
        {"initial": {"hours": 1, "after": "new"}, "repeat": {"cases": written}}
    )
    facts = EngineFacts(hours=HoursKept(new=Hours(50000)))
    history = History(done=(Done(on=day(0), hours=Hours(40000)),), events=())
    asked = Asked(on=day(30))
    points = points_by_share(action, facts, asked, history)
    for share in TWENTIETHS:
        alone = due_point(action, facts, replace(asked, leaded_share=share), history)
        (held,) = [one.point for one in points if one.shares.holds(share)]
        assert held == alone

"""A rule in force, read once: its interval with the whole condition, its rows of oils."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from notices.models import Provision
from notices.rules.conditions import parse_condition
from tracker.compliance.rules import rules_of

pytestmark = pytest.mark.django_db

MX4 = {"type": ["MX-4*"]}
FEED = {"embodied": "SB-24-011"}
BASE = {"id": "base", "kind": "base", "hours": 1500, "since": "overhaul"}
ROW = {
    "id": "all-year",
    "grade": "10W-40",
    "class": "semi-synthetic",
    "ambient": {"from": -25, "to": 40},
    "fuel": ["leaded"],
}


def test_an_interval_holds_where_its_whole_condition_does(
    make_provision: Callable[..., Provision],
) -> None:
    provision = make_provision(
        rule__applicability=MX4,
        rule__condition=FEED,
        rule__action={},
        rule__interval=BASE,
    )
    [rule] = rules_of(provision.revision)
    assert rule.interval is not None
    assert rule.interval.when == parse_condition({"all": [MX4, FEED]})
    assert rule.interval.when == rule.condition.condition
    assert rule.interval.hours == 150_000
    assert rule.fluids == ()


def test_rows_of_oils_are_read_in_their_order(
    make_provision: Callable[..., Provision],
) -> None:
    rows = [ROW, {**ROW, "id": "summer", "grade": "20W-50"}]
    provision = make_provision(rule__action={}, rule__fluids=rows)
    [rule] = rules_of(provision.revision)
    assert [row.grade for row in rule.fluids] == ["10W-40", "20W-50"]
    assert rule.interval is None
    assert rule.action is None


def test_the_same_text_is_read_once(make_provision: Callable[..., Provision]) -> None:
    first, second = (
        rules_of(make_provision(rule__action={}, rule__interval=BASE).revision)[0]
        for _ in range(2)
    )
    assert first.interval is second.interval

"""Conditions and rows of oils that can be stored and are hardly meant so."""

from __future__ import annotations

from typing import Any

import pytest

from notices.library import condition_warnings, fluid_warnings
from notices.rules.conditions import parse_condition
from notices.rules.evaluate import compile_condition
from notices.rules.fluids import parse_rows

TYPES = {"MX-4": "L-#-#", "MX-6": "#"}
ROW = {
    "id": "a",
    "grade": "10W-40",
    "class": "semi-synthetic",
    "ambient": {"from": -25, "to": 40},
    "fuel": ["unleaded", "leaded"],
}


def warned(raw: dict[str, Any], types: dict[str, str] = TYPES) -> list[str]:
    return list(condition_warnings(compile_condition(parse_condition(raw)), types))


@pytest.mark.parametrize(
    "raw",
    [
        {"not": {"always": True}},
        {"all": [{"type": ["MX-4"]}, {"type": ["MX-6"]}]},
        {"all": [{"serial": ["4001..4987"]}, {"serial": ["5000.."]}]},
        {
            "all": [
                {"hours": {"over": 100, "since": "new"}},
                {"hours": {"to": 100, "since": "new"}},
            ]
        },
    ],
)
def test_a_condition_that_is_never_true_is_warned_of(raw: dict[str, Any]) -> None:
    [said] = warned(raw, {})
    assert said.startswith("Its condition is true for no engine")


@pytest.mark.parametrize(
    "raw",
    [
        {"always": True},
        {"all": [{"type": ["MX-4"]}, {"embodied": "SB-24-011"}]},
        {"part": {"role": "magneto", "where": {"number": ["P-1"]}}},
        {"this": {"number": ["P-1"]}},
    ],
)
def test_a_condition_that_may_be_true_is_not(raw: dict[str, Any]) -> None:
    assert warned(raw) == []


def test_a_range_that_no_serial_of_the_type_fits_is_warned_of() -> None:
    raw = {"all": [{"type": ["MX-4"]}, {"serial": ["2000.."]}]}
    assert warned(raw) == [
        'Serials "2000.." are of another shape than those of the type: L-#-# (MX-4). '
        "Whether an engine is among them cannot be said."
    ]


@pytest.mark.parametrize(
    ("raw", "types"),
    [
        ({"all": [{"type": ["MX-4"]}, {"serial": ["L-612-60.."]}]}, TYPES),
        ({"all": [{"type": ["MX-6"]}, {"serial": ["2000.."]}]}, TYPES),
        # Of one of the types it is, so that it may be meant.
        ({"serial": ["2000.."]}, TYPES),
        ({"all": [{"type": ["MX-4"]}, {"serial": ["2000.."]}]}, {"MX-4": ""}),
        ({"serial": ["2000.."]}, {}),
        ({"serial": ["L-612-60"], "suffix": "any"}, {"MX-4": "L-#-#-#"}),
    ],
)
def test_a_range_that_may_be_meant_is_not(
    raw: dict[str, Any], types: dict[str, str]
) -> None:
    assert warned(raw, types) == []


@pytest.mark.parametrize(
    ("other", "is_same"),
    [
        ({}, True),
        ({"fuel": ["leaded", "unleaded"], "note": "Once more."}, True),
        ({"grade": "15W-50"}, False),
        ({"class": "mineral"}, False),
        ({"ambient": {"from": -25}}, False),
        ({"fuel": ["leaded"]}, False),
        ({"when": {"leaded_share": {"over": 0.3}}}, False),
    ],
)
def test_the_same_row_of_oils_twice_is_warned_of(
    other: dict[str, Any], is_same: bool
) -> None:
    rows = parse_rows(
        [ROW, {**ROW, "id": "c", "grade": "40"}, {**ROW, "id": "b", **other}]
    )
    words = (
        "Oil 3, 10W-40 semi-synthetic, says the same as oil 1. Take one of them out."
    )
    assert list(fluid_warnings(rows)) == ([words] if is_same else [])

"""Which serials a rule covers, as stretches; a rule that cannot be drawn truly is not."""

from __future__ import annotations

import pytest

from notices.rules.conditions import parse_condition
from tracker.figures.strip import Stretch
from tracker.web.strips import StripRevision, StripSerial, strips_of


def revision(condition: dict, name: str = "revision 1") -> StripRevision:
    return StripRevision(
        name=name, standing="current", applicability=parse_condition(condition)
    )


def stretches(condition: dict) -> list[list[tuple[int | None, int | None, str]]]:
    """The stretches of each strip."""
    return [
        [(s.first, s.last, s.condition) for row in strip.rows for s in row.stretches]
        for strip in strips_of("SB-1", [revision(condition)], [])
    ]


PUMP = {"part": {"role": "fuel pump"}}
DRAWN = [
    ({"serial": ["4001..4987", "5002"]}, [[(4001, 4987, ""), (5002, 5002, "")]]),
    ({"serial": ["..4987"]}, [[(None, 4987, "")]]),
    ({"serial": ["4001.."]}, [[(4001, None, "")]]),
    # the type stands beside the strip, not on it
    ({"all": [{"type": ["MX-4"]}, {"serial": ["1..9"]}]}, [[(1, 9, "")]]),
    ({"any": [{"serial": ["1..9"]}, {"serial": ["20"]}]}, [[(1, 9, ""), (20, 20, "")]]),
    # one strip for each shape
    ({"serial": ["K-1..K-9", "L-5"]}, [[(1, 9, "")], [(5, 5, "")]]),
]


@pytest.mark.parametrize(("condition", "expected"), DRAWN)
def test_serials_become_stretches(condition: dict, expected: list) -> None:
    assert stretches(condition) == expected


def test_a_further_condition_goes_along_in_words() -> None:
    [[(first, last, words)]] = stretches({"all": [{"serial": ["1..9"]}, PUMP]})
    assert (first, last) == (1, 9)
    assert "fuel pump" in words


NOT_DRAWN = [
    {"not": {"serial": ["1..9"]}},
    {"all": [{"serial": ["1..9"]}, {"serial": ["5..20"]}]},
    {"any": [{"serial": ["1..9"]}, {"type": ["MX-6"]}]},
    {"any": [{"serial": ["1..9"]}, {"not": {"serial": ["5"]}}]},
    {"type": ["MX-4"]},
    {"always": True},
    {"serial": ["PROTO"]},
]


@pytest.mark.parametrize("condition", NOT_DRAWN)
def test_what_would_not_be_true_on_a_scale_is_left_to_its_sentence(
    condition: dict,
) -> None:
    assert stretches(condition) == []


def test_one_revision_that_cannot_be_drawn_takes_the_strip_away() -> None:
    revisions = [
        revision({"serial": ["1..9"]}),
        revision({"not": {"serial": ["4"]}}, "revision 2"),
    ]
    assert strips_of("SB-1", revisions, []) == []


def test_a_revision_for_every_serial_is_open_at_both_ends() -> None:
    revisions = [
        revision({"serial": ["1..9"]}),
        revision({"always": True}, "revision 2"),
    ]
    [strip] = strips_of("SB-1", revisions, [])
    assert strip.rows[1].stretches == (Stretch(first=None, last=None),)


def test_engines_stand_on_the_strip_of_their_shape_only() -> None:
    engines = [
        StripSerial(serial="K 612", state="overdue"),
        StripSerial(serial="L-5", state="outstanding"),
        StripSerial(serial="K-612-62B", state="undetermined"),
    ]
    condition = {"serial": ["K-500..K-900", "L-5"]}
    first, second = strips_of("SB-1", [revision(condition)], engines)
    assert [(e.serial, e.number) for e in first.engines] == [("K 612", 612)]
    assert [(e.serial, e.number) for e in second.engines] == [("L-5", 5)]
    assert (first.shape, second.shape) == ("K#", "L#")

"""What whoever enters an action is asked to look at twice."""

from __future__ import annotations

from typing import Any

import pytest

from notices.library import warnings_of
from notices.rules.times.actions import parse_action

FIFTY = {"hours": 50, "after": "effective"}
AGAIN = {"hours": 100, "after": "last done"}
MX4 = {"type": ["MX-4"]}
ALWAYS = {"always": True}

NO_ELSE = "for an engine that meets none of them nothing is due"
NEVER_KNOWN = "then nothing was done yet"
NEVER_MOVES = "it comes due at the same point again"
UNREACHED = "those below it are never reached"


def of(**said: Any) -> tuple[str, ...]:
    return warnings_of(parse_action({"initial": FIFTY, **said}))


@pytest.mark.parametrize(
    "said",
    [
        {},
        {"repeat": AGAIN},
        {"initial": {"cases": [{"when": MX4, "then": FIFTY}, {"else": AGAIN | FIFTY}]}},
        {"initial": {"cases": [{"when": ALWAYS, "then": FIFTY}]}},
        # Counted from the last record: right under credit, and in a repeat.
        {"credit": {"within": AGAIN}},
        {"repeat": {"first_of": [AGAIN, {"date": "2027-01-01"}]}},
        {"repeat": {"event": "annual inspection"}},
        {"repeat": {"hours": 5, "after": {"event": "oil change"}}},
        {"repeat": {"unknown": "the maker has not said"}},
    ],
)
def test_a_sound_action_gives_no_warning(said: dict[str, Any]) -> None:
    assert of(**said) == ()


@pytest.mark.parametrize(
    ("said", "warnings"),
    [
        ({"initial": {"cases": [{"when": MX4, "then": FIFTY}]}}, [NO_ELSE]),
        (
            {"repeat": {"last_of": [AGAIN, {"cases": [{"when": MX4, "then": AGAIN}]}]}},
            [NO_ELSE],
        ),
        ({"initial": AGAIN}, [NEVER_KNOWN]),
        (
            {
                "initial": {
                    "event": "strike",
                    "after": {"event": "x", "after": "last done"},
                }
            },
            [NEVER_KNOWN],
        ),
        ({"repeat": FIFTY}, [NEVER_MOVES]),
        ({"repeat": {"first_of": [{"date": "2027-01-01"}, FIFTY]}}, [NEVER_MOVES]),
        (
            {
                "initial": {
                    "cases": [{"when": ALWAYS, "then": FIFTY}, {"else": FIFTY}],
                }
            },
            [UNREACHED],
        ),
        # Several at once, the most serious first.
        (
            {"initial": {"cases": [{"when": MX4, "then": AGAIN}]}, "repeat": FIFTY},
            [NEVER_KNOWN, NEVER_MOVES, NO_ELSE],
        ),
    ],
)
def test_a_doubtful_action_is_warned_of(
    said: dict[str, Any], warnings: list[str]
) -> None:
    found = of(**said)
    assert len(found) == len(warnings)
    for sentence, part in zip(found, warnings, strict=True):
        assert part in sentence


def test_the_warning_says_where_it_stands() -> None:
    (warning,) = of(repeat={"cases": [{"when": MX4, "then": AGAIN}]})
    assert warning.startswith('The cases under "repeat" have no "else"')


@pytest.mark.parametrize(
    ("said", "expected"),
    [({"initial": FIFTY}, 1), ({"initial": {"event": "oil change"}}, 0)],
)
def test_a_missing_effective_date_matters_only_where_it_is_counted_from(
    said: dict[str, Any], expected: int
) -> None:
    action = parse_action(said)
    assert len(warnings_of(action, has_effective_date=False)) == expected

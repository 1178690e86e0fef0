"""How a rule is written: every node and every time, each with an example that is read.

The nodes come from the code that reads them, and each example is parsed and put into
words here, so that what the page says of it is what a rule of that form means.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

from notices.rules.applicability import nodes
from notices.rules.applicability.wording import clause
from notices.rules.compliance_time import parse_action
from notices.rules.conditions import parse_condition
from notices.rules.fluids import parse_rows
from notices.rules.fluids_wording import row_words
from notices.rules.overhaul import parse_interval
from notices.rules.overhaul_wording import interval_sentences
from notices.rules.times import limits
from notices.rules.times.limits import parse_time
from notices.rules.times.wording import action_words, time_words
from tracker.web.forms.rules import rule_text

PART: Final = "fuel pump"
NUMBER: Final = "SB-24-011"

JOINING: Final[Mapping[type, Any]] = {
    nodes.AllOf: {"all": [{"type": ["MX-4*"]}, {"serial": ["4001..4987"]}]},
    nodes.AnyOf: {"any": [{"type": ["MX-6"]}, {"embodied": NUMBER}]},
    nodes.Not: {"not": {"embodied": NUMBER}},
    nodes.Always: {"always": True},
    nodes.PartWhere: {
        "part": {"role": PART, "count": "some", "where": {"number": ["P-880*"]}}
    },
    nodes.ThisPart: {"this": {"change": {"to": "J"}}},
}
ENGINE: Final[Mapping[type, Any]] = {
    nodes.TypeIn: {"type": ["MX-4", "MX-6*"]},
    nodes.SerialIn: {"serial": ["4001..4987", "5002", "5100.."]},
    nodes.Built: {"built": {"from": "2019-03-01", "before": "2022-01-01"}},
    nodes.Shipped: {"shipped": {"after": "2021-05-31"}},
    nodes.Rebuilt: {"rebuilt": {"after": "2020-01-01"}},
    nodes.Overhauled: {"overhauled": {"after": "2021-04-03", "by": ["maker"]}},
    nodes.Embodied: {"embodied": NUMBER},
    nodes.Complied: {"complied": NUMBER, "revisions": ["1", "2"]},
    nodes.HoursIn: {"hours": {"since": "new", "over": 500, "at": "effective"}},
    nodes.AttributeIn: {"attribute": "drive", "in": ["geared"]},
    nodes.AircraftIn: {"aircraft": ["TR-2*"]},
    nodes.RegistryIn: {"registry": ["NO", "US"]},
    nodes.OperationIn: {"operation": ["commercial"]},
    nodes.LeadedShareIn: {"leaded_share": {"over": 0.25}},
    nodes.OilTemperatureIn: {"oil_temperature": {"from": 190, "to": 230, "unit": "F"}},
    nodes.Ask: {"ask": f"Is the serial listed in table 1 of {NUMBER}?"},
    nodes.ResultIn: {"result": ["pitted"]},
}
OF_A_PART: Final[Mapping[type, Any]] = {
    nodes.NumberIn: {"number": ["P-880*"]},
    nodes.SerialIn: {"serial": ["A-100..A-250"]},
    nodes.Built: {"built": {"before": "2018-01-09"}},
    nodes.Shipped: {"shipped": {"before": "2018-06-01"}},
    nodes.Fitted: {"fitted": {"after": "2025-01-10"}},
    nodes.Overhauled: {"overhauled": False},
    nodes.PartHoursIn: {"hours": {"since": "fitted", "from": 100}},
    nodes.ChangeIn: {"change": {"from": "K"}},
    nodes.AttributeIn: {"attribute": "signal", "in": ["0-5 V"]},
    nodes.Ask: {"ask": "Is the plate of the pump yellow?"},
}
TIMES: Final[Mapping[type, Any]] = {
    limits.HoursLimit: {"hours": 50, "after": "effective"},
    limits.MonthsLimit: {"months": 12, "after": "last done", "calendar": True},
    limits.DaysLimit: {"days": 90, "after": "effective"},
    limits.DateLimit: {"date": "2027-06-30"},
    limits.EventLimit: {"event": "overhaul"},
    limits.UnknownLimit: {"unknown": "The document leaves it to a later letter."},
    limits.FirstOf: {
        "first_of": [
            {"hours": 100, "after": "overhaul"},
            {"months": 12, "after": {"part": PART, "since": "fitted"}},
        ]
    },
    limits.LastOf: {
        "last_of": [
            {"hours": 500, "after": "new"},
            {"hours": 50, "after": "effective"},
        ]
    },
    limits.Cases: {
        "cases": [
            {
                "when": {"operation": ["commercial"]},
                "then": {"event": "further flight"},
            },
            {"else": {"hours": 25, "after": "effective"}},
        ]
    },
}
ACTIONS: Final = (
    {
        "initial": {"hours": 50, "after": "effective"},
        "repeat": {"hours": 100, "after": "last done"},
        "tolerance": {"hours": 10, "en_route": True},
        "ends_with": [NUMBER],
    },
    {
        "when": {"hours": {"since": "new", "over": 300}},
        "initial": {"months": 6, "after": "effective"},
        "credit": {"of": [NUMBER]},
    },
)
INTERVALS: Final = (
    {"id": "base", "kind": "base", "hours": 1500, "years": 12, "since": "overhaul"},
    {
        "id": "oil-feed",
        "kind": "extension",
        "hours": 1800,
        "since": "overhaul",
        "enter_by": {"hours": 1500},
        "builds_on": "base",
    },
    {
        "id": "hard-run",
        "kind": "restriction",
        "hours": 1200,
        "since": "overhaul",
        "binding": ["commercial"],
    },
)
OILS: Final = (
    {
        "id": "all-year",
        "grade": "10W-40",
        "class": "semi-synthetic",
        "ambient": {"from": -25, "to": 35},
        "fuel": ["unleaded", "leaded"],
    },
    {
        "id": "summer",
        "grade": "20W-50",
        "class": "mineral",
        "ambient": {"from": 32, "unit": "F"},
        "fuel": ["leaded"],
        "note": "Change it after half the usual hours.",
    },
)
TOGETHER: Final = {
    "all": [
        {
            "part": {
                "role": "pressure transmitter",
                "where": {"attribute": "signal", "in": ["passive"]},
            }
        },
        {
            "part": {
                "role": "pressure indicator",
                "where": {"attribute": "signal", "in": ["compensated"]},
            }
        },
    ]
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """`means`: what the node is; `text`: the example; `reads`: what it says."""

    means: str
    text: str
    reads: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    title: str
    examples: tuple[Example, ...]


@cache
def rule_guide() -> tuple[Chapter, ...]:
    """Return the chapters. Every form that is read is there, in the code's own order."""
    leaves, of_a_part = nodes.ENGINE_LEAVES, nodes.PART_LEAVES
    return (
        _chapter("Tests joined", JOINING, tuple(JOINING), _condition),
        _chapter("Tests of the engine", ENGINE, leaves, _condition),
        _chapter(
            "Tests of a part, inside part or this", OF_A_PART, of_a_part, _of_part
        ),
        _chapter("Times", TIMES, tuple(TIMES), lambda raw: time_words(parse_time(raw))),
        Chapter(title="Whole actions", examples=tuple(map(_action, ACTIONS))),
        Chapter(title="Parts that do not go together", examples=(_together(),)),
        Chapter(
            title="Overhaul intervals, entered in fields",
            examples=tuple(map(_interval, INTERVALS)),
        ),
        Chapter(title="Oils, entered in rows of fields", examples=_oils()),
    )


def _chapter(
    title: str,
    examples: Mapping[type, Any],
    kinds: tuple[type, ...],
    words: Callable[[Any], str],
) -> Chapter:
    return Chapter(
        title=title,
        examples=tuple(
            Example(
                means=_first_sentence(kind),
                text=rule_text(examples[kind]),
                reads=words(examples[kind]),
            )
            for kind in kinds
        ),
    )


def _first_sentence(kind: type) -> str:
    words = (kind.__doc__ or "").split(". ")[0].split("\n")[0].rstrip(".")
    return words.replace("(True)", "(true)").replace("(False)", "(false)") + "."


def _condition(raw: Any) -> str:
    return clause(parse_condition(raw))


def _of_part(raw: Any) -> str:
    return clause(parse_condition({"this": raw}))


def _action(raw: Any) -> Example:
    return Example(
        means="When it is first due, when again, and what ends it.",
        text=rule_text(raw),
        reads=action_words(parse_action(raw)),
    )


def _together() -> Example:
    return Example(
        means="The condition names both parts. It ends when one of them is changed.",
        text=rule_text(TOGETHER),
        reads=clause(parse_condition(TOGETHER)),
    )


_KINDS: Final = {
    "base": "How long the engine runs between overhauls.",
    "extension": "A longer interval, where its condition holds.",
    "restriction": "A shorter interval, where its condition holds or may hold.",
}


def _interval(raw: Any) -> Example:
    return Example(
        means=_KINDS[raw["kind"]],
        text=rule_text(raw),
        reads=interval_sentences(parse_interval(raw)),
    )


def _oils() -> tuple[Example, ...]:
    rows = parse_rows(list(OILS))
    return tuple(
        Example(
            means="Suited where both ends of the climate lie inside and every fuel in "
            "use is allowed.",
            text=rule_text(raw),
            reads=row_words(row),
        )
        for raw, row in zip(OILS, rows, strict=True)
    )

"""Provisions about the overhaul interval: what is read, what is refused, and where."""

from __future__ import annotations

from typing import Any

import jsonschema
import pytest
from hypothesis import given

from notices.rules.errors import RuleError
from notices.rules.intervals.provisions import MOST_IN_A_ROW
from notices.rules.overhaul import check_together, interval_schema, parse_interval
from tests.overhauls import provisions

BASE = {"id": "base", "kind": "base", "hours": 1500, "years": 12, "since": "new"}
LONGER = {"id": "longer", "kind": "extension", "hours": 2000, "since": "new"}
SHORTER = {"id": "shorter", "kind": "restriction", "hours": 1200, "since": "overhaul"}


def faults_of(raw: Any) -> list[tuple[str, str]]:
    with pytest.raises(RuleError) as refused:
        parse_interval(raw, path="provisions[2]")
    return [(fault.path, fault.message) for fault in refused.value.faults]


@pytest.mark.parametrize(
    "raw",
    [
        BASE,
        {**BASE, "years": 100},
        {"id": "y", "kind": "base", "years": 1, "since": "overhaul"},
        {**BASE, "hours": 0.01},
        {**BASE, "hours": 50_000},
        # law in some operations, in every one, in none
        {**BASE, "binding": ["commercial", "private"]},
        {**BASE, "binding": True},
        {**SHORTER, "when": {"leaded_share": {"over": 0.5}}, "builds_on": "longer"},
        {**LONGER, "enter_by": {"hours": 1500, "years": 12}, "builds_on": "base"},
        {**LONGER, "enter_by": {"years": 12}, "when": {"embodied": "SB-24-011"}},
    ],
)
def test_a_provision_is_read_and_written_back_the_same(raw: dict[str, Any]) -> None:
    interval = parse_interval(raw)
    assert interval.to_json() == raw
    assert parse_interval(interval.to_json()) == interval
    jsonschema.validate(raw, interval_schema())


@given(provisions())
def test_any_provision_is_written_back_to_what_reads_the_same(
    several: list[dict[str, Any]],
) -> None:
    for raw in several:
        jsonschema.validate(raw, interval_schema())
        assert parse_interval(parse_interval(raw).to_json()) == parse_interval(raw)


def test_an_empty_binding_says_the_same_as_none() -> None:
    assert parse_interval({**BASE, "binding": []}) == parse_interval(BASE)


@pytest.mark.parametrize(
    ("change", "path", "message"),
    [
        # no interval at all, an endless one, half a hundredth
        ({"hours": 0}, ".hours", "An interval has more than 0 h."),
        ({"hours": -5}, ".hours", "Expected hours from 0"),
        (
            {"hours": 50_000.01},
            ".hours",
            "an interval of at most 50000 h, not 50000.01",
        ),
        ({"hours": 1500.005}, ".hours", "at most two decimal places"),
        ({"hours": "1500"}, ".hours", 'as a number, such as 512.3, not "1500".'),
        ({"years": 0}, ".years", "Expected a number from 1 to 100, not 0."),
        ({"years": 12.5}, ".years", "Expected a whole number, not 12.5."),
        ({"hours": None}, ".hours", "not null."),
        # words that are not known
        ({"kind": "exception"}, ".kind", 'Expected "base" or "extension" or'),
        ({"since": "fitted"}, ".since", 'Expected "new" or "overhaul", not "fitted".'),
        ({"month": 12}, ".month", 'The key "month" is not known here.'),
        ({"id": " "}, ".id", "not an empty text."),
        # what its kind has no use for
        (
            {"enter_by": {"hours": 1}},
            "",
            '"enter_by" belongs to an extension, not to a',
        ),
        ({"builds_on": "other"}, "", "a base stands alone."),
        # when it is law
        ({"binding": False}, ".binding", "Leave it out where the interval is a recom"),
        ({"binding": "commercial"}, ".binding", "Expected a list of uses"),
        ({"binding": ["club", ""]}, ".binding[1]", "not an empty text."),
        # a condition that is none
        ({"when": {"serial": ["9..1"]}}, ".when.serial[0]", ""),
    ],
)
def test_what_is_refused_says_where_and_why(
    change: dict[str, Any], path: str, message: str
) -> None:
    [(at, said)] = faults_of({**BASE, **change})
    assert at == f"provisions[2]{path}"
    assert message in said
    assert said.endswith(".")


@pytest.mark.parametrize(
    ("change", "path", "message"),
    [
        ({"enter_by": {}}, ".enter_by", "Say by when it must be entered"),
        (
            {"enter_by": {"hours": 0}},
            ".enter_by.hours",
            "An interval has more than 0 h.",
        ),
        ({"enter_by": {"date": "x"}}, ".enter_by.date", 'The key "date" is not known'),
        ({"builds_on": "longer"}, "", '"longer" builds on itself.'),
    ],
)
def test_what_is_refused_of_an_extension(
    change: dict[str, Any], path: str, message: str
) -> None:
    assert (at_and_said := faults_of({**LONGER, **change}))
    assert at_and_said[0][0] == f"provisions[2]{path}"
    assert message in at_and_said[0][1]


@pytest.mark.parametrize("missing", ["id", "kind", "since"])
def test_what_is_missing_is_named(missing: str) -> None:
    raw = {key: value for key, value in BASE.items() if key != missing}
    assert faults_of(raw) == [("provisions[2]", f'The key "{missing}" is missing.')]


def test_hours_or_years_there_must_be() -> None:
    raw = {"id": "base", "kind": "base", "since": "new"}
    said = "Say how long the interval is: add hours or years."
    assert faults_of(raw) == [("provisions[2]", said)]


def test_all_faults_come_together() -> None:
    raw = {**BASE, "hours": 0, "years": 0, "when": {"all": []}}
    assert [path for path, _ in faults_of(raw)] == [
        f"provisions[2]{key}" for key in (".hours", ".years", ".when.all")
    ]


# Several together.


def together(*several: dict[str, Any]) -> list[str]:
    intervals = [parse_interval(raw) for raw in several]
    try:
        check_together(intervals)
    except RuleError as error:
        return [str(fault) for fault in error.faults]
    return []


def test_bases_that_something_tells_apart_go_together() -> None:
    older = {**BASE, "when": {"serial": ["..4000"]}}
    newer = {**BASE, "id": "newer", "hours": 2000, "when": {"serial": ["4001.."]}}
    assert together(older, newer, LONGER, SHORTER) == []


@pytest.mark.parametrize("when", [None, {"always": True}, {"type": ["MX-4"]}])
def test_two_bases_for_the_same_engines_are_refused(when: Any) -> None:
    told = {} if when is None else {"when": when}
    [fault] = together(SHORTER, {**BASE, **told}, {**BASE, "id": "other", **told})
    assert fault == (
        "provisions[2]: provisions[1] is a base interval for the same engines. Keep "
        'one, or tell them apart with "when".'
    )


def test_an_id_stands_once() -> None:
    [fault] = together(BASE, {**LONGER, "id": "base"})
    assert fault == (
        'provisions[1].id: The id "base" is that of provisions[0], too. Give each its own.'
    )


def test_what_is_built_on_must_be_there() -> None:
    [fault] = together(BASE, {**LONGER, "builds_on": "bulletin"})
    assert fault == 'provisions[1].builds_on: No provision has the id "bulletin".'


def test_extensions_do_not_build_on_each_other_in_a_circle() -> None:
    one = {**LONGER, "id": "one", "builds_on": "two"}
    two = {**LONGER, "id": "two", "builds_on": "three"}
    three = {**SHORTER, "id": "three", "builds_on": "one"}
    led_in = {**LONGER, "id": "led in", "builds_on": "one"}
    faults = together(led_in, one, two, three)
    assert len(faults) == 3
    assert faults[0] == (
        "provisions[1].builds_on: These build on each other in a circle: "
        '"one", which builds on "two", which builds on "three", which builds on "one". '
        "Break it."
    )


def test_so_many_and_no_more_build_on_each_other() -> None:
    row = [
        {**LONGER, "id": f"e{n}", **({"builds_on": f"e{n - 1}"} if n else {})}
        for n in range(MOST_IN_A_ROW + 1)
    ]
    check_together([parse_interval(one) for one in row[:-1]])
    assert together(*row) == [
        "provisions[12].builds_on: With this one 13 provisions build on each other in a "
        "row; at most 12 may."
    ]

"""An engine as JSON: what is read, what is refused, and where."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from notices.rules.errors import RuleError
from notices.rules.facts import (
    UNKNOWN,
    Compliance,
    EngineFacts,
    HoursKept,
    Overhaul,
    TemperatureRange,
    Unknown,
)
from notices.rules.facts_json import engine_from_json, part_from_json

FULL: dict[str, Any] = {
    "type": "MX-4",
    "type_complete": True,
    "serial": "4001",
    "built": "2019-05-01",
    "shipped": None,
    "rebuilt": False,
    "aircraft": "TR-20",
    "registry": "NO",
    "operation": "private",
    "hours": {"new": 512.3, "overhaul": 112.3},
    "overhauled": {"on": "2021-04-03", "hours": 400.0, "by": "maker"},
    "embodied": ["SB-24-011"],
    "complied": [
        {"number": "SB-24-011", "revision": "2", "on": "2024-02-01", "hours": 340.0}
    ],
    "history_reviewed": True,
    "attributes": {"drive": "geared"},
    "answers": {"Is it listed?": True},
    "parts": [
        {
            "role": "fuel pump",
            "number": "P-8801",
            "serial": "A-17",
            "change": "K",
            "built": "2018-01-09",
            "shipped": None,
            "overhauled": False,
            "hours": {"new": 120.0, "fitted": 30.0},
            "fitted": "2025-01-10",
            "attributes": {"signal": "0-5 V"},
            "answers": {},
        }
    ],
    "roles_reviewed": ["fuel pump"],
    "role_counts": {"fuel pump": 1},
    "leaded_share": 0.4,
    "oil_temperature": {"from": 85, "to": 101},
    "at_effective": {"hours": {"new": 480.0}},
}


def test_a_full_engine_is_read() -> None:
    engine = engine_from_json(FULL)
    assert engine.hours == HoursKept(new=51230, overhaul=11230)  # type: ignore[arg-type]  # plain numbers
    assert engine.overhauls == (
        Overhaul(on=date(2021, 4, 3), hours=40000, by="maker"),  # type: ignore[arg-type]  # the same
    )
    assert engine.shipped is UNKNOWN
    assert engine.rebuilt is None
    assert engine.operation == frozenset({"private"})
    assert engine.complied == (
        Compliance(number="SB-24-011", revision="2", on=date(2024, 2, 1), hours=34000),  # type: ignore[arg-type]  # the same
    )
    assert engine.answers == {("", "Is it listed?"): True}
    assert engine.leaded_share == Fraction(2, 5)
    assert engine.oil_temperature == TemperatureRange(
        low=Fraction(85), high=Fraction(101)
    )
    assert engine.at_effective.new == 48000
    (pump,) = engine.parts
    assert pump.overhauls == ()
    assert pump.fitted == date(2025, 1, 10)
    assert pump.hours.fitted == 3000


def test_an_empty_engine_is_all_unknown() -> None:
    assert engine_from_json({}) == EngineFacts()
    assert engine_from_json(dict.fromkeys(FULL)) == EngineFacts()


SPELLINGS = [
    ({"operation": ["private", "commercial"]}, "operation", {"private", "commercial"}),
    ({"overhauled": False}, "overhauls", ()),
    ({"overhauled": []}, "overhauls", ()),
    (
        {"overhauled": [{}, {"by": "shop"}]},
        "overhauls",
        (Overhaul(), Overhaul(by="shop")),
    ),
    ({"rebuilt": True}, "rebuilt", True),
    ({"rebuilt": "2020-01-01"}, "rebuilt", date(2020, 1, 1)),
    ({"aircraft": False}, "aircraft", None),
    ({"registry": False}, "registry", None),
    ({"serial_pattern": "L-#-#", "serial_run": 1}, "serial_pattern", "L-#-#"),
]


@pytest.mark.parametrize(("raw", "name", "expected"), SPELLINGS)
def test_a_fact_has_these_spellings(raw: Any, name: str, expected: Any) -> None:
    assert getattr(engine_from_json(raw), name) == expected


REFUSED = [
    ("x", "", "Expected an engine as an object"),
    ({"tpye": "MX-4"}, "tpye", 'The key "tpye" is not known here'),
    ({"type": 4}, "type", 'Expected a designation such as "MX-4", not 4.'),
    ({"serial": " "}, "serial", "not an empty text"),
    ({"serial": "-"}, "serial", "holds no serial number"),
    ({"built": "1.5.2019"}, "built", 'Expected a date such as "2024-02-01"'),
    ({"built": "2019-02-30"}, "built", "is not a day of the calendar"),
    ({"hours": {"new": -1}}, "hours.new", "Expected hours from 0"),
    ({"hours": {"new": 1.234}}, "hours.new", "at most two decimal places"),
    ({"hours": {"new": True}}, "hours.new", "Expected hours as a number"),
    ({"hours": {"new": float("nan")}}, "hours.new", "Expected hours as a number"),
    ({"hours": {"new": 5, "overhaul": 6}}, "hours.overhaul", "cannot be more than"),
    ({"hours": 5}, "hours", "Expected hours as an object"),
    ({"overhauled": True}, "overhauled", "Expected false, an overhaul such as"),
    (
        {"overhauled": [{"on": "2020-01-02"}, {"on": "2020-01-01"}]},
        "overhauled",
        "from the oldest to the last",
    ),
    (
        {"hours": {"new": 500, "overhaul": 100}, "overhauled": {"hours": 300}},
        "hours.overhaul",
        "disagree",
    ),
    ({"hours": {"new": 5}, "overhauled": {"hours": 9}}, "overhauled", "at more hours"),
    ({"operation": []}, "operation", "Name at least one use"),
    ({"embodied": "SB-1"}, "embodied", "Expected a list of designations"),
    ({"embodied": ["SB-1", 3]}, "embodied[1]", "not 3"),
    ({"complied": [{"on": "2020-01-01"}]}, "complied[0]", '"number" is missing'),
    ({"attributes": {"cylinders": 6}}, "attributes.cylinders", "as text, not 6"),
    ({"answers": {"Struck?": "yes"}}, "answers.Struck?", "Expected true or false"),
    ({"parts": [{"number": "P-1"}]}, "parts[0]", '"role" is missing'),
    ({"parts": ["P-1"]}, "parts[0]", "Expected a part as an object"),
    ({"parts": [{"role": "x", "fitted": "old"}]}, "parts[0].fitted", "Expected a date"),
    ({"role_counts": {"x": -1}}, "role_counts.x", "Expected a number from 0"),
    ({"leaded_share": 40}, "leaded_share", "Expected a share from 0 to 1"),
    ({"oil_temperature": {"from": 80}}, "oil_temperature", 'Both "from" and "to"'),
    (
        {"oil_temperature": {"from": 9, "to": 9, "unit": "f"}},
        "oil_temperature.unit",
        '"C" or "F"',
    ),
    (
        {"oil_temperature": {"from": 9, "to": 8}},
        "oil_temperature",
        "is above the highest",
    ),
    ({"at_effective": {"on": "x"}}, "at_effective.on", "is not known here"),
]


@pytest.mark.parametrize(("raw", "path", "message"), REFUSED)
def test_a_fault_is_named_by_its_path(raw: Any, path: str, message: str) -> None:
    with pytest.raises(RuleError) as refused:
        engine_from_json(raw, path="evaluate.engine")
    (fault,) = refused.value.faults
    assert fault.path == f"evaluate.engine{'.' if path else ''}{path}"
    assert message in fault.message


def test_all_faults_are_named_together() -> None:
    with pytest.raises(RuleError) as refused:
        engine_from_json({"type": 1, "built": 2, "parts": [{"role": "x", "built": 3}]})
    assert [f.path for f in refused.value.faults] == ["type", "built", "parts[0].built"]


def test_a_part_is_read_alone() -> None:
    assert part_from_json({"role": "magneto", "fitted": "new"}).fitted == "new"
    with pytest.raises(RuleError, match="parts\\[1\\]"):
        part_from_json({}, path="parts[1]")


def test_unknown_is_not_a_boolean() -> None:
    with pytest.raises(TypeError):
        bool(Unknown.UNKNOWN)

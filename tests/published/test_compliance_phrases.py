"""The phrases of compliance times, as published directives use them.

Each test names its case and where the wording was seen. The numbers of CT-01 to CT-18
are worked out here from the wording; those of WIN-01 to WIN-04 are printed in US Army
TM 1-1500-328-23, which is not a civil rule; CT-20 to CT-24 follow AD 98-02-08
(63 FR 4154, 28 January 1998), CT-30 to CT-33 AD 2012-19-01 (77 FR 58003, 19 September
2012), whose third trigger was read in a secondary quotation only. REG-01 is 14 CFR
91.409(b), REG-02 Part-ML as quoted in secondary sources, REG-03 the older AMC M.A.302
in a secondary quotation.
"""

from __future__ import annotations

from typing import Any

import pytest

from notices.rules.due_json import due_from_json

EFFECTIVE = {"on": "2026-01-15", "hours": 500.0}
HUNDRED_OR_A_YEAR = [
    {"hours": 100, "after": "effective"},
    {"months": 12, "after": "effective"},
]
THRESHOLD_AND_GRACE = [
    {"hours": 1000, "after": "new"},
    {"hours": 50, "after": "effective"},
]


def asked(action: dict[str, Any], hours: float | None, **more: Any) -> dict[str, Any]:
    engine = {"hours": {"new": hours}, **more.pop("engine", {})}
    known = {"done": [], "events": [], "on": "2026-06-01", **more}
    return due_from_json({"action": action, "engine": engine, **known})


@pytest.mark.parametrize(
    ("hours", "state"), [(1284.5, "outstanding"), (1284.6, "overdue")]
)
def test_ct_01_within_hours_after_the_effective_date(hours: float, state: str) -> None:
    action = {"initial": {"hours": 50, "after": "effective"}}
    answer = asked(action, hours, effective={"hours": 1234.5})
    assert (answer["hours"], answer["state"]) == (1284.5, state)


@pytest.mark.parametrize(
    ("joined", "hours", "on", "state"),
    [
        pytest.param("first_of", 540.0, "2027-01-16", "overdue", id="CT-02"),
        pytest.param("first_of", 600.1, "2026-06-01", "overdue", id="CT-03"),
        pytest.param("last_of", 600.1, "2026-06-01", "outstanding", id="CT-04"),
        pytest.param("last_of", 600.1, "2027-01-15", "outstanding", id="CT-04b"),
        pytest.param("last_of", 600.1, "2027-01-16", "overdue", id="CT-04c"),
    ],
)
def test_ct_02_to_04_whichever_first_and_whichever_later(
    joined: str, hours: float, on: str, state: str
) -> None:
    action = {"initial": {joined: HUNDRED_OR_A_YEAR}}
    answer = asked(action, hours, on=on, effective=EFFECTIVE)
    assert answer["state"] == state
    assert (answer["hours"], answer["date"]) == (600, "2027-01-15")
    assert answer["which"] == joined.removesuffix("_of")


@pytest.mark.parametrize(
    ("joined", "at_effective", "due"),
    [
        pytest.param("last_of", 980.0, 1030, id="CT-05"),
        pytest.param("last_of", 400.0, 1000, id="CT-06"),
        pytest.param("last_of", 1400.0, 1450, id="CT-07 grace period"),
        pytest.param("first_of", 1400.0, 1000, id="CT-08 no grace clause"),
    ],
)
def test_ct_05_to_08_threshold_and_grace_period(
    joined: str, at_effective: float, due: int
) -> None:
    action = {"initial": {joined: THRESHOLD_AND_GRACE}}
    answer = asked(action, at_effective, effective={"hours": at_effective})
    assert answer["hours"] == due
    assert answer["state"] == ("overdue" if due < at_effective else "outstanding")


@pytest.mark.parametrize(
    ("second", "due", "late"),
    [
        pytest.param(1580.0, 1680, 0, id="CT-09 early"),
        pytest.param(1604.0, 1704, 4, id="CT-10 late"),
    ],
)
def test_ct_09_and_10_intervals_not_to_exceed(
    second: float, due: int, late: int
) -> None:
    action = {
        "initial": {"hours": 100, "after": "effective"},
        "repeat": {"hours": 100, "after": "last done"},
    }
    answer = asked(action, second, done=[{"hours": 1500.0}, {"hours": second}])
    assert answer["hours"] == due
    assert answer["late"] == {"hours": late}


def test_ct_11_the_terminating_modification_ends_the_repeats() -> None:
    action = {
        "initial": {"hours": 100, "after": "effective"},
        "repeat": {"hours": 100, "after": "last done"},
        "ends_with": ["SB-30"],
    }
    engine = {"embodied": ["SB-30"]}
    answer = asked(action, 1650.0, done=[{"hours": 1500.0}], engine=engine)
    assert answer["state"] == "terminated"
    assert answer["hours"] is None
    assert answer["date"] is None


def test_ct_12_before_further_flight() -> None:
    action = {"initial": {"event": "further flight"}}
    answer = asked(action, 812.3, effective={"on": "2026-01-15", "hours": 812.3})
    assert (answer["hours"], answer["date"]) == (None, None)
    assert answer["event"] == "further flight"
    assert answer["remaining_hours"] == 0
    assert answer["state"] == "outstanding"


def test_a_flight_past_before_further_flight_is_overdue() -> None:
    action = {"initial": {"event": "further flight"}}
    answer = asked(action, 812.4, effective={"on": "2026-01-15", "hours": 812.3})
    assert answer["state"] == "overdue"


def _accepted(revisions: list[str]) -> dict[str, Any]:
    return {
        "initial": {"hours": 50, "after": "effective"},
        "credit": {"of": [{"number": "SB-24-011", "revisions": revisions}]},
    }


DONE_BEFORE = {
    "on": "2025-06-01",
    "hours": 450.0,
    "number": "SB-24-011",
    "revision": "1",
}


def test_ct_13_work_done_before_by_the_accepted_document_counts() -> None:
    answer = asked(
        _accepted(["1", "2"]), 520.0, effective=EFFECTIVE, done=[DONE_BEFORE]
    )
    assert answer["state"] == "complied with"
    assert "1 June 2025" in answer["sentence"]


def test_ct_14_a_revision_not_listed_for_credit_does_not_count() -> None:
    answer = asked(_accepted(["2"]), 520.0, effective=EFFECTIVE, done=[DONE_BEFORE])
    assert (answer["state"], answer["hours"]) == ("outstanding", 550)


def test_ct_15_a_retained_requirement_keeps_its_old_effective_date() -> None:
    """ "within 30 days after July 27, 2005" inside a document of 2008."""
    action = {"initial": {"days": 30, "after": "effective"}}
    answer = asked(action, 500.0, effective={"on": "2005-07-27"}, on="2005-08-26")
    assert (answer["date"], answer["state"]) == ("2005-08-26", "outstanding")


def test_ct_16_checks_until_the_replacement_and_the_replacement() -> None:
    check = {
        "initial": {"hours": 25, "after": "effective"},
        "repeat": {"hours": 25, "after": "last done"},
        "until": {"hours": 200, "after": "effective"},
    }
    replacement = {"initial": {"hours": 200, "after": "effective"}}
    known = {
        "effective": {"hours": 100.0},
        "done": [{"hours": 120.0}, {"hours": 144.0}],
    }
    assert asked(check, 150.0, **known)["hours"] == 169
    assert asked(replacement, 150.0, effective={"hours": 100.0})["hours"] == 300


def test_ct_16_a_check_past_the_replacement_has_ended() -> None:
    check = {
        "initial": {"hours": 25, "after": "effective"},
        "repeat": {"hours": 25, "after": "last done"},
        "until": {"hours": 200, "after": "effective"},
    }
    known = {"effective": {"hours": 100.0}, "done": [{"hours": 275.01}]}
    assert asked(check, 280.0, **known)["state"] == "terminated"
    known["done"] = [{"hours": 275.0}]
    assert asked(check, 280.0, **known)["hours"] == 300


def test_ct_17_a_part_keeps_its_hours_on_another_engine() -> None:
    part = {
        "role": "magneto",
        "fitted": "2026-05-01",
        "hours": {"new": 700.0, "fitted": 0},
    }
    action = {"initial": {"hours": 1000, "after": "new"}}
    answer = asked(action, 2000.0, engine={"parts": [part]}, part=0)
    assert answer["remaining_hours"] == 300
    assert answer["hours"] == 2300


def test_ct_18_hours_between_two_readings_are_an_estimate() -> None:
    action = {"initial": {"hours": 50, "after": "effective"}}
    readings = [
        {"on": "2025-12-01", "hours": 1200.0},
        {"on": "2026-03-01", "hours": 1230.0},
    ]
    answer = asked(action, 1230.0, effective={"on": "2026-01-15"}, readings=readings)
    assert (answer["hours"], answer["estimated"]) == (1265, True)
    assert answer["earliest_hours"] == 1250


BORE = {
    "when": {"not": {"attribute": "mark on the flange", "in": ["PID"]}},
    "initial": {"event": "overhaul"},
    "repeat": {
        "cases": [
            {
                "when": {"result": ["clean"]},
                "then": {"months": 60, "after": "last done"},
            },
            {
                "when": {"result": ["pitted"]},
                "then": {"hours": 100, "after": "last done"},
            },
            {"else": {"event": "further flight"}},
        ]
    },
    "ends_with": [{"all": [{"embodied": "bore coating"}, {"result": ["clean"]}]}],
}
UNMARKED = {"attributes": {"mark on the flange": "none"}, "history_reviewed": True}


def bore(result: str, **more: Any) -> dict[str, Any]:
    done = [{"on": "2020-05-10", "hours": 1400.0, "result": result}]
    engine = {**UNMARKED, **more.pop("engine", {})}
    return asked(BORE, 1400.0, done=done, engine=engine, on="2020-05-10", **more)


def test_ct_20_a_clean_bore_is_looked_at_again_after_five_years() -> None:
    answer = bore("clean")
    assert (answer["date"], answer["hours"]) == ("2025-05-10", None)


def test_ct_21_a_pitted_bore_every_hundred_hours_and_coating_does_not_end_it() -> None:
    answer = bore("pitted", engine={"embodied": ["bore coating"]})
    assert (answer["date"], answer["hours"]) == (None, 1500)


def test_ct_22_a_cracked_shaft_is_replaced_before_further_flight() -> None:
    assert bore("cracked")["event"] == "further flight"


def test_ct_23_coating_a_clean_bore_ends_the_inspections() -> None:
    assert bore("clean", engine={"embodied": ["bore coating"]})["state"] == "terminated"


def test_ct_24_a_marked_flange_takes_the_engine_out_with_the_reason() -> None:
    answer = bore("clean", engine={"attributes": {"mark on the flange": "PID"}})
    assert answer["state"] == "does not apply"
    assert "PID" in answer["sentence"]


def test_without_a_result_the_next_inspection_is_one_of_three() -> None:
    done = [{"on": "2020-05-10", "hours": 1400.0}]
    answer = asked(BORE, 1400.0, done=done, engine=UNMARKED, on="2020-05-10")
    assert answer["state"] == "undetermined"
    assert len(answer["candidates"]) == 3
    assert (answer["date"], answer["hours"]) == ("2025-05-10", 1500)


RETIREMENT = {
    "initial": {
        "first_of": [
            {"event": "overhaul"},
            {"event": "crankcase separation"},
            {"months": 144, "after": {"event": "crankshaft in service or overhauled"}},
        ]
    }
}
IN_SERVICE = {"event": "crankshaft in service or overhauled", "on": "2001-03-10"}


def retirement(
    events: list[dict[str, Any]] | None, on: str = "2013-01-01"
) -> dict[str, Any]:
    effective = {"on": "2012-10-24", "hours": 900.0}
    return asked(RETIREMENT, 950.0, effective=effective, events=events, on=on)


def test_ct_30_twelve_years_from_when_the_crankshaft_entered_service() -> None:
    assert retirement([IN_SERVICE])["date"] == "2013-03-10"


def test_ct_31_its_last_overhaul_starts_the_twelve_years_anew() -> None:
    again = {**IN_SERVICE, "on": "2008-06-01"}
    assert retirement([IN_SERVICE, again])["date"] == "2020-06-01"


def test_ct_32_the_case_split_for_another_reason_is_the_earlier_point() -> None:
    split = {"event": "Crankcase separation", "on": "2012-12-01", "hours": 930.0}
    answer = retirement([IN_SERVICE, split], on="2012-12-01")
    assert (answer["date"], answer["hours"]) == ("2012-12-01", 930)
    assert answer["event"] == "overhaul"


def test_ct_33_without_a_stated_date_nothing_is_assumed() -> None:
    answer = retirement(None)
    assert answer["state"] == "undetermined"
    assert len(answer["missing"]) == 3


def _every(hours: int, **more: Any) -> dict[str, Any]:
    return {
        "initial": {"hours": hours, "after": "effective"},
        "repeat": {"hours": hours, "after": "last done"},
        **more,
    }


@pytest.mark.parametrize(
    ("more", "due"),
    [
        pytest.param(
            {"restart": "planned", "tolerance": {"hours": 10, "en_route": True}},
            2100,
            id="REG-01",
        ),
        pytest.param({"tolerance": {"hours": 10}}, 2110, id="REG-02"),
        pytest.param(
            {"restart": "planned", "tolerance": {"hours": 10}}, 2100, id="REG-03"
        ),
        pytest.param(
            {"restart": "planned", "tolerance": {"hours": 5, "early": True}},
            2110,
            id="REG-04",
        ),
    ],
)
def test_whether_lateness_is_paid_back_belongs_to_the_requirement(
    more: dict[str, Any], due: int
) -> None:
    done = [{"hours": 1900.0}, {"hours": 2010.0, "en_route": True}]
    assert asked(_every(100, **more), 2010.0, done=done)["hours"] == due


WINDOW = {"restart": "planned", "tolerance": {"hours": 5, "early": True}}


@pytest.mark.parametrize("done_at", [1604.4, 1609.4, 1614.4])
def test_win_01_inside_the_window_the_schedule_stays(done_at: float) -> None:
    done = [{"hours": 1534.4}, {"hours": done_at}]
    assert asked(_every(75, **WINDOW), done_at, done=done)["hours"] == 1684.4


@pytest.mark.parametrize(("done_at", "due"), [(1604.3, 1679.3), (1614.5, 1689.5)])
def test_win_01_outside_the_window_it_moves(done_at: float, due: float) -> None:
    done = [{"hours": 1534.4}, {"hours": done_at}]
    assert asked(_every(75, **WINDOW), done_at, done=done)["hours"] == due


def test_win_02_outside_the_window_the_work_itself_counts() -> None:
    done = [{"hours": 1256.4}, {"hours": 1299.9}]
    assert asked(_every(50, **WINDOW), 1299.9, done=done)["hours"] == 1349.9


@pytest.mark.parametrize(
    ("due", "months", "days", "done", "following"),
    [
        pytest.param("1999-01-31", 6, 18, "1999-01-13", "1999-07-31", id="WIN-03"),
        pytest.param("1999-01-31", 6, 18, "1999-02-18", "1999-07-31", id="WIN-03b"),
        pytest.param("1999-01-31", 6, 18, "1999-02-19", "1999-08-19", id="outside"),
        pytest.param("1999-02-06", 12, 30, "1999-01-07", "2000-02-06", id="WIN-04"),
        pytest.param("1999-02-06", 12, 30, "1999-03-08", "2000-02-06", id="WIN-04b"),
        pytest.param("1999-02-06", 12, 30, "1999-03-09", "2000-03-09", id="outside b"),
    ],
)
def test_win_03_and_04_windows_of_days(
    due: str, months: int, days: int, done: str, following: str
) -> None:
    action = {
        "initial": {"date": due},
        "repeat": {"months": months, "after": "last done"},
        "restart": "planned",
        "tolerance": {"days": days, "early": True},
    }
    answer = asked(action, 500.0, done=[{"on": done}], on=done)
    assert answer["date"] == following

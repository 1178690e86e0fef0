"""100-hour and annual inspections: 14 CFR 91.409(a) and (b), and 91.327(c).

The numbers are worked out from the rule's text. That a calendar month runs to its last
day was read in secondary sources only; ANN-07 and ANN-09 are examples from a published
discussion of the rule, and the 106 and 94 hours of HUN-02 are published, too.
"""

from __future__ import annotations

from typing import Any

import pytest

from notices.rules.due_json import due_from_json

HUNDRED_HOURS = {
    "initial": {"hours": 100, "after": "effective"},
    "repeat": {"hours": 100, "after": "last done"},
    "restart": "planned",
    "tolerance": {"hours": 10, "en_route": True},
    "counts": ["annual inspection"],
}
ANNUAL = {
    "initial": {"months": 12, "after": "last done", "calendar": True},
    "repeat": {"months": 12, "after": "last done", "calendar": True},
}


def asked(
    action: dict[str, Any],
    hours: float,
    done: list[dict[str, Any]],
    **more: Any,
) -> dict[str, Any]:
    question = {
        "action": action,
        "engine": {"hours": {"new": hours}},
        "done": done,
        "events": [],
        "on": "2026-05-01",
        **more,
    }
    return due_from_json(question)


@pytest.mark.parametrize(
    ("hours", "en_route", "state"),
    [
        (1100.0, False, "outstanding"),
        (1100.1, False, "overdue"),
        (1100.1, True, "outstanding"),
    ],
)
def test_hun_01_one_hundred_hours_exactly_are_in_time(
    hours: float, en_route: bool, state: str
) -> None:
    answer = asked(HUNDRED_HOURS, hours, [{"hours": 1000.0}], en_route=en_route)
    assert answer["hours"] == 1100.0
    assert answer["state"] == state


@pytest.mark.parametrize(
    ("done_at", "left"), [pytest.param(1106.0, 94.0, id="HUN-02"), (1110.0, 90.0)]
)
def test_hun_02_and_03_hours_flown_en_route_are_paid_back(
    done_at: float, left: float
) -> None:
    done = [{"hours": 1000.0}, {"hours": done_at, "en_route": True}]
    answer = asked(HUNDRED_HOURS, done_at, done)
    assert answer["hours"] == 1200.0
    assert answer["remaining_hours"] == left
    assert answer["late"] == {"hours": 0}


def test_hun_02_holds_for_the_first_inspection_after_an_initial_limit_too() -> None:
    answer = asked(
        HUNDRED_HOURS,
        1106.0,
        [{"hours": 1106.0, "en_route": True}],
        effective={"hours": 1000.0},
    )
    assert answer["hours"] == 1200.0


def test_hun_04_more_than_ten_hours_en_route_are_late() -> None:
    done = [{"hours": 1000.0}, {"hours": 1110.1, "en_route": True}]
    answer = asked(HUNDRED_HOURS, 1110.1, done)
    assert answer["late"] == {"hours": 10.1}
    before = asked(HUNDRED_HOURS, 1110.1, done[:1], en_route=True)
    assert before["state"] == "overdue"


def test_hun_05_an_overrun_that_was_not_en_route_is_late() -> None:
    done = [{"hours": 1000.0}, {"hours": 1103.0, "en_route": False}]
    assert asked(HUNDRED_HOURS, 1103.0, done)["late"] == {"hours": 3.0}
    assert asked(HUNDRED_HOURS, 1103.0, done[:1])["state"] == "overdue"


def test_hun_06_early_work_moves_the_grid() -> None:
    answer = asked(HUNDRED_HOURS, 1085.0, [{"hours": 1000.0}, {"hours": 1085.0}])
    assert answer["hours"] == 1185.0


def test_hun_07_a_chain_of_overruns_stays_on_the_old_grid() -> None:
    done: list[dict[str, Any]] = [
        {"hours": 1000.0},
        {"hours": 1106.0, "en_route": True},
    ]
    assert asked(HUNDRED_HOURS, 1106.0, done)["hours"] == 1200.0
    done.append({"hours": 1203.0, "en_route": True})
    assert asked(HUNDRED_HOURS, 1203.0, done)["hours"] == 1300.0


def test_hun_08_an_annual_counts_as_a_hundred_hour_inspection() -> None:
    events = [{"event": "annual inspection", "hours": 1060.0}]
    answer = asked(HUNDRED_HOURS, 1060.0, [{"hours": 1000.0}], events=events)
    assert answer["hours"] == 1160.0


def test_an_annual_that_nobody_has_asked_about_leaves_it_undetermined() -> None:
    answer = asked(HUNDRED_HOURS, 1060.0, [{"hours": 1000.0}], events=None)
    assert answer["state"] == "undetermined"
    assert answer["missing"] == ["whether and when there was: annual inspection"]
    assert answer["hours"] == 1100.0


def test_hun_09_light_sport_has_no_overrun() -> None:
    """14 CFR 91.327(c) names 100 hours and no more."""
    action = {
        "initial": {"hours": 100, "after": "effective"},
        "repeat": {"hours": 100, "after": "last done"},
    }
    answer = asked(action, 600.1, [{"hours": 500.0}], en_route=True)
    assert answer["state"] == "overdue"


def test_hun_10_a_directive_has_no_overrun_either() -> None:
    action = {
        "initial": {"hours": 50, "after": "effective"},
        "repeat": {"hours": 50, "after": "last done"},
    }
    answer = asked(action, 1050.1, [{"hours": 1000.0}], en_route=True)
    assert answer["state"] == "overdue"
    assert answer["hours"] == 1050.0


@pytest.mark.parametrize(
    ("done", "months", "last_day", "first_illegal"),
    [
        pytest.param("2026-04-15", 12, "2027-04-30", "2027-05-01", id="ANN-01"),
        pytest.param("2026-06-01", 12, "2027-06-30", "2027-07-01", id="ANN-02"),
        pytest.param("2026-06-30", 12, "2027-06-30", "2027-07-01", id="ANN-03"),
        pytest.param("2024-02-29", 12, "2025-02-28", "2025-03-01", id="ANN-04"),
        pytest.param("2023-02-28", 12, "2024-02-29", "2024-03-01", id="ANN-05"),
        pytest.param("2025-12-31", 12, "2026-12-31", "2027-01-01", id="ANN-06"),
        pytest.param("2014-06-06", 12, "2015-06-30", "2015-07-01", id="ANN-07"),
        pytest.param("2026-04-15", 24, "2028-04-30", "2028-05-01", id="ANN-08"),
    ],
)
def test_calendar_months_run_to_the_last_day_of_the_month(
    done: str, months: int, last_day: str, first_illegal: str
) -> None:
    limit = {"months": months, "after": "last done", "calendar": True}
    action = {"initial": limit, "repeat": limit}
    in_time = asked(action, 500.0, [{"on": done}], on=last_day)
    assert in_time["date"] == last_day
    assert in_time["state"] == "outstanding"
    assert in_time["remaining_days"] == 0
    assert asked(action, 500.0, [{"on": done}], on=first_illegal)["state"] == "overdue"


def test_ann_09_late_work_sets_a_new_month() -> None:
    done = [{"on": "2014-05-20"}, {"on": "2015-06-04"}]
    answer = asked(ANNUAL, 500.0, done, on="2015-06-05")
    assert answer["date"] == "2016-06-30"
    assert answer["late"] == {"hours": 0, "days": 4}

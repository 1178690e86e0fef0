"""Due points and states, sentence by sentence of what a compliance time means."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from copy import deepcopy
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import product
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from notices.rules.compliance_time import (
    Due,
    DuePoint,
    Event,
    History,
    Lead,
    Rate,
    Reading,
    State,
    due,
    due_point,
    parse_action,
    state_at,
    urgency,
    utilisation,
)
from notices.rules.due_json import due_from_json
from notices.rules.errors import RuleError
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, Hours, HoursKept
from notices.rules.times.history import hours_on
from notices.rules.times.points import Branch, Leaf, PointKind, Tree, leaves
from tests.oracle_times import is_overdue, next_hours, planned_month
from tests.times import DAY, HOURS, QUESTIONS, days

EFFECTIVE = {"on": "2026-01-15", "hours": 500.0}
IN_50_HOURS = {"hours": 50, "after": "effective"}
IN_A_YEAR = {"months": 12, "after": "effective"}
UNPLACED = {"unknown": "the table is missing"}
AGAIN_100 = {"hours": 100, "after": "last done"}


def ask(initial: Any, hours: float | None = 520.0, **more: Any) -> dict[str, Any]:
    """Ask about an action; what is given as `action` goes into it beside `initial`."""
    action = {"initial": initial, **more.pop("action", {})}
    engine = {"hours": {"new": hours}, **more.pop("engine", {})}
    known = {"effective": EFFECTIVE, "done": [], "events": [], "on": "2026-06-01"}
    return due_from_json({"action": action, "engine": engine, **known, **more})


def states(answer: dict[str, Any], *keys: str) -> tuple[Any, ...]:
    return tuple(answer[key] for key in ("state", *keys))


# What an action depends on.


def test_an_action_whose_condition_is_false_does_not_apply() -> None:
    answer = ask(
        IN_50_HOURS,
        action={"when": {"attribute": "drive", "in": ["geared"]}},
        engine={"attributes": {"drive": "direct"}},
    )
    assert states(answer, "hours", "date") == ("does not apply", None, None)


def test_an_open_condition_shows_what_would_be_if_it_applied() -> None:
    answer = ask(
        IN_50_HOURS, 560.0, action={"when": {"attribute": "drive", "in": ["geared"]}}
    )
    assert states(answer, "hours", "if_it_applies") == ("undetermined", 550, "overdue")
    assert answer["missing"] == ["drive"]


@pytest.mark.parametrize(
    ("engine", "state"),
    [
        ({"embodied": ["SB-9"]}, "terminated"),
        ({"complied": [{"number": "sb 9"}]}, "terminated"),
        ({"not_embodied": ["SB-9"]}, "undetermined"),
        ({"history_reviewed": True}, "outstanding"),
        ({}, "undetermined"),
    ],
)
def test_what_ends_an_action_is_looked_at_first(
    engine: dict[str, Any], state: str
) -> None:
    action = {"ends_with": ["SB-9"], "when": {"not": {"embodied": "SB-9"}}}
    assert ask(IN_50_HOURS, action=action, engine=engine)["state"] == state


def test_on_a_part_only_its_own_record_ends_the_action() -> None:
    part = {"role": "pump", "fitted": "2020-01-01", "hours": {"new": 100}}
    engine = {"parts": [part], "embodied": ["SB-9"]}
    action = {"ends_with": ["SB-9"]}
    answer = ask(IN_50_HOURS, action=action, engine=engine, part=0)
    assert answer["state"] == "outstanding"
    done = [{"on": "2025-01-01", "number": "SB-9"}]
    ended = ask(IN_50_HOURS, action=action, engine=engine, part=0, done=done)
    assert ended["state"] == "terminated"


# First, last, nested.


@pytest.mark.parametrize(
    ("time", "hours", "state"),
    [
        ({"first_of": [IN_50_HOURS, UNPLACED]}, 550.0, "undetermined"),
        ({"first_of": [IN_50_HOURS, UNPLACED]}, 550.01, "overdue"),
        ({"last_of": [IN_50_HOURS, UNPLACED]}, 550.0, "undetermined"),
        ({"last_of": [IN_50_HOURS, UNPLACED]}, 550.01, "undetermined"),
    ],
)
def test_an_unknown_member_leaves_the_others_shown(
    time: dict[str, Any], hours: float, state: str
) -> None:
    answer = ask(time, hours)
    assert states(answer, "hours", "missing") == (state, 550, ["the table is missing"])


@pytest.mark.parametrize(
    ("time", "which"),
    [
        (IN_50_HOURS, None),
        ({"first_of": [IN_50_HOURS]}, None),
        ({"first_of": [IN_50_HOURS, IN_A_YEAR]}, "first"),
        ({"last_of": [IN_50_HOURS, IN_A_YEAR]}, "last"),
        ({"first_of": [{"first_of": [IN_50_HOURS, IN_A_YEAR]}, IN_A_YEAR]}, "first"),
        ({"first_of": [{"last_of": [IN_50_HOURS, IN_A_YEAR]}, IN_A_YEAR]}, None),
    ],
)
def test_which_is_said_where_it_is_one(time: dict[str, Any], which: str | None) -> None:
    assert ask(time)["which"] == which


def test_limits_are_returned_as_written_with_a_point_at_each() -> None:
    limits = ask({"first_of": [IN_50_HOURS, IN_A_YEAR]})["limits"]
    points = [limit.pop("point") for limit in limits["first_of"]]
    assert limits == {"first_of": [IN_50_HOURS, IN_A_YEAR]}
    assert [(p["hours"], p["date"]) for p in points] == [
        (550, None),
        (None, "2027-01-15"),
    ]


# Known none and unknown.


def test_nobody_has_said_whether_it_was_done() -> None:
    answer = ask(IN_50_HOURS, done=None)
    assert states(answer, "hours", "if_it_applies") == (
        "undetermined",
        550,
        "outstanding",
    )
    assert answer["missing"] == ["whether and when it was done"]


def test_nobody_has_said_whether_the_event_happened() -> None:
    answer = ask({"event": "oil change"}, events=None)
    assert states(answer, "hours") == ("undetermined", None)


def test_an_engine_made_after_the_effective_date_had_no_hours_on_it() -> None:
    answer = ask(
        IN_50_HOURS,
        40.0,
        effective={"on": "2026-01-15"},
        engine={"built": "2026-02-01"},
    )
    assert states(answer, "hours") == ("outstanding", 50)


def test_without_an_effective_date_any_recorded_event_counts_and_it_says_so() -> None:
    events = [{"event": "oil change", "on": "2019-01-01"}]
    answer = ask({"event": "oil change"}, effective=None, events=events)
    assert states(answer, "date") == ("overdue", "2019-01-01")
    assert "without an effective date" in answer["sentence"]


@pytest.mark.parametrize(
    ("overhauled", "event"),
    [
        (False, {"event": "overhaul", "on": "2021-04-03"}),
        (
            {"on": "2021-04-03", "hours": 400.0},
            {"event": "overhaul", "on": "2021-04-03", "hours": 410.0},
        ),
    ],
)
def test_an_event_that_contradicts_the_engine_is_refused(
    overhauled: Any, event: dict[str, Any]
) -> None:
    limit = {"hours": 50, "after": "overhaul"}
    with pytest.raises(RuleError, match="Correct the one") as refused:
        ask(limit, engine={"overhauled": overhauled}, events=[event])
    assert refused.value.faults[0].path == "events"


@pytest.mark.parametrize(
    ("overhauled", "hours", "on"),
    [
        ({"on": "2021-04-03", "hours": 400.0}, 500, "2022-04-03"),
        (False, 100, "2020-06-01"),
    ],
)
def test_an_engine_never_overhauled_counts_from_new(
    overhauled: Any, hours: float, on: str
) -> None:
    time = {
        "first_of": [
            {"hours": 100, "after": "overhaul"},
            {"months": 12, "after": "overhaul"},
        ]
    }
    engine = {"overhauled": overhauled, "built": "2019-06-01"}
    answer = ask(time, engine=engine)
    assert states(answer, "hours", "date") == ("overdue", hours, on)


def test_a_rebuild_starts_a_new_zero_that_must_be_known() -> None:
    limit = {"hours": 1000, "after": "new"}
    engine = {"rebuilt": "2020-03-01", "built": "2000-01-01"}
    unknown = ask(limit, 2100.0, engine=engine)
    assert states(unknown, "missing") == (
        "undetermined",
        ["hours at the maker's rebuild"],
    )
    events = [{"event": "rebuild", "on": "2020-03-01", "hours": 1900.0}]
    assert ask(limit, 2100.0, engine=engine, events=events)["hours"] == 2900


# Events.


def test_an_event_limit_is_reached_by_the_first_event_strictly_after() -> None:
    events = [
        {"event": "Oil Change", "on": "2026-03-01", "hours": 510.0},
        {"event": "oil change", "on": "2026-01-15", "hours": 500.0},
        {"event": "oil change", "on": "2026-02-01", "hours": 505.0},
    ]
    answer = ask({"event": "next oil change"}, 505.0, events=events, on="2026-02-01")
    assert states(answer, "hours", "date") == ("outstanding", 505, "2026-02-01")


def test_an_anchor_event_is_the_latest_and_its_absence_is_nothing_due() -> None:
    limit = {"hours": 25, "after": {"event": "oil change"}}
    nothing = ask(limit)
    assert states(nothing, "event", "hours") == ("nothing due", "oil change", None)
    events = [
        {"event": "oil change", "on": "2025-02-01", "hours": 405.0},
        {"event": "oil change", "on": "2026-02-01", "hours": 505.0},
        {"event": "oil change", "on": "2026-09-01", "hours": 600.0},
    ]
    assert ask(limit, events=events)["hours"] == 530


def test_a_strike_on_the_day_of_the_work_is_told_apart_by_hours() -> None:
    strike = {"event": "propeller strike", "on": "2026-05-01", "hours": 510.5}
    action = {
        "repeat": {
            "event": "further flight",
            "after": {"event": "propeller strike", "after": "last done"},
        }
    }
    done = [{"on": "2026-05-01", "hours": 510.0}]
    struck = ask(IN_50_HOURS, 510.5, action=action, done=done, events=[strike])
    assert states(struck, "event") == ("outstanding", "further flight")
    done[0]["hours"] = 510.5
    worked = ask(IN_50_HOURS, 510.5, action=action, done=done, events=[strike])
    assert worked["state"] == "nothing due"


def test_further_flight_stands_above_everything_also_without_hours() -> None:
    answer = ask({"event": "further flight"}, None)
    assert states(answer, "event") == ("outstanding", "further flight")
    first = urgency(State.OUTSTANDING, further_flight=True)
    assert first < urgency(State.OVERDUE) < urgency(State.COMING_DUE)
    assert urgency(State.OUTSTANDING, may_be_overdue=True) == urgency(State.OVERDUE)


def test_further_flight_after_what_nobody_has_said_is_not_known_to_be_due() -> None:
    limit = {"event": "further flight", "after": {"event": "propeller strike"}}
    answer = ask(limit, events=None)
    assert states(answer, "event", "missing") == (
        "undetermined",
        None,
        ["whether and when there was: propeller strike"],
    )


def test_further_flight_does_not_wait_for_an_effective_date() -> None:
    answer = ask({"event": "further flight"}, effective=None)
    assert states(answer, "event", "remaining_hours") == (
        "outstanding",
        "further flight",
        0,
    )


def test_an_event_after_an_effective_date_that_is_missing() -> None:
    events = [{"event": "oil change", "on": "2026-02-01"}]
    limit = {"event": "oil change", "after": "effective"}
    answer = ask(limit, effective=None, events=events)
    assert states(answer, "missing") == ("undetermined", ["effective date"])


# Records and credit.


@pytest.mark.parametrize(
    ("record", "state"),
    [
        ({"on": "2026-01-15"}, "complied with"),
        ({"on": "2026-01-14"}, "outstanding"),
        ({"hours": 500.0}, "complied with"),
        ({"hours": 499.99}, "outstanding"),
        ({}, "undetermined"),
    ],
)
def test_work_before_the_effective_date_needs_credit(
    record: dict[str, Any], state: str
) -> None:
    assert ask(IN_50_HOURS, done=[record])["state"] == state
    if state == "outstanding":
        credited = ask(IN_50_HOURS, done=[record], action={"credit": True})
        assert credited["state"] == "complied with"


@pytest.mark.parametrize(
    ("record", "state"),
    [
        ({"number": "SB-1"}, "complied with"),
        ({"number": "sb1"}, "complied with"),
        ({"number": "SB-2", "revision": "1"}, "complied with"),
        ({"number": "SB-2", "revision": "2"}, "outstanding"),
        ({"number": "SB-3"}, "outstanding"),
        ({"number": "SB-2"}, "undetermined"),
        ({}, "undetermined"),
    ],
)
def test_credit_is_for_the_documents_it_names(
    record: dict[str, Any], state: str
) -> None:
    credit = {"of": ["SB-1", {"number": "SB-2", "revisions": ["1"]}]}
    done = [{"on": "2025-06-01", "hours": 450.0, **record}]
    assert ask(IN_50_HOURS, done=done, action={"credit": credit})["state"] == state


@pytest.mark.parametrize(("within", "expected"), [(30, 480), (200, 550)])
def test_within_limits_the_first_point_after_credited_work(
    within: int, expected: int
) -> None:
    action = {
        "credit": {"within": {"hours": within, "after": "last done"}},
        "repeat": AGAIN_100,
    }
    done = [{"on": "2025-06-01", "hours": 450.0}]
    assert ask(IN_50_HOURS, done=done, action=action)["hours"] == expected


def test_work_of_which_nothing_can_fall_due_is_not_asked_after() -> None:
    """A check 25 h after an overhaul, asked for under 100 h since then only."""
    early = {"hours": {"since": "overhaul", "under": 100, "at": "now"}}
    once = {"cases": [{"when": early, "then": {"hours": 25, "after": "overhaul"}}]}
    unsaid: dict[str, Any] = {"done": None, "engine": {"overhauled": False}}
    asked = ask(once, 410.0, **unsaid, action={"credit": True})
    assert states(asked, "missing") == ("nothing due", [])
    assert ask(once, 60.0, **unsaid)["state"] == "undetermined"
    assert ask(once, 410.0, **unsaid, action={"repeat": AGAIN_100})["state"] == (
        "undetermined"
    )
    within = {"credit": {"within": {"hours": 50, "after": "last done"}}}
    assert ask(once, 410.0, **unsaid, action=within)["state"] == "undetermined"


# Repeats.


def test_a_month_grid_counts_from_its_origin() -> None:
    action = {
        "repeat": {"months": 1, "after": "last done"},
        "restart": "planned",
        "tolerance": {"days": 3},
    }
    initial = {"months": 1, "after": {"date": "2026-12-31"}}
    done: list[dict[str, Any]] = []
    found = []
    for _ in range(3):
        answer = ask(initial, action=action, done=done, on="2027-12-31")
        found.append(answer["date"])
        done.append({"on": answer["date"]})
    assert found == ["2027-01-31", "2027-02-28", "2027-03-31"]


@pytest.mark.parametrize(
    ("hours", "state", "said"),
    [
        (550.0, "coming due", "Coming due: "),
        (550.01, "coming due", "Past its limit, inside the tolerance: "),
        (560.0, "coming due", "Past its limit, inside the tolerance: "),
        (560.01, "overdue", "Overdue: "),
    ],
)
def test_inside_a_tolerance_the_limit_is_said_to_be_passed(
    hours: float, state: str, said: str
) -> None:
    tolerant = {"tolerance": {"hours": 10}}
    lead = {"hours": 10, "days": 30}
    answer = ask(IN_50_HOURS, hours, action=tolerant, lead=lead)
    assert answer["state"] == state
    assert answer["sentence"].startswith(said)


def test_a_repeat_ends_where_its_next_point_would_lie_past_the_end() -> None:
    action = {"repeat": AGAIN_100, "until": {"date": "2026-05-31"}}
    done = [{"on": "2026-02-01", "hours": 505.0}]
    before = ask(IN_50_HOURS, action=action, done=done, on="2026-05-31")
    assert states(before, "hours") == ("outstanding", 605)
    after = ask(IN_50_HOURS, action=action, done=done, on="2026-06-01")
    assert states(after, "hours") == ("terminated", None)


def test_without_an_effective_date_the_end_of_repeats_is_not_known() -> None:
    action = {"repeat": AGAIN_100, "until": {"days": 90, "after": "effective"}}
    done = [{"on": "2026-02-01", "hours": 505.0}]
    answer = ask(IN_50_HOURS, action=action, done=done, effective=None)
    assert answer["state"] == "undetermined"


@given(
    gaps=st.lists(st.integers(min_value=80, max_value=120), min_size=1, max_size=6),
    en_route_at=st.lists(st.booleans(), min_size=7, max_size=7),
    planned=st.booleans(),
    tolerance=st.integers(min_value=1, max_value=15),
    en_route=st.booleans(),
    early=st.booleans(),
)
def test_the_grid_agrees_with_a_walk_along_a_ruler(
    gaps: list[int],
    en_route_at: list[bool],
    planned: bool,
    tolerance: int,
    en_route: bool,
    early: bool,
) -> None:
    at, records = 1000, [(1000, False)]
    for gap, flown in zip(gaps, en_route_at, strict=False):
        at += gap
        records.append((at, flown))
    action = {
        "repeat": AGAIN_100,
        "restart": "planned" if planned else "done",
        "tolerance": {"hours": tolerance, "en_route": en_route, "early": early},
    }
    done = [{"hours": hours, "en_route": flown} for hours, flown in records]
    expected = next_hours(
        100,
        records,
        planned=planned,
        tolerance=tolerance,
        en_route=en_route,
        early=early,
    )
    assert ask(IN_50_HOURS, float(at), action=action, done=done)["hours"] == expected


def of_drive(sizes: Sequence[int]) -> dict[str, Any]:
    """Return a time by a property that may have changed: a, b and so on, or none."""
    first, *others = sizes
    cases: list[dict[str, Any]] = [
        {
            "when": {"attribute": "drive", "in": [chr(97 + place)]},
            "then": {"hours": size, "after": "last done"},
        }
        for place, size in enumerate(others)
    ]
    return {"cases": [*cases, {"else": {"hours": first, "after": "last done"}}]}


@given(
    sizes=st.lists(st.sampled_from([90, 95, 100, 110]), min_size=1, max_size=3),
    gaps=st.lists(st.integers(min_value=80, max_value=120), min_size=1, max_size=4),
    tolerance=st.integers(min_value=1, max_value=15),
    early=st.booleans(),
)
def test_no_case_of_the_past_would_have_it_due_sooner(
    sizes: list[int], gaps: list[int], tolerance: int, early: bool
) -> None:
    """Every case tried for every interval that has ended, along a ruler each time.

    The drive is none of those named now, so the last interval is the first size.
    """
    records = [1000]
    for gap in gaps:
        records.append(records[-1] + gap)
    action = {
        "repeat": of_drive(sizes),
        "restart": "planned",
        "tolerance": {"hours": tolerance, "early": early},
    }
    answer = ask(
        IN_50_HOURS,
        float(records[-1]),
        action=action,
        done=[{"hours": hours} for hours in records],
        engine={"attributes": {"drive": "other"}},
    )
    ends = set()
    for held in product(sizes, repeat=len(gaps)):
        mark = records[0] + held[0]
        for at, size in zip(records[1:], (*held[1:], sizes[0]), strict=True):
            keeps = 0 <= at - mark <= tolerance or (
                early and 0 < mark - at <= tolerance
            )
            mark = (mark if keeps else at) + size
        ends.add(mark)
    assert answer["hours"] == min(ends)


def test_a_past_record_is_not_late_by_a_case_that_holds_only_now() -> None:
    """906.3 h to 956.3 h: in time under 50 h, late under the 25 h that hold today."""
    leaded = {
        "when": {"leaded_share": {"over": 0.5}},
        "then": {**AGAIN_100, "hours": 25},
    }
    repeat = {"cases": [leaded, {"else": {**AGAIN_100, "hours": 50}}]}
    done = [{"on": "2026-03-01", "hours": 906.3}, {"on": "2026-05-01", "hours": 956.3}]
    engine = {"leaded_share": 0.73}
    asked = {"done": done, "engine": engine}
    found = ask(IN_50_HOURS, 970.0, **asked, action={"repeat": repeat})
    assert states(found, "hours", "late") == ("outstanding", 981.3, None)
    assert "late" not in found["sentence"]
    done[1]["hours"] = 956.4
    assert ask(IN_50_HOURS, 970.0, **asked, action={"repeat": repeat})["late"] is None
    same = {"cases": [leaded, {"else": {**AGAIN_100, "hours": 25}}]}
    found = ask(IN_50_HOURS, 970.0, **asked, action={"repeat": same})
    assert found["late"] == {"hours": 25.1}


def test_a_case_by_what_is_stamped_held_in_the_past_too() -> None:
    cases = [
        {"when": {"serial": ["4001..4987"]}, "then": {**AGAIN_100, "hours": 25}},
        {"else": AGAIN_100},
    ]
    done = [{"on": "2026-03-01", "hours": 906.3}, {"on": "2026-05-01", "hours": 956.3}]
    found = ask(
        IN_50_HOURS,
        970.0,
        done=done,
        engine={"serial": "4118"},
        action={"repeat": {"cases": cases}},
    )
    assert found["late"] == {"hours": 25}


@given(
    origin=st.dates(date(2020, 1, 1), date(2024, 12, 31)),
    months=st.integers(min_value=1, max_value=24),
    late=st.lists(st.integers(min_value=0, max_value=5), min_size=1, max_size=5),
)
def test_a_month_grid_agrees_with_dateutil(
    origin: date, months: int, late: list[int]
) -> None:
    action = {
        "repeat": {"months": months, "after": "last done"},
        "restart": "planned",
        "tolerance": {"days": 5},
    }
    done = [{"on": origin.isoformat()}]
    for times, days_late in enumerate(late, start=1):
        day = planned_month(origin, months, times) + timedelta(days=days_late)
        done.append({"on": day.isoformat()})
    answer = ask(IN_50_HOURS, action=action, done=done, effective=None, on="2039-01-01")
    expected = planned_month(origin, months, len(late) + 1)
    assert answer["date"] == expected.isoformat()


# Cases.


def _by_drive(geared: Any, otherwise: Any) -> dict[str, Any]:
    geared_only = {"when": {"attribute": "drive", "in": ["geared"]}, "then": geared}
    return {"cases": [geared_only, *([{"else": otherwise}] if otherwise else [])]}


def test_an_open_case_lists_the_candidates_and_shows_the_least() -> None:
    time = _by_drive(IN_50_HOURS, {"hours": 25, "after": "effective"})
    answer = ask(time)
    assert states(answer, "hours", "missing") == ("undetermined", 525, ["drive"])
    assert [one["hours"] for one in answer["candidates"]] == [550, 525]
    assert ask(time, 550.01)["state"] == "overdue"


def test_cases_that_come_to_one_point_are_the_answer() -> None:
    time = _by_drive(IN_50_HOURS, {"first_of": [IN_50_HOURS]})
    assert states(ask(time), "hours", "candidates") == ("outstanding", 550, [])


def test_cases_that_exhaust_one_fact_leave_no_third_possibility() -> None:
    geared = {"attribute": "drive", "in": ["geared"]}
    cases = [
        {"when": geared, "then": IN_50_HOURS},
        {"when": {"not": geared}, "then": IN_50_HOURS},
    ]
    assert states(ask({"cases": cases}), "hours") == ("outstanding", 550)


def test_no_case_and_no_else_is_nothing_due() -> None:
    answer = ask(_by_drive(IN_50_HOURS, None), engine={"attributes": {"drive": "x"}})
    assert states(answer, "hours") == ("nothing due", None)


# Parts.


def _on_part(limit: Any, part: dict[str, Any], **more: Any) -> dict[str, Any]:
    whole = {"role": "magneto", "hours": {"new": 700, "overhaul": 200}, **part}
    return ask(limit, 2000.0, engine={"parts": [whole]}, part=0, **more)


@pytest.mark.parametrize(
    ("limit", "part", "hours"),
    [
        ({"hours": 1000, "after": "new"}, {}, 2300),
        ({"hours": 500, "after": "overhaul"}, {"overhauled": {"hours": 500}}, 2300),
        ({"hours": 1000, "after": "overhaul"}, {"overhauled": False}, 2300),
        (IN_50_HOURS, {"fitted": "2025-01-01"}, 550),
        (IN_50_HOURS, {"fitted": "new"}, 550),
        (IN_50_HOURS, {"fitted": "2026-02-01"}, None),
        (IN_50_HOURS, {}, None),
        (IN_50_HOURS, {"built": "2026-01-20", "fitted": "2026-02-01"}, 1350),
    ],
)
def test_new_overhaul_and_the_effective_date_of_a_part(
    limit: Any, part: dict[str, Any], hours: float | None
) -> None:
    if "overhauled" in part and part["overhauled"] is False:
        part = {**part, "hours": {"new": 700}}
    answer = _on_part(limit, part)
    assert answer["hours"] == hours
    assert (answer["state"] == "undetermined") == (hours is None)


def test_a_record_on_another_engine_counts_by_the_hours_of_the_part() -> None:
    done = [{"on": "2026-02-01", "hours": 9000.0, "part_hours": 650.0}]
    part = {"fitted": "2026-03-01"}
    action = {"repeat": AGAIN_100}
    answer = _on_part(IN_50_HOURS, part, action=action, done=done)
    assert answer["hours"] == 2050
    del done[0]["part_hours"]
    unknown = _on_part(IN_50_HOURS, part, action=action, done=done)
    assert states(unknown, "missing") == (
        "undetermined",
        ["hours of the magneto at the record of 1 February 2026"],
    )


def test_of_several_parts_of_a_role_the_earliest_due_governs() -> None:
    limit = {"hours": 500, "after": {"part": "magneto", "since": "new"}}
    parts = [
        {"role": "magneto", "hours": {"new": 100}},
        {"role": "magneto", "hours": {"new": 300}},
    ]
    engine = {"parts": parts, "role_counts": {"magneto": 2}}
    assert states(ask(limit, 1000.0, engine=engine), "hours") == ("outstanding", 1200)
    engine["parts"] = parts[:1]
    assert states(ask(limit, 1000.0, engine=engine), "missing") == (
        "undetermined",
        ["magneto fitted"],
    )


# Estimates, readings, forecasts.

READINGS = (
    Reading(on=date(2026, 1, 1), hours=Hours(50_000)),
    Reading(on=date(2026, 1, 31), hours=Hours(51_501)),
)


def test_hours_between_readings_lie_on_the_line_and_outside_on_none() -> None:
    found = hours_on(READINGS, date(2026, 1, 11))
    assert found is not None
    assert found.hours == 50_000 + Fraction(1501, 3)
    assert (found.lowest, found.highest) == (50_000, 51_501)
    assert hours_on(READINGS, date(2025, 12, 31)) is None
    assert hours_on(READINGS, date(2026, 2, 1)) is None
    read = hours_on(READINGS, date(2026, 1, 31))
    assert read is not None
    assert read.is_read


def _points(**more: Any) -> DuePoint:
    action = parse_action({"initial": {"first_of": [IN_50_HOURS, IN_A_YEAR]}, **more})
    history = History(
        effective_on=date(2026, 1, 11), done=(), events=(), readings=READINGS
    )
    return due_point(action, EngineFacts(), Asked(on=date(2026, 3, 1)), history)


def test_coming_due_is_judged_from_the_earliest_an_estimate_can_be() -> None:
    point = _points()
    assert point.estimated
    assert (point.hours, point.earliest_hours) == (55_500, 55_000)
    lead = Lead(hours=Hours(500))

    def state(hours: int) -> State:
        on = date(2026, 3, 1)
        return state_at(point, on=on, hours=Hours(hours), lead=lead).state

    assert state(54_499) is State.OUTSTANDING
    assert state(54_500) is State.COMING_DUE
    assert state(55_500) is State.COMING_DUE
    assert state(55_501) is State.OVERDUE


@st.composite
def trees_of_hours(draw: st.DrawFn) -> Tree:
    """Trees of points in hours, no two of them alike; some known, some estimated."""
    left = draw(st.permutations(range(1_000, 1_400, 40)))

    def leaf() -> Leaf:
        at = Hours(left.pop())
        kind = draw(st.sampled_from(["exact", "estimated", "unknown"]))
        if kind == "unknown":
            return Leaf(kind=PointKind.UNKNOWN)
        early = Hours(at - draw(st.integers(10, 500))) if kind == "estimated" else None
        return Leaf(
            kind=PointKind.POINT,
            hours=at,
            estimated=early is not None,
            lowest_hours=early,
        )

    def tree(depth: int) -> Tree:
        if depth == 0 or draw(st.booleans()):
            return leaf()
        joined = draw(st.sampled_from(["first_of", "last_of", "one_of"]))
        members = tuple(tree(depth - 1) for _ in range(draw(st.integers(1, 3))))
        return Branch(joined=joined, members=members)

    return tree(2)


def _hours_if(tree: Tree, told: Callable[[Leaf], int]) -> int | None:
    """Return the hours of a tree by hand, if each estimate were what is told of it."""
    if isinstance(tree, Leaf):
        return told(tree) if tree.estimated else tree.hours
    known = [h for one in tree.members if (h := _hours_if(one, told)) is not None]
    if not known:
        return None
    return sorted(known)[-1 if tree.joined == "last_of" else 0]


@given(trees_of_hours())
def test_the_earliest_is_that_of_the_limit_that_decides(tree: Tree) -> None:
    """Of a last_of nothing is due before its last exact member, however early others."""
    point = DuePoint(tree=tree)
    assert point.earliest_hours == _hours_if(tree, lambda x: x.lowest_hours or 0)
    now = _hours_if(tree, lambda x: x.hours or 0)
    later = _hours_if(tree, lambda x: (x.hours or 0) + 1)
    assert point.hours == now
    assert point.estimated is (now != later)


def test_a_last_of_whose_exact_member_decides_is_exact() -> None:
    """600 h or, if that is later, 25 h after a day between two readings."""
    grace = {"hours": 25, "after": "effective"}
    time = {"last_of": [{"hours": 600, "after": "new"}, grace]}
    action = parse_action({"initial": time})
    history = History(
        effective_on=date(2026, 1, 11), done=(), events=(), readings=READINGS
    )
    point = due_point(action, EngineFacts(), Asked(on=date(2026, 3, 1)), history)
    assert (point.hours, point.earliest_hours, point.estimated) == (
        60_000,
        60_000,
        False,
    )
    action = parse_action({"initial": {"first_of": time["last_of"]}})
    point = due_point(action, EngineFacts(), Asked(on=date(2026, 3, 1)), history)
    assert (point.hours, point.earliest_hours, point.estimated) == (
        53_000,
        52_500,
        True,
    )


def test_what_may_be_past_since_the_reading_says_read_the_meter() -> None:
    point = _points()
    rate = Rate(a_day=Fraction(50), low=Fraction(0), high=Fraction(100))

    def seen(on: date) -> Due:
        return state_at(
            point, on=on, hours=Hours(55_000), rate=rate, reading_on=date(2026, 3, 1)
        )

    in_time, past = seen(date(2026, 3, 6)), seen(date(2026, 3, 7))
    assert (in_time.may_be_overdue, past.may_be_overdue) == (False, True)
    assert past.state is State.OUTSTANDING
    assert "read the meter" in past.sentence
    assert past.forecast is not None
    assert past.forecast.on == date(2026, 3, 11)
    assert past.forecast.earliest == date(2026, 3, 6)
    assert past.forecast.latest == date(2027, 1, 11)


def test_no_meter_is_to_be_read_where_no_flight_is_left() -> None:
    """With flying since the last reading it would be overdue; it is due now already."""
    action = parse_action({"initial": {"event": "further flight"}})
    on = date(2026, 3, 1)
    history = History(
        effective_on=on, effective_hours=Hours(55_000), done=(), events=()
    )
    facts = EngineFacts(hours=HoursKept(new=Hours(55_000)))
    point = due_point(action, facts, Asked(on=on), history)
    seen = state_at(
        point,
        on=on + timedelta(days=90),
        hours=Hours(55_000),
        rate=Rate(a_day=Fraction(50), low=Fraction(0), high=Fraction(100)),
        reading_on=on,
    )
    assert (seen.further_flight, seen.may_be_overdue) == (True, False)
    assert "read the meter" not in seen.sentence


def test_utilisation_is_hardly_moved_by_one_wrong_reading() -> None:
    steady = [
        Reading(on=DAY + timedelta(days=10 * n), hours=Hours(500 * n))
        for n in range(20)
    ]
    wrong = replace(steady[7], hours=Hours(9000))
    on = DAY + timedelta(days=200)
    for readings in (steady, [*steady[:7], wrong, *steady[8:]]):
        rate = utilisation(readings, on)
        assert rate is not None
        assert rate.a_day == 50
        assert rate.low <= rate.a_day <= rate.high
    assert utilisation(steady[:1], on) is None
    assert utilisation(steady, on + timedelta(days=900)) is None


# Laws.

LIMITS_FROM_EFFECTIVE: st.SearchStrategy[Any] = (
    st.fixed_dictionaries(
        {
            "hours": st.integers(min_value=1, max_value=9000).map(lambda n: n / 100),
            "after": st.just("effective"),
        }
    )
    | st.fixed_dictionaries(
        {
            "months": st.integers(min_value=1, max_value=13),
            "after": st.just("effective"),
            "calendar": st.booleans(),
        }
    )
    | st.fixed_dictionaries(
        {"days": st.integers(min_value=1, max_value=300), "after": st.just("effective")}
    )
    | st.fixed_dictionaries({"date": days(0, 300)})
)
TREES_FROM_EFFECTIVE: st.SearchStrategy[Any] = st.recursive(
    LIMITS_FROM_EFFECTIVE,
    lambda times: st.builds(
        lambda joined, members: {joined: members},
        st.sampled_from(["first_of", "last_of"]),
        st.lists(times, min_size=1, max_size=3),
    ),
    max_leaves=6,
)


@given(time=TREES_FROM_EFFECTIVE, run=HOURS, on=days(15, 400))
def test_overdue_agrees_with_the_oracle(
    time: dict[str, Any], run: float, on: str
) -> None:
    hours = round(500.0 + run % 90, 2)
    expected = is_overdue(
        time,
        effective=(date(2026, 1, 15), 500.0),
        now=(date.fromisoformat(on), hours),
    )
    answer = ask(time, hours, on=on)
    assert answer["state"] == ("overdue" if expected else "outstanding")


@given(time=TREES_FROM_EFFECTIVE, more=LIMITS_FROM_EFFECTIVE, on=days(15, 400))
def test_a_limit_added_to_a_first_of_never_makes_it_later(
    time: dict[str, Any], more: dict[str, Any], on: str
) -> None:
    fewer = ask({"first_of": [time]}, 540.0, on=on)
    added = ask({"first_of": [time, more]}, 540.0, on=on)
    for key in ("hours", "date"):
        if fewer[key] is not None:
            assert added[key] <= fewer[key]
    if fewer["state"] == "overdue":
        assert added["state"] == "overdue"


@given(hours=st.integers(min_value=1, max_value=100_000))
def test_exactly_at_the_limit_is_in_time_and_a_hundredth_more_is_not(
    hours: int,
) -> None:
    limit = {"hours": hours / 100, "after": "effective"}
    at = Fraction(50_000 + hours, 100)
    assert ask(limit, float(at))["state"] == "outstanding"
    assert ask(limit, float(at + Fraction(1, 100)))["state"] == "overdue"


def _answer(question: dict[str, Any]) -> Due | None:
    """Return the due result with everything the JSON leaves out, None if refused."""
    try:
        due_from_json(question)
    except RuleError:
        return None
    facts = EngineFacts()
    hours = question["engine"].get("hours", {}).get("new")
    if hours is not None:
        facts = replace(facts, hours=HoursKept(new=Hours(round(hours * 100))))
    effective = question.get("effective", {})
    on = effective.get("on")
    history = History(
        effective_on=UNKNOWN if on is None else date.fromisoformat(on),
        done=(),
        events=tuple(
            Event(name=one["event"], on=date.fromisoformat(one["on"]))
            for one in question.get("events", [])
        ),
    )
    action = parse_action(question["action"])
    asked = Asked(on=date.fromisoformat(question["on"]))
    return due(action, facts, asked, history)


@given(question=QUESTIONS)
@settings(max_examples=150)
def test_a_point_is_read_back_from_json_as_it_was(question: dict[str, Any]) -> None:
    answer = _answer(question)
    if answer is not None:
        stored = json.loads(json.dumps(answer.point.to_json()))
        assert DuePoint.from_json(stored) == answer.point


@given(question=QUESTIONS)
@settings(max_examples=150)
def test_where_the_columns_decide_they_say_the_same_as_the_tree(
    question: dict[str, Any],
) -> None:
    answer = _answer(question)
    if answer is None or not answer.point.flat or answer.hours_now is None:
        return
    point, flight = answer.point, answer.point.further_flight_hours
    past = (
        (point.overdue_hours is not None and answer.hours_now > point.overdue_hours)
        or (point.overdue_date is not None and answer.asked_on > point.overdue_date)
        or (flight is not None and answer.hours_now > flight)
    )
    assert (answer.state is State.OVERDUE) == past


def _forget(question: dict[str, Any], what: str) -> dict[str, Any]:
    less = deepcopy(question)
    match what:
        case "done" | "events":
            less.pop(what, None)
        case "hours" | "built" | "attributes":
            less["engine"].pop(what, None)
        case "history":
            less["engine"].pop("embodied", None)
            less["engine"]["history_reviewed"] = False
        case _:
            for record in less.get("done", []):
                record.pop(what, None)
    return less


@example(
    question={
        "action": {
            "when": {"result": ["pitted"]},
            "initial": {"date": "2026-01-01"},
            "ends_with": [{"embodied": "SB-1"}],
        },
        "engine": {"embodied": ["SB-1"]},
        "on": "2026-01-01",
        "done": [],
    },
    what="history",
)
@example(
    question={
        "action": {
            "initial": IN_50_HOURS,
            "repeat": {"hours": 50, "after": {"event": "overhaul"}},
            "until": {"date": "2024-12-31"},
        },
        "engine": {},
        "on": "2026-01-01",
        "done": [{"on": "2026-01-01"}],
        "events": [],
    },
    what="events",
)
@example(
    question={
        "action": {
            "initial": IN_50_HOURS,
            "repeat": {"months": 1, "after": "overhaul"},
            "until": {"date": "2026-01-01"},
        },
        "engine": {"built": "2023-04-07"},
        "on": "2026-01-02",
        "done": [{"on": "2026-01-01"}],
        "events": [],
    },
    what="events",
)
@given(
    question=QUESTIONS,
    what=st.sampled_from(
        [
            "done",
            "events",
            "hours",
            "built",
            "attributes",
            "history",
            "result",
            "number",
        ]
    ),
)
@settings(max_examples=400)
def test_learning_a_fact_never_turns_a_settled_state(
    question: dict[str, Any], what: str
) -> None:
    question.pop("readings", None)  # an estimate gives way to what is learned
    question = {"effective": {"on": "2026-01-15", "hours": 500.0}, **question}
    less = _forget(question, what)
    try:
        before, after = due_from_json(less), due_from_json(question)
    except RuleError:
        return
    if before["state"] == "undetermined":
        return
    if "further flight" in _listed(before["event"]):
        # Open either way: without hours nobody can say that a flight was made.
        assert after["state"] in ("outstanding", "overdue")
    elif before["state"] == "does not apply":
        # What has ended a rule is named first, also where the rule does not apply.
        assert after["state"] in ("does not apply", "terminated")
    else:
        assert before["state"] == after["state"]


def _listed(event: Any) -> list[str]:
    return event if isinstance(event, list) else [event]


def test_every_kind_of_point_is_reached() -> None:
    kinds = {
        leaf.kind
        for initial in (
            IN_50_HOURS,
            {"event": "overhaul"},
            {"event": "further flight"},
            {"hours": 1, "after": {"event": "overhaul"}},
            _by_drive(IN_50_HOURS, None),
            UNPLACED,
        )
        for leaf in leaves(_tree_of(initial))
    }
    assert kinds == set(PointKind)


def _tree_of(initial: Any) -> Any:
    action = parse_action({"initial": initial})
    history = History(
        effective_on=date(2026, 1, 15),
        effective_hours=Hours(50_000),
        done=(),
        events=(),
    )
    facts = EngineFacts(overhauls=(), attributes={"drive": "direct"})
    return due_point(action, facts, Asked(on=date(2026, 6, 1)), history).tree

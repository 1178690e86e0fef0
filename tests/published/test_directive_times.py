"""Compliance times of eight published directives, entered as rules of our own.

Each rule says its directive and citation. Federal Register pages are named where they
are known; the older texts were read in public copies that do not give them. Effective
dates marked "example" are inputs to the cases where the copy read gives none.
"""

from __future__ import annotations

from typing import Any

import pytest

from notices.rules.due_json import due_from_json

OPEN = ("outstanding", "coming due", "overdue")

# AD 51-24-01, exhaust valve seats. Citation of the printed text not seen.
PEEN_SEATS = {
    "initial": {"first_of": [{"date": "1952-06-01"}, {"event": "next overhaul"}]}
}
# AD 74-26-09, amendment 39-2050, magneto drive shaft bushing.
BUSHING = {
    "initial": {
        "first_of": [
            {"hours": 200, "after": "effective"},
            {"days": 90, "after": "effective"},
        ]
    },
    "credit": True,
}
# AD 80-17-14, amendment 39-3886, effective 21 August 1980, magneto housings.
HOUSING = {"initial": {"hours": 50, "after": "effective"}, "credit": True}
# AD 80-25-02R2, amendment 39-4016, effective 13 January 1981, pushrods.
PUSHRODS = {
    "when": {
        "not": {
            "part": {
                "role": "pushrod",
                "count": "every",
                "where": {"change": {"from": "K"}},
            }
        }
    },
    "initial": {"event": "further flight"},
}
# AD 82-13-01, amendment 39-4405, distributor blocks; about each magneto.
BLOCK_BAND = {
    "under 1000": {"since": "new", "under": 1000, "at": "effective"},
    "1000 to 1900": {"since": "new", "from": 1000, "under": 1900, "at": "effective"},
    "1900 or more": {"since": "new", "from": 1900, "at": "effective"},
}
GRIPPER = {"this": {"attribute": "distributor block", "in": ["Gripper Bushing"]}}
INSPECT_BLOCK = {
    "initial": {
        "cases": [
            {
                "when": {"this": {"hours": BLOCK_BAND["under 1000"]}},
                "then": {"hours": 25, "after": "effective"},
            },
            {
                "when": {"this": {"hours": BLOCK_BAND["1000 to 1900"]}},
                "then": {"hours": 100, "after": "effective"},
            },
        ]
    },
    "repeat": {
        "cases": [
            {
                "when": {"this": {"hours": BLOCK_BAND["under 1000"]}},
                "then": {"hours": 25, "after": "last done"},
            }
        ]
    },
    "ends_with": [GRIPPER],
}
REPLACE_BLOCK = {
    "initial": {
        "cases": [
            {
                "when": {"this": {"hours": BLOCK_BAND["1900 or more"]}},
                "then": {"hours": 100, "after": "effective"},
            },
        ]
    },
    "ends_with": [GRIPPER],
}
# The same inspection, with what its result orders in the repeat.
INSPECT_AND_ACT = {
    **INSPECT_BLOCK,
    "repeat": {
        "cases": [
            {
                "when": {"result": ["loose bushing"]},
                "then": {"event": "further flight", "after": "last done"},
            },
            *INSPECT_BLOCK["repeat"]["cases"],
        ]
    },
}
# AD 93-11-03, amendment 39-8600, docket 93-ANE-32, effective 13 July 1993.
CONNECTING_RODS = {
    "when": {"hours": {"since": "new", "under": 100, "at": "effective"}},
    "initial": {"event": "further flight"},
    "credit": True,
}
# AD 2004-10-14, 69 FR 29210, 21 May 2004, corrected at 69 FR 36007, 28 June 2004.
CRANKSHAFT_GEAR = {
    "initial": {
        "event": "further flight",
        "after": {"event": "propeller strike", "after": "effective"},
    },
    "repeat": {
        "event": "further flight",
        "after": {"event": "propeller strike", "after": "last done"},
    },
}
# AD 2010-18-02, 75 FR 52240, 25 August 2010, amendment 39-16415; about each clutch.
LISTED = "Is the serial listed in TM TAE 125-0021 or TM TAE 125-1011 P1?"
REPLACE_CLUTCH = {
    "when": {"this": {"ask": LISTED}},
    "initial": {
        "cases": [
            {
                "when": {
                    "this": {"hours": {"since": "new", "from": 100, "at": "effective"}}
                },
                "then": {"event": "further flight"},
            },
            {"else": {"hours": 100, "after": "new"}},
        ]
    },
}
IDENTIFY_CLUTCH = {"initial": {"event": "further flight"}}


def answer(action: dict[str, Any], on: str, hours: float | None, **more: Any) -> Any:
    engine = {
        "hours": {"new": hours},
        "history_reviewed": True,
        **more.pop("engine", {}),
    }
    known = {"done": [], "events": [], **more}
    return due_from_json({"action": action, "engine": engine, "on": on, **known})


def strikes(*days: str) -> list[dict[str, str]]:
    return [{"event": "propeller strike", "on": day} for day in days]


def overhauls(*days: str) -> list[dict[str, str]]:
    return [{"event": "overhaul", "on": day} for day in days]


@pytest.mark.parametrize(
    ("on", "events", "due", "state", "event"),
    [
        ("1952-03-01", [], "1952-06-01", "outstanding", "next overhaul"),
        ("1952-04-10", ["1952-04-10"], "1952-04-10", "outstanding", None),
        ("1952-06-01", [], "1952-06-01", "outstanding", "next overhaul"),
        ("1952-06-02", [], "1952-06-01", "overdue", "next overhaul"),
        ("1952-03-01", ["1952-09-01"], "1952-06-01", "outstanding", "next overhaul"),
    ],
)
def test_51_24_01_fixed_date_or_next_overhaul(
    on: str, events: list[str], due: str, state: str, event: str | None
) -> None:
    found = answer(PEEN_SEATS, on, 800.0, events=overhauls(*events))
    assert (found["date"], found["state"], found["event"]) == (due, state, event)
    assert found["which"] == "first"


def test_51_24_01_peened_and_stamped_is_finished() -> None:
    found = answer(PEEN_SEATS, "1952-07-01", 800.0, done=[{"on": "1952-02-15"}])
    assert (found["state"], found["date"]) == ("complied with", None)


EXAMPLE = {"on": "1975-01-15", "hours": 1000}


@pytest.mark.parametrize(
    ("on", "hours", "state"),
    [
        ("1975-02-01", 1050, "outstanding"),
        ("1975-03-01", 1201, "overdue"),
        ("1975-04-16", 1010, "overdue"),
        ("1975-04-15", 1200, "outstanding"),
    ],
)
def test_74_26_09_two_hundred_hours_or_ninety_days(
    on: str, hours: float, state: str
) -> None:
    found = answer(BUSHING, on, hours, effective=EXAMPLE)
    assert found["state"] == state
    assert (found["hours"], found["date"]) == (1200, "1975-04-15")
    assert found["which"] == "first"


@pytest.mark.parametrize("done", ["1974-11-20", "1975-03-01"])
def test_74_26_09_done_before_or_after_is_finished(done: str) -> None:
    found = answer(BUSHING, "1975-06-01", 1300, effective=EXAMPLE, done=[{"on": done}])
    assert found["state"] == "complied with"


HOUSING_DATE = {"on": "1980-08-21", "hours": 800}


@pytest.mark.parametrize(
    ("hours", "state"),
    [(820, "outstanding"), (850, "outstanding"), (851, "overdue")],
)
def test_80_17_14_fifty_hours(hours: float, state: str) -> None:
    found = answer(HOUSING, "1981-01-01", hours, effective=HOUSING_DATE)
    assert (found["hours"], found["date"], found["state"]) == (850, None, state)


@pytest.mark.parametrize("done", [780, 840])
def test_80_17_14_done_before_or_in_time_is_finished(done: float) -> None:
    found = answer(
        HOUSING, "1981-01-01", 900, effective=HOUSING_DATE, done=[{"hours": done}]
    )
    assert found["state"] == "complied with"


def test_80_17_14_without_hours_at_the_effective_date() -> None:
    effective = {"on": "1980-08-21", "hours": None}
    found = answer(HOUSING, "1981-01-01", 900, effective=effective)
    assert (found["hours"], found["state"]) == (None, "undetermined")
    assert found["missing"] == ["hours at the effective date"]


PUSHROD_DATE = {"on": "1981-01-13"}
OLD_RODS = {
    "parts": [{"role": "pushrod", "number": "73806", "change": "J"}] * 8,
    "role_counts": {"pushrod": 8},
    "roles_reviewed": ["pushrod"],
}
NEW_RODS = {
    **OLD_RODS,
    "parts": [{"role": "pushrod", "number": "73806", "change": "K"}] * 8,
}


@pytest.mark.parametrize("on", ["1981-01-14", "1981-06-01"])
def test_80_25_02_before_further_flight_however_long_it_stands(on: str) -> None:
    found = answer(PUSHRODS, on, 900, effective=PUSHROD_DATE, engine=OLD_RODS)
    assert (found["event"], found["state"]) == ("further flight", "outstanding")
    assert (found["hours"], found["date"]) == (None, None)
    assert found["remaining_hours"] == 0


def test_80_25_02_the_initial_inspection_is_done() -> None:
    found = answer(
        PUSHRODS,
        "1981-01-20",
        900,
        effective=PUSHROD_DATE,
        engine=OLD_RODS,
        done=[{"on": "1981-01-15"}],
    )
    assert (found["state"], found["event"]) == ("complied with", None)


def test_80_25_02_later_pushrods_take_the_engine_out() -> None:
    found = answer(PUSHRODS, "1981-01-20", 900, effective=PUSHROD_DATE, engine=NEW_RODS)
    assert found["state"] == "does not apply"


def magneto(
    action: dict[str, Any], at_effective: int, now: int, **more: Any
) -> dict[str, Any]:
    """Ask about a magneto that has been on its engine, 500 h older, since 1980."""
    attributes = more.pop("attributes", {"distributor block": "green"})
    part = {
        "role": "magneto",
        "fitted": "1980-01-01",
        "hours": {"new": now},
        "attributes": attributes,
    }
    found: dict[str, Any] = answer(
        action,
        "1983-01-01",
        now + 500,
        effective={"on": "1982-06-15", "hours": at_effective + 500},
        engine={"parts": [part], "roles_reviewed": ["magneto"]},
        part=0,
        **more,
    )
    return found


@pytest.mark.parametrize(
    ("action", "at_effective", "now", "due"),
    [
        (INSPECT_BLOCK, 400, 410, 425),
        (INSPECT_BLOCK, 999, 1000, 1024),
        (INSPECT_BLOCK, 1000, 1010, 1100),
        (INSPECT_BLOCK, 1899, 1900, 1999),
        (REPLACE_BLOCK, 1900, 1910, 2000),
    ],
)
def test_82_13_01_bands_of_magneto_hours(
    action: dict[str, Any], at_effective: int, now: int, due: int
) -> None:
    found = magneto(action, at_effective, now)
    assert found["hours"] == due + 500
    assert found["state"] == "outstanding"
    other = REPLACE_BLOCK if action is INSPECT_BLOCK else INSPECT_BLOCK
    assert magneto(other, at_effective, now)["state"] == "nothing due"


def test_82_13_01_again_after_twenty_five_hours() -> None:
    found = magneto(INSPECT_BLOCK, 400, 430, done=[{"hours": 920}])
    assert found["hours"] == 945


def test_82_13_01_no_repeat_from_a_thousand_hours_on() -> None:
    found = magneto(INSPECT_BLOCK, 1000, 1110, done=[{"hours": 1590}])
    assert (found["state"], found["hours"]) == ("nothing due", None)


def test_82_13_01_the_new_block_ends_the_inspections() -> None:
    fitted = {"distributor block": "Gripper Bushing"}
    found = magneto(INSPECT_BLOCK, 400, 480, attributes=fitted)
    assert found["state"] == "terminated"


def test_82_13_01_a_loose_bushing_is_replaced_before_further_flight() -> None:
    done = [{"hours": 921, "result": "loose bushing"}]
    found = magneto(INSPECT_AND_ACT, 400, 421, done=done)
    assert (found["event"], found["state"]) == ("further flight", "outstanding")


@pytest.mark.parametrize(
    ("at_effective", "done", "state", "event"),
    [
        (50, [], "outstanding", "further flight"),
        (99, [], "outstanding", "further flight"),
        (50, [{"on": "1993-06-20"}], "complied with", None),
        (50, [{"on": "1993-07-20"}], "complied with", None),
        # Paragraph (a) is for engines under 100 hours.
        (100, [], "does not apply", None),
    ],
)
def test_93_11_03_under_a_hundred_hours(
    at_effective: float, done: list[dict[str, str]], state: str, event: str | None
) -> None:
    effective = {"on": "1993-07-13", "hours": at_effective}
    found = answer(
        CONNECTING_RODS, "1993-09-01", at_effective, effective=effective, done=done
    )
    assert (found["state"], found["event"]) == (state, event)
    assert (found["hours"], found["date"]) == (None, None)


@pytest.mark.parametrize(
    ("on", "strike_days", "done", "state", "event"),
    [
        ("2005-01-01", [], [], "nothing due", "propeller strike"),
        ("2005-01-01", ["2004-06-24"], [], "nothing due", "propeller strike"),
        ("2004-07-10", ["2004-07-10"], [], "outstanding", "further flight"),
        (
            "2004-08-01",
            ["2004-07-10"],
            ["2004-07-20"],
            "nothing due",
            "propeller strike",
        ),
        (
            "2006-03-01",
            ["2004-07-10", "2006-03-01"],
            ["2004-07-20"],
            "outstanding",
            "further flight",
        ),
    ],
)
def test_2004_10_14_after_each_propeller_strike(
    on: str, strike_days: list[str], done: list[str], state: str, event: str
) -> None:
    found = answer(
        CRANKSHAFT_GEAR,
        on,
        1200.0,
        effective={"on": "2004-06-25"},
        events=strikes(*strike_days),
        done=[{"on": day} for day in done],
    )
    assert (found["state"], found["event"]) == (state, event)
    assert (found["hours"], found["date"]) == (None, None)


def clutch(
    action: dict[str, Any], at_effective: int, now: int, listed: bool | None
) -> Any:
    part = {
        "role": "clutch",
        "fitted": "2010-01-01",
        "hours": {"new": now},
        "answers": {} if listed is None else {LISTED: listed},
    }
    return answer(
        action,
        "2010-10-01",
        now + 300,
        effective={"on": "2010-09-09", "hours": at_effective + 300},
        engine={"parts": [part]},
        part=0,
    )


@pytest.mark.parametrize("hours", [150, 100])
def test_2010_18_02_a_hundred_hours_or_more_before_further_flight(hours: int) -> None:
    found = clutch(REPLACE_CLUTCH, hours, hours, listed=True)
    assert (found["event"], found["state"]) == ("further flight", "outstanding")
    assert found["hours"] is None


@pytest.mark.parametrize(
    ("at_effective", "now", "state"),
    [(99, 99, "outstanding"), (20, 60, "outstanding"), (20, 101, "overdue")],
)
def test_2010_18_02_under_a_hundred_hours_before_reaching_them(
    at_effective: int, now: int, state: str
) -> None:
    found = clutch(REPLACE_CLUTCH, at_effective, now, listed=True)
    assert (found["hours"], found["state"], found["event"]) == (400, state, None)


def test_2010_18_02_a_serial_not_listed_stays() -> None:
    assert clutch(REPLACE_CLUTCH, 150, 160, listed=False)["state"] == "does not apply"


def test_2010_18_02_the_serial_is_looked_up_before_further_flight() -> None:
    found = clutch(IDENTIFY_CLUTCH, 150, 150, listed=None)
    assert (found["event"], found["state"]) == ("further flight", "outstanding")
    replacing = clutch(REPLACE_CLUTCH, 150, 150, listed=None)
    assert (replacing["state"], replacing["event"]) == (
        "undetermined",
        "further flight",
    )
    assert LISTED in replacing["missing"][0]

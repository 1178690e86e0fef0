"""Due points and states of actions of every form in the core: microseconds of CPU.

Run as `python -m tests.bench.bench_due`. The engine has two years of readings, six
parts and a year of records; the same action is asked of it again and again, as a
nightly run asks it of a fleet. CPU time is what counts: it does not drift with load.
"""

# ruff: noqa: T201 - a benchmark prints its figures

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from datetime import date, timedelta
from fractions import Fraction
from typing import Any

from notices.rules.compliance_time import (
    Done,
    DuePoint,
    Event,
    History,
    Lead,
    Rate,
    Reading,
    due_point,
    parse_action,
    state_at,
)
from notices.rules.facts import Asked, EngineFacts, Hours
from notices.rules.facts_json import engine_from_json

ON = date(2026, 5, 1)
EFFECTIVE = date(2025, 1, 15)
ROUNDS = 400
TARGET_POINT_US, TARGET_STATE_US = 200.0, 50.0

GEARED = {"attribute": "drive", "in": ["geared"]}
TWO_OF_A_KIND = {
    "first_of": [
        {"hours": 50, "after": "effective"},
        {"months": 12, "after": "effective", "calendar": True},
    ]
}
ACTIONS: dict[str, dict[str, Any]] = {
    "one-time": {"initial": {"hours": 50, "after": "effective"}},
    "first of": {"initial": TWO_OF_A_KIND, "ends_with": ["SB-24-099"]},
    "with a condition": {
        "when": {"all": [GEARED, {"hours": {"since": "new", "over": 100}}]},
        "initial": TWO_OF_A_KIND,
        "ends_with": [{"embodied": "SB-24-050"}],
    },
    "repeat": {
        "initial": TWO_OF_A_KIND,
        "repeat": {"hours": 100, "after": "last done"},
        "restart": "planned",
        "tolerance": {"hours": 10, "days": 30},
        "counts": ["annual inspection"],
    },
    "cases": {
        "initial": {
            "cases": [
                {
                    "when": {"hours": {"since": "new", "over": 2000}},
                    "then": {"event": "further flight"},
                },
                {"when": GEARED, "then": {"hours": 25, "after": "effective"}},
                {"else": {"date": "2027-06-30"}},
            ]
        }
    },
    "nested": {
        "initial": {
            "last_of": [
                {"hours": 500, "after": "new"},
                {
                    "first_of": [
                        {"hours": 50, "after": {"event": "propeller strike"}},
                        {"months": 6, "after": "overhaul"},
                        {"hours": 900, "after": {"part": "magneto", "since": "new"}},
                    ]
                },
            ]
        },
        "repeat": {
            "first_of": [
                {"hours": 500, "after": "last done"},
                {"months": 48, "after": "last done"},
            ]
        },
        "until": {"hours": 4000, "after": "new"},
    },
}


def engine() -> EngineFacts:
    """An engine of which most is known."""
    roles = ["fuel pump", "magneto", "magneto", "governor", "starter", "transmitter"]
    parts = [
        {
            "role": role,
            "number": f"P-{8800 + at}",
            "serial": f"A-{17 + at}",
            "built": "2018-01-09",
            "fitted": "2020-02-01",
            "hours": {"new": 1300.0 - at, "fitted": 900.0},
        }
        for at, role in enumerate(roles)
    ]
    return engine_from_json(
        {
            "type": "MX-4",
            "serial": "4001",
            "built": "2014-05-01",
            "hours": {"new": 1512.3, "overhaul": 412.3},
            "overhauled": {"on": "2021-04-03", "hours": 1100.0, "by": "maker"},
            "embodied": [f"SB-24-{number:03}" for number in range(1, 12)],
            "history_reviewed": True,
            "attributes": {"drive": "geared"},
            "parts": parts,
            "roles_reviewed": ["fuel pump", "magneto"],
        }
    )


def history(*, done: bool) -> History:
    """Two years of weekly readings, two annual inspections, four records or none."""
    first = date(2024, 5, 1)
    records = [
        Done(
            on=EFFECTIVE + timedelta(days=100 * n),
            hours=Hours(140_000 + 9_800 * n),
            number="SB-24-031",
            result="clean",
        )
        for n in range(1, 5)
    ]
    return History(
        effective_on=EFFECTIVE,
        done=tuple(records) if done else (),
        events=(
            Event(name="annual inspection", on=date(2025, 5, 3), hours=Hours(146_000)),
            Event(name="propeller strike", on=date(2025, 8, 9), hours=Hours(147_000)),
        ),
        readings=tuple(
            Reading(on=first + timedelta(days=7 * n), hours=Hours(120_000 + 300 * n))
            for n in range(104)
        ),
    )


def cpu_us(work: Callable[[], object]) -> float:
    """Return the median CPU time of one call, of ten rounds, in microseconds."""
    work()
    rounds = []
    for _ in range(10):
        started = time.process_time()
        for _ in range(ROUNDS // 10):
            work()
        rounds.append((time.process_time() - started) * 1e6 / (ROUNDS // 10))
    return statistics.median(rounds)


def state(point: DuePoint) -> object:
    """Ask one point as the due list does."""
    return state_at(
        point,
        on=ON,
        hours=Hours(151_230),
        lead=Lead(hours=Hours(1000), days=30),
        rate=Rate(a_day=Fraction(43), low=Fraction(20), high=Fraction(60)),
        reading_on=date(2026, 4, 22),
    )


def main() -> None:
    """Measure and print."""
    facts = engine()
    asked = Asked(on=ON, effective_on=EFFECTIVE)
    points, states = [], []
    print(f"{'action':<20}{'records':>8}{'due_point us':>14}{'state_at us':>13}")
    for name, raw in ACTIONS.items():
        action = parse_action(raw)
        for done in (False, True):
            past = history(done=done)
            point = due_point(action, facts, asked, past)
            points.append(
                cpu_us(
                    lambda action=action, past=past: due_point(
                        action, facts, asked, past
                    )
                )
            )
            states.append(cpu_us(lambda point=point: state(point)))
            records = len(past.done) if isinstance(past.done, tuple) else 0
            print(f"{name:<20}{records:>8}{points[-1]:>14.0f}{states[-1]:>13.1f}")
    print(
        f"median: due_point {statistics.median(points):.0f} us (target "
        f"{TARGET_POINT_US:.0f}), state_at {statistics.median(states):.1f} us (target "
        f"{TARGET_STATE_US:.0f})"
    )


if __name__ == "__main__":
    main()

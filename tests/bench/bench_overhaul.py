"""One engine against 20 provisions about its overhaul interval: microseconds.

Run as `python -m tests.bench.bench_overhaul`. A base, 16 extensions of which some hold,
some are within reach by one to four things to do and some never, and 3 restrictions.
"""

# ruff: noqa: T201 - a benchmark prints its figures

from __future__ import annotations

import statistics
import time
from collections import Counter
from datetime import date
from typing import Any

from notices.rules.compliance_time import History
from notices.rules.facts import Asked
from notices.rules.facts_json import engine_from_json
from notices.rules.overhaul import overhaul_at, overhaul_point, parse_interval

TODAY = date(2026, 5, 1)
ROUNDS = 300
ENGINE = engine_from_json(
    {
        "type": "MX-4",
        "serial": "4001",
        "built": "2019-05-12",
        "hours": {"new": 1250.3},
        "overhauled": False,
        "operation": "private",
        "history_reviewed": True,
        "embodied": ["SB-0", "SB-4"],
        "leaded_share": 0.3,
        "parts": [{"role": "fuel pump", "number": "P-770", "serial": "A-17"}],
        "roles_reviewed": ["fuel pump"],
    }
)


def condition(number: int) -> dict[str, Any]:
    """What an extension asks for: a type, and something different in each of four."""
    pump = {"part": {"role": "fuel pump", "where": {"number": ["P-880*"]}}}
    asked: list[dict[str, Any]] = [
        {"embodied": f"SB-{number}"},
        {"any": [{"serial": ["4500.."]}, {"complied": f"SB-{number}"}]},
        {"all": [{"embodied": f"SB-{number}"}, pump, {"complied": "SB-9"}]},
        {"serial": [f"{5000 + number}.."]},
    ]
    return {"all": [{"type": ["MX-4*"]}, asked[number % 4]]}


def provisions() -> list[dict[str, Any]]:
    """Twenty of them."""
    base = {"id": "base", "kind": "base", "hours": 1500, "years": 12, "since": "new"}
    extensions = [
        {
            "id": f"extension {number}",
            "kind": "extension",
            "hours": 1600 + 50 * number,
            "since": "new",
            "when": condition(number),
            "enter_by": {"hours": 1500},
        }
        for number in range(16)
    ]
    restrictions = [
        {
            "id": f"restriction {share}",
            "kind": "restriction",
            "hours": 1400,
            "since": "overhaul",
            "when": {"leaded_share": {"over": share}},
        }
        for share in (0.25, 0.5, 0.75)
    ]
    return [base, *extensions, *restrictions]


def main() -> None:
    """Measure and print."""
    intervals = [parse_interval(raw) for raw in provisions()]
    asked, history = Asked(on=TODAY), History()
    points, states = [], []
    for _ in range(ROUNDS):
        started = time.process_time()
        point = overhaul_point(intervals, ENGINE, asked, history)
        points.append((time.process_time() - started) * 1e6)
        started = time.process_time()
        overhaul_at(point, on=TODAY, hours=ENGINE.axis_now)
        states.append((time.process_time() - started) * 1e6)
    print(f"one engine, {len(intervals)} provisions, CPU microseconds:")
    for name, taken in (("interval and offers", points), ("state on a day", states)):
        best, median = min(taken), statistics.median(taken)
        print(f"  {name}: best {best:.0f}, median {median:.0f}")
    print(f"  offers: {dict(Counter(one.holding.value for one in point.offers))}")


if __name__ == "__main__":
    main()

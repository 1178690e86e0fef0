"""One engine against 2,000 conditions in the core: milliseconds, best and median.

Run as `python -m tests.bench.bench_evaluate`. Conditions have 2 to 8 tests, up to four
deep, and are compiled once; one in ten facts of the engine is unknown. All random
choices are seeded, so that two runs measure the same work.
"""

# ruff: noqa: T201 - a benchmark prints its figures

from __future__ import annotations

import random
import statistics
import time
from collections import Counter
from datetime import date, timedelta
from typing import Any

from notices.rules.conditions import parse_condition
from notices.rules.evaluate import compile_condition, evaluate, prepare
from notices.rules.facts import Asked, EngineFacts
from notices.rules.facts_json import engine_from_json

CONDITIONS = 2000
TARGET_MS = 20.0
UNKNOWN_SHARE = 0.1

TYPES = [f"MX-{n}" for n in range(2, 10)]
ROLES = ["fuel pump", "magneto", "governor", "transmitter"]
ATTRIBUTES = ["drive", "plate", "cooling", "gearbox"]
ASKED = Asked(on=date(2026, 5, 1))


def day(source: random.Random) -> str:
    """A day of ten years."""
    return (date(2014, 1, 1) + timedelta(days=source.randrange(3650))).isoformat()


def part_leaf(source: random.Random) -> dict[str, Any]:
    """A test of one part."""
    low = source.randrange(900)
    return source.choice(
        [
            {"number": [f"P-{source.randrange(80, 90)}*"]},
            {"serial": [f"A-{low}..A-{low + 100}"]},
            {"hours": {"since": "new", "over": source.randrange(1000)}},
        ]
    )


def leaf(source: random.Random) -> dict[str, Any]:
    """A test of the engine."""
    low = source.randrange(9000)
    part = {"role": source.choice(ROLES), "where": part_leaf(source)}
    return source.choice(
        [
            {"type": source.sample(TYPES, 2)},
            {"serial": [f"{low}..{low + 900}", f"{low + 2000}.."]},
            {"built": {"from": day(source)}},
            {"embodied": f"SB-{source.randrange(400)}"},
            {"hours": {"since": "new", "over": source.randrange(2000)}},
            {"hours": {"since": "overhaul", "under": source.randrange(2000)}},
            {"attribute": source.choice(ATTRIBUTES), "in": ["a", "b"]},
            {"part": part},
        ]
    )


def condition(source: random.Random, tests: int, depth: int) -> dict[str, Any]:
    """A tree with so many tests, at most so deep."""
    if tests == 1 or depth == 1:
        found = leaf(source)
        return {"not": found} if source.random() < 0.1 else found
    pieces = min(tests, source.randint(2, 4))
    sizes = [tests // pieces + (i < tests % pieces) for i in range(pieces)]
    members = [condition(source, size, depth - 1) for size in sizes]
    return {source.choice(["all", "any"]): members}


def engine(source: random.Random) -> EngineFacts:
    """An engine of which one in ten facts is not known."""

    def known(value: Any) -> Any:
        return None if source.random() < UNKNOWN_SHARE else value

    parts = [
        {
            "role": role,
            "number": known(f"P-{source.randrange(800, 900)}"),
            "serial": known(f"A-{source.randrange(1000)}"),
            "hours": {"new": known(source.randrange(1000))},
        }
        for role in (*ROLES, "magneto")
    ]
    new = source.randrange(600, 2000)
    return engine_from_json(
        {
            "type": known(source.choice(TYPES)),
            "serial": known(str(source.randrange(10000))),
            "built": known(day(source)),
            "hours": {"new": known(new), "overhaul": known(new - 500)},
            "embodied": [f"SB-{n}" for n in range(0, 400, 30)],
            "history_reviewed": source.random() >= UNKNOWN_SHARE,
            "attributes": {name: known(source.choice("abc")) for name in ATTRIBUTES},
            "parts": parts,
            "roles_reviewed": [r for r in ROLES if source.random() >= UNKNOWN_SHARE],
        }
    )


def main() -> None:
    """Measure and print."""
    source = random.Random(7)  # noqa: S311 - nothing secret
    rules = [
        compile_condition(parse_condition(condition(source, source.randint(2, 8), 4)))
        for _ in range(CONDITIONS)
    ]
    outcomes: Counter[str] = Counter()
    wall, cpu = [], []
    engines = [engine(source) for _ in range(30)]
    for facts in engines:
        started, started_cpu = time.perf_counter(), time.process_time()
        subject = prepare(facts, ASKED)
        found = [rule.outcome_of(subject) for rule in rules]
        wall.append((time.perf_counter() - started) * 1000)
        cpu.append((time.process_time() - started_cpu) * 1000)
        outcomes.update(outcome.value for outcome in found)
    print(f"one engine, {CONDITIONS} conditions, outcomes only:")
    print(f"  best {min(wall):.1f} ms, median {statistics.median(wall):.1f} ms")
    print(
        f"  CPU median {statistics.median(cpu):.1f}, worst {max(cpu):.1f} ms; target {TARGET_MS:.0f} ms"
    )
    print(f"  outcomes: {dict(outcomes)}")
    started = time.perf_counter()
    for rule in rules[:200]:
        evaluate(rule, engines[0], ASKED)
    each = (time.perf_counter() - started) / 200 * 1_000_000
    print(f"with reasons and missing facts: {each:.0f} us a condition")


if __name__ == "__main__":
    main()

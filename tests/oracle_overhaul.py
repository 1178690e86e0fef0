"""The overhaul interval worked out the slow and obvious way, from its JSON.

The engine is run hour by hour and month by month. At each step every provision is asked
whether it still lets the engine run; the limit is the last step at which they do. Nothing
here takes a least or a greatest of anything. Conditions are not read: each provision is
given as holding (True), not holding (False) or not known (None).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

Held = tuple[dict[str, Any], bool | None]
"""A provision in JSON, and whether it holds."""

# Farther than any interval of `tests/overhauls.py` reaches.
LAST_HOUR = 100
LAST_MONTH = 180


@dataclass(frozen=True)
class Marks:
    """When the engine was new and when it was last overhauled, in hours and months."""

    new: int
    overhaul: int


@dataclass(frozen=True)
class Run:
    """What one kind of limit comes to; None where it does not limit the engine at all.

    `last`: the last step inside the interval. `lawful`: the last step not past the law.
    """

    last: int | None
    lawful: int | None


def run(held: Sequence[Held], key: str, marks: Marks, *, use: str) -> Run:
    """Run the engine along hours (`key` "hours") or months (`key` "years")."""
    step = 12 if key == "years" else 1
    most = LAST_MONTH if key == "years" else LAST_HOUR
    stated = [(p, holds) for p, holds in held if key in p]

    def lets(p: dict[str, Any], now: int) -> bool:
        since = marks.overhaul if p["since"] == "overhaul" else marks.new
        return now - since <= p[key] * step

    def counts(p: dict[str, Any], holds: bool | None) -> bool:
        if p["kind"] == "restriction":
            return holds is not False  # not known: it counts
        return holds is True  # an extension that is not known does not

    counted = [p for p, holds in stated if counts(p, holds)]
    granting = [p for p in counted if p["kind"] != "restriction"]
    limiting = [p for p in counted if p["kind"] == "restriction"]

    def inside(now: int) -> bool:
        granted = not granting or any(lets(p, now) for p in granting)
        return granted and all(lets(p, now) for p in limiting)

    def outlasts(one: dict[str, Any], other: dict[str, Any]) -> bool:
        return any(lets(one, now) and not lets(other, now) for now in range(most))

    # What is granted is law if the base is, or a grant that no other outlasts.
    bases = [p for p in granting if p["kind"] == "base"]
    longest = [p for p in granting if not any(outlasts(q, p) for q in granting)]
    granted_by_law = any(is_law(p, use) for p in (*bases, *longest))

    def lawful(now: int) -> bool:
        if any(is_law(p, use) and not lets(p, now) for p in limiting):
            return False
        return not granted_by_law or any(lets(p, now) for p in granting)

    return Run(
        last=_last(inside, most) if counted else None,
        lawful=_last(lawful, most) if counted else None,
    )


def is_law(p: dict[str, Any], use: str) -> bool:
    """Say whether a provision is law in this use."""
    binding = p.get("binding", [])
    return binding is True or use in [named.lower() for named in binding]


def _last(good: Callable[[int], bool], most: int) -> int | None:
    """Walk until it is no longer good; None where that never comes."""
    for now in range(most):
        if not good(now):
            return now - 1
    return None

"""What a serial number that is not known, or not complete, can be."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from notices.rules.applicability.cases import (
    UNNAMED,
    GroupTests,
    Space,
)
from notices.rules.applicability.nodes import (
    Leaf,
    SerialIn,
)
from notices.rules.applicability.subjects import Subject
from notices.rules.facts import Unknown
from notices.rules.serials import (
    Run,
    Serial,
    bounds_at,
    fits_pattern,
    number_at,
    number_inside,
    runs_with_number,
)

NO_SERIAL: Final = Serial("", (UNNAMED,))


def serial_space(tests: GroupTests, subject: Subject) -> Space:
    if isinstance(subject.serial, Unknown):
        words, serials = "serial number", _possible_serials(tests.leaves, subject)
    else:
        words = _words(subject.serial, subject.serial_pattern)
        serials = _serials_meant(tests.leaves, subject.serial, subject)
    return tests.space(
        subject.of_it(words),
        ({"serial": s, "serial_pattern": None} for s in (*serials, NO_SERIAL)),
    )


def _words(recorded: Serial, pattern: str | None) -> str:
    """Return what is missing: of a serial of the type's own shape, what a rule means."""
    if pattern is None:
        return f"complete serial number (recorded as {recorded.stamped})"
    if fits_pattern(recorded, pattern):
        return f"whether the document means serial number {recorded.stamped}"
    return f"serial number of this type (recorded as {recorded.stamped})"


def _possible_serials(leaves: Sequence[Leaf], subject: Subject) -> list[Serial]:
    """Return serials that tell all ranges apart, for a serial that is not known."""
    ends: dict[tuple[int, tuple[Run, ...]], set[int]] = {}
    suffixes: dict[tuple[int, tuple[Run, ...]], set[str | None]] = {}
    for leaf in leaves:
        assert isinstance(leaf, SerialIn)
        for span in leaf.ranges:
            at = number_at(span, subject.serial_run)
            shape = (at, runs_with_number(span, at, 0))
            numbers = ends.setdefault(shape, {0})
            suffixes.setdefault(shape, set()).add(span.suffix)
            low, high = bounds_at(span, at) if at >= 0 else (None, None)
            numbers.update(() if low is None else (low,))
            numbers.update(() if high is None else (high + 1,))
    serials = []
    for (at, runs), numbers in ends.items():
        for number in sorted(numbers):
            full = (*runs[:at], number, *runs[at + 1 :]) if at >= 0 else runs
            serials.append(Serial("", full))
            if len(suffixes[at, runs]) > 1:
                further: Run = UNNAMED if isinstance(full[-1], int) else 0
                serials.append(Serial("", (*full, further)))
    return serials


def _serials_meant(
    leaves: Sequence[Leaf], recorded: Serial, subject: Subject
) -> list[Serial]:
    """Return what a serial of another shape can mean: the ranges' own serials.

    One that is none of its type can mean any.
    """
    pattern = subject.serial_pattern
    if pattern is not None and not fits_pattern(recorded, pattern):
        return _possible_serials(leaves, subject)
    serials = []
    for leaf in leaves:
        assert isinstance(leaf, SerialIn)
        for span in leaf.ranges:
            at = number_at(span, subject.serial_run)
            numbers = [
                run
                for run in recorded.runs
                if isinstance(run, int) and at >= 0 and number_inside(span, at, run)
            ]
            serials += [
                Serial("", runs_with_number(span, at, number))
                for number in (numbers if at >= 0 else [0])
            ]
    return serials

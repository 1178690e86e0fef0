"""A printed status of 10, 60 and 240 items, and of 40 engines: seconds and kilobytes.

Run as `python -m tests.bench.bench_print`. The first print of a process, fonts and
template read with it, stands apart from the later ones; the target is 60 items in under
1 s, the first print included. CPU time does not drift with load.
"""

# ruff: noqa: T201 - a benchmark prints its figures

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace

from tests.tracker.print.sheets import MADE_AT, item, printed, sheet
from tracker.print.pdf import Paper, pdf_of
from tracker.print.sheet import Item, Printed

TARGET_S = 1.0
SUBJECTS = (
    "Inspect the fuel pump drive for wear",
    "Replace the diaphragm",
    "Check the valve guides and the oil feed of every cylinder, renew the seals",
)


def items(count: int, mark: str) -> Sequence[Item]:
    """Return items that differ, so that nothing laid out before serves again."""
    return [
        item(f"AD {mark}-{number}", subject=SUBJECTS[number % 3], part="")
        for number in range(count)
    ]


def document(count: int, mark: str) -> Printed:
    return printed(sheet(*items(count, mark)))


def fleet(engines: int) -> Printed:
    """Return as many engines as a school has, with 20 items each."""
    several = [
        replace(sheet(*items(20, f"F{number}")), title=f"Status of engine {number}")
        for number in range(engines)
    ]
    return printed(*several)


def measure(what: str, made: Printed) -> float:
    started, cpu = time.perf_counter(), time.process_time()
    content = pdf_of(made, paper=Paper.A4, made_at=MADE_AT)
    wall, spent = time.perf_counter() - started, time.process_time() - cpu
    size = len(content) // 1024
    print(f"{what:<32}{wall:>8.2f} s{spent:>8.2f} s CPU{size:>8} kB")
    return spent


def main() -> None:
    first = measure("60 items, the first print", document(60, "A"))
    for count in (10, 60, 240):
        measure(f"{count} items", document(count, f"B{count}"))
    measure("40 engines of 20 items", fleet(40))
    print(f"target for 60 items: {TARGET_S:.0f} s; it took {first:.2f} s of CPU")


if __name__ == "__main__":
    main()

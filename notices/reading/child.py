"""Reads one PDF from standard input in a process of its own, under hard limits.

Run as `python -m notices.reading.child`; prints one JSON object. Whoever starts it
takes any other end (a signal, no output) as "could not be read".
"""

from __future__ import annotations

import json
import resource
import sys
from typing import Final

from notices.reading.pages import read_pages

ADDRESS_SPACE_BYTES: Final = 1_000_000_000
CPU_SECONDS: Final = 20
LARGEST_FILE_BYTES: Final = 25_000_000


def _limit_this_process() -> None:
    for which, at_most in (
        (resource.RLIMIT_AS, ADDRESS_SPACE_BYTES),
        (resource.RLIMIT_CPU, CPU_SECONDS),
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_FSIZE, 0),
    ):
        resource.setrlimit(which, (at_most, at_most))


def main() -> None:
    _limit_this_process()
    pages = read_pages(sys.stdin.buffer.read(LARGEST_FILE_BYTES))
    json.dump(
        {
            "outcome": pages.outcome.value,
            "count": pages.count,
            "texts": pages.texts,
            "notes": pages.notes,
        },
        sys.stdout,
    )


if __name__ == "__main__":
    main()

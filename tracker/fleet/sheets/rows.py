"""One row of a sheet as text, and what is said of a file that holds none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from tracker.fleet.errors import Refused

MOST_ROWS: Final = 50_000


class SheetRefused(Refused):
    """A file that cannot be read as a sheet at all."""

    def __init__(self, message: str) -> None:
        super().__init__("file", message)


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row with something in it. `line`: as a spreadsheet program counts, from 1."""

    line: int
    cells: tuple[str, ...]

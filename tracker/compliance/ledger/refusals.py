"""Why an entry is not taken into the ledger."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tracker.compliance.models import Record
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine

if TYPE_CHECKING:
    from tracker.compliance.ledger.entries import Entry


class RecordRefused(Refused):
    """An entry that cannot be right. `field`: the field of `Entry` it is about.

    `engine` and `entry`: whose ledger it was meant for, and which one, where several
    were given.
    """

    engine: Engine | None = None
    entry: Entry | None = None


class BeyondReading(RecordRefused):
    """The hours of an entry lie beyond the last reading of the engine."""


class Taken(RecordRefused):
    """Somebody has recorded the same thing already; `first` is their record."""

    def __init__(self, first: Record) -> None:
        moment = f"{first.recorded_at:%Y-%m-%d %H:%M} UTC"
        super().__init__(
            "on",
            f"This is recorded already: entry {first.sequence} by "
            f"{first.recorded_by.name}, {moment}. If that entry is wrong, void it first.",
        )
        self.first = first

"""What is said when something cannot be entered: where, what, what to do."""

from __future__ import annotations

from uuid import UUID


class Refused(ValueError):  # noqa: N818  # said so in every sentence of the house
    """One entry that cannot be taken. `field`: the name of the entry, "" for all."""

    def __init__(self, field: str, message: str) -> None:
        self.field = field
        super().__init__(message)


class ChangedMeanwhile(Refused):
    """Somebody else has changed the engine since the form was opened."""


class Doubtful(Refused):
    """It can be, but is so unlikely that a person must confirm it first."""


class KnownPart(Refused):
    """A part that is entered as new is entered already. `part`: its public id."""

    def __init__(self, field: str, message: str, part: UUID) -> None:
        super().__init__(field, message)
        self.part = part

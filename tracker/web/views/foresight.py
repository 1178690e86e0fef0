"""What a form's act would cause, shown before it is kept."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from typing import TypeVar

from django.http import HttpRequest

from tracker.compliance.causes import Caused
from tracker.compliance.rehearsing import rehearsing

Done = TypeVar("Done")
ASK, SEEN = "look_ahead", "foreseen"
"""Names in what is sent: of the button that asks, and of the digest of what was shown."""


class Foresight(Enum):
    """When a page shows what its act would cause."""

    NONE = "never"
    ON_ASKING = "by a button of its own"
    FIRST = "also by itself, where that gives pause"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """What an act would cause. `doubt`: a sentence that puts the entry in question."""

    caused: Caused
    doubt: str

    @property
    def digest(self) -> str:
        """The same for as long as the same would be shown."""
        said = f"{self.doubt}\n{self.caused.digest}"
        return hashlib.sha256(said.encode()).hexdigest()


def looked_ahead(
    request: HttpRequest,
    foresight: Foresight,
    doubt: str,
    act: Callable[[datetime], Done],
    at: datetime,
) -> tuple[Done, Ahead | None]:
    """Carry out the act, or return what it would cause in place of keeping it.

    It is shown where it was asked for, and where it gives pause and has not been shown
    as it is now. One transaction: what was looked at is exactly what is kept.
    """
    asked = foresight is not Foresight.NONE and ASK in request.POST
    if not (asked or doubt or foresight is Foresight.FIRST):
        return act(at), None
    with rehearsing() as rehearsal:
        done = act(at)
        ahead = Ahead(caused=rehearsal.caused, doubt=doubt)
        pauses = doubt or (foresight is Foresight.FIRST and ahead.caused.gives_pause)
        if asked or (pauses and request.POST.get(SEEN) != ahead.digest):
            return done, ahead
        rehearsal.keep()
        return done, None

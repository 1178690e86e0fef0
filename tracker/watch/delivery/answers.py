"""What comes of one try to send a message, and what a way of sending can do."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from tracker.watch.models import Message


class Outcome(StrEnum):
    """What a try ended with; the value stands in the row of the try."""

    SENT = "sent"
    LATER = "later"
    """Not now, for a reason that lies with this message or its recipient."""
    REFUSED = "refused"
    """Never to this recipient: the address does not take it."""
    OURS = "ours"
    """Not at present, for a reason of ours or of the line: the message is not judged."""
    UNSURE = "unsure"
    """All was said and no answer came: perhaps it was taken."""
    BROKEN = "broken"
    """It cannot be sent as it stands, now or ever."""


@dataclass(frozen=True, slots=True)
class Answer:
    """The outcome of a try, with the code and words of the other end if it gave any.

    `reached`: whether it heard anything of this message, and may have judged by it.
    """

    outcome: Outcome
    code: int | None = None
    reply: str = ""
    reached: bool = True


class Transport(Protocol):
    """One way of sending messages of a channel. It changes no message."""

    def send(self, message: Message) -> Answer:
        """Try once, with no transaction open; ValueError where it cannot be built."""

    def accepted(self, message: Message) -> bool | None:
        """Say whether an earlier try was taken; None where nobody can be asked."""

    def close(self) -> None:
        """Give back what was held open for a batch."""

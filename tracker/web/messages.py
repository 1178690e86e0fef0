"""What is said of a message on its page: how it stands, and what is to be done."""

from __future__ import annotations

from typing import Final

from tracker.watch.delivery.answers import Outcome
from tracker.watch.models import MessageState

STANDS: Final = {
    MessageState.WAITING: "It waits to be sent.",
    MessageState.SENDING: "It is being sent now.",
    MessageState.UNSURE: "It was perhaps sent: the line broke before the answer came.",
    MessageState.SENT: "It was sent.",
    MessageState.FAILED: "It was refused and has not arrived.",
    MessageState.PARKED: "It was put aside and has not arrived.",
    MessageState.HELD: "It is held back and has not been sent.",
}
NEXT: Final = {
    MessageState.UNSURE: "It is tried again by itself, under the same number, so that a "
    "mail program shows it once.",
    MessageState.FAILED: "See to the address of the recipient, then send it again.",
    MessageState.PARKED: "See to what stopped it, then send it again.",
    MessageState.HELD: "Read it, and release it if it may go.",
}
ENDED: Final = {
    Outcome.SENT: "taken",
    Outcome.LATER: "not taken now",
    Outcome.REFUSED: "refused",
    Outcome.OURS: "not reached",
    Outcome.UNSURE: "no answer",
    Outcome.BROKEN: "cannot be sent",
}
"""What a try ended with, in words."""

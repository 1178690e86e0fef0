"""The words of a state, their order and the names of their shapes."""

from enum import Enum
from typing import Final

from notices.rules.intervals.wording import PAST_RECOMMENDED

MAY_BE_OVERDUE: Final = "may be overdue"
"""By the age of the reading alone: it stands among the overdue, with their shape."""

BY_URGENCY: Final = (
    "before further flight",
    "overdue",
    MAY_BE_OVERDUE,
    "coming due",
    "undetermined",
    "outstanding",
    "complied with",
    "terminated",
    "nothing due",
    "does not apply",
)
OUTCOMES: Final = (
    "applies",
    PAST_RECOMMENDED,
    "holds",
    "within reach",
    "does not hold",
    "suited",
    "suited, see note",
    "not suited",
)
RECORDED: Final = "recorded"
"""Not a state: a point of the past that is drawn as a small solid square."""


def word_of(state: object) -> str:
    """The word of a state given as text or as a member of an enumeration.

    Raises ValueError for a word without a shape: a status is never drawn by guess.
    """
    word = str(state.value if isinstance(state, Enum) else state)
    if word not in BY_URGENCY and word not in OUTCOMES:
        known = ", ".join(BY_URGENCY + OUTCOMES)
        raise ValueError(f'"{word}" is not a state. The states are: {known}.')
    return word


def slug_of(state: object) -> str:
    """The state as it stands in a class name and in the id of its symbol."""
    word = word_of(state)
    if word == MAY_BE_OVERDUE:
        return "overdue"
    return word.replace(",", "").replace(" ", "-")


def most_urgent(states: list[str]) -> str:
    """The one that stands first in a list; states without urgency come last."""
    return min(
        states,
        key=lambda word: BY_URGENCY.index(word) if word in BY_URGENCY else 99,
    )


def is_past(state: str) -> bool:
    """Whether the state carries the weight of a limit that has been passed."""
    return state in ("before further flight", "overdue", MAY_BE_OVERDUE)

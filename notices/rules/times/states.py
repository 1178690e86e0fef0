"""The states of an action, and in which order a list shows them."""

from __future__ import annotations

from enum import Enum


class State(Enum):
    """The state of one action, in the words shown to users."""

    DOES_NOT_APPLY = "does not apply"
    NOTHING_DUE = "nothing due"
    OUTSTANDING = "outstanding"
    COMING_DUE = "coming due"
    OVERDUE = "overdue"
    COMPLIED_WITH = "complied with"
    TERMINATED = "terminated"
    UNDETERMINED = "undetermined"

    def __bool__(self) -> bool:
        raise TypeError("A state is neither true nor false; compare it.")


URGENCY = (
    State.OVERDUE,
    State.UNDETERMINED,
    State.COMING_DUE,
    State.OUTSTANDING,
    State.NOTHING_DUE,
    State.COMPLIED_WITH,
    State.TERMINATED,
    State.DOES_NOT_APPLY,
)


def urgency(
    state: State, *, further_flight: bool = False, may_be_overdue: bool = False
) -> int:
    """Return where a state stands in a list, 0 on top.

    Before further flight stands above everything, overdue or not; what may be overdue
    stands with the overdue.
    """
    if further_flight and state in (
        State.OUTSTANDING,
        State.COMING_DUE,
        State.OVERDUE,
        State.UNDETERMINED,
    ):
        return 0
    return 1 if may_be_overdue else 1 + URGENCY.index(state)

"""The state of an action on a day, and everything that is shown with it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import Literal

from notices.rules.due_points import DuePoint, Late
from notices.rules.facts import Hours
from notices.rules.points import Tree


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """When the point will be reached as the engine is run. None: not as it is run.

    `earliest` by the upper, `latest` by the lower end of the utilisation.
    """

    on: date | None
    earliest: date | None
    latest: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """An action's state on a day, with its point.

    `hours`, `on`: last hour (TSN) and day in time; None where closed or not known.
    `remaining_hours`, `remaining_days`: negative once past; 0 h before further flight.
    `if_it_applies`: the state there would be, where undetermined by an open question.
    `forecast`: None is "no basis", or past. `reading_on`: how old the hours are.
    """

    state: State
    point: DuePoint
    asked_on: date
    hours: Hours | None = None
    on: date | None = None
    events: tuple[str, ...] = ()
    which: Literal["first", "last"] | None = None
    limits: Tree | None = None
    hours_now: Hours | None = None
    reading_on: date | None = None
    meter: str | None = None
    remaining_hours: Hours | None = None
    remaining_days: int | None = None
    late: Late | None = None
    forecast: Forecast | None = None
    estimated: bool = False
    candidates: tuple[Tree, ...] = ()
    missing: tuple[str, ...] = ()
    may_be_overdue: bool = False
    further_flight: bool = False
    if_it_applies: State | None = None
    sentence: str = ""

    @property
    def urgency(self) -> int:
        """Where it stands in a list, 0 on top."""
        return urgency(
            self.state,
            further_flight=self.further_flight,
            may_be_overdue=self.may_be_overdue,
        )

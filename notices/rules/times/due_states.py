"""The state of an action on a day, and everything that is shown with it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from notices.rules.facts import Hours
from notices.rules.times.due_points import DuePoint, Late
from notices.rules.times.points import Tree
from notices.rules.times.states import State, urgency
from notices.rules.times.wording import due_sentence


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
    `inside_tolerance`: past its limit, and not overdue only because that is allowed.
    `forecast`: None is "no basis", or past. `reading_on`: how old the hours are.
    `own_sentence`: what to say where no compliance time stands behind the state.
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
    inside_tolerance: bool = False
    further_flight: bool = False
    if_it_applies: State | None = None
    own_sentence: str = ""

    @property
    def sentence(self) -> str:
        """What explains it, worked out when asked for."""
        said = self.own_sentence or due_sentence(self)
        return f"{said} {self.point.approval}".rstrip()

    @property
    def left(self) -> tuple[Hours | None, int | None]:
        """What is left in hours and in days by the limits that still decide.

        Of two limits of which the later counts, one that has passed decides nothing
        while the other is ahead: it is left out, as nothing is past by it.
        """
        hours, days = self.remaining_hours, self.remaining_days
        if self.which == "last" and hours is not None and days is not None:
            if hours < 0 <= days:
                return None, days
            if days < 0 <= hours:
                return hours, None
        return hours, days

    @property
    def urgency(self) -> int:
        """Where it stands in a list, 0 on top."""
        return urgency(
            self.state,
            further_flight=self.further_flight,
            may_be_overdue=self.may_be_overdue,
        )

"""When an action is due for one engine: the face of everything about compliance times.

`parse_action` reads a stored action; `due_point` gives what changes only with facts,
`state_at` what that means on a day, `due` both at once.
"""

from __future__ import annotations

from datetime import date

from notices.rules.facts import Asked, EngineFacts, Unknown
from notices.rules.times.actions import (
    Action,
    OtherTimes,
    action_schema,
    parse_action,
    parse_other_times,
)
from notices.rules.times.day_states import Brief, brief_at, state_at
from notices.rules.times.due_points import DuePoint, Late
from notices.rules.times.due_states import Due, Forecast
from notices.rules.times.history import Done, Event, History, Rate, Reading, utilisation
from notices.rules.times.limits import parse_time, time_schema, time_to_json
from notices.rules.times.outlooks import due_point
from notices.rules.times.points import Branch
from notices.rules.times.standing import Lead
from notices.rules.times.states import State, urgency
from notices.rules.times.wording import beside_words, tree_words

__all__ = [
    "Action",
    "Branch",
    "Brief",
    "Done",
    "Due",
    "DuePoint",
    "Event",
    "Forecast",
    "History",
    "Late",
    "Lead",
    "OtherTimes",
    "Rate",
    "Reading",
    "State",
    "action_schema",
    "beside_words",
    "brief_at",
    "due",
    "due_point",
    "parse_action",
    "parse_other_times",
    "parse_time",
    "state_at",
    "time_schema",
    "time_to_json",
    "tree_words",
    "urgency",
    "utilisation",
]


def due(
    action: Action,
    facts: EngineFacts,
    asked: Asked,
    history: History,
    *,
    lead: Lead | None = None,
    en_route: bool = False,
    rate: Rate | None = None,
    reading_on: date | None = None,
    meter: str | None = None,
) -> Due:
    """Return the due point of an action and its state on `asked.on`, which must be known.

    The hours are those that the engine's axis shows in `facts`.
    """
    if isinstance(asked.on, Unknown):
        raise ValueError("A state needs the day it is asked for.")
    return state_at(
        due_point(action, facts, asked, history),
        on=asked.on,
        hours=facts.axis_now,
        lead=lead,
        en_route=en_route,
        rate=rate,
        reading_on=reading_on,
        meter=meter,
    )

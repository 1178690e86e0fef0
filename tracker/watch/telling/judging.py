"""What becomes of an event when its owner's turn comes: told, kept for later, or over.

What is told is how things stand now, so an event is asked whether its matter still
stands. `Finding.noted` says whether the station still counts a finding as coming due.
"""

from __future__ import annotations

from enum import Enum
from typing import Final

from notices.rules.compliance_time import State
from tracker.compliance.due import DueRow
from tracker.compliance.models import Closed, Event, EventKind
from tracker.compliance.states import FURTHER_FLIGHT, WORDS
from tracker.fleet.models import Preference
from tracker.fleet.models import State as ServiceState

PRESSING: Final = (FURTHER_FLIGHT, State.OVERDUE.value)
_COMING: Final = State.COMING_DUE.value
_NOTED_AS_COMING: Final = WORDS.index(_COMING) + 1
_OVER: Final = (Closed.COMPLIED, Closed.TERMINATED, Closed.NOT_ADOPTED)


class Verdict(Enum):
    """What becomes of an event now."""

    TELL = "told, and done with"
    NEWS = "told as new, and kept until it comes due for the owner"
    WAIT = "kept until it comes due for the owner"
    DROP = "over, or not wanted"


def is_unwanted(event: Event, preference: Preference) -> bool:
    """Whether the owner has left it out; what is mandatory nobody can leave out."""
    if event.mandatory:
        return False
    return not preference.optional or event.kind in preference.without


def verdict_on(event: Event, row: DueRow | None, *, told: bool) -> Verdict:
    """Judge an event by how its matter stands. `told`: as new, on a day before.

    `row`: its finding by the owner's own lead, None where there is none any more. The
    event is read with its engine and standing.
    """
    engine = event.engine
    standing = getattr(engine, "standing", None)
    match EventKind(event.kind):
        case EventKind.ENDED:
            holds = row is None
        case EventKind.SUPERSEDED:
            holds = row is not None
        case EventKind.LONGER:
            interval = None if standing is None else standing.longer_interval
            holds = interval == event.said["word"]
        case EventKind.READING:
            same = engine.read_on is not None and (
                engine.read_on.isoformat() == event.said["on"]
            )
            holds = same and engine.state == ServiceState.IN_SERVICE
        case _:
            return _of_finding(event, row, told=told)
    return Verdict.TELL if holds else Verdict.DROP


def _of_finding(event: Event, row: DueRow | None, *, told: bool) -> Verdict:
    if row is None or row.finding.closed in _OVER:
        return Verdict.DROP
    is_news = bool(event.said.get("is_new")) and not told
    if row.word in _STILL.get(event.kind, ()):
        return Verdict.TELL
    is_coming = row.finding.noted == _NOTED_AS_COMING
    if event.kind == EventKind.COMING and is_coming:
        return Verdict.NEWS if is_news else Verdict.WAIT
    return Verdict.TELL if is_news else Verdict.DROP


_STILL: Final = {
    EventKind.OVERDUE.value: PRESSING,
    EventKind.COMING.value: (*PRESSING, _COMING),
    EventKind.FACT.value: (State.UNDETERMINED.value,),
    EventKind.APPLIES.value: (*WORDS, State.NOTHING_DUE.value),
}
"""The states in which an event of a kind still says what is so."""

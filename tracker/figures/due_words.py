"""State and due point in the few words of a table, for page and print alike."""

from __future__ import annotations

from typing import Final

from notices.rules.compliance_time import (
    Branch,
    Due,
    State,
    beside_words,
    tree_words,
)
from tracker.compliance.states import FURTHER_FLIGHT, counted_as
from tracker.figures.wording import NO_BREAK, day, due_hours

NOT_KNOWN: Final = "not known"
INSIDE: Final = "inside tolerance"
"""Said in place of "coming due" once the limit itself has been passed."""

MAY_BE: Final = "may be overdue"
_NOT_PAST: Final = (State.COMING_DUE.value, State.OUTSTANDING.value)


def state_words(due: Due, word: str) -> str:
    """Return the state as a list says it, with what is not sure about it.

    A limit that was passed is not coming; hours that may be past since the last reading
    are not said to be; what may not apply at all is not said to ground an aircraft.
    """
    if due.inside_tolerance and word in _NOT_PAST:
        return INSIDE
    if word == State.OVERDUE.value and due.may_be_overdue:
        return MAY_BE
    return counted_as(word, may_apply=due.point.undetermined)


def point_words(due: Due, word: str, *, stands: bool = False) -> tuple[str, str]:
    """Return when something is due, and what is to be said beside it in second voice.

    That is the earliest that an estimate may be, a second limit, and of a limit of
    which one half is not known that half; where first and last are mixed, all of it.
    """
    if stands:
        return "always", ""
    if word == FURTHER_FLIGHT:
        return "now", ""
    said = [] if due.hours is None else [_hours_words(due, due.hours)]
    said += [] if due.on is None else [day(due.on)]
    said += [f"at {event}" for event in due.events]
    if not said:
        return NOT_KNOWN, ""
    if due.limits is None:
        return said[0], _other_limits(due, said[1:])
    if due.which is None and isinstance(due.limits, Branch):
        return said[0], tree_words(due.limits)
    first = f"{_earliest(due)} {_other_limits(due, said[1:])}".strip()
    beside = beside_words(due.limits)
    return said[0], ", ".join(words for words in (first, beside) if words)


def doubt_words(due: Due) -> str:
    """Return that the hours may be past by now, empty where they are not.

    Before further flight it is due now, whatever the hours are.
    """
    if not due.may_be_overdue or due.further_flight:
        return ""
    read = "" if due.reading_on is None else f", last read on {day(due.reading_on)}"
    return f"May be overdue: read the meter{read}"


def _other_limits(due: Due, said: list[str]) -> str:
    """Return the points beside the first; those of one event go together."""
    joint = "or" if due.which == "first" else "and"
    return " ".join(f"{joint} {one}".replace(" ", NO_BREAK) for one in said)


def _hours_words(due: Due, hours: int) -> str:
    return f"about {due_hours(hours)}" if due.estimated else due_hours(hours)


def _earliest(due: Due) -> str:
    """Return the earliest that the hours may be by an estimate, empty without one."""
    earliest = due.point.earliest_hours
    if due.hours is None or earliest is None or earliest >= due.hours:
        return ""
    return f"(earliest {due_hours(earliest)})".replace(" ", NO_BREAK)

"""How a tree of points stands at one moment: past, coming, ahead, or not known.

Reaching a limit exactly is still in time. A first_of is past once any member is, a
last_of once all are; what is not known is never taken for not past.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import Final

from notices.rules.facts import UNKNOWN, Hours, Unknown
from notices.rules.times.points import Allowance, Leaf, PointKind, Tree


class Standing(Enum):
    """Where a point lies, seen from one moment."""

    PAST = "past"
    COMING = "coming"
    AHEAD = "ahead"
    UNKNOWN = "not known"
    NOTHING = "nothing due"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lead:
    """How long before its point something is coming due. None: never by that kind."""

    hours: Hours | None = None
    days: int | None = None


NO_ALLOWANCE: Final = Allowance()
NO_LEAD: Final = Lead()
_FIRST: Final = (Standing.PAST, Standing.UNKNOWN, Standing.COMING, Standing.AHEAD)
_LAST: Final = (Standing.NOTHING, Standing.UNKNOWN, Standing.AHEAD, Standing.COMING)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A day and hours, with what is allowed past a limit and what counts as coming."""

    on: date | Unknown = UNKNOWN
    hours: Hours | Unknown = UNKNOWN
    allowance: Allowance = NO_ALLOWANCE
    lead: Lead = NO_LEAD


def standing(tree: Tree, moment: Moment) -> Standing:
    """Return how the tree stands at the moment."""
    if isinstance(tree, Leaf):
        return _of_leaf(tree, moment)
    members = [standing(member, moment) for member in tree.members]
    match tree.joined:
        case "first_of":
            return _first(members)
        case "last_of":
            return _last(members)
        case "one_of":
            certain = all(member is Standing.PAST for member in members)
            return Standing.PAST if certain else Standing.UNKNOWN


def _first(members: Sequence[Standing]) -> Standing:
    for one in _FIRST:
        if one in members:
            return one
    return Standing.NOTHING


def _last(members: Sequence[Standing]) -> Standing:
    for one in _LAST:
        if one in members:
            return one
    return Standing.PAST


def _of_leaf(leaf: Leaf, moment: Moment) -> Standing:
    match leaf.kind:
        case PointKind.WAITING | PointKind.NOTHING_DUE:
            return Standing.NOTHING
        case PointKind.UNKNOWN:
            return Standing.UNKNOWN
        case PointKind.EVENT_AHEAD:
            return Standing.AHEAD
        case PointKind.FURTHER_FLIGHT:
            return _of_further_flight(leaf, moment)
        case PointKind.POINT:
            by_hours, by_date = _by_hours(leaf, moment), _by_date(leaf, moment)
            if by_hours is None:
                return Standing.NOTHING if by_date is None else by_date
            return by_hours if by_date is None else _first((by_hours, by_date))


def _of_further_flight(leaf: Leaf, moment: Moment) -> Standing:
    # Also without hours it is open and stands above everything, so it is not unknown.
    if leaf.from_hours is None or isinstance(moment.hours, Unknown):
        return Standing.AHEAD
    return Standing.PAST if moment.hours > leaf.from_hours else Standing.AHEAD


def _by_hours(leaf: Leaf, moment: Moment) -> Standing | None:
    if leaf.hours is None:
        return None
    last, earliest = moment.allowance.hours_of(leaf), leaf.earliest_hours
    if last is None or earliest is None:
        return None
    if isinstance(moment.hours, Unknown):
        return Standing.UNKNOWN
    if moment.hours > last:
        return Standing.PAST
    lead = moment.lead.hours
    is_coming = lead is not None and earliest - moment.hours <= lead
    return Standing.COMING if is_coming else Standing.AHEAD


def _by_date(leaf: Leaf, moment: Moment) -> Standing | None:
    if leaf.on is None:
        return None
    last = moment.allowance.day_of(leaf)
    assert last is not None
    if isinstance(moment.on, Unknown):
        return Standing.UNKNOWN
    if moment.on > last:
        return Standing.PAST
    lead = moment.lead.days
    is_coming = lead is not None and (leaf.on - moment.on).days <= lead
    return Standing.COMING if is_coming else Standing.AHEAD

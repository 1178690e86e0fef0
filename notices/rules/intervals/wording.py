"""An overhaul interval, and how an engine stands to it, as plain English sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from notices.rules.facts import Hours, Unknown
from notices.rules.intervals.falling import MONTHS_IN_A_YEAR
from notices.rules.intervals.provisions import Interval
from notices.rules.intervals.results import OverhaulPoint
from notices.rules.phrases import (
    counted,
    date_words,
    due_hours_words,
    interval_words,
    listed,
    used_hours_words,
)
from notices.rules.times.limits import HoursLimit, MonthsLimit
from notices.rules.times.points import Leaf
from notices.rules.times.situations import Place
from notices.rules.times.states import State
from notices.rules.times.wording import (
    IN_TIME,
    as_sentences,
    leaf_words,
    remaining_words,
    tree_words,
)

if TYPE_CHECKING:
    from notices.rules.intervals.states import OverhaulDue

PAST_RECOMMENDED: Final = "past the recommended interval"
PAST_IN_DOUBT: Final = "past the interval, not known whether past the law"


def entry_words(one: Interval, leaf: Leaf, place: Place) -> str:
    """Return what an engine is told that is past the bound for entering an extension."""
    limit = leaf.limit
    if isinstance(limit, HoursLimit) and not isinstance(place.hours, Unknown):
        said = (
            f"The engine has run {_run_words(limit, leaf, place.hours)}; {one.id} must "
            f"be entered within {interval_words(limit.hours)}"
        )
    else:
        assert isinstance(limit, MonthsLimit)
        assert leaf.on is not None
        years = counted(limit.months // MONTHS_IN_A_YEAR, "year")
        said = (
            f"{one.id} must be entered within {years}, that is by {date_words(leaf.on)}"
        )
    return said + _again_words(one)


def late_words(done: str, one: Interval, leaf: Leaf, place: Place) -> str:
    """Return that something was done past the bound for entering an extension.

    `done`: what, as a clause. `place`: when; it lies past the bound.
    """
    limit = leaf.limit
    if isinstance(limit, HoursLimit) and not isinstance(place.hours, Unknown):
        said = (
            f"{done} at {_run_words(limit, leaf, place.hours)}; {one.id} had to be "
            f"entered within {interval_words(limit.hours)}"
        )
    else:
        assert leaf.on is not None
        assert not isinstance(place.on, Unknown)
        said = (
            f"{done} on {date_words(place.on)}; {one.id} had to be entered by "
            f"{date_words(leaf.on)}"
        )
    return said + _again_words(one)


def _run_words(limit: HoursLimit, leaf: Leaf, hours: Hours) -> str:
    since = "overhaul" if limit.after == "overhaul" else "new"
    return f"{used_hours_words(Hours(hours - (leaf.from_hours or 0)))} since {since}"


def _again_words(one: Interval) -> str:
    """Return the end of such a sentence; an overhaul begins what counts from it anew."""
    return "." if one.since == "new" else "; an overhaul begins the count anew."


def point_words(point: OverhaulPoint) -> str:
    """Return the interval with its sources: "Overhaul at 2 000.0 h TSN (base) or ..."."""
    tree = point.point.tree
    assert tree is not None
    if isinstance(tree, Leaf) and tree.limit is None:
        return "No overhaul interval is known"
    return f"Overhaul {tree_words(tree, _leaf_words)}"


def _leaf_words(leaf: Leaf) -> str:
    """Return one limit as published, where it falls, and the provision it comes from."""
    limit = leaf.limit
    if isinstance(limit, HoursLimit):
        since = "TSO" if limit.after == "overhaul" else "TSN"
        words = f"at {due_hours_words(limit.hours)} {since}"
        if leaf.hours is None:
            words += ", at a point that is not known"
        elif leaf.hours != limit.hours:
            about = "about " if leaf.estimated else ""
            words += f", where its hours show {about}{due_hours_words(leaf.hours)}"
    elif isinstance(limit, MonthsLimit):
        years = counted(limit.months // MONTHS_IN_A_YEAR, "year")
        words = f"after {years}, on a day that is not known"
        if leaf.on is not None:
            words = f"on {date_words(leaf.on)}"
    else:
        return leaf_words(leaf)
    return f"{words} ({leaf.note})"


def overhaul_sentence(answer: OverhaulDue) -> str:
    """Return the sentences that explain how an engine stands to its interval."""
    due, point = answer.due, answer.point
    said = [f"{point_words(point)}"]
    if due.state is State.UNDETERMINED and not answer.is_past:
        said.insert(0, "Undetermined, to be treated as open")
    said += _standing_words(answer)
    has_limit = due.hours is not None or due.on is not None
    if has_limit:
        said += remaining_words(due, due.state)
        said += [] if answer.used is None else [_used_words(answer)]
    if due.may_be_overdue:
        said.append("May be overdue, read the meter")
    if len(point.conflict) > 1:
        ids = listed(point.conflict, "and")
        said.append(
            f"{ids} are base intervals that all hold; the shortest counts until one of "
            "them is corrected"
        )
    if due.missing:
        said.append(f"Not known: {', '.join(due.missing)}")
    return as_sentences([*said, IN_TIME] if has_limit else said)


def _standing_words(answer: OverhaulDue) -> list[str]:
    if not answer.is_past:
        return []
    if answer.due.state is State.OVERDUE:
        return ["Overdue: the interval is law in this operation"]
    if answer.due.state is State.UNDETERMINED:
        return ["Past the interval; whether past what is law here is not known"]
    return [
        "Past the recommended interval: it is a recommendation in this operation; the "
        "rules of the authority decide"
    ]


def _used_words(answer: OverhaulDue) -> str:
    assert answer.used is not None
    return f"Used: {float(answer.used * 100):.1f} % of the hours"

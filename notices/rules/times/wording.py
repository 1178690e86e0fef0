"""Limits, times and actions, their points, and due results as plain English sentences."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final, assert_never

from notices.rules.applicability.wording import clause
from notices.rules.phrases import (
    counted,
    date_words,
    due_hours_words,
    interval_words,
    listed,
    used_hours_words,
    with_article,
)
from notices.rules.times.actions import Action, Credit, Tolerance
from notices.rules.times.due_points import Late
from notices.rules.times.history import TIME_IN_SERVICE
from notices.rules.times.limits import (
    FURTHER_FLIGHT,
    METERS,
    Anchor,
    Case,
    Cases,
    DateAnchor,
    DateLimit,
    DaysLimit,
    EventAnchor,
    EventLimit,
    FirstOf,
    HoursLimit,
    LastOf,
    Limit,
    MonthsLimit,
    PartAnchor,
    Time,
    UnknownLimit,
    event_key,
)
from notices.rules.times.points import Joined, Leaf, PointKind, Tree, unknown_beside
from notices.rules.times.states import State

if TYPE_CHECKING:
    from notices.rules.times.due_states import Due

IN_TIME: Final = "Reaching a limit exactly is still in time."
INSIDE: Final = "Past its limit, inside the tolerance"


def _with_article(name: str) -> str:
    return with_article(event_key(name))


def anchor_words(anchor: Anchor) -> str:
    """Return what a limit is counted from, to follow "after"."""
    match anchor:
        case "effective":
            return "the effective date"
        case "new":
            return "new"
        case "manufacture":
            return "the date of manufacture"
        case "overhaul":
            return "the last overhaul"
        case "last done":
            return "it was last done"
        case PartAnchor():
            since = {"new": "was new", "fitted": "was fitted"}
            verb = since.get(anchor.since, "was last overhauled")
            return f"the {anchor.role} {verb}"
        case EventAnchor():
            event = f"the latest {event_key(anchor.name)}"
            if anchor.after is None:
                return event
            return f"{event} after {anchor_words(anchor.after)}"
        case DateAnchor():
            return date_words(anchor.on)
        case _:
            assert_never(anchor)


def limit_words(limit: Limit) -> str:
    """Return one limit as words, such as "within 50 h after the effective date"."""
    match limit:
        case HoursLimit():
            within = f"within {interval_words(limit.hours)}"
            if limit.meter != METERS[0]:
                within += f" by {limit.meter}"
            return f"{within} {_after(limit.after)}"
        case MonthsLimit():
            noun = "calendar month" if limit.calendar else "month"
            return f"within {counted(limit.months, noun)} {_after(limit.after)}"
        case DaysLimit():
            return f"within {counted(limit.days, 'day')} {_after(limit.after)}"
        case DateLimit():
            return f"on or before {date_words(limit.on)}"
        case EventLimit():
            return _event_words(limit)
        case UnknownLimit():
            return f"at a time that is not known ({limit.why})"
        case _:
            assert_never(limit)


def _after(anchor: Anchor) -> str:
    return "since new" if anchor == "new" else f"after {anchor_words(anchor)}"


def _event_words(limit: EventLimit) -> str:
    is_flight = event_key(limit.name) == FURTHER_FLIGHT
    words = (
        "before further flight" if is_flight else f"at the next {event_key(limit.name)}"
    )
    return words if limit.after is None else f"{words} {_after(limit.after)}"


def time_words(time: Time) -> str:
    """Return a time as words, such as "within 50 h ..., whichever occurs first"."""
    match time:
        case FirstOf():
            return _joined(time.members, "or", "whichever occurs first")
        case LastOf():
            return _joined(time.members, "or", "whichever occurs later")
        case Cases():
            return _cases_words(time)
        case _:
            return limit_words(time)


def _joined(members: Sequence[Time], joint: str, which: str) -> str:
    if len(members) == 1:
        return time_words(members[0])
    words = [
        f"({time_words(member)})"
        if isinstance(member, FirstOf | LastOf | Cases)
        else limit_words(member)
        for member in members
    ]
    return f"{listed(words, joint)}, {which}"


def _cases_words(cases: Cases) -> str:
    words = [
        f"{time_words(entry.then)} if {clause(entry.when)}"
        if isinstance(entry, Case)
        else f"otherwise {time_words(entry.then)}"
        for entry in cases.entries
    ]
    if cases.otherwise is None:
        words.append("otherwise nothing is due")
    return "; ".join(words)


def action_words(action: Action) -> str:
    """Return an action's times as sentences."""
    sentences = [f"Due {time_words(action.initial)}"]
    if action.when is not None:
        sentences.insert(0, f"Only if {clause(action.when)}")
    if action.repeat is not None:
        sentences.append(f"Then again {time_words(action.repeat)}")
    if action.restart == "planned":
        sentences.append("The next interval runs from the planned point")
    if action.tolerance is not None:
        sentences.append(_tolerance_words(action.tolerance))
    if action.until is not None:
        sentences.append(f"The repeats end {time_words(action.until)}")
    if action.credit is not None:
        sentences.append(_credit_words(action.credit))
    if action.counts:
        words = listed([_with_article(name) for name in action.counts], "or")
        sentences.append(f"{words[0].upper()}{words[1:]} counts as doing it")
    if action.ends_with:
        ends = [
            end if isinstance(end, str) else clause(end) for end in action.ends_with
        ]
        sentences.append(f"Ended by: {listed(ends, 'or')}")
    return ". ".join(sentences) + "."


def _tolerance_words(tolerance: Tolerance) -> str:
    sizes = []
    if tolerance.hours is not None:
        sizes.append(interval_words(tolerance.hours))
    if tolerance.days is not None:
        sizes.append(counted(tolerance.days, "day"))
    words = f"It may be exceeded by {listed(sizes, 'or')}"
    if tolerance.en_route:
        words += " on the way to where the work can be done"
    return f"{words}; early work keeps the grid" if tolerance.early else words


def _credit_words(credit: Credit) -> str:
    words = "Work done before the effective date counts"
    if credit.of is not None:
        documents = [
            one.number
            if one.revisions is None
            else f"{one.number} revision {listed(one.revisions, 'or')}"
            for one in credit.of
        ]
        words += f" if done by {listed(documents, 'or')}"
    if credit.within is not None:
        words += f"; it is then due {time_words(credit.within)}"
    return words


def leaf_words(leaf: Leaf) -> str:
    """Return the point of one limit as words, such as "at 550.0 h"."""
    match leaf.kind:
        case PointKind.FURTHER_FLIGHT:
            return "before further flight"
        case PointKind.EVENT_AHEAD:
            return f"at the next {event_key(leaf.event or '')}"
        case PointKind.WAITING:
            return f"only after {_with_article(leaf.event or '')}"
        case PointKind.NOTHING_DUE:
            return f"never ({leaf.note})" if leaf.note else "never"
        case PointKind.UNKNOWN:
            return f"at a point that is not known (missing: {', '.join(leaf.missing)})"
        case PointKind.POINT:
            return _point_words(leaf)
        case _:
            assert_never(leaf.kind)


def tree_words(tree: Tree, of_leaf: Callable[[Leaf], str] = leaf_words) -> str:
    """Return the points of a tree as words, such as "at 550.0 h or on 31 March 2027"."""
    if isinstance(tree, Leaf):
        return of_leaf(tree)
    words = [
        of_leaf(member)
        if isinstance(member, Leaf)
        else f"({tree_words(member, of_leaf)})"
        for member in tree.members
    ]
    which = {
        "first_of": "whichever comes first",
        "last_of": "whichever comes later",
        "one_of": "it is not known which",
    }
    return f"{listed(words, 'or')}, {which[tree.joined]}"


def _point_words(leaf: Leaf) -> str:
    words = []
    if leaf.hours is not None:
        about = "about " if leaf.estimated else ""
        words.append(f"at {about}{due_hours_words(leaf.hours)}{_by_meter(leaf)}")
    if leaf.on is not None:
        words.append(f"on {date_words(leaf.on)}")
    said = " and ".join(words)
    if leaf.event is not None:
        said = f"at the {event_key(leaf.event)}, {said}"
    if leaf.estimated and leaf.lowest_hours is not None:
        lowest = due_hours_words(leaf.lowest_hours)
        said += f" (estimated between two readings, {lowest} at the earliest)"
    return said


def _by_meter(leaf: Leaf) -> str:
    """Return the meter where another one stands in for time in service."""
    limit = leaf.limit
    if isinstance(limit, HoursLimit) and limit.meter != METERS[0]:
        return f" by {limit.meter}"
    return ""


def beside_words(tree: Tree) -> str:
    """Return what is not known beside the known point of a tree, empty without any.

    "or earlier, not known: time since new", where the known one is only half of it.
    """
    told = []
    halves: tuple[tuple[Joined, str], ...] = (
        ("first_of", "earlier"),
        ("last_of", "later"),
    )
    for joined, when in halves:
        facts = dict.fromkeys(_not_known(x) for x in unknown_beside(tree, joined))
        if facts:
            told.append(f"or {when}, {', '.join(facts)}")
    return "; ".join(told)


def _not_known(leaf: Leaf) -> str:
    facts = ", ".join(leaf.missing)
    if isinstance(leaf.limit, UnknownLimit):
        return f"at a time that is not known ({facts})"
    return f"not known: {facts}"


def due_sentence(due: Due) -> str:
    """Return the sentences that explain a due result."""
    match due.state:
        case State.DOES_NOT_APPLY | State.TERMINATED:
            return _closed_words(due, due.state)
        case State.COMPLIED_WITH:
            return as_sentences([f"Complied with{_last_words(due)}", *_late_words(due)])
        case State.NOTHING_DUE:
            return as_sentences([_nothing_words(due), *due.point.reasons])
        case State.UNDETERMINED:
            return as_sentences(_undetermined_words(due))
    return as_sentences([*_open_words(due, due.state), *due.point.reasons])


def as_sentences(parts: Sequence[str]) -> str:
    """Return the parts as sentences, each with its full stop."""
    return " ".join(
        part if part.endswith((".", "!", "?")) else f"{part}." for part in parts if part
    )


def _closed_words(due: Due, state: State) -> str:
    if state is State.DOES_NOT_APPLY:
        return as_sentences(["Does not apply", *due.point.reasons])
    if due.point.reasons:
        return as_sentences(["Terminated", *due.point.reasons])
    return "Terminated: the next repeat would lie past the end of the repeats."


def _last_words(due: Due) -> str:
    on, hours = due.point.last_on, due.point.last_hours
    words = "" if on is None else f" on {date_words(on)}"
    return words if hours is None else f"{words} at {used_hours_words(hours)}"


def _nothing_words(due: Due) -> str:
    if due.events:
        names = [_with_article(name) for name in due.events]
        return f"Nothing is due before {listed(names, 'or')}"
    return "Nothing is due: no case of the compliance time holds"


def _undetermined_words(due: Due) -> list[str]:
    words = ["Undetermined, to be treated as open"]
    if due.missing:
        words.append(f"Missing: {', '.join(due.missing)}")
    if due.if_it_applies is None:
        return [*words, *_point_sentence("Due", due)]
    if due.if_it_applies in (State.OVERDUE, State.COMING_DUE, State.OUTSTANDING):
        first, *others = _open_words(due, due.if_it_applies)
        return [
            *words,
            f"If it applies and is open: {first[0].lower()}{first[1:]}",
            *others,
        ]
    return [*words, *_point_sentence("If it applies and is open: due", due)]


def _point_sentence(start: str, due: Due) -> list[str]:
    if due.limits is None or due.point.closed is not None:
        return []
    return [f"{start} {tree_words(due.limits)}"]


def _open_words(due: Due, state: State) -> list[str]:
    assert due.limits is not None
    said = INSIDE if due.inside_tolerance else state.value.capitalize()
    words = [f"{said}: due {tree_words(due.limits)}"]
    words += remaining_words(due, state)
    if due.may_be_overdue:
        words.append("May be overdue, read the meter")
    words += _late_words(due)
    if due.missing and due.state is not State.UNDETERMINED:
        words.append(f"Not known: {', '.join(due.missing)}")
    return words if due.further_flight else [*words, IN_TIME]


def remaining_words(due: Due, state: State) -> list[str]:
    """Return what is left or past in either kind, and by which reading."""
    if due.further_flight:
        return _flown_words(due, state)
    left: list[str] = []
    past: list[str] = []
    hours, days = due.left
    if hours is not None:
        text = due_hours_words(hours) if hours >= 0 else used_hours_words(-hours)
        (left if hours >= 0 else past).append(text)
    if days is not None:
        (left if days >= 0 else past).append(counted(abs(days), "day"))
    words = []
    if left:
        words.append(f"Left: {listed(left, 'and')}")
    if past:
        words.append(f"Past by {listed(past, 'and')}")
    return words + _reading_words(due) if hours is not None else words


def _flown_words(due: Due, state: State) -> list[str]:
    since, now = due.point.further_flight_hours, due.hours_now
    if state is State.OVERDUE and since is not None and now is not None:
        return [f"Flown since: {used_hours_words(now - since)}"]
    return ["No flight is left"]


def _reading_words(due: Due) -> list[str]:
    assert due.hours_now is not None
    words = f"Hours by the reading of {used_hours_words(due.hours_now)}"
    if due.reading_on is not None:
        words += f" on {date_words(due.reading_on)}"
    if due.meter is not None and due.meter != TIME_IN_SERVICE:
        words += f" ({due.meter}, standing in for time in service)"
    return [words]


def _late_words(due: Due) -> list[str]:
    late = due.late
    if late is None or late == Late():
        return []
    sizes = [used_hours_words(late.hours)] if late.hours else []
    sizes += [counted(late.days, "day")] if late.days else []
    return [f"The last record was late by {listed(sizes, 'and')}"]

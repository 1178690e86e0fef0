"""What whoever enters an action should look at twice, though it can be stored."""

from __future__ import annotations

from collections.abc import Iterator

from notices.rules.applicability.nodes import Always
from notices.rules.times.actions import Action
from notices.rules.times.limits import (
    Anchor,
    Case,
    Cases,
    DateLimit,
    DaysLimit,
    EventAnchor,
    EventLimit,
    FirstOf,
    HoursLimit,
    LastOf,
    Limit,
    MonthsLimit,
    Time,
    UnknownLimit,
)


def warnings_of(action: Action, *, has_effective_date: bool = True) -> tuple[str, ...]:
    """Return sentences, most serious first; none for an action that looks sound.

    `has_effective_date`: whether the revision, or the provision itself, gives one.
    """
    return tuple(
        dict.fromkeys(
            [
                *_never_known(action, has_effective_date),
                *_never_moving(action),
                *_cases_without_else(action),
                *_cases_never_reached(action),
            ]
        )
    )


def _times_of(action: Action) -> Iterator[tuple[str, Time]]:
    within = action.credit.within if action.credit else None
    named = (
        ("initial", action.initial),
        ("credit", within),
        ("repeat", action.repeat),
        ("until", action.until),
    )
    for name, time in named:
        if time is not None:
            yield name, time


def _parts_of(time: Time) -> Iterator[Time]:
    """Yield a time and every time inside it."""
    yield time
    match time:
        case FirstOf() | LastOf():
            inside: tuple[Time, ...] = time.members
        case Cases():
            inside = tuple(entry.then for entry in time.entries)
        case _:
            inside = ()
    for part in inside:
        yield from _parts_of(part)


def _anchors_of(time: Time) -> Iterator[Anchor]:
    """Yield every anchor in a time, also those inside an anchor."""
    for part in _parts_of(time):
        if isinstance(part, HoursLimit | MonthsLimit | DaysLimit | EventLimit):
            anchor = part.after
            while anchor is not None:
                yield anchor
                anchor = anchor.after if isinstance(anchor, EventAnchor) else None


def _never_known(action: Action, has_effective_date: bool) -> Iterator[str]:
    if "last done" in _anchors_of(action.initial):
        yield (
            'The first time is counted from "last done", but then nothing was done '
            "yet: it stays undetermined. Work done before goes under credit."
        )
    uses_effective = any(
        "effective" in _anchors_of(time) for _, time in _times_of(action)
    )
    if uses_effective and not has_effective_date:
        yield (
            "A time is counted from the effective date, and the document gives none: "
            "it stays undetermined."
        )


def _never_moving(action: Action) -> Iterator[str]:
    if action.repeat is None:
        return
    limits = [part for part in _parts_of(action.repeat) if isinstance(part, Limit)]
    if not any(_moves(limit) for limit in limits):
        yield (
            'No limit of the repeat is counted from "last done": it comes due at the '
            "same point again, however often the work is done."
        )


def _moves(limit: Limit) -> bool:
    """Return whether the limit lies elsewhere after the work was done once more."""
    match limit:
        case DateLimit():
            return False
        case EventLimit() | UnknownLimit():
            return True
    return limit.after == "last done" or isinstance(limit.after, EventAnchor)


def _cases_in(action: Action) -> Iterator[tuple[str, Cases]]:
    for name, time in _times_of(action):
        for part in _parts_of(time):
            if isinstance(part, Cases):
                yield name, part


def _cases_without_else(action: Action) -> Iterator[str]:
    for name, cases in _cases_in(action):
        ends_open = cases.otherwise is None and not any(
            isinstance(case.when, Always) for case in cases.cases
        )
        if ends_open:
            yield (
                f'The cases under "{name}" have no "else": for an engine that meets '
                "none of them nothing is due."
            )


def _cases_never_reached(action: Action) -> Iterator[str]:
    for name, cases in _cases_in(action):
        for index, case in enumerate(cases.entries[:-1]):
            if isinstance(case, Case) and isinstance(case.when, Always):
                yield (
                    f'Case {index + 1} under "{name}" holds for every engine: '
                    "those below it are never reached."
                )

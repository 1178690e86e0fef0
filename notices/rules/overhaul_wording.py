"""A provision about the overhaul interval as plain English sentences."""

from __future__ import annotations

from typing import Final

from notices.rules.overhaul import EnterBy, Interval
from notices.rules.phrases import counted, interval_words, listed

_SINCE: Final = {"new": "since new", "overhaul": "since overhaul"}
_WHAT: Final = {
    "base": "Overhaul interval: {}.",
    "extension": "Extension of the overhaul interval to {}.",
    "restriction": "The overhaul interval is at most {}.",
}


def interval_sentences(interval: Interval) -> str:
    """Return what the provision says, apart from its condition."""
    said = [_WHAT[interval.kind].format(length_words(interval))]
    if interval.builds_on is not None:
        said.append(f'Only where "{interval.builds_on}" holds, too.')
    if interval.enter_by is not None:
        said.append(
            f"To be entered before {_entry_words(interval.enter_by)} "
            f"{_SINCE[interval.since]} are exceeded."
        )
    said.append(_binding_words(interval))
    return " ".join(said)


def length_words(interval: Interval) -> str:
    """Return how long it is: "1 500 h or 12 years since overhaul, whichever first"."""
    ends = _ends(interval)
    which = ", whichever comes first" if len(ends) > 1 else ""
    return f"{listed(ends, 'or')} {_SINCE[interval.since]}{which}"


def _entry_words(bound: EnterBy) -> str:
    return listed(_ends(bound), "or")


def _ends(bounds: Interval | EnterBy) -> list[str]:
    hours = [] if bounds.hours is None else [interval_words(bounds.hours)]
    years = [] if bounds.years is None else [counted(bounds.years, "year")]
    return [*hours, *years]


def _binding_words(interval: Interval) -> str:
    if interval.binding is True:
        return "It binds by law in every operation."
    if interval.binding:
        return f"It binds by law in {listed(interval.binding, 'and')} operation."
    return "It is a recommendation."

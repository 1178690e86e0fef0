"""What rules that are not in force would make of the overhaul intervals of engines."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from notices.models import Provision
from notices.rules.compliance_time import State
from notices.rules.facts import Hours
from notices.rules.intervals.wording import PAST_IN_DOUBT, PAST_RECOMMENDED
from notices.rules.phrases import (
    counted,
    date_words,
    due_hours_words,
    interval_words,
    listed,
    used_hours_words,
)
from tracker.accounts.models import Station
from tracker.compliance.facts import EngineFile
from tracker.compliance.intervals import interval_rules
from tracker.compliance.overhaul_words import hours_end_words
from tracker.compliance.overhauls import IntervalLibrary, Overhaul
from tracker.compliance.rules import CompiledRule, compiled
from tracker.fleet.models import Engine

Replaces = Callable[[CompiledRule], bool]
"""Whether a rule in force would not be any more."""

_PAST: Final = {
    State.OVERDUE.value: "past by law",
    PAST_IN_DOUBT: "past, not known whether by law",
    State.UNDETERMINED.value: "past by what is not known to hold",
    PAST_RECOMMENDED: "past what is recommended",
}
"""How an engine is past its interval, the gravest first, by the word of its state."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalStand:
    """An interval and how an engine stands to it, in words.

    `length`: as "1 500 h or 12 years". `end`: where it ends, and what is left or past.
    `past`: how it is past, empty where it is not.
    """

    length: str
    end: str
    past: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalChange:
    """The interval of an engine now and then.

    `shortens`: whether hours or years become fewer, or are there for the first time.
    """

    engine: Engine
    before: IntervalStand
    after: IntervalStand
    shortens: bool

    @property
    def rank(self) -> tuple[int, bool]:
        """What comes first in a list: past by law, past otherwise, then shorter."""
        ways = list(_PAST.values())
        past = self.after.past
        return ways.index(past) if past else len(ways), not self.shortens


def intervals_in_force(station: Station, on: date) -> tuple[CompiledRule, ...]:
    """Return the interval provisions that are in force. One query."""
    provisions = Provision.objects.for_station(station).in_force(on)
    return compiled(provisions.filter(kind=Provision.Kind.INTERVAL))


def try_intervals(
    in_force: Sequence[CompiledRule],
    rules: Sequence[CompiledRule],
    files: Iterable[EngineFile],
    on: date,
    replaces: Replaces,
) -> list[IntervalChange]:
    """Return the engines whose interval would be another, those past it first.

    `rules`: those that are tried, in place of what they replace. No query.
    """
    after = [rule for rule in in_force if not replaces(rule)]
    after += [rule for rule in rules if rule.interval is not None]
    changed = list(_changes(in_force, after, files, on))
    return sorted(changed, key=lambda one: one.rank)


def _changes(
    before: Sequence[CompiledRule],
    after: Sequence[CompiledRule],
    files: Iterable[EngineFile],
    on: date,
) -> Iterator[IntervalChange]:
    now, then = (
        IntervalLibrary(rules=interval_rules(rules), works={})
        for rules in (before, after)
    )
    for file in files:
        was, would_be = (library.overhaul_of(file, on=on) for library in (now, then))
        stands = _stand(was), _stand(would_be)
        if stands[0] != stands[1]:
            yield IntervalChange(
                engine=file.engine,
                before=stands[0],
                after=stands[1],
                shortens=_shortens(was, would_be),
            )


def _length(overhaul: Overhaul | None) -> tuple[Hours | None, int | None]:
    if overhaul is None:
        return None, None
    point = overhaul.found.point
    return point.hours, point.years


def _stand(overhaul: Overhaul | None) -> IntervalStand:
    hours, years = _length(overhaul)
    limits = [] if hours is None else [interval_words(hours)]
    limits += [] if years is None else [counted(years, "year")]
    if overhaul is None or not limits:
        return IntervalStand(length="none known", end="")
    return IntervalStand(
        length=listed(limits, "or"),
        end=_end_words(overhaul),
        past=_PAST[overhaul.word] if overhaul.due.is_past else "",
    )


def _end_words(overhaul: Overhaul) -> str:
    """Return where hours and years end, each with what is left of it or past it."""
    due, point = overhaul.due.due, overhaul.found.point
    ends = []
    if point.hours is not None:
        where = hours_end_words(overhaul) or "by hours: not known"
        ends.append(_with_left(where, due.remaining_hours, _hours_away))
    if point.years is not None:
        where = "by date: not known" if due.on is None else f"on {date_words(due.on)}"
        ends.append(_with_left(where, due.remaining_days, _days_away))
    return f"Ends {'; '.join(ends)}."


def _with_left(where: str, left: int | None, words: Callable[[int], str]) -> str:
    return where if left is None else f"{where}, {words(left)}"


def _hours_away(left: int) -> str:
    if left < 0:
        return f"{used_hours_words(-left)} past"
    return f"{due_hours_words(left)} left"


def _days_away(left: int) -> str:
    return f"{counted(abs(left), 'day')} {'past' if left < 0 else 'left'}"


def _shortens(was: Overhaul | None, would_be: Overhaul | None) -> bool:
    pairs = zip(_length(was), _length(would_be), strict=True)
    return any(
        after is not None and (before is None or after < before)
        for before, after in pairs
    )

"""What rules that are not in force would make of the overhaul intervals of engines."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from notices.models import Provision
from notices.rules.facts import Hours
from notices.rules.overhaul import OverhaulPoint
from notices.rules.phrases import counted, interval_words, listed
from tracker.accounts.models import Station
from tracker.compliance.facts import EngineFile
from tracker.compliance.intervals import EngineInterval, interval_rules
from tracker.compliance.rules import CompiledRule, compiled
from tracker.fleet.models import Engine

Replaces = Callable[[CompiledRule], bool]
"""Whether a rule in force would not be any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalChange:
    """The interval of an engine before and after, in words.

    `shortens`: whether hours or years become fewer, or are there for the first time.
    """

    engine: Engine
    before: str
    after: str
    shortens: bool


def try_intervals(
    station: Station,
    rules: Sequence[CompiledRule],
    files: Iterable[EngineFile],
    on: date,
    replaces: Replaces,
) -> list[IntervalChange]:
    """Return the engines whose interval would be another, shorter ones first. One query.

    `rules`: those that are tried, in place of what they replace.
    """
    provisions = Provision.objects.for_station(station).in_force(on)
    in_force = compiled(provisions.filter(kind=Provision.Kind.INTERVAL))
    after = [rule for rule in in_force if not replaces(rule)]
    after += [rule for rule in rules if rule.interval is not None]
    changed = list(_changes(in_force, after, files, on))
    return sorted(changed, key=lambda one: not one.shortens)


def _changes(
    before: Sequence[CompiledRule],
    after: Sequence[CompiledRule],
    files: Iterable[EngineFile],
    on: date,
) -> Iterator[IntervalChange]:
    now, then = interval_rules(before), interval_rules(after)
    for file in files:
        was, would_be = (_point(rules.of(file, on=on)) for rules in (now, then))
        if _length(was) != _length(would_be):
            yield IntervalChange(
                engine=file.engine,
                before=_words(was),
                after=_words(would_be),
                shortens=_shortens(was, would_be),
            )


def _point(found: EngineInterval | None) -> OverhaulPoint | None:
    return None if found is None else found.point


def _length(point: OverhaulPoint | None) -> tuple[Hours | None, int | None]:
    return (None, None) if point is None else (point.hours, point.years)


def _words(point: OverhaulPoint | None) -> str:
    hours, years = _length(point)
    ends = [] if hours is None else [interval_words(hours)]
    ends += [] if years is None else [counted(years, "year")]
    return listed(ends, "or") or "none known"


def _shortens(was: OverhaulPoint | None, would_be: OverhaulPoint | None) -> bool:
    pairs = zip(_length(was), _length(would_be), strict=True)
    return any(
        after is not None and (before is None or after < before)
        for before, after in pairs
    )

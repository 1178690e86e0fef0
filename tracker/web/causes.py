"""What an act would cause, as words: the state of each finding now and with the act."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

from notices.models import Provision
from notices.rules.compliance_time import State
from tracker.compliance.causes import Caused, Effect, EngineCaused, Interval
from tracker.compliance.due import DueRow
from tracker.compliance.intervals.ends import OPERATION
from tracker.compliance.models import Closed, LongerInterval
from tracker.compliance.states import FURTHER_FLIGHT, WORDS
from tracker.figures import wording
from tracker.figures.due_words import point_words, state_words
from tracker.web.conflicts import conflict_sentence
from tracker.web.lines import brief_words

NOT_FOUND: Final = "not found"
LONGER: Final = {
    LongerInterval.HOLDS: "a longer one applies",
    LongerInterval.WITHIN_REACH: "a longer one is within reach",
    LongerInterval.UNDETERMINED: "whether a longer one applies is not known",
    LongerInterval.DOES_NOT_HOLD: "none that is longer applies",
}
NO_LONGER: Final = State.DOES_NOT_APPLY.value
GROUPS: Final[tuple[tuple[str, Callable[[Effect], bool]], ...]] = (
    (
        "Parts that would not, or might not, go together",
        lambda e: e.conflict is not None,
    ),
    ("New, certain or more pressing", lambda e: e.presses),
    ("Less pressing, or different", lambda e: e.after is not None),
    ("No longer found", lambda e: True),
)
"""An effect stands in the first group that takes it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A finding at one moment: its state, and where something is due, when and how far.

    `said`: the state as a list says it.
    """

    word: str
    said: str = ""
    when: str = ""
    away: str = ""

    @property
    def is_state(self) -> bool:
        """Whether its word has a shape."""
        return self.word not in (NOT_FOUND, Closed.NOT_ADOPTED.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One finding before and after. `brief`: part and record; `why`: the sentences."""

    row: DueRow
    before: Point
    after: Point
    brief: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineShown:
    """What an act would cause for one engine: groups of lines under their headings."""

    name: str
    groups: tuple[tuple[str, tuple[Line, ...]], ...]
    told: EngineCaused
    interval: tuple[str, str] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CausesShown:
    """`lead`: the whole in one sentence."""

    lead: str
    engines: tuple[EngineShown, ...]


def shown_causes(caused: Caused) -> CausesShown:
    touched = [one for one in caused.engines if not one.is_nothing]
    return CausesShown(lead=_lead(caused), engines=tuple(map(_shown, touched)))


def _shown(told: EngineCaused) -> EngineShown:
    return EngineShown(
        name=str(told.engine),
        groups=tuple(_grouped(told.effects)),
        told=told,
        interval=None if told.interval is None else _both(*told.interval),
    )


def _grouped(effects: Iterable[Effect]) -> list[tuple[str, tuple[Line, ...]]]:
    found: dict[str, list[Line]] = {heading: [] for heading, _ in GROUPS}
    for effect in effects:
        heading = next(words for words, takes in GROUPS if takes(effect))
        found[heading].append(_line(effect))
    return [(heading, tuple(lines)) for heading, lines in found.items() if lines]


def _line(effect: Effect) -> Line:
    row = effect.row
    return Line(
        row=row,
        before=_point(effect.before, NOT_FOUND),
        after=_point(effect.after, NO_LONGER),
        brief=brief_words(row.due, row.part),
        why=" ".join(_why(effect)),
    )


def _why(effect: Effect) -> list[str]:
    if effect.after is None:
        return list(effect.reasons)
    said = [conflict_sentence(effect.conflict)] if effect.conflict else []
    if effect.settles:
        said.append("It would apply for certain.")
    return [*said, effect.after.sentence, *effect.after.reasons]


def _point(row: DueRow | None, without: str) -> Point:
    if row is None:
        return Point(word=without)
    if row.finding.closed == Closed.NOT_ADOPTED:
        return Point(word=Closed.NOT_ADOPTED.value)
    if row.word not in WORDS:
        return Point(word=row.word)
    stands = row.provision.kind == Provision.Kind.PROHIBITION
    when, also = point_words(row.due, row.word, stands=stands)
    away = [] if stands or row.word == FURTHER_FLIGHT else _away(row)
    return Point(
        word=row.word,
        said=state_words(row.due, row.word),
        when=f"{when} {also}".strip(),
        away=", ".join(away),
    )


def _away(row: DueRow) -> list[str]:
    hours, days = row.remaining_hours, row.remaining_days
    said = [] if hours is None else [wording.distance(hours)]
    return said if days is None else [*said, wording.days_away(days)]


def _both(before: Interval | None, after: Interval | None) -> tuple[str, str]:
    return _interval_words(before), _interval_words(after)


def _interval_words(interval: Interval | None) -> str:
    if interval is None:
        return "none is known"
    ends = [] if interval.tsn is None else [f"{wording.due_hours(interval.tsn)} TSN"]
    ends += [] if interval.on is None else [wording.day(interval.on)]
    said = [f"to {' or '.join(ends)}" if ends else "it cannot be said"]
    said[0] += f", {_law_words(interval)}"
    if interval.longer:
        said.append(LONGER[LongerInterval(interval.longer)])
    if interval.missing:
        said.append(f"not known: {wording.listed(list(interval.missing))}")
    return "; ".join(said)


def _law_words(interval: Interval) -> str:
    if not interval.binds:
        return "recommended by the maker"
    in_doubt = OPERATION in interval.missing
    return "law or recommended, not known" if in_doubt else "law in this operation"


def _lead(caused: Caused) -> str:
    counts = {
        "new, certain or more pressing": sum(e.presses for e in caused.effects),
        "less pressing or different": sum(
            e.after is not None and not e.presses for e in caused.effects
        ),
        "no longer found": len(caused.ended),
    }
    told = [(count, words) for words, count in counts.items() if count]
    said = "No finding would change."
    if told:
        count, words = told[0]
        first = f"{count} finding{'' if count == 1 else 's'} would be {words}"
        rest = [f"{number} {then}" for number, then in told[1:]]
        said = f"With it {wording.listed([first, *rest])}."
    if any(one.shortens for one in caused.engines):
        said += " The overhaul interval would end earlier, or could no longer be said."
    return said

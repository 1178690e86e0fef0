"""The words of a matter: its state, its verb in a subject, and what counts it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Final, NamedTuple

from notices.rules.compliance_time import State
from tracker.compliance.due import DueRow
from tracker.compliance.models import Event, EventKind, LongerInterval
from tracker.compliance.states import COUNTED, FURTHER_FLIGHT, WORDS, counted_as
from tracker.figures.due_words import state_words
from tracker.figures.wording import days, due_hours, listed, long_day, rounded_down
from tracker.fleet.models import Engine
from tracker.watch.outbox import one_line
from tracker.watch.telling.reading import Item

MARKS: Final = {
    FURTHER_FLIGHT: "▮",
    State.OVERDUE.value: "■",
    State.COMING_DUE.value: "□",
    State.UNDETERMINED.value: "◐",
    State.OUTSTANDING.value: "○",
}
"""A shape before each state, from signs that no program shows as a picture."""
OTHER_MARK: Final = "–"
_NAMED: Final = frozenset(COUNTED) - {State.OUTSTANDING.value}
_LINES: Final = re.compile(r"\r\n|[\n\r\v\f\x1c-\x1e\x85\u2028\u2029]")
_WITHOUT_FINDING: Final = {
    EventKind.ENDED.value: "no longer applies",
    EventKind.SUPERSEDED.value: "revision superseded",
    EventKind.LONGER.value: "longer interval",
    EventKind.READING.value: "reading is old",
}


class Left(NamedTuple):
    """What is left of one kind of limit, in words."""

    words: str
    is_past: bool


def engine_words(engine: Engine) -> str:
    """Return an engine in the fewest words that tell it from others."""
    return one_line(f"{engine.engine_type.designation} · {engine.serial}")


def state_of(item: Item) -> str:
    """Return the word under which a matter is listed and counted."""
    if item.row is None:
        return _WITHOUT_FINDING.get(item.events[-1].kind, EventKind.APPLIES.value)
    if not item.events:
        return item.row.finding.closed or item.row.word
    if item.row.word in WORDS:
        return item.row.word
    is_superseded = EventKind.SUPERSEDED.value in item.kinds
    return "revision superseded" if is_superseded else EventKind.APPLIES.value


def said_state(item: Item) -> str:
    """Return the state as it is shown: what is past and tolerated is not coming."""
    word = state_of(item)
    return word if item.row is None else state_words(item.row.due, word)


def is_new(item: Item) -> bool:
    """Whether the owner hears of it for the first time."""
    return any(event.said.get("is_new") for event in item.events)


def subject_of(item: Item) -> str:
    """Return what a mail of this matter alone is about."""
    engine, said = engine_words(item.engine), item.events[-1].said
    if EventKind.READING.value in item.kinds:
        read_on = long_day(date.fromisoformat(said["on"]))
        return f"{engine}: the hours were last read on {read_on}"
    if EventKind.LONGER.value in item.kinds:
        return f"{engine}: {longer_words(item.events[-1])}"
    return f"{engine}: {one_line(said['number'])} {verb_of(item)}"


def subject_of_several(items: Sequence[Item]) -> str:
    """Return what a mail of these matters is about: itself, or how many of each state."""
    if len(items) == 1:
        return subject_of(items[0])
    engines = {item.engine.pk: item.engine for item in items}
    where = f"{len(engines)} engines"
    if len(engines) == 1:
        where = engine_words(items[0].engine)
    return f"{where}: {counts_of(items)}"


def longer_words(event: Event) -> str:
    if event.said["word"] == LongerInterval.HOLDS:
        return "a longer overhaul interval holds"
    return "a longer overhaul interval is within reach"


def verb_of(item: Item) -> str:
    """Return what is so of a document: "is overdue", "no longer applies"."""
    row = item.row
    if row is None:
        ended = EventKind.ENDED.value in item.kinds
        return "no longer applies" if ended else "has a new revision"
    if EventKind.SUPERSEDED.value in item.kinds and row.word not in WORDS[:2]:
        return "has a new revision"
    return state_verb(row, is_new=is_new(item))


def state_verb(row: DueRow, *, is_new: bool) -> str:
    is_open = row.due.state is State.UNDETERMINED
    match row.word:
        case "before further flight":
            return f"{'may be' if is_open else 'is'} due before further flight"
        case State.OVERDUE.value:
            return "may be overdue" if row.may_be_overdue else "is overdue"
        case State.UNDETERMINED.value:
            return "may apply, a fact is missing"
        case State.COMING_DUE.value:
            return "is coming due"
    return "newly applies" if is_new else "applies"


def counts_of(items: Iterable[Item]) -> str:
    """Return how many there are of each state: "1 overdue and 2 coming due".

    What does not press is one number where something does.
    """
    found = Counter(map(_counted_as, items))
    ranked = sorted(found, key=lambda word: (_rank(word), word))
    named = [word for word in ranked if word in _NAMED] or ranked[:3]
    said = [f"{found[word]} {word}" for word in named]
    more = sum(found[word] for word in ranked if word not in named)
    return listed([*said, f"{more} more"] if more else said)


def _rank(word: str) -> int:
    return COUNTED.index(word) if word in COUNTED else len(COUNTED)


def _counted_as(item: Item) -> str:
    may_apply = item.row is not None and item.row.due.point.undetermined
    return counted_as(state_of(item), may_apply=may_apply)


def left_words(row: DueRow) -> list[Left]:
    """Return what is left of hours and days, or by how much they are past."""
    said = []
    hours, left = row.remaining_hours, row.remaining_days
    if hours is not None and row.word != FURTHER_FLIGHT:
        said.append(_left(hours, due_hours(abs(rounded_down(hours)))))
    if left is not None:
        said.append(_left(left, days(abs(left))))
    return said


def _left(amount: int, written: str) -> Left:
    is_past = amount < 0
    return Left(f"{written} {'past' if is_past else 'left'}", is_past)


def foreseen_words(row: DueRow) -> str:
    """Return when the point is reached as the engine is run.

    Empty where nobody can say it, and where it is the date on which it is due.
    """
    forecast = row.forecast
    if forecast is None or forecast.on in (None, row.due_on):
        return ""
    said = f"about {long_day(forecast.on)}, as the engine is run"
    first, last = forecast.earliest, forecast.latest
    if first is None or last is None or first == last:
        return said
    return f"{said} (from {long_day(first)} to {long_day(last)})"


def paragraphs(text: str) -> tuple[str, ...]:
    """Return the lines of a longer text, each fit for a mail, empty ones left out."""
    return tuple(line for raw in _LINES.split(text) if (line := one_line(raw)))


def lines(texts: Iterable[str]) -> tuple[str, ...]:
    """Return several texts of one line each, empty ones left out."""
    return tuple(line for text in texts if (line := one_line(text)))

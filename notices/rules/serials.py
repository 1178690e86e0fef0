"""Serial numbers: how two compare, and what a range of them covers.

A serial is kept as stamped and compared by its shape: runs of digits and runs of other
characters. Blanks, hyphens and dashes are one separator, dropped beside a letter and
kept between digits, so `K-612-62B`, `K 612 62B` and `K612-62B` are one serial. Digits
grouped in threes by commas or blanks are one number. Leading zeros do not count.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from typing import Final, Literal

from notices.rules.designations import KEPT

LONGEST = 100

Run = int | str
"""A run of a serial: a number, or the characters between two numbers."""

Suffix = Literal["any", "same"]

_RANGE_IN_WORDS: Final = re.compile(
    r"(\S*\d\S*)\s+(?:to|thru|through|until)\s+(\S*\d\S*)", re.IGNORECASE
)
_TWO_FIGURES: Final = re.compile(r"(\d{3,})\s*[-\u2010-\u2015]\s*(\d{3,})")
_SEPARATOR = re.compile(r"[\s\-\u2010-\u2015\u2212]+")
_GROUPED = re.compile(
    r"(?<![0-9,])(?<![0-9] )[0-9]{1,3}(?:(?:,[0-9]{3})+|(?: [0-9]{3})+)(?![0-9,]| [0-9])"
)
_RUN = re.compile(r"[0-9]+|[^0-9]+")
_PATTERN_RUN = re.compile(r"[0-9#]+|[^0-9#]+")
_BESIDE_LETTER = re.compile(r"(?<![0-9#])-|-(?![0-9#])")


class Match(Enum):
    """Whether a serial is in a range."""

    IN = "in"
    OUT = "out"
    UNDETERMINED = "undetermined"

    def __bool__(self) -> bool:
        raise TypeError("A match is neither true nor false; compare with `is`.")


@dataclass(frozen=True, slots=True)
class Serial:
    """A serial number made ready to compare; `stamped` keeps it as written."""

    stamped: str
    runs: tuple[Run, ...]


@dataclass(frozen=True, slots=True)
class SerialRange:
    """Serials with ends included; an open end is None.

    `text`: as written. `runs`: the runs of the ends, where `runs[at]` is the number
    (ignored). `at`: -1 for a serial without any digits. `named`: the digit run was
    named in the rule or follows from two ends that differ; else the engine type's own
    serial pattern may name another one.
    """

    text: str
    runs: tuple[Run, ...]
    at: int
    low: int | None
    high: int | None
    named: bool
    suffix: Suffix | None = None


def parse_serial(text: str) -> Serial:
    """Return the serial; ValueError if it is empty or too long to be one."""
    if len(text) > LONGEST:
        raise ValueError(f"A serial number has at most {LONGEST} characters.")
    return _read(text)


@lru_cache(maxsize=KEPT)
def _read(text: str) -> Serial:
    runs = _runs(text)
    if not runs:
        raise ValueError(
            f'"{text}" holds no serial number. Write it as it is stamped, such as "4001".'
        )
    return Serial(text, runs)


def order_key(serial: Serial) -> tuple[tuple[int, int, str], ...]:
    """Return what serials sort by: numbers by value, before characters by code point."""
    return tuple(
        (0, run, "") if isinstance(run, int) else (1, 0, run) for run in serial.runs
    )


def fits_pattern(serial: Serial, pattern: str) -> bool:
    """Return whether the serial has the shape of its type: `L-#-#`, # for digits."""
    expected = _PATTERN_RUN.findall(_separated(pattern))
    if len(expected) != len(serial.runs):
        return False
    return all(
        isinstance(run, int) and ("#" in want or int(want) == run)
        if want[0] in "#0123456789"
        else want == run
        for want, run in zip(expected, serial.runs, strict=True)
    )


def parse_range(
    text: str, *, run: int | None = None, suffix: Suffix | None = None
) -> SerialRange:
    """Return `4001..4987`, `5100..`, `..K-612` or a single serial as a range.

    `run`: which digit run, from 1, is the number. Raises ValueError with a full
    sentence: which end, or which run, cannot be understood and what to write.
    """
    _refuse_mistyped(text)
    ends = text.split("..")
    if len(ends) > 2 or "..." in text:
        raise ValueError(
            f'"{text}" has more than one "..". Write two serials, as in "4001..4987".'
        )
    if len(ends) == 1:
        single = parse_serial(text)
        return _between(text, single.runs, single.runs, run, suffix)
    first, last = (_runs_of_end(text, end) for end in ends)
    if first is None and last is None:
        raise ValueError(f'"{text}" names neither end. Write at least one serial.')
    if first is None or last is None:
        return _open_range(text, first, last, run, suffix)
    return _between(text, first, last, run, suffix)


def _refuse_mistyped(text: str) -> None:
    """Refuse what looks like a range and would be read as one serial that nobody has.

    A serial of two figures with a hyphen is left alone, unless the second figure is as
    long as the first and higher; then it may still be said as a range of one.
    """
    words = _RANGE_IN_WORDS.fullmatch(text.strip())
    if words:
        first, last = words.groups()
        raise ValueError(
            f'"{text}" looks like a range. Write "{first}..{last}" with two points.'
        )
    figures = _TWO_FIGURES.fullmatch(text.strip())
    if figures and len(figures[1]) == len(figures[2]) and figures[1] < figures[2]:
        raise ValueError(
            f'"{text}" looks like a range. Write "{figures[1]}..{figures[2]}" for all '
            f'serials between, or "{text}..{text}" for one serial with a hyphen.'
        )


def match(
    serial: Serial,
    span: SerialRange,
    *,
    type_run: int | None = None,
    pattern: str | None = None,
) -> Match:
    """Return whether the serial is in the range.

    `type_run`, `pattern`: the number run and the serial pattern of the engine's type.
    UNDETERMINED where the number is inside and the serial only lacks leading or
    trailing runs of the range, or has further ones, and wherever it does not fit the
    pattern: it was mistyped, or is of another type, so nothing goes by its number.
    """
    if pattern is not None and not fits_pattern(serial, pattern):
        return Match.UNDETERMINED
    return _match_shape(serial.runs, span, number_at(span, type_run))


def match_any(
    serial: Serial,
    spans: Sequence[SerialRange],
    *,
    type_run: int | None = None,
    pattern: str | None = None,
) -> Match:
    """Return IN if one range has the serial, else UNDETERMINED if one may have it."""
    answer = Match.OUT
    for span in spans:
        found = match(serial, span, type_run=type_run, pattern=pattern)
        if found is Match.IN:
            return Match.IN
        if found is Match.UNDETERMINED:
            answer = Match.UNDETERMINED
    return answer


def number_at(span: SerialRange, type_run: int | None) -> int:
    """Return the index of the run that is the number, -1 where there is none."""
    if span.named or type_run is None:
        return span.at
    places = _digit_places(span.runs)
    return places[type_run - 1] if type_run <= len(places) else span.at


def number_of(serial: Serial, type_run: int | None) -> int:
    """Return the index of the run that tells serials of a type apart, -1 for none.

    That is the run which the type names, else the first one of digits.
    """
    places = _digit_places(serial.runs)
    if type_run is not None and type_run <= len(places):
        return places[type_run - 1]
    return places[0] if places else -1


def bounds_at(span: SerialRange, at: int) -> tuple[int | None, int | None]:
    """Return the ends of the number at `at`, which may be the type's own run."""
    if at == span.at:
        return span.low, span.high
    own = span.runs[at]
    assert isinstance(own, int)
    return (None if span.low is None else own, None if span.high is None else own)


def runs_with_number(span: SerialRange, at: int, number: int) -> tuple[Run, ...]:
    """Return the runs of the serial of this range that has this number."""
    if at < 0:
        return span.runs
    return (*span.runs[:at], number, *span.runs[at + 1 :])


def number_inside(span: SerialRange, at: int, number: Run) -> bool:
    """Return whether the number lies between the ends, both included."""
    low, high = bounds_at(span, at)
    return (
        isinstance(number, int)
        and (low is None or low <= number)
        and (high is None or number <= high)
    )


def turning_points(spans: Iterable[SerialRange], pattern: str | None) -> list[int]:
    """Return where `match` may turn as one number of a serial grows, lowest first.

    It is compared with nothing else, whichever run of the serial it is: from one of
    these points up to before the next every answer is the same.
    """
    compared = set[Run | None]()
    for span in spans:
        compared.update((*span.runs, span.low, span.high))
    if pattern is not None:
        runs = _PATTERN_RUN.findall(_separated(pattern))
        compared.update(int(run) for run in runs if run.isdecimal())
    numbers = [one for one in compared if isinstance(one, int)]
    return sorted({one + step for one in numbers for step in (0, 1)})


def _separated(text: str) -> str:
    joined = _GROUPED.sub(lambda group: re.sub("[ ,]", "", group[0]), text.strip())
    return _BESIDE_LETTER.sub("", _SEPARATOR.sub("-", joined)).upper()


def _runs(text: str) -> tuple[Run, ...]:
    return tuple(
        int(run) if run[0] in "0123456789" else run
        for run in _RUN.findall(_separated(text))
    )


def _digit_places(runs: Sequence[Run]) -> list[int]:
    return [place for place, run in enumerate(runs) if isinstance(run, int)]


def _runs_of_end(text: str, end: str) -> tuple[Run, ...] | None:
    if not end.strip():
        return None
    try:
        return parse_serial(end.strip()).runs
    except ValueError as error:
        raise ValueError(f'"{text}": {error}') from error


def _open_range(
    text: str,
    first: tuple[Run, ...] | None,
    last: tuple[Run, ...] | None,
    run: int | None,
    suffix: Suffix | None,
) -> SerialRange:
    runs = first if first is not None else last
    assert runs is not None
    at = _place_of_run(text, runs, run)
    if at < 0:
        raise ValueError(
            f'"{text}" is open at one end but has no number to count from. '
            "Write a serial with digits."
        )
    number = runs[at]
    assert isinstance(number, int)
    return SerialRange(
        text=text,
        runs=runs,
        at=at,
        low=None if first is None else number,
        high=None if last is None else number,
        named=run is not None,
        suffix=suffix,
    )


def _between(
    text: str,
    first: tuple[Run, ...],
    last: tuple[Run, ...],
    run: int | None,
    suffix: Suffix | None,
) -> SerialRange:
    at = _place_of_number(text, first, last, run)
    low, high = (first[at], last[at]) if at >= 0 else (None, None)
    assert not isinstance(low, str)
    assert not isinstance(high, str)
    if low is not None and high is not None and low > high:
        raise ValueError(
            f'"{text}" runs backwards: {low} is above {high}. Write the lower one first.'
        )
    return SerialRange(
        text=text, runs=first, at=at, low=low, high=high, named=True, suffix=suffix
    )


def _place_of_run(text: str, runs: tuple[Run, ...], run: int | None) -> int:
    places = _digit_places(runs)
    if run is None:
        return places[0] if places else -1
    if not 1 <= run <= len(places):
        raise ValueError(
            f'"{text}" has {len(places)} runs of digits, so run {run} cannot be its number.'
        )
    return places[run - 1]


def _place_of_number(
    text: str, first: tuple[Run, ...], last: tuple[Run, ...], run: int | None
) -> int:
    if [isinstance(r, int) for r in first] != [isinstance(r, int) for r in last]:
        raise ValueError(
            f'The ends of "{text}" do not have one shape. '
            "Write one range for each kind of serial."
        )
    differing = [
        i for i, ends in enumerate(zip(first, last, strict=True)) if ends[0] != ends[1]
    ]
    for place in differing:
        if isinstance(first[place], str):
            raise ValueError(
                f'The ends of "{text}" differ in their letters: "{first[place]}" and '
                f'"{last[place]}". Write one range for each kind of serial.'
            )
    if len(differing) > 1:
        pairs = " and ".join(f"{first[p]}/{last[p]}" for p in differing)
        raise ValueError(
            f'The ends of "{text}" differ in more than one number: {pairs}. '
            "Only one run of digits may differ."
        )
    named = _place_of_run(text, first, run)
    if run is not None and differing and differing != [named]:
        raise ValueError(
            f'The ends of "{text}" differ in {first[differing[0]]}/{last[differing[0]]}, '
            f"which is not run {run} of the digits."
        )
    return differing[0] if differing else named


def _match_shape(runs: tuple[Run, ...], span: SerialRange, at: int) -> Match:
    if len(runs) == len(span.runs):
        return Match.IN if _fits_from(runs, 0, span, at) else Match.OUT
    if len(runs) > len(span.runs):
        offsets = [
            offset
            for offset in range(len(runs) - len(span.runs) + 1)
            if _fits_from(runs, offset, span, at)
        ]
        if span.suffix is not None and offsets[:1] == [0]:
            return Match.IN if span.suffix == "any" else Match.OUT
        return Match.UNDETERMINED if offsets else Match.OUT
    return Match.UNDETERMINED if _fits_inside(runs, span, at) else Match.OUT


def _fits_from(runs: tuple[Run, ...], offset: int, span: SerialRange, at: int) -> bool:
    """Whether all runs of the range stand in the serial from `offset` on."""
    own = runs[offset : offset + len(span.runs)]
    if at < 0:
        return own == span.runs
    return (
        number_inside(span, at, own[at])
        and own[:at] == span.runs[:at]
        and own[at + 1 :] == span.runs[at + 1 :]
    )


def _fits_inside(runs: tuple[Run, ...], span: SerialRange, at: int) -> bool:
    """Whether all runs of the serial stand somewhere in the range, number included."""
    for offset in range(len(span.runs) - len(runs) + 1):
        covers_number = at < 0 or offset <= at < offset + len(runs)
        if covers_number and all(
            number_inside(span, at, run)
            if offset + place == at
            else span.runs[offset + place] == run
            for place, run in enumerate(runs)
        ):
            return True
    return False

"""The ruler of hours: the life of an engine, and the stretch around now.

All hours are TSN in whole hundredths, on the axis kept for the engine.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from django.utils.safestring import SafeString

from tracker.figures import axis, caption, svg
from tracker.figures.axis import FRAMES, Frame, Record
from tracker.figures.caption import OffScale
from tracker.figures.intervals import Interval, Worded, band, points_of, remarks_on
from tracker.figures.scale import Scale, minor_of, step_of
from tracker.figures.stairs import Point, lanes_of, lengthened
from tracker.figures.states import word_of
from tracker.figures.wording import (
    NO_BREAK,
    decimal,
    distance,
    due_hours,
    grouped,
    hours,
    listed,
    used_hours,
)

HOUR: Final = 100
REACHES: Final = (50 * HOUR, 100 * HOUR, 150 * HOUR, 250 * HOUR)
WORDED: Final = Worded(place=due_hours, away=distance)
WANTED: Final = 6
"""So many marks are enough for a stretch; a longer one would only press them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursMark:
    """A due point at `at`. `note` replaces the point and the distance in its label.

    `tolerance_to`: where its tolerance ends. `candidates`: all places it may have,
    `at` being the least. `estimated`: the place is an estimate, `span` its range.
    """

    name: str
    at: int
    state: str
    note: str = ""
    tolerance_to: int | None = None
    candidates: tuple[int, ...] = ()
    estimated: bool = False
    span: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursRecord:
    """Work that was done at `at`; the name is short, as "oil" or "SB-24-011"."""

    name: str
    at: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursRuler:
    """Everything on one ruler of hours. `id`: of the figure, once on a page.

    `subject`: as in "engine MX-4T, serial 4731". `now` is None where TSN is not
    known: then nothing is drawn and everything stands in the line under the figure.
    `life_alone`: without the stretch around now.
    """

    id: str
    subject: str
    now: int | None
    marks: tuple[HoursMark, ...] = ()
    records: tuple[HoursRecord, ...] = ()
    interval: Interval | None = None
    life_alone: bool = False
    off_scale: tuple[OffScale, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    """The ruler sorted out: what stands on the life, what on the stretch."""

    ruler: HoursRuler
    now: int
    low: int
    high: int
    life: tuple[Point, ...]
    stretch: tuple[Point, ...]
    title: str
    desc: str


def draw_hours(ruler: HoursRuler, *, number: int = 1) -> SafeString:
    """The whole figure with its caption, its keyed list and what has no place."""
    if ruler.now is None:
        return _without_now(ruler, number)
    reading = _read(ruler, ruler.now)
    drawings = [_drawn(reading, frame) for frame in FRAMES]
    points = (*reading.life, *reading.stretch)
    text = "Hours. Above, the life of the engine; below, the stretch around now."
    if ruler.life_alone:
        text = "Hours of the engine's life."
    return caption.figure(
        *drawings,
        caption.figcaption(number, text, *_remarks(reading)),
        caption.legend([point.state for point in points]),
        caption.off_scale(ruler.off_scale),
        caption.keyed(points),
    )


def _without_now(ruler: HoursRuler, number: int) -> SafeString:
    missing = "the hours now are not known"
    rest = tuple(
        OffScale(name=mark.name, state=mark.state, why=mark.note or due_hours(mark.at))
        for mark in ruler.marks
    )
    return caption.figure(
        caption.figcaption(
            number, f"Hours. No scale is drawn for {ruler.subject}: {missing}."
        ),
        caption.off_scale((*rest, *ruler.off_scale)),
    )


def _read(ruler: HoursRuler, now: int) -> _Reading:
    low, high = _stretch_of(now, [mark.at for mark in ruler.marks])
    near = [mark for mark in ruler.marks if low <= mark.at <= high]
    if ruler.life_alone:
        near, high = [], now
    far = [mark for mark in ruler.marks if mark not in near]
    life = [*_ends(ruler, now), *(_point(m, now) for m in far)]
    stretch = [_point(mark, now) for mark in near]
    return _Reading(
        ruler=ruler,
        now=now,
        low=low,
        high=high,
        life=_keyed(life, "abcdefghijklmnopqrstuvwxyz"),
        stretch=_keyed(stretch, None),
        title=f"Hours of {ruler.subject}: its life"
        + ("" if ruler.life_alone else " and the stretch around now"),
        desc=_in_words(ruler, now),
    )


def _stretch_of(now: int, places: Sequence[int]) -> tuple[int, int]:
    """The shortest stretch that holds the six nearest points, if they are near."""
    off = sorted(abs(at - now) for at in places)
    near = [far for far in off if far <= REACHES[-1]][:WANTED]
    reach = next(reach for reach in REACHES if reach >= max(near, default=0))
    ten = 10 * HOUR
    return max(0, (now - reach) // ten * ten), -(-(now + reach) // ten) * ten


def _keyed(points: Sequence[Point], letters: str | None) -> tuple[Point, ...]:
    standing = sorted(points, key=lambda point: point.at)
    return tuple(
        replace(point, key=_key(place, letters)) for place, point in enumerate(standing)
    )


def _key(place: int, letters: str | None) -> str:
    if letters is None:
        return str(place + 1)
    again, letter = divmod(place, len(letters))
    return letters[letter] + (str(again + 1) if again else "")


def _point(mark: HoursMark, now: int) -> Point:
    return Point(
        at=mark.at,
        name=mark.name,
        note=mark.note or _note(mark, now),
        state=word_of(mark.state),
        others=tuple(sorted(set(mark.candidates) - {mark.at})),
        span=mark.span,
        tolerance=mark.tolerance_to,
        estimated=mark.estimated,
    )


def _note(mark: HoursMark, now: int) -> str:
    if len(mark.candidates) > 1:
        places = [decimal(at) for at in sorted(mark.candidates)]
        return f"{listed(places, 'or')}{NO_BREAK}h, {word_of(mark.state)}"
    prefix = "estimated " if mark.estimated else ""
    return f"{prefix}{due_hours(mark.at)}, {distance(mark.at - now)}"


def _ends(ruler: HoursRuler, now: int) -> list[Point]:
    return points_of(ruler.interval, now, WORDED) if ruler.interval else []


def _band(ruler: HoursRuler, now: int, scale: Scale, y: float) -> list[SafeString]:
    return band(ruler.interval, now, scale, y) if ruler.interval else []


def _drawn(reading: _Reading, frame: Frame) -> SafeString:
    life_parts, life_scale, life_y = _life(reading, frame)
    if reading.ruler.life_alone:
        return _as_drawing(reading, frame, life_parts, life_y + 34)
    top = life_y + 56
    stretch_parts, scale, height = _stretch(reading, frame, top)
    low, high = life_scale.at(scale.low), life_scale.at(scale.high)
    wash = life_scale.span(scale.low, scale.high)
    tie = [
        svg.line(low, life_y + 30, scale.at(scale.low), top, "loupe-l"),
        svg.line(high, life_y + 30, scale.at(scale.high), top, "loupe-l"),
        svg.line(low, life_y + 30, high, life_y + 30, "loupe-l"),
    ]
    washed = svg.bar(low, wash, life_y + 1, 29, "loupe")
    parts = [washed, *life_parts, *tie, *stretch_parts]
    return _as_drawing(reading, frame, parts, height)


def _as_drawing(
    reading: _Reading, frame: Frame, parts: Sequence[SafeString], height: float
) -> SafeString:
    return svg.drawing(
        *parts,
        id_=f"{reading.ruler.id}-{frame.name}",
        kind=f"w-{frame.name}",
        height=height,
        title=reading.title,
        desc=reading.desc,
    )


def _life(reading: _Reading, frame: Frame) -> tuple[list[SafeString], Scale, float]:
    now = reading.now
    far = max([reading.high, *(point.at for point in reading.life)])
    scale = Scale(low=0, high=max(far, HOUR), width=frame.width)
    step = step_of(scale, 58, HOUR)
    small = minor_of(step, HOUR)
    scale = replace(scale, high=-(-scale.high // small) * small)
    stairs = axis.stairs_for(now, _span_words, frame)
    scale, placed = lengthened(stairs, reading.life, scale, step=small, floor=0)
    y = 46 + frame.lane * lanes_of(placed)
    parts = [
        *_band(reading.ruler, now, scale, y),
        *axis.labels(placed, scale, frame, y),
        *axis.axis(scale, y, run_to=None if reading.ruler.interval else now),
        *axis.ticks(scale, y, unit=HOUR, figure=_figure),
        svg.stroke(scale.at(now), 16, y + 8, "now"),
        axis.now_text(scale, now, 12, f"now {decimal(now)}"),
    ]
    return parts, scale, y


def _stretch(
    reading: _Reading, frame: Frame, top: float
) -> tuple[list[SafeString], Scale, float]:
    now = reading.now
    stairs = axis.stairs_for(now, _span_words, frame)
    scale = Scale(low=reading.low, high=reading.high, width=frame.width)
    scale, placed = lengthened(stairs, reading.stretch, scale, step=10 * HOUR, floor=0)
    y = top + 32 + frame.lane * max(1, lanes_of(placed))
    done = [Record(at=record.at, name=record.name) for record in reading.ruler.records]
    at_now = scale.px(now)
    below, stems, lanes = axis.records(
        done, scale, frame, y, closed=(at_now - 18, at_now + 18)
    )
    closed = [(stem, stem) for stem in stems]
    closed.append((at_now - axis.NOW_CLEAR, at_now + axis.NOW_CLEAR))
    parts = [
        *axis.labels(placed, scale, frame, y),
        *axis.axis(scale, y, run_to=now),
        *below,
        *axis.ticks(scale, y, unit=HOUR, figure=_figure, giving_way=closed),
        svg.stroke(scale.at(now), top, y + 10, "now"),
        axis.now_text(scale, now, y + 22, "now"),
    ]
    return parts, scale, y + (42 + 17 * lanes if lanes else 34)


def _figure(hundredths: int) -> str:
    return grouped(hundredths // HOUR)


def _span_words(first: int, last: int) -> str:
    return f"{decimal(first)} to {hours(last)}"


def _remarks(reading: _Reading) -> list[str]:
    remarks = remarks_on(reading.ruler.interval)
    if any(mark.tolerance_to is not None for mark in reading.ruler.marks):
        remarks.append("An open box on the scale is a tolerance.")
    points = (*reading.life, *reading.stretch)
    if any(point.estimated or point.span for point in points):
        remarks.append("Broken: an estimate, the bracket is its range.")
    if any(point.others for point in points):
        remarks.append("Broken and more than once: one of these points, not yet known.")
    return remarks


def _in_words(ruler: HoursRuler, now: int) -> str:
    """Every mark of the ruler in words, in full, for those who do not see it."""
    said = [f"Now {used_hours(now)} TSN."]
    said += [_said_point(point) for point in _ends(ruler, now)]
    for mark in sorted(ruler.marks, key=lambda mark: mark.at):
        said.append(_said_point(_point(mark, now)))
    done = [f"{record.name} at {hours(record.at)}" for record in ruler.records]
    if done:
        said.append(f"Recorded: {listed(done)}.")
    return " ".join(said)


def _said_point(point: Point) -> str:
    extras = ""
    if point.tolerance is not None:
        extras += f", tolerance to {hours(point.tolerance)}"
    if point.span is not None:
        extras += f", range {_span_words(*point.span)}"
    return f"{point.name}, {point.state}: {point.note}{extras}."

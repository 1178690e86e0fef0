"""The ruler of dates: one scale of days with today as its line."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from django.utils.safestring import SafeString

from tracker.figures import axis, caption, svg
from tracker.figures.axis import FRAMES, Frame, Record
from tracker.figures.caption import OffScale
from tracker.figures.intervals import Interval, Worded, band, points_of, remarks_on
from tracker.figures.lettering import width_of
from tracker.figures.scale import Scale
from tracker.figures.stairs import Point, lanes_of, lengthened
from tracker.figures.states import RECORDED, word_of
from tracker.figures.wording import (
    MONTHS,
    day,
    days_away,
    listed,
    long_day,
)

BEFORE: Final = 300
AFTER: Final = 400
FARTHEST: Final = 3 * 366
"""Days from today; what lies farther off would press everything else together."""

WORDED: Final = Worded(
    place=lambda ordinal: day(date.fromordinal(ordinal)), away=days_away
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DateMark:
    """A due date. `note` replaces date and distance. `estimated`: a forecast or an
    estimate, with its range in `span`. `tolerance_to`: the last day of its tolerance.
    `candidates`: all dates it may have, `on` being the earliest.
    """

    name: str
    on: date
    state: str
    note: str = ""
    tolerance_to: date | None = None
    candidates: tuple[date, ...] = ()
    estimated: bool = False
    span: tuple[date, date] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DateRecord:
    """Work that was done on a day."""

    name: str
    on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class DatesRuler:
    """Everything on one ruler of dates; `today` as the station's calendar has it.

    `interval`: its places are ordinals of days. `whole`: the scale reaches as far as
    the interval and the marks do, else what lies far off is named under the figure.
    """

    id: str
    subject: str
    today: date
    marks: tuple[DateMark, ...] = ()
    records: tuple[DateRecord, ...] = ()
    interval: Interval | None = None
    whole: bool = False
    off_scale: tuple[OffScale, ...] = ()


def draw_dates(ruler: DatesRuler, *, number: int = 2) -> SafeString:
    """The whole figure with its caption, its keyed list and what has no place."""
    today = ruler.today.toordinal()
    ends = points_of(ruler.interval, today, WORDED) if ruler.interval else []
    points = [*ends, *(_point(mark, ruler.today) for mark in ruler.marks)]
    near = [point for point in points if ruler.whole or _is_near(point, today)]
    far = tuple(
        OffScale(name=point.name, state=point.state, why=point.note)
        for point in points
        if point not in near and point.state != RECORDED
    )
    keyed = _keyed(near)
    return caption.figure(
        *(_drawn(ruler, keyed, frame) for frame in FRAMES),
        caption.figcaption(number, "Dates.", *_remarks(ruler, near)),
        caption.legend([point.state for point in near]),
        caption.off_scale((*far, *ruler.off_scale)),
        caption.keyed(keyed),
    )


def _is_near(point: Point, today: int) -> bool:
    """What was recorded does not lengthen the scale, what is due does."""
    reach = BEFORE if point.state == RECORDED else FARTHEST
    return abs(point.at - today) <= reach


def _remarks(ruler: DatesRuler, points: Sequence[Point]) -> list[str]:
    remarks = remarks_on(_banded(ruler, points))
    if any(point.estimated or point.span for point in points):
        remarks.append("Broken: a forecast or an estimate, the bracket is its range.")
    return remarks


def _banded(ruler: DatesRuler, points: Sequence[Point]) -> Interval | None:
    """The interval as a band: not where its end lies off the scale, as would the band's."""
    interval = ruler.interval
    if interval is None or any(point.at == interval.end for point in points):
        return interval
    return None


def _keyed(points: Sequence[Point]) -> tuple[Point, ...]:
    standing = sorted(points, key=lambda point: point.at)
    return tuple(
        replace(point, key=str(place)) for place, point in enumerate(standing, 1)
    )


def _point(mark: DateMark, today: date) -> Point:
    others = sorted(set(mark.candidates) - {mark.on})
    return Point(
        at=mark.on.toordinal(),
        name=mark.name,
        note=_note(mark, today),
        state=word_of(mark.state),
        others=tuple(other.toordinal() for other in others),
        span=(mark.span[0].toordinal(), mark.span[1].toordinal())
        if mark.span
        else None,
        tolerance=mark.tolerance_to.toordinal() if mark.tolerance_to else None,
        estimated=mark.estimated,
    )


def _note(mark: DateMark, today: date) -> str:
    if mark.note:
        return mark.note
    if len(mark.candidates) > 1:
        places = [day(on) for on in sorted(mark.candidates)]
        return f"{listed(places, 'or')}, {word_of(mark.state)}"
    prefix = "about " if mark.estimated else ""
    return f"{prefix}{day(mark.on)}, {days_away((mark.on - today).days)}"


def _drawn(ruler: DatesRuler, points: Sequence[Point], frame: Frame) -> SafeString:
    today = ruler.today.toordinal()
    places = [point.at for point in points]
    interval = _banded(ruler, points)
    if ruler.whole and interval is not None:
        places.append(interval.start)
    scale = Scale(
        low=min([today - BEFORE, *(at - 20 for at in places)]),
        high=max([today + AFTER, *places]),
        width=frame.width,
    )
    stairs = axis.stairs_for(today, _span_words, frame)
    scale, placed = lengthened(stairs, points, scale, step=10, floor=None)
    y = 46 + frame.lane * max(1, lanes_of(placed))
    done = [Record(at=r.on.toordinal(), name=r.name) for r in ruler.records]
    below, stems, lanes = axis.records(done, scale, frame, y)
    return svg.drawing(
        *(band(interval, today, scale, y) if interval else []),
        *axis.labels(placed, scale, frame, y),
        *axis.axis(scale, y, run_to=None if interval else today),
        *below,
        *_months(scale, y, stems),
        svg.stroke(scale.at(today), 16, y + 8, "now"),
        axis.now_text(scale, today, 12, day(ruler.today)),
        id_=f"{ruler.id}-{frame.name}",
        kind=f"w-{frame.name}",
        height=y + (42 + 17 * lanes if lanes else 34),
        title=f"Dates of {ruler.subject}, with {long_day(ruler.today)} as today",
        desc=_in_words(ruler, points),
    )


def _months(scale: Scale, y: float, stems: Sequence[float]) -> list[SafeString]:
    """A tick on the first of each month; figures as close as they can stand."""
    apart = _months_between_figures(scale)
    parts = []
    for first in _firsts(scale):
        at = first.toordinal()
        months = first.year * 12 + first.month - 1
        is_major = months % apart == 0
        if months % _months_between_ticks(apart):
            continue
        tick = (8, "tick") if is_major else (4, "tick-s")
        parts.append(svg.stroke(scale.at(at), y, y + tick[0], tick[1]))
        is_year = first.month == 1
        text = str(first.year) if is_year else MONTHS[first.month - 1][:3]
        half = width_of(text) / 2 + 4
        if is_major and not any(abs(scale.px(at) - stem) < half for stem in stems):
            kind = "t-b" if is_year else "t-2"
            parts.append(axis.tick_figure(scale, at, y + 21, text, kind))
    return parts


def _months_between_figures(scale: Scale) -> int:
    least = scale.per_px() * axis.FIGURE_GAP / 30
    months = next((count for count in (1, 3, 6, 12) if count >= least), 0)
    return months or 12 * -(-int(least) // 12)


def _months_between_ticks(apart: int) -> int:
    """Small ticks stand by the month, in a long life by the quarter or the year."""
    return 1 if apart <= 6 else 3 if apart == 12 else 12


def _firsts(scale: Scale) -> list[date]:
    start = date.fromordinal(scale.low)
    year, month = start.year, start.month
    firsts = []
    while (first := date(year, month, 1)).toordinal() <= scale.high:
        if first.toordinal() >= scale.low:
            firsts.append(first)
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
    return firsts


def _span_words(first: int, last: int) -> str:
    return f"{day(date.fromordinal(first))} to {day(date.fromordinal(last))}"


def _in_words(ruler: DatesRuler, points: Sequence[Point]) -> str:
    said = [f"Today {long_day(ruler.today)}."]
    for point in points:
        extras = ""
        if point.tolerance is not None:
            extras += f", tolerance to {day(date.fromordinal(point.tolerance))}"
        if point.span is not None:
            extras += f", range {_span_words(*point.span)}"
        said.append(f"{point.name}, {point.state}: {point.note}{extras}.")
    done = [f"{record.name} on {day(record.on)}" for record in ruler.records]
    if done:
        said.append(f"Recorded: {listed(done)}.")
    return " ".join(said)

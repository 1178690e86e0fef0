"""The overhaul interval on a ruler: a band on its axis, and the points of its ends."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from django.utils.safestring import SafeString

from tracker.figures import svg
from tracker.figures.scale import Scale
from tracker.figures.stairs import Point
from tracker.figures.states import RECORDED, word_of

WITHIN_REACH = "within reach"
HELD = "holds"


@dataclass(frozen=True, slots=True)
class Further:
    """An extension within reach: where the interval would end, and with what."""

    at: int
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """The interval of this life, from `start` to `end`, in the units of its ruler.

    `state`: of its end. `recommended`: it is not law. `start_name`, `start_note`: what
    stood at its start ("overhauled"), empty where nothing is to be lettered there.
    `held_from`: where it would end without the extension that holds. `further`: where
    those within reach would end, each once, the nearest first ("with SB-24-011").
    """

    start: int
    end: int
    state: str
    recommended: bool = False
    start_name: str = ""
    start_note: str = ""
    held_from: int | None = None
    further: tuple[Further, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Worded:
    """How a ruler writes a place on it and a distance from now."""

    place: Callable[[int], str]
    away: Callable[[int], str]


def points_of(interval: Interval, now: int, worded: Worded) -> list[Point]:
    """The points at which an interval starts and ends, and at which it would end."""
    points = [
        Point(
            at=interval.end,
            name=_end_name(interval, now),
            note=f"{worded.place(interval.end)}, {worded.away(interval.end - now)}",
            state=word_of(interval.state),
        )
    ]
    if interval.start_name:
        points.append(
            Point(
                at=interval.start,
                name=interval.start_name,
                note=interval.start_note or worded.place(interval.start),
                state=RECORDED,
            )
        )
    if interval.held_from is not None:
        points.append(
            Point(
                at=interval.held_from,
                name="without the extension",
                note=worded.place(interval.held_from),
                state=HELD,
            )
        )
    for one in interval.further:
        points.append(
            Point(
                at=one.at,
                name="longer one would end",
                note=worded.place(one.at) + (f", {one.note}" if one.note else ""),
                state=WITHIN_REACH,
            )
        )
    return points


def _end_name(interval: Interval, now: int) -> str:
    longer = "longer " if interval.held_from is not None else ""
    kind = f"{'recommended ' if interval.recommended else ''}{longer}interval"
    return f"{kind} {'ended' if interval.end < now else 'ends'}"


def band(interval: Interval, now: int, scale: Scale, y: float) -> list[SafeString]:
    """The band on the axis: used part solid, extensions hatched, overrun as the axis.

    What lies off the scale is cut at its end.
    """
    top, start, end = y - 11, interval.start, interval.end
    plain = interval.held_from if interval.held_from is not None else end
    parts = [_bar(scale, start, plain, top, "band")]
    if scale.low < start:
        parts.append(_bar(scale, scale.low, start, top, "old"))
    if plain < end:
        parts.append(_hatch(scale, plain, end, top))
    reached = [end, *(one.at for one in interval.further)]
    parts += [_hatch(scale, low, high, top) for low, high in pairwise(reached)]
    parts.append(_bar(scale, start, min(max(now, start), end), top, "used"))
    if now > end:
        parts.append(svg.line(scale.at(end), y, scale.at(now), y, "run"))
    return parts


def _bar(scale: Scale, first: int, last: int, top: float, kind: str) -> SafeString:
    return svg.bar(scale.at(first), scale.span(first, last), top, 11, kind)


def _hatch(scale: Scale, first: int, last: int, top: float) -> SafeString:
    return svg.hatched(scale.at(first), scale.span(first, last), top, 11)


def remarks_on(interval: Interval | None) -> list[str]:
    """What a caption says of the band."""
    if interval is None:
        return []
    remarks = ["Filled: used of the interval."]
    several = len(interval.further) > 1
    reach = "those within reach, one after the other" if several else "one within reach"
    if interval.held_from is not None:
        then = f", then {reach}" if interval.further else ""
        remarks.append(f"Hatched: the extension that holds{then}.")
    elif several:
        remarks.append("Hatched: the extensions within reach, one after the other.")
    elif interval.further:
        remarks.append("Hatched: an extension within reach.")
    return remarks

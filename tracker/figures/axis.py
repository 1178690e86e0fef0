"""What hours, dates and serials share: axis, ticks, labelled stems, records."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.safestring import SafeString

from tracker.figures import svg
from tracker.figures.lettering import width_of
from tracker.figures.scale import Scale, minor_of, multiples, step_of
from tracker.figures.stairs import OFFSET, Placed, Point, Stairs
from tracker.figures.states import RECORDED, is_past, slug_of

FIGURE_GAP: Final = 58
NOW_CLEAR: Final = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """One of the widths a figure is drawn for; the page shows the one that fits."""

    name: str
    width: int
    keys: bool

    @property
    def lane(self) -> int:
        """The height of one lane of labels in px."""
        return 20 if self.keys else 33


FRAMES: Final = (
    Frame(name="narrow", width=288, keys=True),
    Frame(name="mid", width=630, keys=False),
    Frame(name="wide", width=880, keys=False),
)


def labels(
    placed: Sequence[Placed], scale: Scale, frame: Frame, y: float
) -> list[SafeString]:
    """Stems, shapes and labels above the axis at height `y`."""
    parts = brackets([label.point for label in placed], scale, y)
    for label in placed:
        parts.extend(_label(label, scale, frame, y))
    return parts


def _label(
    label: Placed, scale: Scale, frame: Frame, y: float
) -> tuple[SafeString, ...]:
    point, x = label.point, scale.at(label.point.at)
    name_y = y - (21.5 if frame.keys else 35) - frame.lane * label.lane
    anchor, dx = ("start", OFFSET) if label.ahead else ("end", -OFFSET)
    lines = [_head(point, x, name_y, dx, anchor, frame)]
    if not frame.keys:
        lines.append(svg.words(point.note, x, name_y + 14, "t-2", dx=dx, anchor=anchor))
    return (
        svg.stroke(x, y, name_y - 8.5, _stem_kind(point)),
        _shape(point, x, name_y, ahead=label.ahead),
        *lines,
    )


def _head(
    point: Point, x: str, y: float, dx: float, anchor: str, frame: Frame
) -> SafeString:
    text = point.key if frame.keys else point.name
    past = point.state != RECORDED and is_past(point.state)
    return svg.words(text, x, y, "t-past" if past else "t-b", dx=dx, anchor=anchor)


def _shape(point: Point, x: str, name_y: float, *, ahead: bool) -> SafeString:
    if point.state == RECORDED:
        return svg.square(x, 6 if ahead else -15, name_y - 7.5, 6, "sh-f")
    return svg.shape(slug_of(point.state), x, 6 if ahead else -18, name_y - 10.5)


def _stem_kind(point: Point) -> str:
    if point.estimated or (point.others and point.count == 1):
        return "stem-est"
    if point.state != RECORDED and is_past(point.state):
        return "stem-past"
    return "stem"


def brackets(points: Sequence[Point], scale: Scale, y: float) -> list[SafeString]:
    """Just above the axis: tolerances as boxes, ranges and further places as brackets.

    Brackets that would run into each other stand at different heights.
    """
    parts: list[SafeString] = []
    taken: list[list[tuple[int, int]]] = [[], [], []]
    for point in points:
        if point.tolerance is not None:
            x, width = scale.at(point.at), scale.span(point.at, point.tolerance)
            parts.append(svg.bar(x, width, y - 5, 5, "tol"))
        ends = point.span or ((point.at, max(point.others)) if point.others else None)
        if ends is None:
            continue
        free = (i for i, row in enumerate(taken) if not _meets(row, ends))
        height = next(free, len(taken) - 1)
        taken[height].append(ends)
        parts.extend(_bracket(point, ends, scale, y - 8 - 4 * height, y))
    return parts


def _meets(row: Sequence[tuple[int, int]], ends: tuple[int, int]) -> bool:
    return any(first <= ends[1] and ends[0] <= last for first, last in row)


def _bracket(
    point: Point, ends: tuple[int, int], scale: Scale, top: float, y: float
) -> list[SafeString]:
    first, last = scale.at(ends[0]), scale.at(ends[1])
    parts = [svg.line(first, top, last, top, "whisk")]
    # An end that lies off the scale has no cap: the bracket is seen to go on.
    parts += [
        svg.stroke(scale.at(end), top - 2.5, top + 2.5, "whisk")
        for end in ends
        if scale.holds(end)
    ]
    kind = "stem" if point.count > 1 else "stem-est"
    parts += [
        svg.stroke(scale.at(other), y, top, kind)
        for other in point.others
        if scale.holds(other)
    ]
    return parts


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """Something that was done, at its place on the scale."""

    at: int
    name: str


def records(
    done: Sequence[Record],
    scale: Scale,
    frame: Frame,
    y: float,
    *,
    closed: tuple[float, float] = (-1, -1),
) -> tuple[list[SafeString], list[float], int]:
    """Below the axis: the drawing, the px of stems that reach down, and its lanes.

    A record whose name finds no room stands as a cased square on the axis, and so does
    one whose stem would run through what is lettered from `closed` px to px.
    """
    shown = [record for record in done if scale.holds(record.at)]
    lettered: list[tuple[float, float, int]] = []
    parts: list[SafeString] = []
    for record in sorted(shown, key=lambda record: record.at):
        stem, width = scale.px(record.at), width_of(record.name) + 6
        lane = max(
            (at[2] + 1 for at in lettered if stem - at[0] < width + 10), default=0
        )
        is_closed = closed[0] < stem < closed[1]
        if frame.keys or stem - width < 0 or lane > 3 or is_closed:
            parts.append(svg.square(scale.at(record.at), -4, y - 4, 8, "dot"))
            continue
        lettered.append((stem, width, lane))
        parts.extend(_record(record, scale.at(record.at), y, y + 46 + 17 * lane))
    stems = [stem for stem, _, _ in lettered]
    return parts, stems, max((lane + 1 for _, _, lane in lettered), default=0)


def _record(record: Record, x: str, y: float, foot: float) -> tuple[SafeString, ...]:
    return (
        svg.stroke(x, y, foot, "rec"),
        svg.words(record.name, x, foot - 2, "t-2", dx=-5, anchor="end"),
        svg.square(x, -2.5, foot - 3, 5, "sh-f"),
    )


def axis(scale: Scale, y: float, *, run_to: int | None = None) -> list[SafeString]:
    """The axis; the part that has been run is drawn thick."""
    parts = [svg.line(scale.at(scale.low), y, scale.at(scale.high), y, "axis")]
    if run_to is not None and run_to > scale.low:
        parts.append(svg.line(scale.at(scale.low), y, scale.at(run_to), y, "run"))
    return parts


def ticks(
    scale: Scale,
    y: float,
    *,
    unit: int,
    figure: Callable[[int], str],
    giving_way: Sequence[tuple[float, float]] = (),
    kind: str = "t-2",
) -> list[SafeString]:
    """Ticks below the axis. `giving_way`: px from..to in which no figure may stand."""
    widest = max(width_of(figure(scale.low)), width_of(figure(scale.high)))
    step = step_of(scale, max(FIGURE_GAP, widest + 16), unit)
    parts: list[SafeString] = []
    for value in multiples(minor_of(step, unit), scale.low, scale.high):
        if value % step:
            parts.append(svg.stroke(scale.at(value), y, y + 4, "tick-s"))
            continue
        parts.append(svg.stroke(scale.at(value), y, y + 8, "tick"))
        half = width_of(figure(value)) / 2 + 4
        x = scale.px(value)
        if not any(x - half < end and start < x + half for start, end in giving_way):
            parts.append(tick_figure(scale, value, y + 21, figure(value), kind))
    return parts


def tick_figure(
    scale: Scale, value: int, y: float, text: str, kind: str = "t-2"
) -> SafeString:
    """A figure under its tick, drawn inwards where it would leave the drawing."""
    x, half = scale.px(value), width_of(text, bold=kind == "t-b") / 2
    if x + half > scale.width:
        dx = scale.width - x
        return svg.words(text, scale.at(value), y, kind, dx=dx, anchor="end")
    if x - half < 0:
        return svg.words(text, scale.at(value), y, kind, dx=-x)
    return svg.words(text, scale.at(value), y, kind, anchor="middle")


def now_text(scale: Scale, now: int, y: float, text: str) -> SafeString:
    """The label of the accent line, held inside the drawing."""
    x, half = scale.px(now), width_of(text, bold=True, size=13) / 2
    at = scale.at(now)
    if x - half < 0:
        return svg.words(text, at, y, "t-now", dx=-x)
    if x + half > scale.width:
        return svg.words(text, at, y, "t-now", dx=scale.width - x, anchor="end")
    return svg.words(text, at, y, "t-now", anchor="middle")


def stairs_for(pivot: int, worded: Callable[[int, int], str], frame: Frame) -> Stairs:
    return Stairs(pivot=pivot, worded=worded, keys=frame.keys)

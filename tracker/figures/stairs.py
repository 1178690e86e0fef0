"""Labels on stairs that rise towards one place, so that none is crossed by a stem.

What lies before the place is lettered to the left of its stem, what lies behind it to
the right. A label is lifted over every stem that would run through it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from tracker.figures.lettering import fitted, width_of
from tracker.figures.scale import Scale
from tracker.figures.states import most_urgent

OFFSET: Final = 22
CLEAR: Final = 10
MOST_LANES: Final = 5
WIDEST: Final = 0.42
"""The largest share of a drawing's width that one label may take."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One mark on a scale, with everything that is drawn or said of it.

    `name` and `note` are the two lines of its label, `key` stands in their place on
    a narrow scale. `others`: further candidates for its place. `span`: the range of
    an estimate. `tolerance`: where its tolerance ends. `count`: how many it stands for.
    """

    at: int
    name: str
    note: str
    state: str
    key: str = ""
    others: tuple[int, ...] = ()
    span: tuple[int, int] | None = None
    tolerance: int | None = None
    estimated: bool = False
    count: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A point with its lane (0 is next to the axis) and the px its label takes."""

    point: Point
    ahead: bool
    lane: int
    stem: float
    width: float

    def box(self) -> tuple[float, float]:
        """Left and right end of the label in px at the least width."""
        if self.ahead:
            return self.stem, self.stem + self.width
        return self.stem - self.width, self.stem


@dataclass(frozen=True, slots=True, kw_only=True)
class Stairs:
    """How labels are set: `keys` alone or two lines; `worded` writes a merged span."""

    pivot: int
    worded: Callable[[int, int], str]
    keys: bool = False

    def label_width(self, point: Point) -> float:
        if self.keys:
            return width_of(point.key, bold=True) + OFFSET + 2
        name = width_of(point.name, bold=True)
        return max(name, width_of(point.note)) + OFFSET + 2

    def shortened(self, point: Point, scale: Scale) -> Point:
        """The point with both lines cut to what the drawing can hold."""
        if self.keys:
            return point
        most = scale.width * WIDEST - OFFSET - 2
        return replace(
            point,
            name=fitted(point.name, most, bold=True),
            note=fitted(point.note, most),
        )

    def unmerged(self, points: Sequence[Point], scale: Scale) -> tuple[Placed, ...]:
        """All labels of one scale, in as many lanes as they need."""
        ahead = [point for point in points if point.at >= self.pivot]
        past = [point for point in points if point.at < self.pivot]
        return (
            *self._laned(_standing(past), scale, ahead=False),
            *self._laned(_standing(ahead), scale, ahead=True),
        )

    def placed(self, points: Sequence[Point], scale: Scale) -> tuple[Placed, ...]:
        """All labels of one scale; close neighbours become one above five lanes."""
        ahead = [point for point in points if point.at >= self.pivot]
        past = [point for point in points if point.at < self.pivot]
        return (
            *self._one_side(past, scale, ahead=False),
            *self._one_side(ahead, scale, ahead=True),
        )

    def _one_side(
        self, points: Sequence[Point], scale: Scale, *, ahead: bool
    ) -> tuple[Placed, ...]:
        standing = _standing(points)
        while True:
            placed = self._laned(standing, scale, ahead=ahead)
            if all(label.lane < MOST_LANES for label in placed):
                return placed
            standing = self._with_nearest_merged(standing)

    def _laned(
        self, points: Sequence[Point], scale: Scale, *, ahead: bool
    ) -> tuple[Placed, ...]:
        placed: list[Placed] = []
        for point in reversed(points) if ahead else points:
            shown = self.shortened(point, scale)
            stem, width = scale.px(point.at), self.label_width(shown)
            lane = 0
            for other in placed:
                if abs(other.stem - stem) < width + CLEAR:
                    lane = max(lane, other.lane + 1)
            placed.append(
                Placed(point=shown, ahead=ahead, lane=lane, stem=stem, width=width)
            )
        return tuple(placed)

    def _with_nearest_merged(self, points: list[Point]) -> list[Point]:
        gaps = [later.at - sooner.at for sooner, later in pairwise(points)]
        at = gaps.index(min(gaps))
        both = self._merged(points[at], points[at + 1])
        return [*points[:at], both, *points[at + 2 :]]

    def _merged(self, sooner: Point, later: Point) -> Point:
        count = sooner.count + later.count
        others = (*sooner.others, later.at, *later.others)
        first = sooner.key.split("–")[0]
        last = later.key.split("–")[-1]
        return Point(
            at=sooner.at,
            name=f"{count} points",
            note=self.worded(sooner.at, max(others)),
            state=most_urgent([sooner.state, later.state]),
            key=f"{first}–{last}",
            others=others,
            count=count,
        )


def _standing(points: Sequence[Point]) -> list[Point]:
    return sorted(points, key=lambda point: point.at)


def lanes_of(placed: Sequence[Placed]) -> int:
    return max((label.lane + 1 for label in placed), default=0)


def lengthened(
    stairs: Stairs,
    points: Sequence[Point],
    scale: Scale,
    *,
    step: int,
    floor: int | None,
) -> tuple[Scale, tuple[Placed, ...]]:
    """The scale made longer, in whole steps, until the outermost labels fit.

    At the left it is not lengthened below `floor`; from there the margin grows.
    """
    fitting = scale
    while True:
        placed = stairs.placed(points, fitting)
        over_left = max((-label.box()[0] for label in placed), default=0.0)
        over_right = max(
            (label.box()[1] - fitting.width for label in placed), default=0.0
        )
        if over_left <= 0 and over_right <= 0:
            return fitting, placed
        # A sixteenth of the length at a time: both ends then move alike, and the
        # search ends after a few rounds even for a mark that stands far out.
        more = max(1, (fitting.high - fitting.low) // (16 * step)) * step
        if over_right > 0:
            fitting = replace(fitting, high=fitting.high + more)
        if over_left > 0 and (floor is None or fitting.low > floor):
            low = fitting.low - more
            fitting = replace(fitting, low=low if floor is None else max(floor, low))
        elif over_left > 0:
            fitting = replace(fitting, left=fitting.left + over_left)

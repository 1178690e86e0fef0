"""One scale of days for all rows of a table: a head cell, and a lane in each row."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.safestring import SafeString

from tracker.figures import svg
from tracker.figures.scale import Scale, multiples
from tracker.figures.states import is_past, slug_of, word_of
from tracker.figures.wording import days, grouped

WIDTH: Final = 272
MIDDLE: Final = 19
BACK: Final = 30
STEP: Final = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """One row: `days` from today, negative for past, None without a date.

    An hour limit stands at its forecast, with the range of the forecast in `span`.
    """

    state: str
    days: int | None
    span: tuple[int, int] | None = None


def days_scale(ahead: int) -> Scale:
    """The scale for a table that looks `ahead` days into the future, to a full 30."""
    high = max(STEP, -(-ahead // STEP) * STEP)
    return Scale(low=-BACK, high=high, width=WIDTH, left=16, right=20)


def lane_head(scale: Scale) -> SafeString:
    """The scale itself, for the head of the column."""
    step = STEP * max(1, (scale.high - scale.low) // 180)
    parts = []
    for value in multiples(step, scale.low, scale.high):
        x = scale.at(value)
        kind = "now" if value == 0 else "tick"
        parts.append(svg.stroke(x, 18, 24, kind))
        if value == 0:
            parts.append(svg.words("today", x, 12, "t-now", anchor="middle"))
        elif abs(scale.px(value) - scale.px(0)) > 34:
            parts.append(svg.words(grouped(value), x, 12, "t-2", anchor="middle"))
    return svg.el(
        "svg",
        svg.el("title", "Days from today"),
        *parts,
        class_="lane-head",
        width="100%",
        height=24,
        role="img",
    )


def lane(row: Lane, scale: Scale) -> SafeString:
    """One row of the column. The cells beside it say the same in words."""
    step = STEP * max(1, (scale.high - scale.low) // 180)
    parts = [
        svg.el("line", class_="grid", x1=x, x2=x, y1=0, y2="100%")
        for x in _places(scale, step)
    ]
    today = scale.at(0)
    parts.append(svg.el("line", class_="now", x1=today, x2=today, y1=-1, y2="101%"))
    if row.days is not None:
        parts += _mark(row, row.days, scale)
    return svg.el("svg", *parts, class_="lane", aria_hidden="true")


def _places(scale: Scale, step: int) -> Sequence[str]:
    return [scale.at(v) for v in multiples(step, scale.low, scale.high) if v]


def _mark(row: Lane, at: int, scale: Scale) -> list[SafeString]:
    past = is_past(word_of(row.state))
    if not scale.holds(at):
        return _beyond(at, scale, past=past)
    x = scale.at(at)
    stem = svg.line(scale.at(0), MIDDLE, x, MIDDLE, "stem-past" if past else "stem")
    cased = svg.square(x, -8, MIDDLE - 8, 16, "case")
    parts = [stem, cased, svg.shape(slug_of(row.state), x, -6, MIDDLE - 6)]
    if row.span is not None:
        parts += _whisker(row.span, scale)
    return parts


def _beyond(at: int, scale: Scale, *, past: bool) -> list[SafeString]:
    """A point off the scale: a line to the edge, and how far off it is."""
    edge = scale.at(scale.high if at > 0 else scale.low)
    kind = "stem-past" if past else "stem"
    dx, anchor = (0, "end") if at > 0 else (0, "start")
    text = f"{days(at)} \u203a" if at > 0 else f"\u2039 {grouped(-at)}"
    return [
        svg.line(scale.at(0), MIDDLE, edge, MIDDLE, kind),
        svg.words(text, edge, MIDDLE + 14, "t-2", dx=dx, anchor=anchor),
    ]


def _whisker(span: tuple[int, int], scale: Scale) -> list[SafeString]:
    y = MIDDLE + 10
    parts = [svg.line(scale.at(span[0]), y, scale.at(span[1]), y, "whisk")]
    parts += [
        svg.stroke(scale.at(end), y - 2.5, y + 2.5, "whisk")
        for end in span
        if scale.holds(end)
    ]
    return parts

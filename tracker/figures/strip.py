"""Which serials each revision of a publication covers, as a strip of bars.

One strip for one shape of serial: the scale is its moving run of digits.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.safestring import SafeString

from tracker.figures import axis, caption, svg
from tracker.figures.axis import FRAMES, Frame
from tracker.figures.lettering import fitted, width_of
from tracker.figures.scale import Scale
from tracker.figures.stairs import MOST_LANES, Placed, Point, Stairs, lanes_of
from tracker.figures.states import slug_of, word_of
from tracker.figures.wording import listed

MOST_ENGINES: Final = 24
BAR: Final = 11
COLUMN: Final = {"narrow": 0, "mid": 104, "wide": 136}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Serials from `first` to `last`, both covered; None is an open end.

    `condition`: what must also be true, in words; empty where the serial is enough.
    """

    first: int | None
    last: int | None
    condition: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StripRow:
    """One revision: its name, "current" or "superseded", and what it covers."""

    name: str
    standing: str
    stretches: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StripEngine:
    """One of our engines: the serial as stamped, its number, its state here."""

    serial: str
    number: int
    state: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """`rows`: oldest revision first. `shape`: of the serial, as "K-#-62B"."""

    id: str
    subject: str
    rows: tuple[StripRow, ...]
    engines: tuple[StripEngine, ...] = ()
    shape: str = ""


def draw_strip(strip: Strip, *, number: int = 1) -> SafeString:
    """The whole figure with its caption, its conditions and its keyed list."""
    points = _points(strip.engines)
    conditions = _conditions(strip.rows)
    sentences = [_what(strip)]
    sentences += [f"{key}: {text}." for text, key in conditions.items()]
    if conditions:
        sentences.insert(1, "Hatched: under a further condition.")
    narrow = FRAMES[0]
    is_keyed = bool(_engine_labels(points, _scale(strip, points, narrow), narrow))
    return caption.figure(
        *(_drawn(strip, points, conditions, frame) for frame in FRAMES),
        caption.figcaption(number, *sentences),
        caption.legend([point.state for point in points]),
        caption.keyed(points if is_keyed else ()),
    )


def _what(strip: Strip) -> str:
    shape = f" The scale is the number in {strip.shape}." if strip.shape else ""
    return f"Serial numbers covered by each revision.{shape}"


def _points(engines: Sequence[StripEngine]) -> tuple[Point, ...]:
    standing = sorted(engines, key=lambda engine: engine.number)
    return tuple(
        Point(
            at=engine.number,
            name=engine.serial,
            note="",
            state=word_of(engine.state),
            key=str(place),
        )
        for place, engine in enumerate(standing, 1)
    )


def _conditions(rows: Sequence[StripRow]) -> dict[str, str]:
    """Each condition once, with the letter that stands for it under a bar."""
    texts = [s.condition for row in rows for s in row.stretches if s.condition]
    letters = "abcdefghijklmnopqrstuvwxyz"
    return {
        text: letters[place % 26] + ("" if place < 26 else str(place // 26 + 1))
        for place, text in enumerate(dict.fromkeys(texts))
    }


def _scale(strip: Strip, points: Sequence[Point], frame: Frame) -> Scale:
    ends = [
        end
        for row in strip.rows
        for stretch in row.stretches
        for end in (stretch.first, stretch.last)
        if end is not None
    ]
    ends += [point.at for point in points]
    low, high = (min(ends), max(ends)) if ends else (0, 1)
    more = max(1, (high - low) // 16)
    widest = max((_label_width(point, frame) for point in points), default=0.0)
    return Scale(
        low=max(0, low - more),
        high=high + more,
        width=frame.width,
        left=COLUMN[frame.name] + max(12.0, widest),
        right=max(12.0, widest),
    )


def _label_width(point: Point, frame: Frame) -> float:
    text = point.key if frame.keys else fitted(point.name, 96, bold=True)
    return width_of(text, bold=True) + 24


def _drawn(
    strip: Strip,
    points: Sequence[Point],
    conditions: dict[str, str],
    frame: Frame,
) -> SafeString:
    scale = _scale(strip, points, frame)
    pitch = 44 if frame.keys else 42
    parts: list[SafeString] = []
    for place, row in enumerate(strip.rows):
        parts += _row(row, points, conditions, scale, frame, 8 + place * pitch)
    y = 8 + len(strip.rows) * pitch
    placed = _engine_labels(points, scale, frame)
    parts += [
        *axis.axis(scale, y),
        *_engines(points, placed, scale, frame, y),
        *axis.ticks(scale, y, unit=1, figure=str, kind="t-2 halo"),
    ]
    return svg.drawing(
        *parts,
        id_=f"{strip.id}-{frame.name}",
        kind=f"w-{frame.name}",
        height=y + (48 + 17 * (lanes_of(placed) - 1) if placed else 30),
        title=f"Serials covered by {strip.subject}, and our engines",
        desc=_in_words(strip),
    )


def _row(
    row: StripRow,
    points: Sequence[Point],
    conditions: dict[str, str],
    scale: Scale,
    frame: Frame,
    y: float,
) -> list[SafeString]:
    name, standing = fitted(row.name, 100, bold=True), fitted(row.standing, 100)
    top = y + 12 if frame.keys else y
    dx = width_of(name, bold=True) + 8 if frame.keys else 0
    parts = [
        svg.words(name, "0", y + 6, "t-b"),
        svg.words(standing, "0", y + (6 if frame.keys else 20), "t-2", dx=dx),
        _level(scale, top + BAR / 2),
    ]
    for stretch in row.stretches:
        parts += _bar(stretch, row.standing == "superseded", scale, top)
        if stretch.condition:
            x = scale.at(stretch.first if stretch.first is not None else scale.low)
            key = conditions[stretch.condition]
            parts.append(svg.words(key, x, top + BAR + 13, "t-b"))
    for point in points:
        x = scale.at(point.at)
        parts.append(svg.stroke(x, top - 3, top + BAR + 3, "casing"))
        parts.append(svg.stroke(x, top - 3, top + BAR + 3, "stem-e"))
    return parts


def _level(scale: Scale, y: float) -> SafeString:
    return svg.line(scale.at(scale.low), y, scale.at(scale.high), y, "grid")


def _bar(
    stretch: Stretch, superseded: bool, scale: Scale, top: float
) -> list[SafeString]:
    first = scale.low if stretch.first is None else stretch.first
    last = scale.high if stretch.last is None else stretch.last
    x, width = scale.at(first), scale.span(first, last)
    kind = "cover-old" if superseded else "cover"
    parts = [
        svg.hatched(x, width, top, BAR)
        if stretch.condition
        else svg.bar(x, width, top, BAR, kind)
    ]
    if scale.px(last) - scale.px(first) < 3:
        parts.append(svg.stroke(x, top, top + BAR, "single"))
    if stretch.first is None:
        parts.append(svg.arrow(scale.at(scale.low), top, BAR, ahead=False))
    if stretch.last is None:
        parts.append(svg.arrow(scale.at(scale.high), top, BAR, ahead=True))
    return parts


def _engine_labels(
    points: Sequence[Point], scale: Scale, frame: Frame
) -> tuple[Placed, ...]:
    """The labels below the scale, none if they would be too many to be read."""
    if len(points) > MOST_ENGINES:
        return ()
    middle = (scale.low + scale.high) // 2
    stairs = Stairs(pivot=middle, worded=lambda a, b: f"{a} to {b}", keys=frame.keys)
    placed = stairs.unmerged(points, scale)
    return placed if lanes_of(placed) <= MOST_LANES else ()


def _engines(
    points: Sequence[Point],
    placed: Sequence[Placed],
    scale: Scale,
    frame: Frame,
    y: float,
) -> list[SafeString]:
    if not placed:
        return [svg.stroke(scale.at(p.at), y, y + 12, "stem-e") for p in points]
    parts = []
    if not frame.keys:
        parts.append(svg.words("our engines", "0", y + 41, "t-b"))
    for label in placed:
        parts += _engine(label, scale, frame, y + 42 + 17 * label.lane, y)
    return parts


def _engine(
    label: Placed, scale: Scale, frame: Frame, foot: float, y: float
) -> list[SafeString]:
    point, x = label.point, scale.at(label.point.at)
    text = point.key if frame.keys else fitted(point.name, 96, bold=True)
    anchor, dx = ("start", 22) if label.ahead else ("end", -22)
    return [
        svg.stroke(x, y, foot, "stem-e"),
        svg.shape(slug_of(point.state), x, 6 if label.ahead else -18, foot - 11),
        svg.words(text, x, foot - 1, "t-b", dx=dx, anchor=anchor),
    ]


def _in_words(strip: Strip) -> str:
    said = []
    for row in strip.rows:
        covered = [_stretch_in_words(stretch) for stretch in row.stretches]
        said.append(f"{row.name}, {row.standing}: {listed(covered) or 'no serial'}.")
    engines = [f"{engine.serial} {word_of(engine.state)}" for engine in strip.engines]
    if engines:
        said.append(f"Our engines: {listed(engines)}.")
    return " ".join(said)


def _stretch_in_words(stretch: Stretch) -> str:
    match stretch.first, stretch.last:
        case None, None:
            words = "every serial"
        case None, last:
            words = f"up to {last}"
        case first, None:
            words = f"from {first}"
        case first, last:
            words = str(first) if first == last else f"{first} to {last}"
    return f"{words} {stretch.condition}" if stretch.condition else words

"""Oil grades as bars over ambient temperature, with the climate of a season.

Temperatures are whole tenths of a degree, in the unit of the scale.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from django.utils.safestring import SafeString

from tracker.figures import axis, caption, svg
from tracker.figures.axis import FRAMES, Frame
from tracker.figures.lettering import fitted, width_of, wrapped
from tracker.figures.scale import Scale
from tracker.figures.states import word_of
from tracker.figures.wording import MINUS, NO_BREAK, grouped

DEGREE: Final = 10
STEP: Final = 5 * DEGREE
BAR: Final = 11
TOP: Final = 22
OVER_THE_BAR: Final = 40
"""The height of a row whose name stands over its bar."""
MIDDLING: Final = (-20 * DEGREE, 40 * DEGREE)
NAMES: Final = {"narrow": 0, "mid": 112, "wide": 160}
VERDICTS: Final = {"narrow": 0, "mid": 204, "wide": 306}
_BARS: Final = {
    "suited": "cover",
    "suited, see note": "cover",
    "undetermined": "cover-open",
    "not suited": "cover-old",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OilBar:
    """One row of a table of oils: from `low` to `high`, None is an open end.

    `name`: the grade, `kind`: its class. `verdict` in the words of a state; `why`: one
    sentence.
    """

    name: str
    kind: str
    low: int | None
    high: int | None
    verdict: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Oils:
    """`bars`: in the order of advice. `climate`: lowest and highest of the season."""

    id: str
    subject: str
    unit: Literal["C", "F"]
    climate: tuple[int, int] | None
    bars: tuple[OilBar, ...]


def draw_oils(oils: Oils, *, number: int = 1) -> SafeString:
    """The whole figure with its caption and the legend of the verdicts drawn."""
    return caption.figure(
        *(_drawn(oils, frame) for frame in FRAMES),
        caption.figcaption(
            number,
            f"Oils over ambient temperature, in degrees {_NAMES[oils.unit]}.",
            _climate_in_words(oils),
        ),
        caption.legend([word_of(bar.verdict) for bar in oils.bars]),
    )


_NAMES: Final = {"C": "Celsius", "F": "Fahrenheit"}


def _climate_in_words(oils: Oils) -> str:
    if oils.climate is None:
        return "The climate of the coming season is not known, so none is drawn."
    low, high = (_degrees(end, oils) for end in oils.climate)
    return f"Between the two lines the coming season, {low} to {high}."


def _degrees(tenths: int, oils: Oils) -> str:
    return f"{_figure(tenths)}{NO_BREAK}°{oils.unit}"


def _figure(tenths: int) -> str:
    whole, tenth = divmod(abs(tenths), DEGREE)
    sign = MINUS if tenths < 0 else ""
    return f"{sign}{grouped(whole)}{f'.{tenth}' if tenth else ''}"


def _scale(oils: Oils, frame: Frame) -> Scale:
    ends = [end for bar in oils.bars for end in (bar.low, bar.high) if end is not None]
    ends += oils.climate or ()
    low, high = (min(ends), max(ends)) if ends else MIDDLING
    room = max(STEP, (high - low) // 12)
    lettered = [_lettered(end, oils) for end in oils.climate or (0, 0)]
    return Scale(
        low=(low - room) // STEP * STEP,
        high=-(-(high + room) // STEP) * STEP,
        width=frame.width,
        left=max(NAMES[frame.name], lettered[0]) + 6,
        right=max(VERDICTS[frame.name], lettered[1]) + 14,
    )


def _lettered(end: int, oils: Oils) -> float:
    """The room that an end of the climate takes beside its line."""
    return width_of(_degrees(end, oils), bold=True, size=13)


def _drawn(oils: Oils, frame: Frame) -> SafeString:
    scale = _scale(oils, frame)
    pitch = _pitch(oils, frame)
    y = TOP + 8 + len(oils.bars) * pitch
    parts = _climate(oils, scale, _open_stretches(len(oils.bars), frame, y))
    for place, bar in enumerate(oils.bars):
        parts += _row(bar, scale, frame, TOP + 8 + place * pitch)
    parts += axis.axis(scale, y)
    parts += axis.ticks(scale, y, unit=DEGREE, figure=_figure)
    unit = f"°{oils.unit}" if frame.keys else f"ambient, °{oils.unit}"
    return svg.drawing(
        *parts,
        svg.words(unit, "0", y + 21, "t-2"),
        id_=f"{oils.id}-{frame.name}",
        kind=f"w-{frame.name}",
        height=y + 30,
        title=f"Oils over ambient temperature for {oils.subject}",
        desc=_in_words(oils),
    )


def _pitch(oils: Oils, frame: Frame) -> int:
    """The height of a row: name and bar, or verdict with its reason beside the bar."""
    if frame.keys:
        return OVER_THE_BAR
    lines = max((len(_reason(bar, frame)) for bar in oils.bars), default=1)
    return 30 + 14 * lines


def _reason(bar: OilBar, frame: Frame) -> list[str]:
    return wrapped(bar.why, VERDICTS[frame.name], 2)


def _open_stretches(rows: int, frame: Frame, y: float) -> list[tuple[float, float]]:
    """Where nothing is lettered between top and axis: beside the bars, or all the way."""
    if not frame.keys:
        return [(TOP - 4, y)]
    bars = [TOP + 8 + place * OVER_THE_BAR + 10 for place in range(rows)]
    return [(TOP - 4, TOP + 2), *((top, top + BAR + 9) for top in bars), (y - 6, y)]


def _climate(
    oils: Oils, scale: Scale, stretches: Sequence[tuple[float, float]]
) -> list[SafeString]:
    """The season as a wash between two lines, lettered outwards: they never meet."""
    if oils.climate is None:
        return []
    low, high = oils.climate
    foot = stretches[-1][1]
    parts = [svg.bar(scale.at(low), scale.span(low, high), TOP, foot - TOP, "loupe")]
    for end, anchor, dx in ((low, "end", -2), (high, "start", 2)):
        x, text = scale.at(end), _degrees(end, oils)
        parts += [svg.stroke(x, *stretch, "now") for stretch in stretches]
        parts.append(svg.words(text, x, 12, "t-now", dx=dx, anchor=anchor))
    return parts


def _row(bar: OilBar, scale: Scale, frame: Frame, y: float) -> list[SafeString]:
    verdict = word_of(bar.verdict)
    if frame.keys:
        written, top = _over_the_bar(bar, verdict, scale, y), y + 12
    else:
        written, top = _beside_the_bar(bar, verdict, frame, y), y
    return [*written, *_bar(bar, verdict, scale, top)]


def _over_the_bar(
    bar: OilBar, verdict: str, scale: Scale, y: float
) -> list[SafeString]:
    most = scale.width - width_of(verdict) - 10
    name = fitted(f"{bar.name}, {bar.kind}", most, bold=True)
    return [
        svg.words(name, "0", y + 6, "t-b"),
        svg.words(verdict, "100%", y + 6, "t-2", anchor="end"),
    ]


def _beside_the_bar(
    bar: OilBar, verdict: str, frame: Frame, y: float
) -> list[SafeString]:
    most = NAMES[frame.name] - 10
    x = f"{(1 - VERDICTS[frame.name] / frame.width) * 100:.3f}%"
    return [
        svg.words(fitted(bar.name, most, bold=True), "0", y + 6, "t-b"),
        svg.words(fitted(bar.kind, most), "0", y + 20, "t-2"),
        svg.words(verdict, x, y + 6, "t-b"),
        *(
            svg.words(text, x, y + 20 + 14 * line, "t-2")
            for line, text in enumerate(_reason(bar, frame))
        ),
    ]


def _bar(bar: OilBar, verdict: str, scale: Scale, top: float) -> list[SafeString]:
    first = scale.low if bar.low is None else bar.low
    last = scale.high if bar.high is None else bar.high
    middle, kind = top + BAR / 2, _BARS[verdict]
    parts = [
        svg.line(scale.at(scale.low), middle, scale.at(first), middle, "grid"),
        svg.line(scale.at(last), middle, scale.at(scale.high), middle, "grid"),
        svg.bar(scale.at(first), scale.span(first, last), top, BAR, kind),
    ]
    if scale.px(last) - scale.px(first) < 3:
        parts.append(svg.stroke(scale.at(first), top, top + BAR, "single"))
    if bar.low is None:
        parts.append(svg.arrow(scale.at(scale.low), top, BAR, ahead=False))
    if bar.high is None:
        parts.append(svg.arrow(scale.at(scale.high), top, BAR, ahead=True))
    return parts


def _in_words(oils: Oils) -> str:
    return " ".join([_climate_in_words(oils), *_rows_in_words(oils.bars, oils)])


def _rows_in_words(bars: Sequence[OilBar], oils: Oils) -> list[str]:
    return [
        f"{bar.name}, {bar.kind}, {_span_in_words(bar, oils)}: "
        f"{word_of(bar.verdict)}. {bar.why}"
        for bar in bars
    ]


def _span_in_words(bar: OilBar, oils: Oils) -> str:
    if bar.low is None:
        return f"up to {_degrees(bar.high or 0, oils)}"
    low = _degrees(bar.low, oils)
    if bar.high is None:
        return f"from {low} up"
    return f"from {low} to {_degrees(bar.high, oils)}"

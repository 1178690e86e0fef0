"""Reads a drawn figure back: where its texts, stems and accent lines stand, in px."""

from dataclasses import dataclass
from xml.etree import ElementTree

from tracker.figures.lettering import width_of

WIDTHS = {"w-narrow": 288, "w-mid": 630, "w-wide": 880}
STEMS = {"stem", "stem-past", "stem-est", "stem-e", "rec"}


@dataclass(frozen=True)
class Text:
    words: str
    kind: str
    left: float
    right: float
    base: float

    @property
    def top(self) -> float:
        return self.base - 9

    def overlaps(self, other: "Text") -> bool:
        beside = self.right <= other.left or other.right <= self.left
        return not beside and abs(self.base - other.base) < 9

    def is_crossed_by(self, x: float, low: float, high: float) -> bool:
        return self.left < x < self.right and low < self.base and self.top < high


@dataclass(frozen=True)
class Upright:
    kind: str
    x: float
    top: float
    foot: float


@dataclass(frozen=True)
class Drawing:
    width: int
    desc: str
    texts: list[Text]
    uprights: list[Upright]


def drawings_of(figure: str) -> list[Drawing]:
    """The drawings of a figure, one for each least width."""
    root = ElementTree.fromstring(figure)  # noqa: S314  # our own markup
    return [
        _drawing(svg, WIDTHS[svg.get("class", "")])
        for svg in root.findall("svg")
        if svg.get("class", "") in WIDTHS and svg.find("desc") is not None
    ]


def drawn_once(figure: str, width: int) -> Drawing:
    """The drawing of a figure that has only one, at one of the widths it is shown in."""
    root = ElementTree.fromstring(figure)  # noqa: S314  # our own markup
    [svg] = root.findall("svg")
    return _drawing(svg, width)


def _drawing(svg: ElementTree.Element, width: int) -> Drawing:
    return Drawing(
        width=width,
        desc=svg.findtext("desc") or "",
        texts=[_text(text, width) for text in svg.iter("text")],
        uprights=[
            _upright(line, width)
            for line in svg.iter("line")
            if line.get("x1") == line.get("x2")
        ],
    )


def _px(percent: str, width: int) -> float:
    return float(percent.rstrip("%")) / 100 * width


def _text(text: ElementTree.Element, width: int) -> Text:
    kind = text.get("class", "")
    words = text.text or ""
    size = 13 if kind == "t-now" else 12
    long = width_of(words, bold=not kind.startswith("t-2"), size=size)
    x = _px(text.get("x", "0"), width) + float(text.get("dx", "0"))
    left = {"start": x, "middle": x - long / 2, "end": x - long}[
        text.get("text-anchor", "start")
    ]
    return Text(words, kind, left, left + long, float(text.get("y", "0")))


def _upright(line: ElementTree.Element, width: int) -> Upright:
    ends = sorted((float(line.get("y1", "0")), float(line.get("y2", "0"))))
    return Upright(
        line.get("class", ""), _px(line.get("x1", "0"), width), ends[0], ends[1]
    )

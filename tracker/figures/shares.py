"""The leaded share of the fuel on its scale, with the limit that holds for each stretch."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from django.utils.safestring import SafeString

from tracker.figures import axis, caption, svg
from tracker.figures.lettering import fitted, width_of
from tracker.figures.scale import Scale, multiples
from tracker.figures.wording import NO_BREAK, listed

WIDTH: Final = 288
TOP: Final = 24
PITCH: Final = 34
BAR: Final = 11
APART: Final = 6
PER_CENT: Final = 10
"""Places on the scale are whole tenths of a per cent."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Shares from `low` to `high` with their `limit`; `holds`: None is not known."""

    low: Fraction
    high: Fraction
    limit: str
    holds: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """`share`: None where it is not known; `worded`: as it stands in sentences."""

    id: str
    subject: str
    share: Fraction | None
    worded: str
    declared: bool
    stretches: tuple[Stretch, ...]


def draw_shares(shares: Shares, *, number: int = 1) -> SafeString:
    """The whole figure with its caption; it has one width, as its texts are short."""
    scale = Scale(low=0, high=100 * PER_CENT, width=WIDTH, left=10, right=14)
    y = TOP + len(shares.stretches) * PITCH
    rows = [
        (stretch, TOP + place * PITCH) for place, stretch in enumerate(shares.stretches)
    ]
    return caption.figure(
        svg.drawing(
            *(_bar(stretch, scale, top) for stretch, top in rows),
            *_axis(scale, y, shares.stretches),
            *_now(shares, scale, y),
            *(_name(stretch, scale, top) for stretch, top in rows),
            id_=shares.id,
            kind="shares",
            height=y + 30,
            title=f"Leaded share of the fuel of {shares.subject}",
            desc=_in_words(shares),
        ),
        caption.figcaption(
            number,
            "Leaded share of the fuel, in per cent by volume.",
            "Solid: the limit that holds."
            if shares.share is not None
            else "The share is not known, so each of these may hold.",
            "The share is declared, not recorded." if shares.declared else "",
        ),
    )


def _bar(stretch: Stretch, scale: Scale, y: float) -> SafeString:
    kind = {True: "cover", False: "cover-old", None: "cover-open"}[stretch.holds]
    low, high = _place(stretch.low), _place(stretch.high)
    return svg.bar(scale.at(low), scale.span(low, high), y + 16, BAR, kind)


def _name(stretch: Stretch, scale: Scale, y: float) -> SafeString:
    """The limit over its bar, drawn last: it interrupts the line of the share."""
    kind = "t-b halo" if stretch.holds else "t-2 halo"
    words = fitted(stretch.limit, scale.width, bold=True)
    low, high = _place(stretch.low), _place(stretch.high)
    long = width_of(words, bold=True)
    if scale.px(low) + long <= scale.width:
        return svg.words(words, scale.at(low), y + 11, kind)
    end = scale.at(high) if scale.px(high) >= long else "100%"
    return svg.words(words, end, y + 11, kind, anchor="end")


def _axis(scale: Scale, y: float, stretches: Sequence[Stretch]) -> list[SafeString]:
    """The scale: a figure at each end of a stretch that has the room, small ticks."""
    parts = [svg.line(scale.at(scale.low), y, scale.at(scale.high), y, "axis")]
    for value in multiples(10 * PER_CENT, scale.low, scale.high):
        parts.append(svg.stroke(scale.at(value), y, y + 4, "tick-s"))
    taken = -float(APART)
    for end in dict.fromkeys(end for one in stretches for end in (one.low, one.high)):
        at, words = _place(end), _figure(end)
        parts.append(svg.stroke(scale.at(at), y, y + 8, "tick"))
        if scale.px(at) - width_of(words) / 2 > taken:
            parts.append(axis.tick_figure(scale, at, y + 21, words))
            taken = scale.px(at) + width_of(words) / 2 + APART
    return parts


def _now(shares: Shares, scale: Scale, y: float) -> list[SafeString]:
    if shares.share is None:
        return []
    at = _place(shares.share)
    return [
        svg.stroke(scale.at(at), 16, y + 8, "now"),
        axis.now_text(scale, at, 12, shares.worded),
    ]


def _place(share: Fraction) -> int:
    return round(share * 100 * PER_CENT)


def _figure(share: Fraction) -> str:
    return f"{float(share * 100):.1f}".removesuffix(".0") + f"{NO_BREAK}%"


def _in_words(shares: Shares) -> str:
    said = "not known" if shares.share is None else shares.worded
    told = [
        f"{one.limit} from {_figure(one.low)} to {_figure(one.high)}"
        + (", which holds" if one.holds else "")
        for one in shares.stretches
    ]
    return f"The share is {said}. {listed(told)}."

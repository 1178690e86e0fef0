"""The leaded share on its scale: what is solid, where it stands, nothing collides."""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import combinations, pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.tracker.web.drawn import WIDTHS, drawn_once
from tracker.figures.shares import Shares, Stretch, draw_shares

LIMITS = (
    "100 h or 12 calendar months",
    "50 h",
    "one of these: 100 h or 12 calendar months; 50 h or 12 calendar months",
    "nothing due",
)


def shares_of(
    share: Fraction | None, *ends: str, declared: bool = False, worded: str = "40 %"
) -> Shares:
    """A scale cut at some ends; the first stretch that holds the share holds."""
    cuts = [Fraction(0), *(Fraction(end) for end in ends), Fraction(1)]
    stretches = []
    for place, (low, high) in enumerate(pairwise(cuts)):
        inside = None if share is None else low < share <= high or share == low == 0
        limit = LIMITS[place % len(LIMITS)]
        stretches.append(Stretch(low=low, high=high, limit=limit, holds=inside))
    return Shares(
        id="share-1",
        subject="engine MX-4, serial 4001",
        share=share,
        worded=worded,
        declared=declared,
        stretches=tuple(stretches),
    )


def bars(figure: str) -> list[str]:
    return re.findall(r'<rect class="(cover[a-z-]*)"', figure)


def test_the_limit_that_holds_is_solid() -> None:
    drawn = draw_shares(shares_of(Fraction("0.4"), "0.3", "0.5"))
    assert bars(drawn) == ["cover-old", "cover", "cover-old"]
    assert "50 h from 30\u00a0% to 50\u00a0%, which holds" in drawn


def test_the_line_stands_at_the_share_in_any_width() -> None:
    drawn = draw_shares(shares_of(Fraction("0.4"), "0.3", "0.5"))
    for width in WIDTHS.values():
        drawing = drawn_once(drawn, width)
        [now] = [one for one in drawing.uprights if one.kind == "now"]
        [low, high] = [
            next(text for text in drawing.texts if text.words == words)
            for words in ("30\u00a0%", "50\u00a0%")
        ]
        middle = ((low.left + low.right) + (high.left + high.right)) / 4
        assert now.x == pytest.approx(middle, abs=0.1)


def test_what_is_not_known_has_no_line_and_broken_bars() -> None:
    drawn = draw_shares(shares_of(None, "0.3", "0.5"))
    assert bars(drawn) == ["cover-open"] * 3
    assert 'class="now"' not in drawn
    assert "The share is not known, so each of these may hold." in drawn
    assert "The share is not known." in drawn_once(drawn, 288).desc


def test_a_declared_share_says_so() -> None:
    shown = shares_of(Fraction("0.4"), "0.3", "0.5", declared=True)
    assert "The share is declared, not recorded." in draw_shares(shown)


@example(share=None, ends=[Fraction(n, 1000) for n in (1, 2, 3, 384, 385)])
@given(
    share=st.none() | st.fractions(0, 1),
    ends=st.lists(
        st.fractions(Fraction(1, 1000), Fraction(999, 1000), max_denominator=1000),
        unique=True,
        max_size=6,
    ),
)
def test_no_text_runs_into_another_or_out_of_the_drawing(
    share: Fraction | None, ends: list[Fraction]
) -> None:
    worded = "just under 100 %" if share is not None else ""
    shown = shares_of(share, *map(str, sorted(ends)), worded=worded)
    for width in WIDTHS.values():
        texts = drawn_once(draw_shares(shown), width).texts
        for one in texts:
            assert one.left >= -0.1
            assert one.right <= width + 0.1
        for one, other in combinations(texts, 2):
            assert not one.overlaps(other), (one, other)

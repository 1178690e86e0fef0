from itertools import combinations
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.tracker.web.drawn import WIDTHS, drawings_of
from tracker.figures.lettering import width_of, wrapped
from tracker.figures.states import slug_of
from tracker.figures.temperatures import OilBar, Oils, draw_oils

TENTHS = st.integers(-600, 1400)
VERDICTS = ("suited", "suited, see note", "undetermined", "not suited")


@st.composite
def bars(draw: st.DrawFn) -> OilBar:
    low, high = sorted((draw(TENTHS), draw(TENTHS)))
    is_open = draw(st.sampled_from(["low", "high", "", ""]))
    return OilBar(
        name=draw(st.sampled_from(["15W-50", "Commercial aviation 100", "SAE 50"])),
        kind=draw(st.sampled_from(["mineral", "semi-synthetic"])),
        low=None if is_open == "low" else low,
        high=None if is_open == "high" else high,
        verdict=draw(st.sampled_from(VERDICTS)),
        why=draw(st.sampled_from(["Too thin.", "Not known: " + "what is " * 20])),
    )


@st.composite
def oils(draw: st.DrawFn) -> Oils:
    low, high = sorted((draw(TENTHS), draw(TENTHS)))
    return Oils(
        id="o",
        subject="engine MX-4",
        unit=draw(st.sampled_from(["C", "F"])),
        climate=draw(st.sampled_from([None, (low, high), (low, low)])),
        bars=tuple(draw(st.lists(bars(), min_size=1, max_size=6))),
    )


def bar(**more: Any) -> OilBar:
    said: dict[str, Any] = {
        "name": "15W-50",
        "kind": "semi-synthetic",
        "low": -200,
        "high": 400,
        "verdict": "suited",
        "why": "Covers the season.",
    }
    return OilBar(**said | more)


def drawn(*rows: OilBar, climate: tuple[int, int] | None = (-150, 340)) -> str:
    return draw_oils(
        Oils(id="o", subject="engine MX-4", unit="C", climate=climate, bars=rows)
    )


def rects(figure: str, kind: str) -> list[tuple[float, float]]:
    """From and to, in per cent of the width, of the rectangles of a kind."""
    root = ElementTree.fromstring(figure)  # noqa: S314  # our own markup
    found = [r for r in root.iter("rect") if r.get("class") == kind]
    ends = [[float(r.get(k, "").rstrip("%")) for k in ("x", "width")] for r in found]
    return [(x, x + width) for x, width in ends]


@settings(max_examples=80, deadline=None)
@given(oils())
def test_no_text_overlaps_another_or_leaves_the_drawing(figure: Oils) -> None:
    for drawing in drawings_of(draw_oils(figure)):
        for one, other in combinations(drawing.texts, 2):
            assert not one.overlaps(other), (one, other)
        for text in drawing.texts:
            assert -0.01 <= text.left <= text.right <= drawing.width + 0.01, text


@settings(max_examples=40, deadline=None)
@given(oils())
def test_every_row_and_the_climate_are_said_in_words(figure: Oils) -> None:
    described = [drawing.desc for drawing in drawings_of(draw_oils(figure))]
    assert len(described) == len(WIDTHS)
    for desc in described:
        assert (figure.climate is None) is ("is not known, so none" in desc)
        for one in figure.bars:
            assert f"{one.name}, {one.kind}, " in desc
            assert f": {one.verdict}. {one.why}" in desc


@settings(max_examples=40, deadline=None)
@given(oils())
def test_bars_and_season_stand_on_one_scale_inside_the_drawing(figure: Oils) -> None:
    markup = draw_oils(figure)
    kinds = ("cover", "cover-old", "cover-open", "loupe")
    for kind in kinds:
        assert all(0 <= x <= end <= 100 for x, end in rects(markup, kind))
    drawn_rows = sum(len(rects(markup, kind)) for kind in kinds[:3])
    assert drawn_rows == len(WIDTHS) * len(figure.bars)
    assert len(rects(markup, "loupe")) == (len(WIDTHS) if figure.climate else 0)


def test_a_row_that_covers_the_season_is_drawn_over_it() -> None:
    figure = drawn(bar(), bar(low=-149, verdict="not suited"), bar(high=341))
    for place in range(len(WIDTHS)):
        low, high = rects(figure, "loupe")[place]
        wide, narrow = rects(figure, "cover")[2 * place : 2 * place + 2]
        short = rects(figure, "cover-old")[place]
        assert wide[0] < low < high < wide[1]
        assert narrow[0] < low < high < narrow[1]
        assert low < short[0] < short[1]


@pytest.mark.parametrize(
    ("verdict", "kind"),
    [
        ("suited", "cover"),
        ("suited, see note", "cover"),
        ("undetermined", "cover-open"),
        ("not suited", "cover-old"),
    ],
)
def test_only_what_suits_is_solid_and_each_verdict_has_its_shape(
    verdict: str, kind: str
) -> None:
    figure = drawn(bar(verdict=verdict))
    assert figure.count(f'<rect class="{kind}"') == len(WIDTHS)
    assert f'href="#s-{slug_of(verdict)}"' in figure
    assert figure.count(f">{verdict}</text>") == len(WIDTHS)


@settings(max_examples=40, deadline=None)
@given(oils())
def test_no_name_runs_over_a_line_of_the_season(figure: Oils) -> None:
    for drawing in drawings_of(draw_oils(figure)):
        lines = [line for line in drawing.uprights if line.kind == "now"]
        for text in drawing.texts:
            for line in lines:
                crossed = text.is_crossed_by(line.x, line.top, line.foot)
                assert not crossed, (text, line)


def test_an_open_end_carries_an_arrow_and_its_words() -> None:
    figure = drawn(bar(low=None), bar(high=None))
    assert figure.count('<path class="sh-f"') == 2 * len(WIDTHS)
    assert "15W-50, semi-synthetic, up to 40\u00a0°C: suited." in figure
    assert "15W-50, semi-synthetic, from \u221220\u00a0°C up: suited." in figure


def test_the_season_is_lettered_at_both_ends_in_the_unit_of_the_scale() -> None:
    figure = drawn(bar())
    for words in ("\u221215\u00a0°C", "34\u00a0°C"):
        assert figure.count(f">{words}</text>") == len(WIDTHS)
    assert "in degrees Celsius." in figure
    without = drawn(bar(), climate=None)
    assert "loupe" not in without
    assert 'class="now"' not in without
    assert "The climate of the coming season is not known, so none is drawn." in without


def test_tenths_of_a_degree_are_kept_below_nought_too() -> None:
    figure = drawn(bar(low=-5, high=5), climate=(-3, 3))
    assert ">\u22120.3\u00a0°C</text>" in figure
    assert "from \u22120.5\u00a0°C to 0.5\u00a0°C" in figure


def test_a_range_of_one_degree_is_wide_enough_to_be_seen() -> None:
    figure = drawn(bar(low=100, high=100, verdict="not suited"), bar())
    assert figure.count('class="single"') == len(WIDTHS)


def test_what_a_maker_writes_is_escaped() -> None:
    figure = drawn(bar(name="<b>", kind="<i>", why="<u>"))
    for tag in ("<b>1", "<i>", "<u>"):
        assert tag not in figure
    assert "&lt;b&gt;" in figure


@settings(max_examples=80)
@given(st.text("abc W ", max_size=60), st.integers(20, 200), st.integers(1, 3))
def test_a_wrapped_text_keeps_to_its_lines_and_width(
    text: str, most: int, lines: int
) -> None:
    written = wrapped(text, most, lines)
    assert len(written) <= lines
    assert all(width_of(line) <= most for line in written)
    if width_of(text) <= most:
        assert written == [text]

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.tracker.web.drawn import STEMS, drawings_of
from tracker.figures.lanes import Lane, days_scale, lane, lane_head
from tracker.figures.states import BY_URGENCY
from tracker.figures.strip import (
    Stretch,
    Strip,
    StripEngine,
    StripRow,
    draw_strip,
)

NUMBERS = st.integers(1, 10**20)


@st.composite
def stretches(draw: st.DrawFn) -> Stretch:
    first, last = sorted((draw(NUMBERS), draw(NUMBERS)))
    return Stretch(
        first=draw(st.sampled_from([first, None])),
        last=draw(st.sampled_from([last, None])),
        condition=draw(st.sampled_from(["", "only with pump P-88", "if rebuilt"])),
    )


@st.composite
def strips(draw: st.DrawFn) -> Strip:
    rows = st.builds(
        StripRow,
        name=st.just("revision 1"),
        standing=st.sampled_from(["current", "superseded"]),
        stretches=st.lists(stretches(), max_size=4).map(tuple),
    )
    engines = st.builds(
        StripEngine,
        serial=st.text("K-0123456789", min_size=1, max_size=30),
        number=NUMBERS,
        state=st.sampled_from(BY_URGENCY),
    )
    return Strip(
        id="s",
        subject="SB-24-011",
        rows=tuple(draw(st.lists(rows, min_size=1, max_size=3))),
        engines=tuple(draw(st.lists(engines, max_size=30))),
    )


def strip_of(*stretches: Stretch, engines: tuple[StripEngine, ...] = ()) -> str:
    rows = (StripRow(name="revision 2", standing="current", stretches=stretches),)
    return draw_strip(Strip(id="s", subject="SB-24-011", rows=rows, engines=engines))


def engines_numbered(*numbers: int) -> tuple[StripEngine, ...]:
    return tuple(
        StripEngine(serial=str(number), number=number, state="outstanding")
        for number in numbers
    )


@settings(max_examples=60, deadline=None)
@given(strip=strips())
def test_no_engine_label_overlaps_another_or_is_crossed_or_leaves(
    strip: Strip,
) -> None:
    for drawing in drawings_of(draw_strip(strip)):
        named = [text for text in drawing.texts if text.kind == "t-b"]
        for one, other in combinations(named, 2):
            # Two letters under one bar may meet; the caption says both conditions.
            letters = len(one.words) == len(other.words) == 1
            assert letters or not one.overlaps(other), (one, other)
        for text in named:
            assert 0 <= text.left <= text.right <= drawing.width
            assert not any(
                text.is_crossed_by(line.x, line.top, line.foot)
                for line in drawing.uprights
                if line.kind in STEMS and line.foot - line.top > 20
            )


@settings(max_examples=30, deadline=None)
@given(strip=strips())
def test_every_stretch_and_engine_of_a_strip_is_described_in_words(
    strip: Strip,
) -> None:
    for drawing in drawings_of(draw_strip(strip)):
        for row in strip.rows:
            for stretch in row.stretches:
                assert stretch.condition in drawing.desc
                for end in (stretch.first, stretch.last):
                    assert end is None or str(end) in drawing.desc
        for engine in strip.engines:
            assert f"{engine.serial} {engine.state}" in drawing.desc


def test_a_single_serial_is_drawn_wide_enough_to_be_seen() -> None:
    figure = strip_of(Stretch(first=5002, last=5002), Stretch(first=1, last=9000))
    assert figure.count('class="single"') == 3
    assert "revision 2, current: 5002 and 1 to 9000." in figure


def test_an_open_end_carries_an_arrow_and_its_words() -> None:
    figure = strip_of(Stretch(first=5100, last=None))
    assert figure.count("<path") == 3
    assert "from 5100" in figure


def test_no_cover_is_said_in_words() -> None:
    assert "revision 2, current: no serial." in strip_of()


def test_a_condition_is_hatched_and_stands_in_the_caption_once() -> None:
    pump = "only with fuel pump P-88"
    figure = strip_of(
        Stretch(first=1, last=9, condition=pump),
        Stretch(first=20, last=29, condition=pump),
    )
    assert figure.count('class="hatch"') == 6
    assert figure.count(f"a: {pump}.") == 1


def test_more_than_24_engines_are_ticks_without_labels() -> None:
    cover = Stretch(first=1, last=90_000)
    few = strip_of(cover, engines=engines_numbered(*range(1, 90_000, 20_000)))
    many = strip_of(cover, engines=engines_numbered(*range(1, 90_000, 3_500)))
    assert "our engines</text>" in few
    assert 'class="keys' in few
    assert "our engines</text>" not in many
    assert 'class="keys' not in many
    assert "80501 outstanding" in many


def test_engines_that_would_need_more_than_five_lanes_are_ticks() -> None:
    cover = Stretch(first=1, last=90_000)
    pressed = strip_of(cover, engines=engines_numbered(*range(41_000, 41_008)))
    assert "our engines</text>" not in pressed
    assert 'class="keys' not in pressed


def test_serials_and_conditions_are_escaped() -> None:
    hostile = "<i onclick='x'>"
    figure = strip_of(
        Stretch(first=1, last=9, condition=hostile),
        engines=(StripEngine(serial=hostile, number=4, state="outstanding"),),
    )
    assert "<i " not in figure
    assert "&lt;i onclick" in figure


def test_a_lane_shows_the_shape_at_its_day_and_the_range_of_a_forecast() -> None:
    scale = days_scale(75)
    drawn = lane(Lane(state="coming due", days=20, span=(15, 30)), scale)
    assert scale.high == 90
    assert f'x="{scale.at(20)}"' in drawn
    assert "#s-coming-due" in drawn
    assert drawn.count('class="whisk"') == 3


@pytest.mark.parametrize(("days", "words"), [(214, "214\u00a0days ›"), (-60, "‹ 60")])
def test_a_day_off_the_scale_is_said_at_its_edge(days: int, words: str) -> None:
    drawn = lane(Lane(state="outstanding", days=days), days_scale(90))
    assert words in drawn
    assert "<use" not in drawn


def test_a_row_without_a_date_shows_the_scale_and_no_shape() -> None:
    drawn = lane(Lane(state="undetermined", days=None), days_scale(90))
    assert 'class="now"' in drawn
    assert "<use" not in drawn


def test_the_head_of_the_lanes_names_today_and_the_days() -> None:
    head = lane_head(days_scale(90))
    for words in ("\u221230", "today", "30", "60", "90"):
        assert f">{words}</text>" in head

import re
from dataclasses import replace
from datetime import date, timedelta
from itertools import combinations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from notices.rules.intervals.wording import PAST_RECOMMENDED
from tests.tracker.web.drawn import STEMS, Drawing, drawings_of
from tracker.figures.caption import OffScale
from tracker.figures.dates import DateMark, DateRecord, DatesRuler, draw_dates
from tracker.figures.intervals import Further, Interval
from tracker.figures.ruler import HoursMark, HoursRecord, HoursRuler, draw_hours
from tracker.figures.states import BY_URGENCY

TODAY = date(2026, 11, 24)
NAMES = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Zl", "Zp")),
    min_size=1,
    max_size=60,
)
STATES = st.sampled_from(BY_URGENCY)


@st.composite
def hours_marks(draw: st.DrawFn, now: int) -> HoursMark:
    at = max(0, now + draw(st.integers(-40_000, 60_000)))
    longer = st.integers(at, at + 5_000)
    return HoursMark(
        name=draw(NAMES),
        at=at,
        state=draw(STATES),
        tolerance_to=draw(st.none() | longer),
        candidates=tuple({at, *draw(st.lists(longer, max_size=2))}),
        estimated=draw(st.booleans()),
        span=draw(st.none() | longer.map(lambda end: (at, end))),
    )


@st.composite
def intervals(draw: st.DrawFn, now: int, *, back: int, reach: int) -> Interval:
    """An interval that began at most `back` before now and ends within `reach`."""
    start = now - draw(st.integers(0, back))
    end = max(now + draw(st.integers(-reach // 10, reach)), start + 100)
    return Interval(
        start=start,
        end=end,
        state=draw(STATES),
        recommended=draw(st.booleans()),
        start_name=draw(st.sampled_from(["", "overhauled"])),
        start_note=draw(st.sampled_from(["", "1 498.0 h, 2 Jun 2021"])),
        held_from=draw(st.none() | st.integers(start + 50, end - 1)),
        further=tuple(
            Further(at, draw(st.sampled_from(["", "with SB-24-011"])))
            for at in sorted(
                draw(st.sets(st.integers(end + 1, end + reach // 5), max_size=3))
            )
        ),
    )


@st.composite
def hours_rulers(draw: st.DrawFn) -> HoursRuler:
    now = draw(st.integers(0, 900_000))
    interval = draw(intervals(now, back=now, reach=200_000))
    records = st.builds(
        HoursRecord, name=NAMES, at=st.integers(max(0, now - 20_000), now)
    )
    return HoursRuler(
        id="h",
        subject="engine MX-4T, serial 4731",
        now=now,
        marks=tuple(draw(st.lists(hours_marks(now), max_size=12))),
        records=tuple(draw(st.lists(records, max_size=6))),
        interval=draw(st.none() | st.just(interval)),
        life_alone=draw(st.booleans()),
    )


@st.composite
def dates_rulers(draw: st.DrawFn) -> DatesRuler:
    days = st.integers(-800, 1_090).map(lambda count: TODAY + timedelta(days=count))
    marks = st.builds(
        DateMark, name=NAMES, on=days, state=STATES, estimated=st.booleans()
    )
    done = st.integers(0, 500).map(lambda count: TODAY - timedelta(days=count))
    records = st.builds(DateRecord, name=NAMES, on=done)
    return DatesRuler(
        id="d",
        subject="engine MX-4T, serial 4731",
        today=TODAY,
        marks=tuple(draw(st.lists(marks, max_size=12))),
        records=tuple(draw(st.lists(records, max_size=6))),
        interval=draw(
            st.none() | intervals(TODAY.toordinal(), back=6_000, reach=5_000)
        ),
        whole=draw(st.booleans()),
    )


def overlapping(drawing: Drawing) -> list[tuple[str, str]]:
    return [
        (one.words, other.words)
        for one, other in combinations(drawing.texts, 2)
        if one.overlaps(other)
    ]


def crossed(drawing: Drawing) -> list[tuple[str, str]]:
    return [
        (text.words, line.kind)
        for text in drawing.texts
        for line in drawing.uprights
        if line.kind in STEMS | {"now"}
        and text.is_crossed_by(line.x, line.top, line.foot)
    ]


def outside(drawing: Drawing) -> list[str]:
    return [
        text.words
        for text in drawing.texts
        if text.left < -0.5 or text.right > drawing.width + 0.5
    ]


@settings(max_examples=60, deadline=None)
@given(ruler=hours_rulers())
def test_no_text_on_the_hours_ruler_overlaps_is_crossed_or_leaves_it(
    ruler: HoursRuler,
) -> None:
    for drawing in drawings_of(draw_hours(ruler)):
        assert overlapping(drawing) == []
        assert crossed(drawing) == []
        assert outside(drawing) == []


@settings(max_examples=60, deadline=None)
@given(ruler=dates_rulers())
def test_no_text_on_the_dates_ruler_overlaps_is_crossed_or_leaves_it(
    ruler: DatesRuler,
) -> None:
    for drawing in drawings_of(draw_dates(ruler)):
        assert overlapping(drawing) == []
        assert crossed(drawing) == []
        assert outside(drawing) == []


@settings(max_examples=30, deadline=None)
@given(ruler=hours_rulers())
def test_every_mark_and_record_of_hours_is_described_in_words(
    ruler: HoursRuler,
) -> None:
    drawings = drawings_of(draw_hours(ruler))
    assert len(drawings) == 3
    for drawing in drawings:
        for mark in ruler.marks:
            assert f"{mark.name}, {mark.state}: " in drawing.desc
        for record in ruler.records:
            assert f"{record.name} at " in drawing.desc


@settings(max_examples=30, deadline=None)
@given(ruler=dates_rulers())
def test_every_date_is_described_in_words(ruler: DatesRuler) -> None:
    for drawing in drawings_of(draw_dates(ruler)):
        for mark in ruler.marks:
            assert f"{mark.name}, {mark.state}: " in drawing.desc
        for record in ruler.records:
            assert f"{record.name} on " in drawing.desc


def now_on_the_stretch(drawing: Drawing) -> float:
    return [line.x for line in drawing.uprights if line.kind == "now"][-1]


def ruler_with(*marks: HoursMark, **others: Any) -> str:
    ruler = HoursRuler(id="h", subject="engine 4731", now=271_160, marks=marks)
    return str(draw_hours(replace(ruler, **others)))


def test_names_are_escaped_wherever_they_stand() -> None:
    name = '<b onload="x">&'
    figure = ruler_with(
        HoursMark(name=name, at=273_000, state="outstanding"),
        subject=name,
        records=(HoursRecord(name=name, at=270_000),),
        off_scale=(OffScale(name=name, state="undetermined", why=name),),
    )
    assert "<b onload" not in figure
    assert figure.count("&lt;b onload=&quot;x&quot;&gt;&amp;") >= 10


def test_a_figure_has_no_inline_style_no_script_and_no_localised_number() -> None:
    figure = ruler_with(HoursMark(name="oil change", at=274_000, state="outstanding"))
    assert "style" not in figure
    assert "<script" not in figure
    for drawing in drawings_of(figure):
        assert all(0 <= line.x <= drawing.width for line in drawing.uprights)


def test_reaching_a_limit_exactly_stands_ahead_and_is_in_time() -> None:
    figure = ruler_with(HoursMark(name="pump", at=271_160, state="outstanding"))
    wide = drawings_of(figure)[2]
    label = next(text for text in wide.texts if text.words == "pump")
    now = now_on_the_stretch(wide)
    assert label.left > now
    assert "reached, still in time" in figure


def test_what_is_past_is_lettered_to_the_left_and_what_is_ahead_to_the_right() -> None:
    wide = drawings_of(
        ruler_with(
            HoursMark(name="magneto", at=269_840, state="overdue"),
            HoursMark(name="pump", at=273_050, state="coming due"),
        )
    )[2]
    now = now_on_the_stretch(wide)
    places = {text.words: text for text in wide.texts}
    assert places["magneto"].right < now < places["pump"].left
    assert places["magneto"].kind == "t-past"


def test_due_hours_are_never_shown_later_than_they_are() -> None:
    figure = ruler_with(HoursMark(name="pump", at=273_059, state="outstanding"))
    assert "2\u202f730.5\u00a0h, in 18.9\u00a0h" in figure


def test_candidates_are_all_named_and_the_least_carries_the_label() -> None:
    figure = ruler_with(
        HoursMark(
            name="hose",
            at=278_500,
            state="undetermined",
            candidates=(281_230, 278_500),
        )
    )
    assert "2\u202f785.0 or 2\u202f812.3\u00a0h, undetermined" in figure
    wide = drawings_of(figure)[2]
    assert sum(line.kind == "stem-est" for line in wide.uprights) == 2


def test_a_tolerance_is_drawn_as_a_box_and_said_in_words() -> None:
    figure = ruler_with(
        HoursMark(
            name="inspection", at=276_100, state="outstanding", tolerance_to=277_100
        )
    )
    assert figure.count('class="tol"') == 3
    assert "tolerance to 2\u202f771.0\u00a0h" in figure


def test_more_than_five_lanes_become_one_mark_with_count_and_span() -> None:
    marks = [
        HoursMark(name=f"item {n}", at=272_000 + 10 * n, state="outstanding")
        for n in range(9)
    ]
    figure = ruler_with(*marks)
    wide = drawings_of(figure)[2]
    labels = [text.words for text in wide.texts if text.kind == "t-b"]
    assert len(labels) == 5
    counts = [int(words.split()[0]) for words in labels if words.endswith("points")]
    assert sum(counts) + (5 - len(counts)) == 9
    assert re.search(r"2\u202f720\.\d to 2\u202f720\.\d", figure)
    assert all(f"item {n}, outstanding: " in figure for n in range(9))


def test_a_merged_mark_takes_the_most_urgent_state() -> None:
    marks = [
        HoursMark(name=f"item {n}", at=272_000, state=state)
        for n, state in enumerate(["outstanding"] * 8 + ["coming due"])
    ]
    wide = ruler_with(*marks).split('class="w-wide"')[1]
    assert "#s-coming-due" in wide


def test_what_has_no_point_stands_in_a_line_under_the_figure() -> None:
    figure = ruler_with(
        off_scale=(OffScale(name="SB-26-003", state="undetermined", why="not known"),)
    )
    assert "Not on the scale:" in figure
    assert "SB-26-003, not known" in figure


def test_without_hours_nothing_is_drawn_and_nothing_is_silent() -> None:
    figure = ruler_with(
        HoursMark(name="pump", at=273_050, state="undetermined"), now=None
    )
    assert drawings_of(figure) == []
    assert "the hours now are not known" in figure
    assert "pump, 2\u202f730.5\u00a0h" in figure


def test_an_interval_that_has_ended_is_said_with_its_overrun() -> None:
    figure = ruler_with(interval=Interval(start=0, end=200_000, state="overdue"))
    assert "interval ended, overdue: 2\u202f000.0\u00a0h, 711.6\u00a0h past" in figure


def test_a_recommended_interval_that_is_passed_is_never_drawn_as_overdue() -> None:
    past = Interval(start=0, end=200_000, state=PAST_RECOMMENDED, recommended=True)
    figure = ruler_with(interval=past)
    assert "recommended interval ended, past the recommended interval: 2" in figure
    assert "overdue" not in figure


def test_an_extension_that_holds_and_one_within_reach_are_both_hatched() -> None:
    figure = ruler_with(
        interval=Interval(
            start=149_800,
            start_name="overhauled",
            start_note="1 498.0 h, 2 Jun 2021",
            end=329_800,
            state="outstanding",
            held_from=299_800,
            further=(Further(349_800, "with SB-24-011"),),
        )
    )
    for drawing in drawings_of(figure):
        assert "longer interval ends, outstanding: 3\u202f298.0" in drawing.desc
        assert "longer one would end, within reach: 3\u202f498.0" in drawing.desc
        assert "with SB-24-011" in drawing.desc
        assert "overhauled, recorded: 1 498.0 h, 2 Jun 2021" in drawing.desc
    assert figure.count('class="hatch"') == 6
    assert "Hatched: the extension that holds, then one within reach." in figure


def test_each_extension_within_reach_has_its_own_letter_and_hatch() -> None:
    further = (Further(380_000, "with SB-1"), Further(420_000, "with SB-2"))
    interval = Interval(start=0, end=300_000, state="outstanding", further=further)
    figure = ruler_with(interval=interval, life_alone=True)
    for drawing in drawings_of(figure):
        assert "longer one would end, within reach: 3\u202f800.0" in drawing.desc
        assert "longer one would end, within reach: 4\u202f200.0" in drawing.desc
    assert figure.count('class="hatch"') == 6
    assert "Hatched: the extensions within reach, one after the other." in figure
    held = Interval(start=0, end=300_000, state="outstanding", held_from=290_000)
    assert "without the extension, holds: 2\u202f900.0" in ruler_with(interval=held)


def test_the_scale_goes_on_no_further_than_its_labels_need() -> None:
    interval = Interval(
        start=0, end=150_000, state="outstanding", further=(Further(220_000),)
    )
    ruler = HoursRuler(
        id="h", subject="engine 1", now=82_000, interval=interval, life_alone=True
    )
    *_, wide = drawings_of(draw_hours(ruler))
    last = max(one.x for one in wide.uprights if one.kind == "stem")
    assert 220_000 * wide.width / last < 275_000


def test_the_life_may_be_drawn_alone() -> None:
    interval = Interval(start=0, end=300_000, state="outstanding")
    figure = ruler_with(interval=interval, life_alone=True)
    assert figure.count('class="now"') == 3  # one line of now in each drawing
    assert "stretch" not in figure
    assert "interval ends, outstanding: 3\u202f000.0" in figure


def test_an_interval_of_years_is_drawn_whole_where_that_is_asked_for() -> None:
    interval = Interval(
        start=date(2021, 6, 2).toordinal(),
        end=date(2033, 6, 2).toordinal(),
        state="outstanding",
    )
    ruler = DatesRuler(id="d", subject="engine 4731", today=TODAY, interval=interval)
    near = draw_dates(ruler)
    assert "interval ends, 2 Jun 2033, in 2\u202f382\u00a0days" in near
    assert 'class="band"' not in near  # its end is not on this scale
    assert "Filled" not in near
    whole = draw_dates(replace(ruler, whole=True))
    assert whole.count('class="band"') == 3
    assert "interval ends, outstanding: 2 Jun 2033" in whole


def test_a_date_far_off_is_named_instead_of_pressing_the_others_together() -> None:
    far = DateMark(name="interval ends", on=date(2033, 6, 2), state="outstanding")
    ruler = DatesRuler(id="d", subject="engine 4731", today=TODAY, marks=(far,))
    figure = draw_dates(ruler)
    assert "interval ends, 2 Jun 2033, in 2\u202f382\u00a0days" in figure


def test_a_state_without_a_shape_is_refused() -> None:
    with pytest.raises(ValueError, match='"late" is not a state'):
        ruler_with(HoursMark(name="pump", at=273_050, state="late"))

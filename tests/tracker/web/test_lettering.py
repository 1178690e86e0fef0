"""Labels that are too long for a drawing are shortened where a reader would stop."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from tracker.figures.lettering import ELLIPSIS, fitted, width_of
from tracker.figures.ruler import HoursMark, HoursRuler, draw_hours


def test_a_label_that_fits_stays_as_it_is() -> None:
    assert fitted("AD X-26-014 pump drive", 300) == "AD X-26-014 pump drive"


def test_a_label_is_shortened_after_a_whole_word() -> None:
    assert fitted("AD X-26-014 inspect the pump drive", 142) == "AD X-26-014 inspect…"
    assert fitted("Inspect, then replace it", 65) == "Inspect…"


def test_a_word_that_is_too_wide_by_itself_is_cut() -> None:
    cut = fitted("MMMMMMMMMMMMMMMM", 60)
    assert cut.endswith(ELLIPSIS)
    assert 1 < len(cut) < 16


@given(
    st.lists(st.sampled_from(["AD", "X-26", "inspect", "drive", "M"]), min_size=1),
    st.floats(40, 300),
)
def test_what_is_left_fits_and_begins_the_text(words: list[str], most: float) -> None:
    text = " ".join(words)
    shown = fitted(text, most)
    assert width_of(shown) <= most
    if shown != text:
        assert text.startswith(shown.removesuffix(ELLIPSIS))


def test_a_figure_says_in_words_what_its_label_shortens() -> None:
    name = "AD X-26-014 inspect the drive of the fuel pump for wear and replace it"
    mark = HoursMark(name=name, at=53_000, state="outstanding")
    figure = draw_hours(HoursRuler(id="h", subject="x", now=52_000, marks=(mark,)))
    assert figure.count(name) >= 4  # three drawings in words, and the keyed list
    shown = set(re.findall(r"AD X[^<]*…", figure))
    assert len(shown) == 2  # as much as each of the two wider drawings can hold
    assert all(name.startswith(one[:-1] + " ") for one in shown)

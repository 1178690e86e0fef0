from datetime import date
from enum import Enum
from types import SimpleNamespace
from typing import Any

import pytest
from django.template import Context, Template
from hypothesis import given
from hypothesis import strategies as st

from notices.rules.facts import UNKNOWN
from tracker.figures import states, wording
from tracker.web.templatetags import look


def rendered(source: str, **context: Any) -> str:
    return Template("{% load look %}" + source).render(Context(context))


def test_hours_are_printed_as_the_trade_prints_them() -> None:
    """
    271160 | 2 711.6 h
    271165 | 2 711.65 h
    0 | 0.0 h
    5 | 0.05 h
    100 | 1.0 h
    123456780 | 1 234 567.8 h
    -1320 | −13.2 h
    """
    for figures, printed in _table(test_hours_are_printed_as_the_trade_prints_them):
        assert _plain(look.hours(int(figures))) == printed


def test_due_and_remaining_hours_are_rounded_down() -> None:
    """
    273059 | 2 730.5 h
    273050 | 2 730.5 h
    -1321 | −13.3 h
    """
    for figures, printed in _table(test_due_and_remaining_hours_are_rounded_down):
        assert _plain(look.due_hours(int(figures))) == printed


def test_used_hours_are_rounded_up() -> None:
    """
    271151 | 2 711.6 h
    271160 | 2 711.6 h
    -1329 | −13.2 h
    """
    for figures, printed in _table(test_used_hours_are_rounded_up):
        assert _plain(look.used_hours(int(figures))) == printed


@given(st.integers(-(10**9), 10**9))
def test_rounding_never_flatters_and_never_moves_a_tenth(hundredths: int) -> None:
    down, up = wording.rounded_down(hundredths), wording.rounded_up(hundredths)
    assert hundredths - 10 < down <= hundredths <= up < hundredths + 10
    assert down % 10 == up % 10 == 0


@given(st.integers(-(10**9), 10**9))
def test_exact_hours_read_back_to_the_same_hundredths(hundredths: int) -> None:
    text = wording.decimal(hundredths).replace("\u202f", "").replace("\u2212", "-")
    whole, _, rest = text.lstrip("-").partition(".")
    value = int(whole) * 100 + int(rest.ljust(2, "0"))
    assert (-value if text.startswith("-") else value) == hundredths


def test_thousands_are_narrow_blanks_and_the_unit_does_not_break_off() -> None:
    assert look.hours(271160) == "2\u202f711.6\u00a0h"


@pytest.mark.parametrize("absent", [None, UNKNOWN])
def test_what_is_missing_is_said_in_words(absent: Any) -> None:
    assert look.hours(absent) == "not known"
    assert look.due_hours(absent) == "not known"
    assert look.day(absent) == "not known"
    assert look.long_day(absent) == "not known"


def test_hours_that_are_not_hundredths_are_refused() -> None:
    with pytest.raises(TypeError, match="whole hundredths"):
        look.hours(2711.6)
    with pytest.raises(TypeError, match="not a date"):
        look.day("2026-11-24")


def test_days_are_short_in_tables_and_long_in_sentences() -> None:
    assert look.day(date(2026, 11, 4)) == "4 Nov 2026"
    assert look.long_day(date(2026, 11, 4)) == "4 November 2026"


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (47, "in 47 days"),
        (1, "in 1 day"),
        (0, "today, still in time"),
        (-8, "8 days past"),
        (None, "not known"),
    ],
)
def test_days_away_are_said_in_words(days: int | None, words: str) -> None:
    assert _plain(look.days_away(days)) == words


@pytest.mark.parametrize(
    ("hundredths", "words"),
    [
        (1890, "in 18.9 h"),
        (0, "reached, still in time"),
        (-1320, "13.2 h past"),
        (-1, "0.1 h past"),
    ],
)
def test_hours_away_are_said_in_words(hundredths: int, words: str) -> None:
    assert _plain(look.hours_away(hundredths)) == words


def test_remaining_shows_hours_and_days_and_marks_what_is_past() -> None:
    both = rendered("{% remaining hours days %}", hours=-1320, days=8)
    assert '<span class="past">\u221213.2\u00a0h</span>' in both
    assert '<span class="left">8\u00a0days</span>' in both
    assert rendered("{% remaining hours days %}", hours=None, days=None) == "–"


@pytest.mark.parametrize("word", [*states.BY_URGENCY, *states.OUTCOMES])
def test_every_state_has_a_word_and_a_symbol_in_the_sprite(word: str) -> None:
    shown = rendered("{{ word|state }}", word=word)
    slug = look.state_slug(word)
    sprite = rendered('{% include "web/_sprite.html" %}')
    assert word in shown
    assert f'href="#s-{slug}"' in shown
    assert f'<symbol id="s-{slug}"' in sprite


def test_a_state_may_be_a_member_of_an_enumeration_and_carry_other_words() -> None:
    class State(Enum):
        COMING_DUE = "coming due"

    words = "2 <coming> due"
    shown = rendered("{{ word|state:words }}", word=State.COMING_DUE, words=words)
    assert 'class="st st-coming-due"' in shown
    assert "2 &lt;coming&gt; due" in shown


def test_an_unknown_state_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match=r'"late" is not a state.*before further'):
        look.state("late")


def test_a_mark_is_a_shape_that_is_not_read_aloud() -> None:
    shown = rendered('{{ "overdue"|mark }}')
    assert 'aria-hidden="true"' in shown
    assert "#s-overdue" in shown


@pytest.mark.parametrize(
    ("url_name", "attribute"),
    [
        ("engine-list", ' aria-current="page"'),
        ("engine-detail", ' aria-current="true"'),
        ("publication-list", ""),
        (None, ""),
    ],
)
def test_the_header_marks_the_page_and_the_pages_below_it(
    url_name: str | None, attribute: str
) -> None:
    request = SimpleNamespace(resolver_match=SimpleNamespace(url_name=url_name))
    assert rendered('{% current "engine" %}', request=request) == attribute
    assert rendered('{% current "engine" %}') == ""


def _plain(text: str) -> str:
    return text.replace("\u202f", " ").replace("\u00a0", " ")


def _table(test: Any) -> list[tuple[str, str]]:
    """The lines `input | shown` of a test's docstring."""
    lines = [line for line in (test.__doc__ or "").splitlines() if "|" in line]
    pairs = [line.split("|") for line in lines]
    assert pairs
    return [(given.strip(), shown.strip()) for given, shown in pairs]


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        (
            "It is not known whether the ledger holds a record for SB-25-014.",
            "It is not known whether there is a record of work by SB-25-014.",
        ),
        (
            "The ledger holds no record for SB-25-014.",
            "There is no record of work by SB-25-014.",
        ),
        ("The ledger is whole.", "The ledger is whole."),
    ],
)
def test_nobody_without_a_ledger_is_told_of_one(reason: str, said: str) -> None:
    assert rendered("{{ reason|without_ledger }}", reason=reason) == said


def test_the_number_of_a_document_stays_in_one_line() -> None:
    markup = (
        '<a href="/SB-24-011" title="SB-24-011">By SB-24-011 (SI-18-001), 10W-40</a>'
        "<select><option>SB-24-011</option></select><svg><text>MOD-41</text></svg>"
    )
    source = "{% filter unbroken %}" + markup + "{% endfilter %}"
    assert rendered(source) == markup.replace(
        "By SB-24-011 (SI-18-001)",
        'By <bdi class="nb">SB-24-011</bdi> (<bdi class="nb">SI-18-001</bdi>)',
    )


def test_a_number_below_nought_has_a_true_minus() -> None:
    assert look.signed("-8") == "\u22128"
    assert look.signed("33.5") == "33.5"

"""What a form shows of an interval or of oils, sent back untouched, is what is stored."""

from __future__ import annotations

from typing import Any

from django.forms import Form
from django.http import QueryDict
from hypothesis import given
from hypothesis import strategies as st

from notices.rules.fluids import CLASSES, FUELS, parse_rows, rows_to_json
from notices.rules.overhaul import parse_interval
from tests.strategies import condition_jsons
from tracker.web.forms.fluids import FluidsForm
from tracker.web.forms.intervals import IntervalForm

NAMES = st.sampled_from(["base", "oil-feed", "später", 'a "b" & <c>'])
HOURS = st.sampled_from([0.01, 1, 1200, 1500.5, 49999.99])
YEARS = st.integers(1, 100)
LENGTHS = st.fixed_dictionaries({}, optional={"hours": HOURS, "years": YEARS}).filter(
    bool
)


@st.composite
def intervals(draw: st.DrawFn) -> dict[str, Any]:
    kind = draw(st.sampled_from(["base", "extension", "restriction"]))
    made = {
        "id": draw(NAMES),
        "kind": kind,
        "since": draw(st.sampled_from(["new", "overhaul"])),
        **draw(LENGTHS),
    }
    if draw(st.booleans()):
        uses = st.lists(st.sampled_from(["commercial", "club"]), min_size=1, max_size=2)
        made["binding"] = draw(st.one_of(st.just(True), uses))
    if kind == "extension" and draw(st.booleans()):
        made["enter_by"] = draw(LENGTHS)
    if kind != "base" and draw(st.booleans()):
        made["builds_on"] = "another"
    return made


DEGREES = st.sampled_from([-40, -4.5, 0, 0.125, 21])


@st.composite
def ambients(draw: st.DrawFn) -> dict[str, Any]:
    low, high = sorted((draw(DEGREES), draw(DEGREES)))
    ends = draw(st.sampled_from([{"from"}, {"to"}, {"from", "to"}]))
    made = {key: end for key, end in (("from", low), ("to", high)) if key in ends}
    return {**made, **draw(st.sampled_from([{}, {"unit": "F"}]))}


def rows() -> st.SearchStrategy[list[dict[str, Any]]]:
    row = st.fixed_dictionaries(
        {
            "grade": st.sampled_from(["15W-50", "SAE 50", "100", "W80 plus"]),
            "class": st.sampled_from(CLASSES),
            "ambient": ambients(),
            "fuel": st.sampled_from([[FUELS[0]], [FUELS[1]], list(FUELS)]),
        },
        optional={"note": NAMES, "when": condition_jsons(most=3)},
    )
    return st.lists(row, min_size=1, max_size=4).map(
        lambda made: [{"id": f"row {n}", **one} for n, one in enumerate(made)]
    )


def shown(form: Form, sent: QueryDict) -> None:
    """Put into `sent` what a browser would send of a form that nobody touched."""
    for field in form:
        value = field.value()
        listed = value if isinstance(value, list | tuple) else [value]
        texts = ["" if one is None else str(one) for one in listed]
        # A field of one line loses its line breaks.
        sent.setlist(field.html_name, [text.replace("\n", "") for text in texts])


@given(intervals())
def test_an_interval_comes_back_as_it_is_stored(raw: dict[str, Any]) -> None:
    stored = parse_interval(raw).to_json()
    sent = QueryDict(mutable=True)
    shown(IntervalForm(None, prefix="i", kept=stored), sent)
    again = IntervalForm(sent, prefix="i", kept=stored)
    assert again.is_valid(), again.errors
    assert again.stated() == stored
    assert not again.changed_data


@given(rows())
def test_rows_of_oils_come_back_as_they_are_stored(raw: list[dict[str, Any]]) -> None:
    stored = rows_to_json(parse_rows(raw))
    sent = QueryDict(mutable=True)
    form = FluidsForm(None, prefix="f", kept=stored)
    for row in form.rows:
        shown(row, sent)
    sent["f"] = str(len(form.rows))
    again = FluidsForm(sent, prefix="f", kept=stored)
    assert again.is_valid(), again.errors
    assert again.stated() == stored

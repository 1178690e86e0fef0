"""How intervals and rows of oils are worded; the tables are the test data."""

from __future__ import annotations

import json

import pytest

from notices.rules.fluids import parse_rows
from notices.rules.fluids_wording import row_words
from notices.rules.overhaul import parse_interval
from notices.rules.overhaul_wording import interval_sentences
from notices.rules.phrases import NO_BREAK

# In these tables an underscore stands for a no-break space.
INTERVALS = """
{"kind": "base", "hours": 1500, "years": 12} | Overhaul interval: 1_500_h or 12 years since overhaul, whichever comes first. It is a recommendation.
{"kind": "base", "hours": 1200.5, "since": "new"} | Overhaul interval: 1_200.5_h since new. It is a recommendation.
{"kind": "base", "years": 1, "binding": ["commercial"]} | Overhaul interval: 1 year since overhaul. It binds by law in commercial operation.
{"kind": "base", "hours": 900, "binding": ["commercial", "club"]} | Overhaul interval: 900_h since overhaul. It binds by law in commercial and club operation.
{"kind": "base", "hours": 900, "binding": true} | Overhaul interval: 900_h since overhaul. It binds by law in every operation.
{"kind": "extension", "hours": 2000, "builds_on": "feed"} | Extension of the overhaul interval to 2_000_h since overhaul. Only where "feed" holds, too. It is a recommendation.
{"kind": "extension", "hours": 2000, "enter_by": {"hours": 1500, "years": 12}} | Extension of the overhaul interval to 2_000_h since overhaul. To be entered before 1_500_h or 12 years since overhaul are exceeded. It is a recommendation.
{"kind": "restriction", "hours": 1200, "since": "new"} | The overhaul interval is at most 1_200_h since new. It is a recommendation.
"""
ROWS = """
{"grade": "10W-40", "class": "semi-synthetic", "ambient": {"from": -25, "to": 35}, "fuel": ["unleaded", "leaded"]} | 10W-40, semi-synthetic, ambient from −25 °C to 35 °C, with unleaded or leaded fuel.
{"grade": "20W-50", "class": "mineral", "ambient": {"from": 30, "unit": "F"}, "fuel": ["leaded"], "note": "change it sooner"} | 20W-50, mineral, ambient from 30 °F up, with leaded fuel. Change it sooner.
{"grade": "0W-30", "class": "synthetic", "ambient": {"to": -4.5}, "fuel": ["unleaded"], "when": {"type": ["MX-4*"]}} | 0W-30, synthetic, ambient up to −4.5 °C, with unleaded fuel. Only where: Type designation is of the MX-4 series.
"""


def lines(table: str) -> list[tuple[dict[str, object], str]]:
    pairs = (line.split(" | ") for line in table.strip().splitlines())
    return [(json.loads(raw), words) for raw, words in pairs]


@pytest.mark.parametrize(("raw", "words"), lines(INTERVALS))
def test_an_interval_is_said_in_sentences(raw: dict[str, object], words: str) -> None:
    interval = parse_interval({"id": "one", "since": "overhaul", **raw})
    assert interval_sentences(interval) == words.replace("_", NO_BREAK)


@pytest.mark.parametrize(("raw", "words"), lines(ROWS))
def test_a_row_of_oils_is_said_in_sentences(raw: dict[str, object], words: str) -> None:
    [row] = parse_rows([{"id": "one", **raw}])
    assert row_words(row) == words

"""How times, actions and due results are worded; the tables are the test data."""

from __future__ import annotations

import json
from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from notices.rules.applicability.wording import percent_words
from notices.rules.due_json import due_from_json
from notices.rules.phrases import (
    NO_BREAK,
    date_words,
    due_hours_words,
    interval_words,
    listed,
    used_hours_words,
)
from notices.rules.times.actions import parse_action
from notices.rules.times.limits import parse_time
from notices.rules.times.wording import action_words, time_words

TIMES = """
{"hours": 50, "after": "effective"} | within 50 h after the effective date
{"hours": 0.5, "after": "last done"} | within 0.5 h after it was last done
{"hours": 2000, "after": "new"} | within 2 000 h since new
{"hours": 50, "after": "effective", "meter": "tachometer"} | within 50 h by tachometer after the effective date
{"months": 12, "after": "last done", "calendar": true} | within 12 calendar months after it was last done
{"months": 1, "after": "manufacture"} | within 1 month after the date of manufacture
{"days": 90, "after": "overhaul"} | within 90 days after the last overhaul
{"date": "2027-06-30"} | on or before 30 June 2027
{"event": "Next overhaul"} | at the next overhaul
{"event": "further flight"} | before further flight
{"event": "further flight", "after": {"event": "propeller strike"}} | before further flight after the latest propeller strike
{"unknown": "table missing"} | at a time that is not known (table missing)
{"hours": 500, "after": {"part": "magneto", "since": "overhaul"}} | within 500 h after the magneto was last overhauled
{"hours": 500, "after": {"part": "magneto", "since": "fitted"}} | within 500 h after the magneto was fitted
{"days": 30, "after": {"date": "2005-07-27"}} | within 30 days after 27 July 2005
{"days": 30, "after": {"event": "oil change", "after": "effective"}} | within 30 days after the latest oil change after the effective date
{"first_of": [{"hours": 100, "after": "effective"}, {"date": "2027-06-30"}]} | within 100 h after the effective date or on or before 30 June 2027, whichever occurs first
{"last_of": [{"hours": 100, "after": "new"}, {"days": 9, "after": "effective"}]} | within 100 h since new or within 9 days after the effective date, whichever occurs later
{"first_of": [{"event": "overhaul"}]} | at the next overhaul
{"first_of": [{"event": "overhaul"}, {"last_of": [{"date": "2027-06-30"}, {"event": "oil change"}]}]} | at the next overhaul or (on or before 30 June 2027 or at the next oil change, whichever occurs later), whichever occurs first
{"cases": [{"when": {"embodied": "SB-1"}, "then": {"event": "overhaul"}}]} | at the next overhaul if SB-1 is embodied; otherwise nothing is due
{"cases": [{"when": {"embodied": "SB-1"}, "then": {"event": "overhaul"}}, {"else": {"date": "2027-06-30"}}]} | at the next overhaul if SB-1 is embodied; otherwise on or before 30 June 2027
"""

ACTIONS = """
{"initial": {"event": "overhaul"}} | Due at the next overhaul.
{"initial": {"event": "overhaul"}, "when": {"embodied": "SB-1"}} | Only if SB-1 is embodied. Due at the next overhaul.
{"initial": {"event": "overhaul"}, "credit": true} | Due at the next overhaul. Work done before the effective date counts.
{"initial": {"event": "overhaul"}, "credit": {"of": ["SB-1", {"number": "SB-2", "revisions": ["1", "2"]}]}} | Due at the next overhaul. Work done before the effective date counts if done by SB-1 or SB-2 revision 1 or 2.
{"initial": {"event": "overhaul"}, "credit": {"within": {"hours": 30, "after": "last done"}}} | Due at the next overhaul. Work done before the effective date counts; it is then due within 30 h after it was last done.
{"initial": {"event": "overhaul"}, "repeat": {"hours": 100, "after": "last done"}, "restart": "planned", "tolerance": {"hours": 10, "en_route": true}, "counts": ["annual inspection"]} | Due at the next overhaul. Then again within 100 h after it was last done. The next interval runs from the planned point. It may be exceeded by 10 h on the way to where the work can be done. An annual inspection counts as doing it.
{"initial": {"event": "overhaul"}, "repeat": {"days": 9, "after": "last done"}, "until": {"date": "2027-06-30"}, "tolerance": {"hours": 5, "days": 1, "early": true}, "ends_with": ["SB-9", {"embodied": "SB-8"}]} | Due at the next overhaul. Then again within 9 days after it was last done. It may be exceeded by 5 h or 1 day; early work keeps the grid. The repeats end on or before 30 June 2027. Ended by: SB-9 or SB-8 is embodied.
"""

# What is asked, beside an engine of 1 234.56 h, 1 June 2026, effective 15 January 2026
# at 1 200 h, nothing done, no events.
RESULTS = """
{"action": {"initial": {"hours": 50, "after": "effective"}}} | Outstanding: due at 1 250.0 h. Left: 15.4 h. Hours by the reading of 1 234.6 h. Reaching a limit exactly is still in time.
{"action": {"initial": {"hours": 50, "after": "effective", "meter": "tachometer"}}} | Outstanding: due at 1 250.0 h by tachometer. Left: 15.4 h. Hours by the reading of 1 234.6 h. Reaching a limit exactly is still in time.
{"action": {"initial": {"last_of": [{"hours": 50, "after": "effective"}, {"date": "2026-05-01"}]}}} | Outstanding: due at 1 250.0 h or on 1 May 2026, whichever comes later. Left: 15.4 h. Hours by the reading of 1 234.6 h. Reaching a limit exactly is still in time.
{"action": {"initial": {"last_of": [{"hours": 30, "after": "effective"}, {"date": "2026-06-30"}]}}} | Outstanding: due at 1 230.0 h or on 30 June 2026, whichever comes later. Left: 29 days. Reaching a limit exactly is still in time.
{"action": {"initial": {"last_of": [{"hours": 30, "after": "effective"}, {"date": "2026-05-01"}]}}} | Overdue: due at 1 230.0 h or on 1 May 2026, whichever comes later. Past by 4.6 h and 31 days. Hours by the reading of 1 234.6 h. Reaching a limit exactly is still in time.
{"action": {"initial": {"hours": 30, "after": "effective"}}} | Overdue: due at 1 230.0 h. Past by 4.6 h. Hours by the reading of 1 234.6 h. Reaching a limit exactly is still in time.
{"action": {"initial": {"days": 138, "after": "effective"}}, "lead": {"days": 30}} | Coming due: due on 2 June 2026. Left: 1 day. Reaching a limit exactly is still in time.
{"action": {"initial": {"event": "further flight"}}, "engine": {"hours": {"new": 1200}}} | Outstanding: due before further flight. No flight is left.
{"action": {"initial": {"event": "further flight"}}} | Overdue: due before further flight. Flown since: 34.6 h.
{"action": {"initial": {"hours": 9, "after": {"event": "oil change"}}}} | Nothing is due before an oil change.
{"action": {"initial": {"cases": [{"when": {"not": {"always": true}}, "then": {"event": "overhaul"}}]}}} | Nothing is due: no case of the compliance time holds.
{"action": {"initial": {"event": "overhaul"}}, "done": [{"on": "2026-03-01", "hours": 1210}]} | Complied with on 1 March 2026 at 1 210.0 h.
{"action": {"initial": {"hours": 5, "after": "effective"}}, "done": [{"on": "2026-03-01", "hours": 1210}]} | Complied with on 1 March 2026 at 1 210.0 h. The last record was late by 5.0 h.
{"action": {"initial": {"hours": 50, "after": "effective"}}, "done": null} | Undetermined, to be treated as open. Missing: whether and when it was done. If it applies and is open: outstanding: due at 1 250.0 h. Left: 15.4 h. Hours by the reading of 1 234.6 h. Reaching a limit exactly is still in time.
{"action": {"initial": {"unknown": "table missing"}}} | Undetermined, to be treated as open. Missing: table missing. Due at a point that is not known (missing: table missing).
{"action": {"initial": {"event": "overhaul"}, "repeat": {"hours": 100, "after": "last done"}, "until": {"hours": 100, "after": "effective"}}, "done": [{"hours": 1210}]} | Terminated: the next repeat would lie past the end of the repeats.
{"action": {"initial": {"event": "overhaul"}, "ends_with": ["SB-9"]}, "done": [{"number": "SB-9"}]} | Terminated. SB-9 was done.
{"action": {"initial": {"event": "oil change"}}, "events": [{"event": "oil change", "on": "2026-05-31", "hours": 1234}]} | Overdue: due at the oil change, at 1 234.0 h and on 31 May 2026. Past by 0.6 h and 1 day. Hours by the reading of 1 234.6 h. Reaching a limit exactly is still in time.
{"action": {"initial": {"first_of": [{"hours": 50, "after": "effective"}, {"months": 12, "after": "effective"}]}}} | Outstanding: due at 1 250.0 h or on 15 January 2027, whichever comes first. Left: 15.4 h and 228 days. Hours by the reading of 1 234.6 h. Reaching a limit exactly is still in time.
{"action": {"initial": {"hours": 50, "after": "effective"}}, "effective": {"on": "2026-01-16"}, "readings": [{"on": "2026-01-01", "hours": 1200}, {"on": "2026-01-31", "hours": 1234.56, "meter": "tachometer"}]} | Outstanding: due at about 1 267.2 h (estimated between two readings, 1 250.0 h at the earliest). Left: 32.7 h. Hours by the reading of 1 234.6 h on 31 January 2026 (tachometer, standing in for time in service). May be overdue, read the meter. Reaching a limit exactly is still in time.
"""


def rows(table: str) -> list[tuple[Any, str]]:
    lines = [line.split(" | ", 1) for line in table.strip().splitlines()]
    return [(json.loads(raw), sentence) for raw, sentence in lines]


@pytest.mark.parametrize(("raw", "words"), rows(TIMES))
def test_a_time_in_words(raw: Any, words: str) -> None:
    assert time_words(parse_time(raw)).replace(NO_BREAK, " ") == words


@pytest.mark.parametrize(("raw", "sentences"), rows(ACTIONS))
def test_an_action_in_sentences(raw: Any, sentences: str) -> None:
    assert action_words(parse_action(raw)).replace(NO_BREAK, " ") == sentences


@pytest.mark.parametrize(("raw", "sentence"), rows(RESULTS))
def test_a_due_result_in_sentences(raw: Any, sentence: str) -> None:
    question = {
        "engine": {"hours": {"new": 1234.56}},
        "effective": {"on": "2026-01-15", "hours": 1200},
        "done": [],
        "events": [],
        "on": "2026-06-01",
        **raw,
    }
    answer = due_from_json(question)["sentence"]
    assert answer.replace(NO_BREAK, " ") == sentence


def test_due_hours_are_rounded_down_and_used_hours_up() -> None:
    assert due_hours_words(123_456) == f"1{NO_BREAK}234.5{NO_BREAK}h"
    assert used_hours_words(123_456) == f"1{NO_BREAK}234.6{NO_BREAK}h"
    assert due_hours_words(-1) == f"\u22120.1{NO_BREAK}h"
    assert interval_words(1205) == f"12.05{NO_BREAK}h"


def test_dates_and_lists_are_written_out() -> None:
    assert date_words(date(2026, 11, 24)) == "24 November 2026"
    assert listed((), "or") == ""
    assert listed(("a",), "or") == "a"
    assert listed(("a", "b", "c"), "or") == "a, b or c"


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (Fraction(0), "0 %"),
        (Fraction(1, 4), "25 %"),
        (Fraction(1, 8), "12.5 %"),
        (Fraction(1, 3), "33.3 %"),
        (Fraction(2, 3), "66.7 %"),
        (Fraction("0.3001"), "30.01 %"),
        (Fraction("0.29999"), "29.999 %"),
        (Fraction("0.300000001"), "just over 30 %"),
        (Fraction("0.999999999"), "just under 100 %"),
        (Fraction(1), "100 %"),
    ],
)
def test_a_share_never_reads_as_a_whole_per_cent_that_it_is_not(
    share: Fraction, words: str
) -> None:
    assert percent_words(share) == words

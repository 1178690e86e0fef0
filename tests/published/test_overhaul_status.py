"""When an overhaul interval is law, and what an overhaul or a rebuild resets.

Sources: FAA Notice N 8900.410 (31 March 2017): overhauls are not mandatory for operators
under part 91. 14 CFR 91.403(c) as the airworthiness limitations bind everybody. 14 CFR
135.421(a): nine or fewer passenger seats, the maker's recommended programme or an
approved one must be followed for the engine. 14 CFR 135.421(c)(2): oil analysis every
100 hours or the maker's interval, whichever is more frequent. Regulation (EU) 1321/2014,
Part-ML, ML.A.302 and its guidance as retained in the United Kingdom: a longer interval
is a deviation, which an owner who declares the programme need not justify and an
organisation that approves it must; from an airworthiness limitation or a directive
there is none. 14 CFR 91.421: an engine rebuilt by its
maker, or an agency the maker has approved, may have a new record without previous
history; 91.421(b)(1): the record then states the date of the rebuild. 14 CFR 43.2(a) and
(b): what may be called overhauled and rebuilt. The figures are those of worked cases
derived from these texts.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from notices.rules.compliance_time import History, State
from notices.rules.due_json import due_from_json
from notices.rules.facts import (
    UNKNOWN,
    Asked,
    Axis,
    EngineFacts,
    Hours,
    HoursKept,
    Overhaul,
)
from notices.rules.overhaul import (
    OverhaulDue,
    overhaul_at,
    overhaul_point,
    parse_interval,
)

TODAY = date(2026, 5, 1)
TWO_THOUSAND = {"id": "tbo", "kind": "base", "hours": 2000, "since": "new"}
PART_91, PART_135 = frozenset({"part 91"}), frozenset({"part 135"})


def standing(raw: dict[str, Any], facts: EngineFacts) -> OverhaulDue:
    point = overhaul_point([parse_interval(raw)], facts, Asked(on=TODAY), History())
    return overhaul_at(point, on=TODAY, hours=facts.axis_now)


def run_for(hours: int, operation: frozenset[str]) -> EngineFacts:
    """An engine with so many hundredths of an hour, in this operation."""
    return EngineFacts(hours=HoursKept(new=Hours(hours)), operation=operation)


# FAA Notice N 8900.410; the airworthiness limitations; 14 CFR 135.421(a).


def test_tbo_01_part_91_past_a_recommended_interval_is_advisory() -> None:
    answer = standing(TWO_THOUSAND, run_for(215_000, PART_91))
    assert answer.word == "past the recommended interval"
    assert answer.due.state is not State.OVERDUE
    assert answer.due.remaining_hours == -15_000
    assert answer.point.binding is False


def test_tbo_02_an_airworthiness_limitation_binds_in_part_91_too() -> None:
    limitation = {**TWO_THOUSAND, "kind": "restriction", "binding": True}
    answer = standing(limitation, run_for(215_000, PART_91))
    assert (answer.word, answer.point.binding) == ("overdue", True)


@pytest.mark.parametrize(
    ("hours", "word"), [(200_000, "outstanding"), (200_010, "overdue")]
)
def test_tbo_03_part_135_follows_the_maker_s_programme(hours: int, word: str) -> None:
    programme = {**TWO_THOUSAND, "binding": ["part 135"]}
    assert standing(programme, run_for(hours, PART_135)).word == word
    private = standing(programme, run_for(200_010, PART_91))
    assert private.word == "past the recommended interval"


def test_an_engine_used_for_both_is_bound() -> None:
    programme = {**TWO_THOUSAND, "binding": ["part 135"]}
    both = standing(programme, run_for(200_010, PART_91 | PART_135))
    assert both.word == "overdue"


@pytest.mark.parametrize(
    ("maker_s", "due"),
    [pytest.param(50, 1050, id="TBO-04"), pytest.param(150, 1100, id="TBO-05")],
)
def test_tbo_04_and_05_the_more_frequent_oil_analysis_counts(
    maker_s: int, due: int
) -> None:
    """14 CFR 135.421(c)(2)."""
    either = [{"hours": hours, "after": "last done"} for hours in (100, maker_s)]
    question = {
        "action": {"initial": {"first_of": either}, "repeat": {"first_of": either}},
        "engine": {"hours": {"new": 1000.0}, "operation": "part 135"},
        "done": [{"on": "2026-04-01", "hours": 1000.0}],
        "events": [],
        "on": "2026-05-01",
    }
    assert due_from_json(question)["hours"] == due


# Part-ML, ML.A.302: a longer interval as a deviation from the maker's.

JUSTIFIED = "Is the deviation justified in the maintenance programme?"
DEVIATION = {
    "id": "deviation",
    "kind": "extension",
    "hours": 2400,
    "since": "new",
    "when": {
        "any": [
            {"attribute": "maintenance programme", "in": ["declared by the owner"]},
            {"ask": JUSTIFIED},
        ]
    },
}


def under_part_ml(
    programme: str, *more: dict[str, Any], justified: bool | None = None
) -> tuple[Hours | None, str]:
    answers = {} if justified is None else {("", JUSTIFIED): justified}
    facts = EngineFacts(
        hours=HoursKept(new=Hours(215_000)),
        operation=frozenset({"private"}),
        attributes={"maintenance programme": programme},
        answers=answers,
    )
    several = [parse_interval(one) for one in (TWO_THOUSAND, DEVIATION, *more)]
    point = overhaul_point(several, facts, Asked(on=TODAY), History())
    answer = overhaul_at(point, on=TODAY, hours=facts.axis_now)
    return answer.point.hours, answer.word


def test_tbo_06_an_owner_who_declares_the_programme_need_not_justify() -> None:
    assert under_part_ml("declared by the owner") == (240_000, "outstanding")


@pytest.mark.parametrize(
    ("justified", "hours", "word"),
    [
        (True, 240_000, "outstanding"),
        (False, 200_000, "past the recommended interval"),
        (None, 200_000, "past the recommended interval"),
    ],
)
def test_tbo_07_an_organisation_that_approves_it_must(
    justified: bool | None, hours: int, word: str
) -> None:
    approved = "approved by an organisation"
    assert under_part_ml(approved, justified=justified) == (hours, word)


def test_from_an_airworthiness_limitation_no_programme_deviates() -> None:
    limitation = {
        "id": "limitation",
        "kind": "restriction",
        "hours": 2100,
        "since": "new",
        "binding": True,
    }
    found = under_part_ml("declared by the owner", limitation)
    assert found == (210_000, "overdue")


# 14 CFR 91.421 and 43.2: total time, time since overhaul, zero time.

SINCE_OVERHAUL = {**TWO_THOUSAND, "since": "overhaul", "years": 12}
BUILT, DONE = date(2001, 5, 1), date(2026, 3, 1)


def engine(**known: Any) -> EngineFacts:
    """An engine that has run 1 850 h."""
    new = HoursKept(new=Hours(185_000))
    return EngineFacts(**{"built": BUILT, "hours": new, **known})


def test_ovh_01_an_overhaul_by_any_shop_zeroes_time_since_overhaul_only() -> None:
    done = Overhaul(on=DONE, hours=Hours(185_000), by="an independent shop")
    facts = engine(overhauls=(done,), rebuilt=None)
    since_overhaul = standing(SINCE_OVERHAUL, facts).due
    assert since_overhaul.remaining_hours == 200_000
    assert since_overhaul.on == date(2038, 3, 1)
    assert standing(TWO_THOUSAND, facts).due.remaining_hours == 15_000


def test_ovh_02_after_the_maker_s_rebuild_a_new_record_begins_at_zero() -> None:
    """The hours kept run on; new hours and years are counted from the rebuild."""
    facts = engine(
        rebuilt=DONE,
        hours=HoursKept(new=Hours(0)),
        axis=Axis(now=Hours(185_000), new=Hours(185_000)),
        overhauls=(),
    )
    for since in ("new", "overhaul"):
        due = standing({**SINCE_OVERHAUL, "since": since}, facts).due
        assert (due.hours, due.remaining_hours) == (385_000, 200_000)
        assert due.on == date(2038, 3, 1)


def test_ovh_02_the_date_of_the_rebuild_is_needed() -> None:
    facts = engine(
        rebuilt=True,
        hours=HoursKept(new=Hours(0)),
        axis=Axis(now=Hours(185_000), new=Hours(185_000)),
        overhauls=(),
    )
    due = standing({**SINCE_OVERHAUL, "since": "new"}, facts).due
    assert (due.state, due.on) == (State.UNDETERMINED, None)
    assert due.missing == ("date of the maker's rebuild",)


def test_a_rebuild_counts_like_the_overhaul_that_it_is_more_than() -> None:
    """43.2(b) asks of a rebuild all that 43.2(a) asks of an overhaul, to closer limits."""
    before = Overhaul(
        on=date(2015, 2, 1), hours=Hours(90_000), by="an independent shop"
    )
    facts = engine(
        rebuilt=DONE,
        hours=HoursKept(new=Hours(0)),
        axis=Axis(now=Hours(185_000), new=Hours(185_000)),
        overhauls=(before,),
    )
    due = standing(SINCE_OVERHAUL, facts).due
    assert (due.remaining_hours, due.on) == (200_000, date(2038, 3, 1))


def test_ovh_03_work_of_others_gives_no_zero_time_whatever_it_is_called() -> None:
    """Only the maker's own rebuild is a rebuild; another's is kept as an overhaul."""
    done = Overhaul(on=DONE, hours=Hours(185_000), by="a shop that calls it a rebuild")
    facts = engine(overhauls=(done,), rebuilt=None)
    due = standing({**TWO_THOUSAND, "years": 12}, facts).due
    assert (due.remaining_hours, due.on) == (15_000, date(2013, 5, 1))


def test_a_rebuild_of_unknown_hours_leaves_what_counts_from_new_open() -> None:
    facts = engine(
        rebuilt=DONE, axis=Axis(now=Hours(185_000), new=UNKNOWN), overhauls=()
    )
    due = standing(TWO_THOUSAND, facts).due
    assert due.missing == ("time since new of the engine",)


# common practice, no source: the interval is extended to 2,000 h for engines built from
# some serial on, and for existing ones that qualify through a bulletin.

EXTENDED = {
    "id": "extended",
    "kind": "extension",
    "hours": 2000,
    "since": "new",
    "when": {"any": [{"serial": ["4500.."]}, {"embodied": "SB-24-011"}]},
}
MADE_FOR_LESS = {"id": "as made", "kind": "base", "hours": 1500, "since": "new"}


@pytest.mark.parametrize(
    ("serial", "embodied", "hours", "outcome"),
    [
        ("4499", frozenset(), 150_000, "within reach"),
        ("4499", frozenset({"SB-24-011"}), 200_000, "applies"),
        ("4500", frozenset(), 200_000, "applies"),
    ],
)
def test_the_longer_interval_by_serial_or_by_bulletin(
    serial: str, embodied: frozenset[str], hours: int, outcome: str
) -> None:
    facts = engine(serial=serial, embodied=embodied, history_reviewed=True)
    provisions = [parse_interval(MADE_FOR_LESS), parse_interval(EXTENDED)]
    point = overhaul_point(provisions, facts, Asked(on=TODAY), History())
    assert point.hours == hours
    assert point.offers[0].holding.value == outcome

"""The overhaul interval, sentence by sentence of what it means."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from notices.rules.compliance_time import Event, History, Rate, Reading, State
from notices.rules.errors import RuleError
from notices.rules.facts import UNKNOWN, Asked, Hours
from notices.rules.facts_json import engine_from_json
from notices.rules.intervals.offers import MOST_SETS
from notices.rules.overhaul import (
    OverhaulPoint,
    overhaul_at,
    overhaul_point,
    parse_interval,
)
from notices.rules.overhaul_json import overhaul_from_json
from notices.rules.phrases import NO_BREAK

ON = "2026-05-01"
BASE = {"id": "base", "kind": "base", "hours": 1500, "years": 12, "since": "new"}
LONGER = {"id": "longer", "kind": "extension", "hours": 2000, "since": "new"}
SHORTER = {"id": "shorter", "kind": "restriction", "hours": 1200, "since": "new"}
ENGINE = {
    "type": "MX-4",
    "serial": "4001",
    "built": "2019-05-12",
    "hours": {"new": 1000.0},
    "overhauled": False,
    "operation": "private",
    "history_reviewed": True,
}


def ask(*provisions: Any, engine: Any = None, **more: Any) -> dict[str, Any]:
    """Ask about an engine of 1 000 h; what is given as `engine` goes into it."""
    asked = {**ENGINE, **(engine or {})}
    return overhaul_from_json(
        {"provisions": list(provisions), "engine": asked, "on": ON, **more}
    )


def figures(answer: dict[str, Any]) -> tuple[Any, ...]:
    """Hours with their source, years with theirs."""
    source = answer["from"]
    return (answer["hours"], source["hours"], answer["years"], source["years"])


def offer(*provisions: Any, engine: Any = None, **more: Any) -> dict[str, Any]:
    """The first extension of the answer."""
    found: dict[str, Any] = ask(*provisions, engine=engine, **more)["extensions"][0]
    return found


def plain(text: str) -> str:
    return text.replace(NO_BREAK, " ")


# Hours and years, each with the provision they come from.


def test_without_more_the_base_holds() -> None:
    answer = ask(BASE)
    assert figures(answer) == (1500, "base", 12, "base")
    due = answer["due"]
    assert (due["state"], due["hours"], due["date"]) == (
        "outstanding",
        1500,
        "2031-05-12",
    )
    assert (due["remaining_hours"], due["remaining_days"]) == (500, 1837)
    assert due["which"] == "first"
    assert answer["used"] == pytest.approx(2 / 3)
    assert due["missing"] == []


def test_an_extension_that_holds_lengthens_what_it_speaks_of() -> None:
    assert figures(ask(BASE, LONGER)) == (2000, "longer", 12, "base")


def test_an_extension_shorter_than_the_base_changes_nothing() -> None:
    answer = ask(BASE, {**LONGER, "hours": 1400})
    assert figures(answer)[:2] == (1500, "base")
    assert answer["extensions"][0]["outcome"] == "applies"


def test_the_longest_extension_counts_and_then_the_shortest_restriction() -> None:
    more = {**LONGER, "id": "more", "hours": 2400, "years": 15}
    least = {**SHORTER, "id": "least", "hours": 1300, "years": 10}
    assert figures(ask(BASE, LONGER, more)) == (2400, "more", 15, "more")
    assert figures(ask(BASE, LONGER, more, SHORTER, least)) == (
        1200, "shorter", 10, "least",
    )  # fmt: skip


def test_of_two_alike_the_one_that_is_law_gives_its_name() -> None:
    law = {**SHORTER, "id": "zone", "binding": True}
    assert figures(ask(BASE, SHORTER, law))[:2] == (1200, "zone")
    assert figures(ask(BASE, {**SHORTER, "id": "a"}, SHORTER))[:2] == (1200, "a")
    assert figures(ask(BASE, {**LONGER, "hours": 1500}))[:2] == (1500, "base")


def test_a_restriction_may_be_the_only_one() -> None:
    answer = ask(SHORTER)
    assert figures(answer) == (1200, "shorter", None, None)
    assert answer["due"]["state"] == "outstanding"
    assert answer["due"]["missing"] == ["base interval"]


def test_without_a_base_that_is_said_and_not_guessed() -> None:
    answer = ask({**LONGER, "when": {"embodied": "SB-24-011"}})
    assert figures(answer) == (None, None, None, None)
    assert (answer["word"], answer["binding"]) == ("undetermined", None)
    assert answer["due"]["missing"] == ["base interval"]
    assert answer["due"]["sentence"] == (
        "Undetermined, to be treated as open. No overhaul interval is known. "
        "Not known: base interval."
    )


def test_with_nothing_entered_nothing_is_known() -> None:
    assert ask()["due"]["missing"] == ["base interval"]


# What is not known.


@pytest.mark.parametrize(
    ("provision", "hours", "outcome"),
    [
        # a restriction counts until it is known not to hold, an extension not before
        ({**SHORTER, "when": {"ask": "Is it listed?"}}, 1200, "undetermined"),
        ({**LONGER, "when": {"ask": "Is it listed?"}}, 1500, "undetermined"),
    ],
)
def test_the_safe_side_counts_and_the_fact_is_named(
    provision: dict[str, Any], hours: int, outcome: str
) -> None:
    answer = ask(BASE, provision)
    assert answer["hours"] == hours
    judged = [*answer["restrictions"], *answer["extensions"]]
    missing = ["the answer to the question: Is it listed?"]
    assert [(one["outcome"], one["missing"]) for one in judged] == [(outcome, missing)]
    assert answer["due"]["missing"] == missing


def test_an_unknown_mark_leaves_the_figure_and_names_the_mark() -> None:
    answer = ask(BASE, engine={"built": None})
    assert figures(answer) == (1500, "base", 12, "base")
    due = answer["due"]
    assert (due["state"], due["hours"], due["date"]) == ("undetermined", 1500, None)
    assert due["missing"] == ["date of manufacture"]


def test_limits_from_one_unknown_mark_still_compare() -> None:
    since = {"since": "overhaul"}
    engine = {"overhauled": None}
    answer = ask({**BASE, **since}, {**SHORTER, **since}, engine=engine)
    assert figures(answer) == (1200, "shorter", 12, "base")
    assert answer["due"]["hours"] is None
    assert answer["due"]["missing"] == [
        "hours at the last overhaul",
        "date of the last overhaul",
    ]


def test_a_restriction_whose_point_is_not_known_leaves_the_state_open() -> None:
    """It may fall earlier; past what is known the engine is past it all the same."""
    unplaced = {**SHORTER, "since": "overhaul", "hours": 100}
    engine = {"overhauled": None}
    answer = ask(BASE, unplaced, engine=engine)
    assert (answer["hours"], answer["due"]["state"]) == (1500, "undetermined")
    assert answer["due"]["missing"] == ["hours at the last overhaul"]
    past = ask(BASE, unplaced, engine={**engine, "hours": {"new": 1500.1}})
    assert past["word"] == "past the recommended interval"


def test_an_extension_whose_point_is_not_known_lengthens_nothing() -> None:
    unplaced = {**LONGER, "since": "overhaul"}
    answer = ask(BASE, unplaced, engine={"overhauled": None})
    assert figures(answer)[:2] == (1500, "base")
    assert answer["extensions"][0]["outcome"] == "applies"
    assert answer["due"]["missing"] == ["hours at the last overhaul"]


def test_of_two_bases_the_shortest_counts_until_the_fact_is_known() -> None:
    older = {**BASE, "when": {"serial": ["..4000"]}}
    newer = {**BASE, "id": "newer", "hours": 2000, "when": {"not": older["when"]}}
    assert figures(ask(older, newer))[:2] == (2000, "newer")
    answer = ask(older, newer, engine={"serial": None})
    assert figures(answer)[:2] == (1500, "base")
    due = answer["due"]
    assert (due["state"], due["missing"]) == ("undetermined", ["serial number"])
    assert [candidate["hours"] for candidate in due["candidates"]] == [1500, 2000]
    past = ask(older, newer, engine={"serial": None, "hours": {"new": 2000.1}})
    assert past["word"] == "past the recommended interval"


def test_where_the_base_may_not_hold_at_all_that_is_a_candidate() -> None:
    base = {**BASE, "when": {"type": ["MX-4"]}}
    answer = ask(base, engine={"type": None})
    assert (answer["hours"], answer["due"]["state"]) == (1500, "undetermined")
    assert answer["due"]["missing"] == ["type designation"]
    past = ask(base, engine={"type": None, "hours": {"new": 9000}})
    assert past["word"] == "undetermined"


def test_a_candidate_that_makes_no_difference_is_none() -> None:
    base = {**BASE, "years": 10, "when": {"type": ["MX-4"]}}
    held = {**SHORTER, "years": 8}
    answer = ask(base, held, engine={"type": None})
    assert answer["due"]["state"] == "outstanding"
    assert answer["due"]["candidates"] == []


# Counted from new, from overhaul, from a maker's rebuild.

OVERHAULED = {"overhauled": {"on": "2022-01-10", "hours": 400.0, "by": "shop"}}


def test_limits_from_different_marks_compare_where_they_fall() -> None:
    """1 000 h since overhaul at 400 h is 1 400 h: less than 1 500 h since new."""
    since = {**SHORTER, "hours": 1000, "since": "overhaul"}
    answer = ask(BASE, since, engine=OVERHAULED)
    assert figures(answer)[:2] == (1000, "shorter")
    assert answer["due"]["hours"] == 1400
    assert answer["used"] == pytest.approx(0.6)
    late = {"overhauled": {"on": "2025-01-10", "hours": 900.0}}
    assert figures(ask(BASE, since, engine=late))[:2] == (1500, "base")


def test_years_since_overhaul_count_from_its_date() -> None:
    answer = ask({**BASE, "since": "overhaul"}, engine=OVERHAULED)
    assert (answer["due"]["hours"], answer["due"]["date"]) == (1900, "2034-01-10")


def test_hours_since_overhaul_of_an_engine_never_overhauled_count_from_new() -> None:
    answer = ask({**BASE, "since": "overhaul"})
    assert (answer["due"]["hours"], answer["due"]["date"]) == (1500, "2031-05-12")


def test_a_year_from_a_leap_day_ends_on_the_last_of_february() -> None:
    answer = ask({**BASE, "years": 1}, engine={"built": "2024-02-29"})
    assert answer["due"]["date"] == "2025-02-28"


def test_an_event_that_contradicts_the_engine_is_refused_with_its_path() -> None:
    with pytest.raises(RuleError) as refused:
        ask(BASE | {"since": "overhaul"}, events=[{"event": "overhaul", "on": ON}])
    assert [fault.path for fault in refused.value.faults] == ["events"]


# Law or recommendation.


@pytest.mark.parametrize(
    ("binding", "operation", "law", "word"),
    [
        ([], "private", False, "past the recommended interval"),
        (["commercial"], "private", False, "past the recommended interval"),
        (["commercial"], "Commercial", True, "overdue"),
        (["commercial"], ["private", "commercial"], True, "overdue"),
        (
            ["commercial"],
            None,
            None,
            "past the interval, not known whether past the law",
        ),
        (True, "private", True, "overdue"),
        (True, None, True, "overdue"),
        ([], None, False, "past the recommended interval"),
    ],
)
def test_past_it_an_engine_is_overdue_only_where_it_is_law(
    binding: Any, operation: Any, law: bool | None, word: str
) -> None:
    engine = {"operation": operation, "hours": {"new": 1600}}
    answer = ask({**BASE, "binding": binding}, engine=engine)
    assert (answer["binding"], answer["word"]) == (law, word)
    assert (answer["due"]["state"] == "overdue") == (word == "overdue")
    assert answer["due"]["remaining_hours"] == -100
    assert answer["used"] > 1
    unknown = ["kind of operation"] if law is None else []
    assert answer["due"]["missing"] == unknown


def test_hours_may_be_recommended_and_years_law() -> None:
    hours = {"id": "h", "kind": "base", "hours": 900, "since": "new"}
    years = {
        "id": "y",
        "kind": "restriction",
        "years": 6,
        "since": "new",
        "binding": True,
    }
    answer = ask(hours, years)
    assert (answer["binding"], answer["word"]) == (True, "overdue")
    assert ask(hours, {**years, "years": 9})["word"] == "past the recommended interval"


def test_past_a_recommendation_the_law_behind_it_still_counts() -> None:
    law = {**BASE, "binding": True}
    engine = {"hours": {"new": 1300}}
    answer = ask(law, SHORTER, engine=engine)
    assert (answer["hours"], answer["word"]) == (1200, "past the recommended interval")
    engine = {"hours": {"new": 1500.1}}
    assert ask(law, SHORTER, engine=engine)["word"] == "overdue"


def test_past_a_recommendation_a_law_whose_point_is_not_known_leaves_it_open() -> None:
    law = {**SHORTER, "since": "overhaul", "binding": True}
    answer = ask(BASE, law, engine={"overhauled": None, "hours": {"new": 1600}})
    assert answer["word"] == "past the interval, not known whether past the law"
    assert answer["due"]["state"] == "undetermined"
    assert answer["due"]["if_it_applies"] == "overdue"


def test_law_that_lies_ahead_under_every_base_leaves_nothing_in_doubt() -> None:
    """Whichever base holds, past one year the engine is past a recommendation only."""
    law = {**BASE, "binding": True, "when": {"ask": "Listed?"}}
    year = {"id": "year", "kind": "restriction", "years": 1, "since": "new"}
    answer = ask(law, year)
    assert answer["due"]["missing"] == ["the answer to the question: Listed?"]
    assert answer["word"] == "past the recommended interval"
    past = ask(law, year, engine={"hours": {"new": 1500.1}})
    assert past["word"] == "past the interval, not known whether past the law"


def test_an_extension_of_what_is_law_is_the_law_at_its_later_point() -> None:
    law = {**BASE, "binding": ["private"]}
    within, past = ({"hours": {"new": hours}} for hours in (1900, 2000.1))
    answer = ask(law, LONGER, engine=within)
    assert (answer["binding"], answer["word"]) == (True, "outstanding")
    assert ask(law, LONGER, engine=past)["word"] == "overdue"


def test_reaching_a_limit_exactly_is_still_in_time() -> None:
    law = {**BASE, "binding": True}
    assert ask(law, engine={"hours": {"new": 1500}})["word"] == "outstanding"
    assert ask(law, engine={"hours": {"new": 1500.01}})["word"] == "overdue"
    assert ask(law, on="2031-05-12")["word"] == "outstanding"
    assert ask(law, on="2031-05-13")["word"] == "overdue"


def test_an_interval_past_the_end_of_the_calendar_has_no_share_used() -> None:
    answer = ask(BASE, engine={"built": "9999-12-31"}, on="9999-12-31")
    assert (answer["due"]["date"], answer["word"]) == ("9999-12-31", "outstanding")


def test_a_row_longer_than_is_looked_at_is_not_known() -> None:
    """Documents that were confirmed one by one may build a longer row together."""
    row = [
        parse_interval({**LONGER, "id": f"e{n}", "builds_on": f"e{n + 1}"})
        for n in range(20)
    ]
    facts = engine_from_json(ENGINE)
    point = overhaul_point(row, facts, Asked(on=date(2026, 5, 1)), History())
    assert point.offers[0].holding.value == "undetermined"
    assert point.offers[0].missing == (
        "what e0 builds on: more in a row than are looked at",
    )


def test_coming_due_is_inside_the_lead() -> None:
    engine = {"hours": {"new": 1460}}
    lead = {"hours": 50, "days": 60}
    assert ask(BASE, engine=engine, lead=lead)["word"] == "coming due"


def test_what_the_upper_rate_may_have_passed_is_told_only_of_what_is_law() -> None:
    readings = [
        {"on": "2026-01-01", "hours": 1400},
        {"on": "2026-03-02", "hours": 1460},
        {"on": "2026-04-01", "hours": 1490},
    ]
    engine = {"hours": None}
    told = [
        ask({**BASE, "binding": binding}, engine=engine, readings=readings)["due"]
        for binding in ([], True)
    ]
    assert [due["may_be_overdue"] for due in told] == [False, True]
    assert all("reading of 1 490.0 h on 1 April" in plain(d["sentence"]) for d in told)


def test_a_forecast_has_a_range() -> None:
    answer = ask(BASE, hours_a_day=1)
    assert answer["due"]["forecast"] == "2027-09-13"
    facts = engine_from_json(ENGINE)
    point = overhaul_point(
        [parse_interval(BASE)], facts, Asked(on=date(2026, 5, 1)), History()
    )
    due = overhaul_at(
        point,
        on=date(2026, 5, 1),
        hours=facts.axis_now,
        rate=Rate(a_day=100, low=50, high=200),
    ).due
    assert due.forecast is not None
    # At half the use the years come first.
    assert due.forecast.earliest == date(2027, 1, 6)
    assert due.forecast.latest == date(2029, 1, 25)


# What makes an extension hold.


def embodied(number: str) -> dict[str, Any]:
    return {"embodied": number}


def test_what_is_not_embodied_is_within_reach() -> None:
    found = offer(BASE, {**LONGER, "when": embodied("SB-24-011")})
    assert found == {
        "id": "longer",
        "outcome": "within reach",
        "reach": [["embody SB-24-011"]],
        "man_hours": [None],
        "missing": [],
        "reasons": ["SB-24-011 is not embodied."],
        "fixed": [],
    }


def test_what_nobody_can_change_is_named_as_such() -> None:
    condition = {"all": [{"serial": ["4500.."]}, embodied("SB-24-011")]}
    found = offer(BASE, {**LONGER, "when": condition})
    assert (found["outcome"], found["reach"]) == ("does not apply", [])
    assert found["fixed"] == ["Serial number 4001 is not 4500 or above."]


@pytest.mark.parametrize(
    ("condition", "fixed"),
    [
        ({"type": ["MX-6"]}, "Type designation MX-4 is not MX-6."),
        ({"built": {"before": "2019-01-01"}}, "Date of manufacture 12 May 2019 is not"),
        (
            {"hours": {"since": "new", "under": 900}},
            "Time since new 1000 h is not under",
        ),
        ({"attribute": "drive", "in": ["direct"]}, 'Drive "geared" is not "direct".'),
        ({"not": embodied("M-1")}, "M-1 is embodied."),
        ({"not": {"rebuilt": True}}, "The engine was rebuilt by its maker."),
        (
            {"complied": "SB-9", "when": {"before": "2020-01-01"}},
            "The ledger holds no record for SB-9 dated before 1 January 2020.",
        ),
    ],
)
def test_what_is_fixed(condition: dict[str, Any], fixed: str) -> None:
    engine = {
        "attributes": {"drive": "geared"},
        "embodied": ["M-1"],
        "rebuilt": "2020-01-01",
    }
    found = offer(BASE, {**LONGER, "when": condition}, engine=engine)
    assert found["outcome"] == "does not apply"
    assert [text[: len(fixed)] for text in found["fixed"]] == [fixed]


@pytest.mark.parametrize(
    "condition",
    [
        {"operation": ["commercial"]},
        {"leaded_share": {"under": 0.25}},
        {"oil_temperature": {"from": 90}},
        {"hours": {"since": "new", "over": 1200}},
        {"ask": "Is the serial listed?"},
        {"aircraft": ["TR-2*"]},
    ],
)
def test_running_otherwise_or_waiting_is_no_step_and_not_fixed(
    condition: dict[str, Any],
) -> None:
    engine = {
        "leaded_share": 0.5,
        "oil_temperature": {"from": 80, "to": 100},
        "answers": {"Is the serial listed?": False},
        "aircraft": "TR-30",
    }
    found = offer(BASE, {**LONGER, "when": condition}, engine=engine)
    assert found["outcome"] == "does not apply"
    assert (found["reach"], found["fixed"]) == ([], [])
    assert len(found["reasons"]) == 1


def test_sets_come_cheapest_first_and_unknown_cost_last() -> None:
    ways = [
        {"all": [embodied("M-1"), embodied("M-2")]},
        embodied("M-3"),
        {"complied": "SB-9", "revisions": ["1", "2"]},
        embodied("M-0"),
    ]
    found = offer(
        BASE,
        {**LONGER, "when": {"any": ways}},
        costs={"m 1": 1.5, "M2": 2, "M-3": 8},
    )
    assert list(zip(found["reach"], found["man_hours"], strict=True)) == [
        (["embody M-1", "embody M-2"], 3.5),
        (["embody M-3"], 8),
        (["comply with SB-9 revision 1 or 2"], None),
        (["embody M-0"], None),
    ]


def test_one_job_that_embodies_and_complies_costs_once() -> None:
    condition = {"all": [embodied("SB-9"), {"complied": "SB-9"}]}
    found = offer(BASE, {**LONGER, "when": condition}, costs={"SB-9": 6})
    assert found["reach"] == [["comply with SB-9", "embody SB-9"]]
    assert found["man_hours"] == [6]


def test_each_part_that_is_fitted_costs_its_own_man_hours() -> None:
    parts = [
        {"role": "magneto", "place": p, "number": "G-1"} for p in ("left", "right")
    ]
    engine = {"parts": parts, "role_counts": {"magneto": 2}}
    every = {"role": "magneto", "count": "every", "where": {"number": ["G-3"]}}
    found = offer(
        BASE, {**LONGER, "when": {"part": every}}, engine=engine, costs={"G-3": 2.5}
    )
    assert (len(found["reach"][0]), found["man_hours"]) == (2, [5])


def test_what_has_no_number_has_no_known_cost() -> None:
    engine = {**ONE_PUMP, "role_counts": {"fuel pump": 1}}
    found = offer(
        BASE, {**LONGER, "when": {"not": pump()}}, engine=engine, costs={"-": 7}
    )
    assert found["man_hours"] == [None]


def test_a_set_that_hangs_on_a_fact_as_well_is_undetermined() -> None:
    condition = {"all": [embodied("M-1"), {"serial": ["4001.."]}]}
    found = offer(BASE, {**LONGER, "when": condition}, engine={"serial": None})
    assert (found["outcome"], found["reach"]) == ("undetermined", [])
    assert found["missing"] == ["serial number"]


def test_all_that_could_bring_it_within_reach_is_named() -> None:
    """Of two ways each hangs on a fact of its own; that neither is done is known."""
    ways = [
        {"all": [embodied("M-1"), {"attribute": "drive", "in": ["geared"]}]},
        {"all": [embodied("M-2"), {"serial": ["..4000"]}]},
    ]
    found = offer(BASE, {**LONGER, "when": {"any": ways}}, engine={"serial": None})
    assert (found["outcome"], found["missing"]) == (
        "undetermined",
        ["drive", "serial number"],
    )


def test_a_fact_that_more_work_makes_needless_is_not_named() -> None:
    """Whether a P-880 is fitted does not matter where one can be fitted."""
    condition = {
        "all": [
            pump({"number": ["P-880"]}),
            embodied("M-1"),
            {"attribute": "drive", "in": ["geared"]},
        ]
    }
    engine = {"parts": [PUMP]}
    found = offer(BASE, {**LONGER, "when": condition}, engine=engine)
    assert (found["outcome"], found["missing"]) == ("undetermined", ["drive"])


def test_what_serves_both_ways_need_not_be_done() -> None:
    """With M-1 the record is needed, without M-1 nothing is: M-1 is no part of it."""
    condition = {
        "any": [
            {"all": [embodied("M-1"), {"complied": "SB-9"}]},
            {"not": embodied("M-1")},
        ]
    }
    engine = {"history_reviewed": False}
    found = offer(BASE, {**LONGER, "when": condition}, engine=engine)
    assert found["reach"] == [["comply with SB-9"]]


def test_what_may_hold_already_is_undetermined_and_says_what_would_make_sure() -> None:
    engine = {"history_reviewed": False}
    found = offer(BASE, {**LONGER, "when": embodied("M-1")}, engine=engine)
    assert (found["outcome"], found["reach"]) == ("undetermined", [["embody M-1"]])
    assert found["missing"] == ["whether M-1 is embodied"]


def test_two_sets_together_hold_whatever_the_fact_is() -> None:
    """With M-1 and M-2 embodied it holds, for an engine listed and for one not listed."""
    listed = {"ask": "Is it listed?"}
    condition = {
        "any": [
            {"all": [embodied("M-1"), listed]},
            {"all": [embodied("M-2"), {"not": listed}]},
        ]
    }
    found = offer(BASE, {**LONGER, "when": condition})
    assert (found["outcome"], found["reach"]) == (
        "within reach",
        [["embody M-1", "embody M-2"]],
    )


PUMP = {"role": "fuel pump", "number": "P-770", "serial": "A-17"}
ONE_PUMP = {"parts": [PUMP], "roles_reviewed": ["fuel pump"]}


def pump(where: Any = None, **more: Any) -> dict[str, Any]:
    body = {"role": "fuel pump", **more}
    return {"part": body if where is None else {**body, "where": where}}


@pytest.mark.parametrize(
    ("condition", "engine", "reach"),
    [
        (
            pump({"number": ["P-880*", "P-990"]}),
            ONE_PUMP,
            [
                "replace the fuel pump P-770, serial A-17: "
                "part number beginning with P-880 or P-990"
            ],
        ),
        (
            pump({"all": [{"number": ["P-880"]}, {"change": {"from": "K"}}]}),
            {"roles_reviewed": ["fuel pump"]},
            ["fit a fuel pump: part number P-880 and change letter K or later"],
        ),
        (pump(), {"roles_reviewed": ["fuel pump"]}, ["fit a fuel pump"]),
        (
            {"not": pump()},
            ONE_PUMP,
            ["remove the fuel pump P-770, serial A-17"],
        ),
    ],
)
def test_parts_are_fitted_replaced_and_removed(
    condition: Any, engine: Any, reach: list[str]
) -> None:
    found = offer(BASE, {**LONGER, "when": condition}, engine=engine)
    assert (found["outcome"], found["reach"]) == ("within reach", [reach])


def test_of_a_role_that_is_full_nothing_is_left_unknown_by_removing() -> None:
    engine = {"parts": [PUMP], "role_counts": {"fuel pump": 1}}
    found = offer(BASE, {**LONGER, "when": {"not": pump()}}, engine=engine)
    assert (found["outcome"], found["missing"]) == ("within reach", [])
    assert found["reach"] == [["remove the fuel pump P-770, serial A-17"]]


def test_one_new_part_may_have_to_meet_two_tests() -> None:
    condition = {
        "all": [
            pump({"attribute": "signal", "in": ["0-5 V"]}),
            pump({"not": {"number": ["P-770"]}}),
        ]
    }
    found = offer(BASE, {**LONGER, "when": condition}, engine=ONE_PUMP)
    assert found["reach"] == [
        [
            'replace the fuel pump P-770, serial A-17: signal "0-5 V" and part number '
            "not P-770"
        ]
    ]


def test_what_one_step_undoes_has_to_be_made_good() -> None:
    """M-1 must not go with that pump, and what this builds on needs M-1."""
    apart = {"not": {"all": [embodied("M-1"), pump({"number": ["P-770"]})]}}
    on_top = {**LONGER, "id": "on top", "when": apart, "builds_on": "longer"}
    below = {**LONGER, "when": embodied("M-1")}
    found = offer(BASE, on_top, below, engine=ONE_PUMP)
    assert found["reach"] == [
        ["embody M-1", "remove the fuel pump P-770, serial A-17"],
        [
            "embody M-1",
            "replace the fuel pump P-770, serial A-17: part number not P-770",
        ],
    ]


def test_every_part_of_a_role_that_fails_is_replaced() -> None:
    left, right = (
        {"role": "magneto", "place": place, "number": number}
        for place, number in (("left", "G-1"), ("right", "G-2"))
    )
    engine = {"parts": [left, right], "role_counts": {"magneto": 2}}
    condition = {
        "part": {"role": "magneto", "count": "every", "where": {"number": ["G-3"]}}
    }
    found = offer(BASE, {**LONGER, "when": condition}, engine=engine)
    assert found["reach"] == [
        [
            "replace the magneto (left) G-1: part number G-3",
            "replace the magneto (right) G-2: part number G-3",
        ]
    ]


def test_a_wide_choice_is_cut_and_said_to_be() -> None:
    """6,561 sets of 32 steps each would do: some of them are told, and that it is some."""
    wide = {
        "all": [
            {
                "any": [
                    {"all": [embodied(f"{a}-{b}{c}") for c in range(8)]}
                    for b in range(9)
                ]
            }
            for a in "ABCD"
        ]
    }
    facts = engine_from_json(ENGINE)
    extension = parse_interval({**LONGER, "when": wide})
    point = overhaul_point([extension], facts, Asked(on=date(2026, 5, 1)), History())
    [found] = point.offers
    assert found.cut
    assert found.holding.value == "within reach"
    assert all(len(one.steps) == 32 for one in found.reach)
    assert len(found.reach) == MOST_SETS


def test_whether_sets_may_be_left_out_is_said() -> None:
    """Each of 20 choices is made or left to a question: a million ways."""
    choices = [{"any": [embodied(f"M-{n}"), {"ask": f"{n}?"}]} for n in range(20)]
    found = offer(BASE, {**LONGER, "when": {"all": choices}})
    assert (found["outcome"], found["cut"]) == ("undetermined", True)
    assert "cut" not in offer(BASE, {**LONGER, "when": embodied("M-1")})


# Extensions that build on others.

FIRST = {**LONGER, "when": embodied("M-1")}
SECOND = {
    "id": "second",
    "kind": "extension",
    "hours": 2400,
    "since": "new",
    "when": embodied("M-2"),
    "builds_on": "longer",
}


def test_what_an_extension_builds_on_must_hold_too() -> None:
    answer = ask(BASE, SECOND, FIRST, engine={"embodied": ["M-2"]})
    assert answer["hours"] == 1500
    second, first = answer["extensions"]
    assert second["reach"] == first["reach"] == [["embody M-1"]]
    assert second["reasons"] == ["longer, on which it builds: M-1 is not embodied."]
    both = ask(BASE, SECOND, FIRST, engine={"embodied": ["M-1", "M-2"]})
    assert figures(both)[:2] == (2400, "second")


DRIVE = {"attribute": "drive", "in": ["geared"]}


@pytest.mark.parametrize("kind", ["restriction", "extension"])
def test_what_excludes_what_it_builds_on_never_holds(kind: str) -> None:
    below = {**LONGER, "when": {"not": DRIVE}}
    on_top = {**SHORTER, "kind": kind, "when": DRIVE, "builds_on": "longer"}
    answer = ask(BASE, below, on_top)
    found = answer[f"{kind}s"][-1]
    assert (found["outcome"], found["missing"]) == ("does not apply", [])
    assert found["reasons"] == ["The outcome is the same whatever is found for: drive."]
    assert answer["hours"] == 1500


def test_a_fact_that_what_it_builds_on_settles_is_not_named() -> None:
    below = {**LONGER, "when": DRIVE}
    either = {"any": [DRIVE, {"ask": "Listed?"}]}
    on_top = {**SECOND, "when": either}
    assert offer(BASE, on_top, below)["missing"] == ["drive"]


def test_a_restriction_may_hold_only_with_what_it_builds_on() -> None:
    on_top = {**SHORTER, "hours": 1800, "builds_on": "longer"}
    engine = {"embodied": ["M-1"], "hours": {"new": 1000}}
    assert figures(ask(BASE, FIRST, on_top, engine=engine))[:2] == (1800, "shorter")
    answer = ask(BASE, FIRST, {**on_top, "hours": 1200})
    assert answer["restrictions"][0]["outcome"] == "does not apply"
    assert answer["hours"] == 1500


def test_in_the_core_what_is_not_there_to_build_on_is_not_known() -> None:
    """Provisions come from several documents, of which one may have been withdrawn."""
    facts = engine_from_json({**ENGINE, "embodied": ["M-2"]})
    alone = parse_interval(SECOND)
    circle = parse_interval({**FIRST, "builds_on": "second"})
    for several in ([alone], [alone, circle]):
        point = overhaul_point(several, facts, Asked(on=date(2026, 5, 1)), History())
        assert point.offers[0].holding.value == "undetermined"
        assert "builds" in point.offers[0].missing[-1]


def test_each_document_is_asked_in_its_own_circumstances() -> None:
    answers = {("SI-1", "Listed?"): True, ("SI-2", "Listed?"): False}
    facts = replace(engine_from_json(ENGINE), answers=answers)
    asked = Asked(on=date(2026, 5, 1))
    one, two = (
        parse_interval({**LONGER, "id": id_, "when": {"ask": "Listed?"}})
        for id_ in ("one", "two")
    )
    of = {
        id_: Asked(on=asked.on, scope=scope)
        for id_, scope in (("one", "SI-1"), ("two", "SI-2"))
    }
    point = overhaul_point([one, two], facts, asked, History(), asked_of=of)
    holdings = [offered.holding.value for offered in point.offers]
    assert holdings == ["applies", "does not apply"]


def test_two_bases_that_both_hold_are_a_conflict_and_the_shortest_counts() -> None:
    newer = {**BASE, "id": "newer", "hours": 1400, "when": {"serial": ["4001.."]}}
    with pytest.raises(RuleError) as refused:
        ask(SHORTER, BASE, newer)
    [fault] = refused.value.faults
    assert fault.path == "provisions[2]"
    assert fault.message.startswith("provisions[1] is a base interval that holds for")
    point = overhaul_point(
        [parse_interval(BASE), parse_interval(newer)],
        engine_from_json(ENGINE),
        Asked(on=date(2026, 5, 1)),
        History(),
    )
    assert point.conflict == ("base", "newer")
    assert (point.hours, point.from_hours, point.from_years) == (
        140_000,
        "newer",
        "base",
    )
    said = overhaul_at(point, on=date(2026, 5, 1), hours=Hours(100_000)).sentence
    assert "base and newer are base intervals that all hold" in said


# Entered in time.

ENTERED = {**LONGER, "when": embodied("M-1"), "enter_by": {"hours": 1500}}
PAST = {"hours": {"new": 1600.0}}
TOO_LATE = (
    "The engine has run 1 600.0 h since new; longer must be entered within 1 500 h."
)

DONE_LATE = (
    "M-1 was embodied at 1 500.1 h since new; longer had to be entered within 1 500 h."
)


def record(number: str, **known: Any) -> dict[str, Any]:
    return {"complied": [{"number": number, **known}]}


def test_up_to_the_bound_an_extension_can_be_entered() -> None:
    assert offer(BASE, ENTERED)["outcome"] == "within reach"
    exactly = offer(BASE, ENTERED, engine={"hours": {"new": 1500}})
    assert exactly["outcome"] == "within reach"


def test_past_the_bound_the_engine_is_told_so() -> None:
    found = offer(BASE, ENTERED, engine=PAST)
    assert (found["outcome"], found["reach"]) == ("does not apply", [])
    assert [plain(text) for text in found["fixed"]] == [TOO_LATE]


@pytest.mark.parametrize(
    ("engine", "outcome", "missing"),
    [
        # embodied by the record of that number, in time, exactly in time, too late
        (record("M-1", on="2025-01-01", hours=1400), "applies", []),
        (record("M-1", on="2025-01-01", hours=1500), "applies", []),
        (record("M-1", on="2025-01-01", hours=1500.1), "does not apply", []),
        # nothing says when
        ({}, "undetermined", ["when M-1 was embodied"]),
        (record("M-1", on="2025-01-01"), "undetermined", ["when M-1 was embodied"]),
    ],
)
def test_past_the_bound_it_counts_when_the_work_was_done(
    engine: dict[str, Any], outcome: str, missing: list[str]
) -> None:
    found = offer(BASE, ENTERED, engine={"embodied": ["M-1"], **PAST, **engine})
    assert (found["outcome"], found["missing"]) == (outcome, missing)
    told = [plain(text) for text in found["fixed"]]
    late = {"applies": [], "does not apply": [DONE_LATE], "undetermined": [TOO_LATE]}
    assert told == late[outcome]


def test_hours_at_a_record_come_from_the_readings_around_it() -> None:
    readings = [
        {"on": "2024-12-01", "hours": 1380},
        {"on": "2025-02-01", "hours": 1420},
    ]
    engine = {"embodied": ["M-1"], **PAST, **record("M-1", on="2025-01-01")}
    assert (
        offer(BASE, ENTERED, engine=engine, readings=readings)["outcome"] == "applies"
    )


def test_of_several_records_with_the_number_all_must_be_in_time() -> None:
    records = [{"number": "M-1", "hours": hours} for hours in (1400.0, 1550.0)]
    engine = {"embodied": ["M-1"], "complied": records, **PAST}
    assert offer(BASE, ENTERED, engine=engine)["outcome"] == "undetermined"


@pytest.mark.parametrize(
    ("done", "outcome"),
    [
        ({"fitted": "new"}, "applies"),
        ({"fitted": "2025-01-01", "hours": {"fitted": 150}}, "applies"),
        # what was fitted before it is not known
        ({"fitted": "2025-01-01", "hours": {"fitted": 50}}, "undetermined"),
        ({"fitted": "2025-01-01"}, "undetermined"),
    ],
)
def test_a_part_counts_from_when_it_was_fitted(done: Any, outcome: str) -> None:
    entered = {**ENTERED, "when": pump({"number": ["P-770"]})}
    engine = {"parts": [{**PUMP, **done}], "roles_reviewed": ["fuel pump"], **PAST}
    assert offer(BASE, entered, engine=engine)["outcome"] == outcome


def test_of_two_works_the_last_decides() -> None:
    condition = {"all": [embodied("M-1"), {"complied": "SB-9"}]}
    entered = {**ENTERED, "when": condition}

    def outcome(hours: float) -> str:
        records = [
            {"number": "M-1", "hours": 1300.0},
            {"number": "SB-9", "hours": hours},
        ]
        engine = {"embodied": ["M-1"], "complied": records, **PAST}
        return str(offer(BASE, entered, engine=engine)["outcome"])

    assert [outcome(1450), outcome(1550)] == ["applies", "does not apply"]


def test_either_of_two_works_in_time_is_enough() -> None:
    condition = {"any": [embodied("M-1"), {"complied": "SB-9"}]}
    engine = {"embodied": ["M-1"], **record("SB-9", hours=1400), **PAST}
    found = offer(BASE, {**ENTERED, "when": condition}, engine=engine)
    assert found["outcome"] == "applies"


def test_where_nothing_had_to_be_done_nothing_tells_when_it_was_entered() -> None:
    entered = {**ENTERED, "when": {"serial": ["4001.."]}}
    assert offer(BASE, entered)["outcome"] == "applies"
    found = offer(BASE, entered, engine=PAST)
    assert (found["outcome"], found["missing"]) == (
        "undetermined",
        ["when longer was entered"],
    )
    assert [plain(text) for text in found["fixed"]] == [TOO_LATE]


@pytest.mark.parametrize("hours", [1400.0, 1590.0])
def test_work_that_was_not_needed_does_not_tell_either(hours: float) -> None:
    """By its serial the engine needs nothing, with the bulletin or without."""
    either = {"any": [{"serial": ["4001.."]}, embodied("M-1")]}
    engine = {"embodied": ["M-1"], **record("M-1", hours=hours), **PAST}
    found = offer(BASE, {**ENTERED, "when": either}, engine=engine)
    assert (found["outcome"], found["missing"]) == (
        "undetermined",
        ["when longer was entered"],
    )


def test_without_tsn_it_is_not_known_whether_it_is_too_late() -> None:
    found = offer(BASE, ENTERED, engine={"hours": None})
    assert (found["outcome"], found["reach"]) == ("undetermined", [])
    assert found["missing"] == ["time since new"]


def test_years_to_enter_within_run_out_on_a_day() -> None:
    entered = {**ENTERED, "enter_by": {"years": 7}}
    assert offer(BASE, entered, on="2026-05-12")["outcome"] == "within reach"
    found = offer(BASE, entered, on="2026-05-13")
    assert found["outcome"] == "does not apply"
    assert found["fixed"] == [
        "longer must be entered within 7 years, that is by 12 May 2026."
    ]


def test_the_bound_counts_as_the_extension_does() -> None:
    """1 600 h since new, and 600 h since an overhaul at 1 000 h."""
    since = {**ENTERED, "since": "overhaul", "enter_by": {"hours": 700}}
    engine = {**PAST, "overhauled": {"on": "2024-01-01", "hours": 1000.0}}
    assert offer(BASE, since, engine=engine)["outcome"] == "within reach"
    found = offer(BASE, {**since, "enter_by": {"hours": 500}}, engine=engine)
    assert (found["outcome"], found["fixed"]) == ("does not apply", [])
    assert plain(found["reasons"][-1]) == (
        "The engine has run 600.0 h since overhaul; longer must be entered within 500 h; "
        "an overhaul begins the count anew."
    )


def test_what_was_entered_in_time_bounds_nothing_that_builds_on_it() -> None:
    """Entered at 1 400 h, with more to be had at 1 600 h; before that, no bound is left."""
    second = {**SECOND, "builds_on": "longer"}
    entered = {"embodied": ["M-1"], **record("M-1", hours=1400.0)}
    for hours in (1450.0, 1600.0):
        engine = {"hours": {"new": hours}, **entered}
        provisions = [parse_interval(one) for one in (BASE, ENTERED, second)]
        facts = engine_from_json({**ENGINE, **engine})
        point = overhaul_point(provisions, facts, Asked(on=date(2026, 5, 1)), History())
        found = {one.id: one for one in point.offers}["second"]
        assert found.holding.value == "within reach"
        assert [step.words for [step] in (r.steps for r in found.reach)] == [
            "embody M-2"
        ]
        assert (found.enter_hours, found.fixed) == (None, ())


def test_too_late_for_what_it_builds_on_is_told_of_that_alone() -> None:
    second = {**SECOND, "builds_on": "longer", "enter_by": {"hours": 1700}}
    late = {**PAST, "embodied": ["M-1"], **record("M-1", hours=1500.1)}
    answer = ask(BASE, ENTERED, second, engine=late)
    for found in answer["extensions"]:
        assert found["outcome"] == "does not apply"
        assert [plain(text) for text in found["fixed"]] == [DONE_LATE]


def test_each_extension_of_a_row_is_entered_by_its_own_works() -> None:
    """The first in time at 1 400 h, the second, which has no bound, at 1 590 h."""
    second = {**SECOND, "builds_on": "longer"}
    records = [{"number": "M-1", "hours": 1400.0}, {"number": "M-2", "hours": 1590.0}]
    engine = {"embodied": ["M-1", "M-2"], "complied": records, **PAST}
    answer = ask(BASE, ENTERED, second, engine=engine)
    assert figures(answer)[:2] == (2400, "second")
    late = [{**records[0], "hours": 1510.0}, records[1]]
    answer = ask(BASE, ENTERED, second, engine={**engine, "complied": late})
    outcomes = [one["outcome"] for one in answer["extensions"]]
    assert outcomes == ["does not apply", "does not apply"]


def test_till_when_it_can_be_entered_is_told() -> None:
    entered = {**ENTERED, "enter_by": {"hours": 1500, "years": 10}}
    [found] = point_of(entered).offers
    assert (found.enter_hours, found.enter_on) == (150_000, date(2029, 5, 12))


def point_of(*provisions: dict[str, Any]) -> OverhaulPoint:
    return overhaul_point(
        [parse_interval(p) for p in provisions],
        engine_from_json(ENGINE),
        Asked(on=date(2026, 5, 1)),
        History(),
    )


# The sentence.

SENTENCES = """
base | 1000 | Overhaul at 1 500.0 h TSN (base) or on 12 May 2031 (base), whichever comes first. Left: 500.0 h and 1 837 days. Hours by the reading of 1 000.0 h. Used: 66.7 % of the hours. Reaching a limit exactly is still in time.
base longer | 1900 | Overhaul at 2 000.0 h TSN (longer) or on 12 May 2031 (base), whichever comes first. Left: 100.0 h and 1 837 days. Hours by the reading of 1 900.0 h. Used: 95.0 % of the hours. Reaching a limit exactly is still in time.
base | 1512.34 | Overhaul at 1 500.0 h TSN (base) or on 12 May 2031 (base), whichever comes first. Past the recommended interval: it is a recommendation in this operation; the rules of the authority decide. Left: 1 837 days. Past by 12.4 h. Hours by the reading of 1 512.4 h. Used: 100.8 % of the hours. Reaching a limit exactly is still in time.
law | 1501 | Overhaul at 1 500.0 h TSN (law) or on 12 May 2031 (law), whichever comes first. Overdue: the interval is law in this operation. Left: 1 837 days. Past by 1.0 h. Hours by the reading of 1 501.0 h. Used: 100.1 % of the hours. Reaching a limit exactly is still in time.
"""


@pytest.mark.parametrize("line", SENTENCES.strip().splitlines())
def test_the_sentence_says_where_from_and_how_far(line: str) -> None:
    names, hours, sentence = line.split(" | ")
    law = {**BASE, "id": "law", "binding": True}
    known = {"base": BASE, "longer": LONGER, "law": law}
    engine = {"hours": {"new": float(hours)}}
    answer = ask(*(known[name] for name in names.split()), engine=engine)
    assert plain(answer["due"]["sentence"]) == sentence


def test_a_limit_since_overhaul_says_where_the_engine_s_hours_stand_then() -> None:
    answer = ask({**BASE, "since": "overhaul"}, engine=OVERHAULED)
    said = plain(answer["due"]["sentence"])
    assert said.startswith(
        "Overhaul at 1 500.0 h TSO, where its hours show 1 900.0 h (base) or on "
        "10 January 2034 (base), whichever comes first."
    )


def test_the_state_of_a_stored_point_needs_no_facts() -> None:
    stored = OverhaulPoint.from_json(point_of(BASE, ENTERED).to_json())
    answer = overhaul_at(stored, on=date(2032, 1, 1), hours=UNKNOWN)
    assert (answer.due.state, answer.is_past) == (State.OUTSTANDING, True)
    assert answer.used is None
    assert answer.used_years is not None
    assert answer.used_years > 1


def test_a_plan_is_no_overhaul() -> None:
    facts = engine_from_json({**ENGINE, "overhauled": None})
    planned = Event(name="overhaul", on=date(2026, 6, 1), hours=Hours(101_000))
    history = History(
        events=(planned,),
        readings=(Reading(on=date(2026, 4, 1), hours=Hours(100_000)),),
    )
    point = overhaul_point(
        [parse_interval({**BASE, "since": "overhaul"})],
        facts,
        Asked(on=date(2026, 5, 1)),
        history,
    )
    assert (point.point.hours, point.point.on) == (150_000, date(2031, 5, 12))

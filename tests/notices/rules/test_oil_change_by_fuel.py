"""An oil change whose interval the fuel decides, asked from end to end.

common practice, no source: for light four-cylinder liquid-cooled engines with gearbox
and shared oil, on semi- or full-synthetic oil and with the oil temperature inside the
recommended band of 190 to 230 deg F, the oil is changed every 100 h; with more than
30 % of leaded aviation fuel by volume every 50 h, with more than 50 % every 25 h.
Exactly 30 % and exactly 50 % belong to the lower class. The figures are check values
only; an engine's own manual decides.
"""

from __future__ import annotations

from typing import Any

import pytest

from notices.questions import answer
from notices.rules.errors import RuleError
from notices.rules.operating_json import operating_from_json


def after_last(hours: int) -> dict[str, Any]:
    return {"hours": hours, "after": "last done"}


BAND = {"oil_temperature": {"from": 190, "to": 230, "unit": "F"}}
CHANGE = {
    "initial": {"hours": 25, "after": "new"},
    "repeat": {
        "cases": [
            {"when": {"leaded_share": {"over": 0.5}}, "then": after_last(25)},
            {"when": {"leaded_share": {"over": 0.3}}, "then": after_last(50)},
            {"when": BAND, "then": after_last(100)},
            {"else": after_last(50)},
        ]
    },
}
IN_BAND = {"from": 190, "to": 230, "unit": "F"}


def fuel(on: str, quantity: Any, kind: str, unit: str = "L", **more: Any) -> Any:
    return {"on": on, "quantity": quantity, "unit": unit, "kind": kind, **more}


def asked(records: list[Any], *, hours: float = 510, **more: Any) -> dict[str, Any]:
    """Ask about an engine whose oil was last changed at 500 h on 1 April 2026."""
    engine = {"hours": {"new": hours}, "oil_temperature": IN_BAND}
    question = {
        "fuel": records,
        "action": CHANGE,
        "engine": {**engine, **more.pop("engine", {})},
        "done": [{"on": "2026-04-01", "hours": 500.0}],
        "events": [],
        "on": "2026-06-01",
        **more,
    }
    return answer({"id": 1, "operating": question})


def share_of(leaded: Any, unleaded: Any, unit: str = "L") -> list[Any]:
    return [
        fuel("2026-04-10", unleaded, "unleaded", unit),
        fuel("2026-05-12", leaded, "leaded", unit),
    ]


INTERVALS = [
    # Leaded and unleaded quantity, interval in hours.
    (1, 99, 100),
    (30, 70, 100),
    ("30.000001", 70, 50),
    (34, 66, 50),
    (50, 50, 50),
    ("50.000001", 50, 25),
    (99, 1, 25),
]


@pytest.mark.parametrize(("leaded", "unleaded", "interval"), INTERVALS)
@pytest.mark.parametrize("unit", ["L", "US gal"])
def test_the_interval_follows_the_share(
    leaded: Any, unleaded: Any, interval: int, unit: str
) -> None:
    found = asked(share_of(leaded, unleaded, unit))
    assert found["due"]["hours"] == 500 + interval
    assert found["due"]["remaining_hours"] == 490 + interval - 500
    assert found["source"] == "records"
    (now,) = [one for one in found["classes"] if one["now"]]
    assert now["due"] == found["due"]


def test_all_unleaded_and_hot_or_cold_oil() -> None:
    """Outside the band the rule of this test falls back to 50 h; exactly on it, not."""
    records = [fuel("2026-04-10", 80, "unleaded")]
    assert asked(records)["due"]["hours"] == 600
    hot = {"oil_temperature": {"from": 190, "to": 231, "unit": "F"}}
    assert asked(records, engine=hot)["due"]["hours"] == 550
    celsius = {"oil_temperature": {"from": 88, "to": 110}}  # 190.4 and 230 deg F
    assert asked(records, engine=celsius)["due"]["hours"] == 600
    unknown = asked(records, engine={"oil_temperature": None})["due"]
    assert (unknown["state"], unknown["missing"]) == (
        "undetermined",
        ["oil temperature"],
    )
    assert [one["hours"] for one in unknown["candidates"]] == [600, 550]


def test_the_due_point_moves_with_the_fuel_that_crosses_and_says_why() -> None:
    records = [*share_of(30, 70), fuel("2026-05-20", "1,7", "leaded", "US gal")]
    found = asked(records)
    assert found["due"]["hours"] == 550
    (crossed,) = found["crossings"]
    litres = 1.7 * 3.785411784
    assert crossed == {
        "on": "2026-05-20",
        "index": 2,
        "thresholds": [{"over": 0.3, "passed": True}],
        "before": 0.3,
        "after": pytest.approx((30 + litres) / (100 + litres)),
        "sentence": "With the fuel of 20 May 2026 the leaded share rose from 30 % to "
        "34.2 %, over 30 %, so the limit is 50\u00a0h instead of 100\u00a0h.",
    }


def test_one_record_can_cross_both_ways_at_once() -> None:
    (crossed,) = asked([fuel("2026-04-10", 50, "leaded")])["crossings"]
    assert crossed["sentence"] == (
        "With the fuel of 10 April 2026 the leaded share is 100 %, over 30 % and over "
        "50 %, so the limit is 25\u00a0h."
    )
    fallen = asked([fuel("2026-04-10", 50, "unleaded")], declared=0.6)["crossings"]
    assert [one["sentence"] for one in fallen] == [
        "With the fuel of 10 April 2026 the leaded share fell from 60 % as declared to "
        "0 %, at most 30 % and at most 50 %, so the limit is 100\u00a0h instead of "
        "25\u00a0h."
    ]


def test_no_records_and_no_habit_is_undetermined_and_shows_every_candidate() -> None:
    found = asked([])
    assert (found["share"], found["source"]) == (None, "unknown")
    due = found["due"]
    assert due["state"] == "undetermined"
    assert due["missing"] == ["share of leaded fuel"]
    assert [one["hours"] for one in due["candidates"]] == [525, 550, 600]
    assert due["hours"] == 525, "the shortest is used"
    assert "Due at 525.0\u00a0h, at 550.0\u00a0h or at 600.0\u00a0h" in due["sentence"]
    assert [(one["shares"], one["limit"], one["now"]) for one in found["classes"]] == [
        ("at most 30 %", "100\u00a0h", False),
        ("over 30 % and at most 50 %", "50\u00a0h", False),
        ("over 50 %", "25\u00a0h", False),
    ]
    assert asked([], hours=601)["due"]["state"] == "overdue", "past every candidate"


def test_a_declared_habit_stands_in_and_is_marked() -> None:
    for found in (asked([], declared="2/5"), asked([], engine={"leaded_share": 0.4})):
        assert (found["share"], found["source"]) == (0.4, "declared")
        assert found["due"]["hours"] == 550
        assert found["sentence"] == (
            "40 % of the fuel is leaded, as declared: no fuel is recorded since."
        )
        assert found["ahead"] == []
    assert asked(share_of(2, 18), declared="2/5")["source"] == "records"


def test_too_little_on_record_is_not_the_fuel_of_that_time() -> None:
    """Fewer than 2 litres for each of 1,213.6 hours run: common practice, no source."""
    given: dict[str, Any] = {
        "done": [{"on": "2022-04-01", "hours": 1498.0}],
        "engine": {"hours": {"new": 2711.6}},
        "next": {"kind": "leaded"},
    }
    for kind in ("leaded", "unleaded"):
        found = asked([fuel("2026-04-10", 1, kind)], declared="0.38", **given)
        assert (found["share"], found["source"]) == (0.38, "declared")
        assert found["sentence"] == (
            "1\u00a0L on record for 1\u00a0213.6\u00a0h run: too little to be the fuel "
            "of that time. 38 % of the fuel is leaded, as declared."
        )
        assert found["due"]["hours"] == 1548
        assert (found["crossings"], found["ahead"]) == ([], [])
        assert (found["litres"], found["records"]) == (1, 1)
    unsaid = asked([fuel("2026-04-10", 1, "unleaded")], **given)
    assert (unsaid["share"], unsaid["source"]) == (None, "unknown")
    assert unsaid["due"]["missing"] == ["share of leaded fuel"]
    enough = asked([fuel("2026-04-10", "2427.2", "unleaded")], **given)
    assert (enough["share"], enough["source"]) == (0, "records")


def test_without_an_action_the_hours_are_those_of_the_question() -> None:
    question = {
        "fuel": [fuel("2026-05-12", 1, "leaded", "US gal")],
        "since": {"on": "2026-05-01", "hours": 100},
        "on": "2026-05-12",
    }
    assert operating_from_json(question)["share"] == 1
    assert operating_from_json({**question, "hours": 101.8})["share"] == 1
    assert operating_from_json({**question, "hours": 101.9})["share"] is None


def test_the_way_ahead_is_told_in_litres_and_hours() -> None:
    found = asked(share_of(20, 80), litres_an_hour=18)
    assert [one["sentence"] for one in found["ahead"]] == [
        "If only leaded fuel is taken on, the leaded share comes over 30 % after about "
        "15 litres, about 0.8\u00a0h of running.",
        "If only leaded fuel is taken on, the leaded share comes over 50 % after about "
        "60 litres, about 3.4\u00a0h of running.",
    ]
    assert [(one["litres"], one["beyond"]) for one in found["ahead"]] == [
        (pytest.approx(100 / 7), True),
        (60, True),
    ]
    unleaded = asked(share_of(40, 60), next={"kind": "unleaded"})["ahead"]
    assert [one["sentence"] for one in unleaded] == [
        "If only unleaded fuel is taken on, the leaded share comes down to 30 % after "
        "about 34 litres.",
        "If only unleaded fuel is taken on, the leaded share never comes over 50 %.",
    ]
    at_once = asked(share_of(30, 70), next={"kind": "blend", "leaded_share": "1/3"})
    assert at_once["ahead"][0]["sentence"] == (
        "If only fuel that is 33.3 % leaded is taken on, the leaded share comes over "
        "30 % at once."
    )


def test_the_window_begins_with_the_last_record_or_where_it_is_said() -> None:
    records = [fuel("2026-03-20", 900, "leaded"), fuel("2026-04-10", 50, "unleaded")]
    assert asked(records)["share"] == 0
    assert asked(records, since={"on": "2026-03-01"})["share"] == pytest.approx(18 / 19)
    assert asked(records, done=[])["records"] == 2, "never done: all of it"
    assert asked(records, done=None)["share"] is None, "nobody says when"
    by_hours = [{**one, "hours": 499 + n} for n, one in enumerate(records)]
    assert asked(by_hours, since={"hours": 500})["share"] == 0


def test_without_an_action_the_share_alone_is_told() -> None:
    found = operating_from_json({"fuel": share_of(1, 3), "on": "2026-05-12"})
    assert found == {
        "share": 0.25,
        "source": "records",
        "litres": 4,
        "leaded_litres": 1,
        "records": 2,
        "first_on": "2026-04-10",
        "last_on": "2026-05-12",
        "sentence": "25 % of the fuel is leaded, by 2 fuel records, 10 April 2026 to "
        "12 May 2026.",
        "crossings": [],
        "ahead": [],
    }


GOOD = fuel("2026-04-10", 50, "leaded")
REFUSED = [
    ({"fuel": [{**GOOD, "quantity": 0}]}, "fuel[0].quantity", "more than 0"),
    ({"fuel": [{**GOOD, "quantity": "-1"}]}, "fuel[0].quantity", "less than nothing"),
    ({"fuel": [{**GOOD, "quantity": "9" * 90}]}, "fuel[0].quantity", '99…" is not a'),
    ({"fuel": [{**GOOD, "unit": "L" * 90}]}, "fuel[0].unit", 'LL…".'),
    ({"fuel": [{**GOOD, "quantity": True}]}, "fuel[0].quantity", "a number, not true"),
    ({"fuel": [{**GOOD, "unit": "gal"}]}, "fuel[0].unit", '"L" or "US gal"'),
    ({"fuel": [GOOD, {**GOOD, "unit": None}]}, "fuel[1]", 'key "unit" is missing'),
    ({"fuel": [{**GOOD, "kind": "blend"}]}, "fuel[0].leaded_share", "is needed"),
    (
        {"fuel": [{**GOOD, "kind": "blend", "leaded_share": 1.1}]},
        "fuel[0].leaded_share",
        "A share is from 0 to 1, not 1.1.",
    ),
    (
        {"fuel": [{**GOOD, "kind": "blend", "leaded_share": -0.1}]},
        "fuel[0].leaded_share",
        "from 0 to 1",
    ),
    ({"fuel": [{**GOOD, "colour": "blue"}]}, "fuel[0].colour", "is not known here"),
    ({"fuel": GOOD}, "fuel", "Expected a list of fuel"),
    ({"fuel": [7]}, "fuel[0]", "Expected fuel as an object"),
    ({"declared": "3/2"}, "declared", "more than the whole"),
    ({"declared": []}, "declared", "Expected a number, not a list."),
    ({"since": {}}, "since", '"on", "hours" or both'),
    ({"next": {"kind": "mogas"}}, "next.kind", 'not "mogas"'),
    ({"next": {"kind": "blend"}}, "next.leaded_share", "is needed"),
    ({"litres_an_hour": 0}, "litres_an_hour", "more than 0 litres"),
    ({"on": None}, "", 'The key "on" is missing'),
    ({"action": {}}, "action", 'The key "initial" is missing.'),
    ({"done": {}}, "done", "Expected a list of records."),
    ({"action": None}, "engine", "is not known here"),
]


@pytest.mark.parametrize(("more", "place", "said"), REFUSED)
def test_bad_input_is_refused_with_reason_and_place(
    more: dict[str, Any], place: str, said: str
) -> None:
    question = {"fuel": [GOOD], "on": "2026-06-01", "action": CHANGE, "engine": {}}
    with pytest.raises(RuleError) as refused:
        operating_from_json(question | more, path="operating")
    (fault,) = refused.value.faults
    assert fault.path == f"operating{'.' if place else ''}{place}"
    assert said in fault.message


def test_a_question_that_is_no_object_is_refused() -> None:
    with pytest.raises(RuleError, match="Expected a question as an object"):
        operating_from_json([], path="operating")

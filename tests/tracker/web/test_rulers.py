"""Due results -> marks: nothing that is open is silent, and nothing is drawn twice over."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from notices.rules.compliance_time import (
    Due,
    Event,
    History,
    Reading,
    due,
    parse_action,
)
from notices.rules.facts import Asked, EngineFacts, Hours, HoursKept
from tracker.figures.due_words import point_words, state_words
from tracker.web.lines import brief_words
from tracker.web.rulers import Item, Work, rulers_of

TODAY = date(2026, 11, 24)
EFFECTIVE = date(2026, 1, 10)


def worked_out(action: dict, *, now: int = 52_000) -> Due:
    """The due result for an engine with 480 h on the effective date."""
    return due(
        parse_action(action),
        EngineFacts(hours=HoursKept(new=Hours(now))),
        Asked(on=TODAY, effective_on=EFFECTIVE, effective_hours=Hours(48_000)),
        History(
            effective_on=EFFECTIVE,
            done=(),
            events=(
                Event(name="oil change", on=date(2026, 9, 1), hours=Hours(50_000)),
            ),
            readings=(Reading(on=EFFECTIVE, hours=Hours(48_000)),),
        ),
        reading_on=TODAY,
    )


def item(action: dict, name: str = "SB-1", **given) -> Item:
    result = worked_out(action)
    return Item(name=name, word=result.state.value, due=result, **given)


def drawn(*items: Item, works=()):
    return rulers_of("engine X", list(items), list(works), now=52_000, today=TODAY)


BY_HOURS = {"initial": {"hours": 60, "after": "effective"}}
TEN_OVER = {"tolerance": {"hours": 10}}
BY_DATE = {"initial": {"date": "2027-03-01"}}
BOTH = {
    "initial": {
        "first_of": [{"hours": 30, "after": "effective"}, {"date": "2027-03-01"}]
    }
}


def test_hours_stand_on_the_ruler_of_hours_and_dates_on_that_of_dates() -> None:
    found = drawn(item(BY_HOURS), item(BY_DATE, "SB-2"))
    assert [(m.name, m.at) for m in found.hours.marks] == [("SB-1", 54_000)]
    assert [(m.name, m.on) for m in found.dates.marks] == [("SB-2", date(2027, 3, 1))]
    assert found.hours.off_scale == ()


def test_overdue_by_hours_is_not_drawn_as_overdue_at_a_date_still_ahead() -> None:
    overdue = item(BOTH)
    assert overdue.word == "overdue"
    found = drawn(overdue)
    assert [mark.at for mark in found.hours.marks] == [51_000]
    assert found.dates.marks == ()


def test_what_has_no_place_is_listed_with_the_reason() -> None:
    items = [
        item({"initial": {"event": "overhaul"}}, "SB-1"),
        item({"initial": {"unknown": "not said"}}, "SB-2"),
        Item(
            name="SB-3",
            word="before further flight",
            due=worked_out({"initial": {"event": "further flight"}}),
        ),
        item({"initial": {"event": "overhaul"}}, "AD 4", stands=True),
    ]
    found = drawn(*items)
    assert [(one.name, one.why) for one in found.hours.off_scale] == [
        ("SB-1", "at overhaul"),
        ("SB-2", "due point not known"),
        ("SB-3", "no hours are left"),
        ("AD 4", "stands, nothing ends it"),
    ]


def test_a_tolerance_is_drawn_unless_it_holds_under_way_only() -> None:
    always = item({**BY_HOURS, "tolerance": {"hours": 10}})
    en_route = item({**BY_HOURS, "tolerance": {"hours": 10, "en_route": True}})
    [first] = drawn(always).hours.marks
    [second] = drawn(en_route).hours.marks
    assert first.tolerance_to == 55_000
    assert second.tolerance_to is None


def test_candidates_stand_all_and_the_least_leads() -> None:
    cases = {
        "initial": {
            "cases": [
                {
                    "when": {"ask": "Is it stamped R?"},
                    "then": {"hours": 50, "after": "effective"},
                },
                {"else": {"hours": 90, "after": "effective"}},
            ]
        }
    }
    [mark] = drawn(item(cases)).hours.marks
    assert mark.at == 53_000
    assert mark.candidates == (53_000, 57_000)


def test_work_at_the_same_hours_is_one_record() -> None:
    works = [
        Work(name="SB-1", on=date(2026, 9, 1), hours=51_000),
        Work(name="SB-2", on=date(2026, 9, 1), hours=51_000),
        Work(name="SB-3", on=date(2026, 9, 2), hours=None),
    ]
    found = drawn(works=works)
    assert [(r.name, r.at) for r in found.hours.records] == [
        ("SB-1 and 1 more", 51_000)
    ]
    assert [r.name for r in found.dates.records] == ["SB-1 and 1 more", "SB-3"]


def test_a_due_point_is_worded_with_its_second_limit() -> None:
    last_of = {"initial": {"last_of": BOTH["initial"]["first_of"]}}
    rows = [
        (BY_HOURS, ("540.0\u00a0h", "")),
        (BY_DATE, ("1 Mar 2027", "")),
        (BOTH, ("510.0\u00a0h", "or\u00a01\u00a0Mar\u00a02027")),
        (last_of, ("510.0\u00a0h", "and\u00a01\u00a0Mar\u00a02027")),
        ({"initial": {"event": "overhaul"}}, ("at overhaul", "")),
        ({"initial": {"unknown": "not said"}}, ("not known", "")),
    ]
    for action, words in rows:
        result = worked_out(action)
        assert point_words(result, result.state.value) == words
    assert point_words(worked_out(BY_HOURS), "outstanding", stands=True) == (
        "always",
        "",
    )


def test_what_may_be_overdue_by_hours_is_not_drawn_as_overdue_by_date() -> None:
    within = {"first_of": [{"hours": 40, "after": "effective"}, {"date": "2027-03-01"}]}
    found = replace(worked_out({"initial": within}), may_be_overdue=True)
    assert (found.remaining_hours, found.remaining_days) == (0, 97)
    item = Item(name="AD 1", word="may be overdue", due=found)
    drawn = rulers_of("engine", [item], [], now=52_000, today=TODAY)
    assert [mark.state for mark in drawn.hours.marks] == ["may be overdue"]
    assert drawn.dates.marks == ()


def test_an_estimate_says_the_earliest_that_it_may_be_in_second_voice() -> None:
    """234 of 318 days after 480.0 h of 520.0 h: 509.4 h, and no less than 480.0 h."""
    result = due(
        parse_action({"initial": {"hours": 50, "after": {"event": "oil change"}}}),
        EngineFacts(hours=HoursKept(new=Hours(52_000))),
        Asked(on=TODAY),
        History(
            events=(Event(name="oil change", on=date(2026, 9, 1)),),
            done=(),
            readings=(
                Reading(on=EFFECTIVE, hours=Hours(48_000)),
                Reading(on=TODAY, hours=Hours(52_000)),
            ),
        ),
    )
    said = point_words(result, result.state.value)
    assert said == ("about 559.4\u00a0h", "(earliest\u00a0530.0\u00a0h)")


UNREAD = {"hours": 50, "after": {"part": "magneto", "since": "new"}}
UNSAID = {"unknown": "the maker gives no time"}
SOON = {"hours": 40, "after": "effective"}
LONG = {"hours": 100, "after": "effective"}


@pytest.mark.parametrize(
    ("time", "also"),
    [
        (
            {"first_of": [SOON, UNREAD]},
            "or earlier, not known: magneto fitted",
        ),
        (
            {"first_of": [{"date": "2027-03-01"}, UNREAD]},
            "or earlier, not known: magneto fitted",
        ),
        (
            {"last_of": [SOON, UNREAD]},
            "or later, not known: magneto fitted",
        ),
        (
            {"first_of": [SOON, UNSAID]},
            "or earlier, at a time that is not known (the maker gives no time)",
        ),
        (
            {"first_of": [SOON, {"date": "2027-03-01"}, UNSAID]},
            "or 1 Mar 2027, or earlier, at a time that is not known (the maker gives "
            "no time)",
        ),
        # an event that is still ahead is known to be, and named as such
        ({"first_of": [SOON, {"event": "overhaul"}]}, "or at overhaul"),
        # first and last mixed: the whole, as no one limit decides
        (
            {"first_of": [SOON, {"last_of": [{"date": "2027-03-01"}, LONG]}]},
            "at 520.0 h or (on 1 March 2027 or at 580.0 h, whichever comes later), "
            "whichever comes first",
        ),
        # without a known half there is nothing that the other could be earlier than
        ({"first_of": [UNREAD, UNSAID]}, ""),
    ],
)
def test_the_half_of_a_limit_that_is_not_known_is_named_beside_the_known_one(
    time: dict, also: str
) -> None:
    result = worked_out({"initial": time})
    assert point_words(result, result.state.value)[1].replace("\u00a0", " ") == also


def test_a_line_names_part_and_tolerance() -> None:
    result = worked_out({**BY_HOURS, "tolerance": {"hours": 10, "en_route": True}})
    said = brief_words(result, "magneto, left").replace("\u00a0", " ")
    assert said == "Magneto, left. Tolerance 10.0 h, under way only."


def test_a_limit_that_is_passed_inside_its_tolerance_is_not_said_to_be_coming() -> None:
    result = worked_out({"initial": {"hours": 35, "after": "effective"}, **TEN_OVER})
    assert result.state.value == "outstanding"
    assert state_words(result, "outstanding") == "inside tolerance"
    assert brief_words(result, "").replace("\u00a0", " ") == (
        "Past its limit, inside the tolerance of 10.0 h."
    )
    assert result.sentence.startswith("Past its limit, inside the tolerance: due at")
    reached = worked_out({"initial": {"hours": 40, "after": "effective"}, **TEN_OVER})
    assert state_words(reached, "outstanding") == "outstanding"
    over = worked_out({"initial": {"hours": 29.9, "after": "effective"}, **TEN_OVER})
    assert state_words(over, over.state.value) == "overdue"

"""The page of an engine's overhaul interval: the answer first, then where it is from."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.urls import reverse

from tests.factories.fleet import OwnerFactory
from tests.tracker.web.reading import rows_of, words_of
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.fleet.models import Engine
from tracker.fleet.register import give_login

BASE = {"id": "base", "kind": "base", "hours": 1500, "years": 12, "since": "overhaul"}
LAW = {**BASE, "binding": ["commercial"]}
LONGER = {"id": "longer", "kind": "extension", "hours": 1800, "since": "overhaul"}
MODIFIED = {"any": [{"embodied": "SB-24-011"}, {"complied": "SB-25-014"}]}
FIVE_HUNDRED = {**LAW, "hours": 500}


def at(engine: Engine) -> str:
    return reverse("web:engine-overhaul", args=[engine.public_id])


def told(page: Any, engine: Engine) -> str:
    return words_of(page.get(at(engine))).replace(" ,", ",")


def offers(page: Any, engine: Engine) -> list[str]:
    listed = ("within reach", "holds", "does not hold", "undetermined")
    return [row for row in rows_of(page.get(at(engine))) if row.startswith(listed)]


def test_the_answer_stands_first_with_both_ends_and_what_would_lengthen_it(
    page, interval, evaluated, make_provision
) -> None:
    base = interval(LAW)
    interval(LONGER, when=MODIFIED, beside=base)
    make_provision(number="SB-24-011", embodies=["SB-24-011"], man_hours=1400)
    make_provision(number="SB-25-014", man_hours=900, title="Qualify")
    said = told(page, evaluated("commercial"))
    first = (
        "The overhaul interval is 1 500 h or 12 years since new. It ends at 1 500.0 h "
        "TSN, in 980.0 h, or on 1 March 2032, whichever comes first."
    )
    assert first in said
    assert said.index(first) < said.index("Hours left")
    assert "It is law in commercial operation." in said
    assert (
        "A longer interval is within reach: 1 800 h if you comply with SB-25-014, "
        "“Qualify” (9 man-hours)."
    ) in said


def test_every_way_is_listed_cheapest_first_and_leads_to_its_form(
    page, interval, evaluated, make_provision
) -> None:
    base = interval(LAW)
    interval(LONGER, when=MODIFIED, beside=base)
    embodying = make_provision(
        number="SB-25-013", embodies=["SB-24-011"], man_hours=1400, title="Feed"
    )
    make_provision(number="SB-25-014", man_hours=900, title="Qualify")
    engine = evaluated("commercial")
    [row] = offers(page, engine)
    assert row.index("comply with SB-25-014, “Qualify” 9 man-hours") < row.index(
        "embody SB-24-011, “Feed” of SB-25-013 14 man-hours"
    )
    assert "Any one of these is enough." in row
    assert "1 800.0 h" in row
    form = reverse(
        "web:engine-record-done", args=[engine.public_id, embodying.public_id]
    )
    assert form in page.get(at(engine)).content.decode()


def test_work_of_a_document_that_embodies_something_of_its_own_counts_once(
    page, interval, evaluated, make_provision
) -> None:
    """22 man-hours qualify; the 9 of the gear wheel belong to what needs it."""
    base = interval(LAW)
    qualified = {"complied": "SB-25-014"}
    first = make_provision(number="SB-25-014", title="Measure", man_hours=2200)
    make_provision(revision=first.revision, order=2, embodies=["M-7"], man_hours=900)
    interval({**LONGER, "id": "q"}, when=qualified, beside=base)
    geared = {"all": [qualified, {"embodied": "M-7"}]}
    interval({**LONGER, "id": "g", "hours": 2100}, when=geared, beside=base)
    rows = " ".join(offers(page, evaluated("commercial")))
    assert "22 man-hours" in rows
    assert "31 man-hours" in rows
    assert "40 man-hours" not in rows


def test_without_a_document_a_step_leads_to_where_it_is_said_that_it_is_embodied(
    page, interval, evaluated
) -> None:
    base = interval(LAW)
    interval(LONGER, when={"embodied": "MOD-9"}, beside=base)
    engine = evaluated("commercial")
    [row] = offers(page, engine)
    assert "embody MOD-9 man-hours not known" in row
    form = reverse("web:engine-modification-add", args=[engine.public_id])
    assert form in page.get(at(engine)).content.decode()


def test_what_nobody_can_change_is_said_to_be_so(page, interval, evaluated) -> None:
    base = interval(LAW)
    bound = {**LONGER, "enter_by": {"hours": 1000}}
    interval(bound, when={"serial": ["90000.."]}, beside=base)
    engine = evaluated("commercial", serial="4731")
    [row] = offers(page, engine)
    assert row.startswith("does not hold 1 800 h SI-18-001")
    assert "Nobody can change this: Serial number 4731 is not 90000 or above." in row
    assert "no longer interval for this engine. Serial number 4731" in told(
        page, engine
    )
    assert "entered" not in row  # a bound that is not passed is not what is against it


def test_an_engine_past_the_entry_limit_is_told_so(page, interval, evaluated) -> None:
    base = interval(LAW)
    late = {**LONGER, "enter_by": {"hours": 500}}
    interval(late, when={"embodied": "SB-24-011"}, beside=base)
    engine = evaluated("commercial")
    [row] = offers(page, engine)
    assert "It was to be entered by 500.0 h." in row
    assert "The engine has run 520.0 h since new" in row
    assert "must be entered within 500 h" in told(page, engine)


def test_what_must_be_entered_in_time_says_by_when(page, interval, evaluated) -> None:
    base = interval(LAW)
    bound = {**LONGER, "enter_by": {"hours": 1000, "years": 8}}
    interval(bound, when={"embodied": "SB-24-011"}, beside=base)
    said = told(page, evaluated("commercial"))
    assert "That must be done by 1 000.0 h or 1 March 2028, whichever comes first." in (
        said
    )


def test_an_extension_that_holds_says_so_and_where_the_interval_ends_by_it(
    page, technician, interval, evaluated, today, now
) -> None:
    base = interval(LAW)
    interval(LONGER, when={"embodied": "SB-24-011"}, beside=base)
    engine = evaluated("commercial")
    changes.embody(
        technician, engine, "SB-24-011", true_from=today, source="log", at=now
    )
    said = told(page, engine)
    assert "The overhaul interval is 1 800 h or 12 years since new." in said
    assert "A longer interval holds already, by “1800 h” of SI-18-001." in said
    assert "It decides the hours of the interval now." in said
    assert "It decides the years of the interval now." in said
    assert "Hatched: the extension that holds." in said
    assert said.count(" law ") >= 2  # the base, and the extension of what is law


def test_past_a_recommended_interval_it_is_never_said_to_be_overdue(
    page, interval, evaluated
) -> None:
    interval(FIVE_HUNDRED)
    said = told(page, evaluated("private"))
    assert (
        "This engine is 20.0 h past its recommended overhaul interval of 500 h or 12 "
        "years since new, which ended at 500.0 h TSN."
    ) in said
    assert "In private operation it is the maker's recommendation" in said
    assert "is for the authority that the aircraft is under to say" in said
    assert "−20.0 h" in said
    assert "overdue" not in said


def test_past_an_interval_that_is_law_it_is_overdue(page, interval, evaluated) -> None:
    interval(FIVE_HUNDRED)
    answer = page.get(at(evaluated("commercial"))).content.decode()
    assert '<svg class="mk mk-overdue"' in answer
    assert "recommended" not in words_of(page.get(at(Engine.objects.get())))


def test_past_it_only_by_what_may_hold_it_is_undetermined(
    page, interval, evaluated
) -> None:
    base = interval(LAW)
    shorter = {
        "id": "short",
        "kind": "restriction",
        "hours": 400,
        "since": "overhaul",
        "binding": ["commercial"],
    }
    interval(shorter, when={"ask": "Is it listed?"}, beside=base)
    engine = evaluated("commercial")
    answer = page.get(at(engine)).content.decode()
    assert '<svg class="mk mk-undetermined"' in answer
    said = told(page, engine)
    assert "That counts “400 h” of SI-18-001 as holding, which is not known." in said
    assert "Answer it" in said


def test_each_missing_fact_leads_to_its_form(page, interval, evaluated) -> None:
    interval(LAW)
    engine = evaluated()
    answer = page.get(at(engine))
    assert "Whether it is law for this engine is not known" in words_of(answer)
    [row] = [row for row in rows_of(answer) if row.startswith("Kind of operation")]
    assert "Enter how it is run" in row


def test_two_bases_that_both_hold_are_named(page, interval, evaluated) -> None:
    interval(LAW)
    interval({**LAW, "hours": 1400}, number="SI-20-002")
    said = told(page, evaluated("commercial"))
    assert (
        "“1500 h” of SI-18-001 and “1400 h” of SI-20-002 are base intervals that all "
        "hold for this engine. The shortest counts"
    ) in said
    assert "The overhaul interval is 1 400 h or 12 years" in said


def test_an_engine_that_no_document_speaks_of_is_told_so(page, evaluated) -> None:
    said = told(page, evaluated("private"))
    assert "No document in force says anything of an overhaul interval" in said


def test_an_interval_that_was_not_adopted_says_by_whom_and_why(
    page, technician, interval, evaluated, today, now
) -> None:
    base = interval(LAW)
    engine = evaluated("private")
    changes.decline(
        technician,
        engine,
        base.revision.publication,
        person="Maud Ek",
        reason="Run on condition.",
        true_from=today,
        at=now,
    )
    said = told(page, engine)
    assert "not adopted by Maud Ek on 24 November 2026. Run on condition." in said


def test_an_owner_sees_the_same_of_an_own_engine_without_the_forms(
    page, viewer_as, signed_in, station, interval, evaluated, now
) -> None:
    base = interval(LAW)
    interval(LONGER, when={"embodied": "SB-24-011"}, beside=base)
    viewer = viewer_as(Role.OWNER)
    owner = OwnerFactory(station=station)
    give_login(owner, viewer.user, now)
    engine = evaluated("private", owner=owner)
    mine = signed_in(viewer)
    said = words_of(mine.get(at(engine)))
    assert "1 800 h if you embody SB-24-011" in said
    assert "Say that it is embodied" not in said
    assert mine.get(at(evaluated("private"))).status_code == 404


@pytest.mark.parametrize("provisions", [1, 15])
def test_the_page_asks_as_often_for_many_provisions(
    page,
    interval,
    evaluated,
    make_provision,
    django_assert_num_queries,
    provisions: int,
) -> None:
    base = interval(LAW)
    for number in range(provisions):
        one = {**LONGER, "id": f"longer-{number}", "hours": 1800 + number}
        interval(one, when={"embodied": f"SB-{number}"}, beside=base)
        make_provision(number=f"SB-{number}", embodies=[f"SB-{number}"])
    engine = evaluated("commercial")
    page.get(at(engine))
    with django_assert_num_queries(25):
        page.get(at(engine))


# The same in lists.


def test_the_start_page_lists_what_is_past_its_interval_and_what_is_in_reach(
    page, interval, evaluated
) -> None:
    base = interval(FIVE_HUNDRED)
    interval(LONGER, when={"embodied": "SB-24-011"}, beside=base)
    evaluated("private", serial="4731")
    evaluated("commercial", serial="4732")
    answer = page.get(reverse("web:due"))
    due, advised = (
        row for row in rows_of(answer) if row.endswith("days") and "within reach" in row
    )
    assert due.startswith("overdue ")
    assert (
        "4732 not recorded in an aircraft, law within reach 500.0 h or 1 Mar 2032"
        in due
    )
    assert advised.startswith("past the recommended interval ")
    assert "recommended within reach" in advised
    assert "A longer interval is within reach for 2 engines" in words_of(answer)


@pytest.mark.parametrize("engines", [1, 14])
def test_the_start_page_asks_as_often_for_many_intervals(
    page, interval, evaluated, django_assert_num_queries, engines: int
) -> None:
    interval(FIVE_HUNDRED)
    for _ in range(engines):
        evaluated("commercial")
    page.get(reverse("web:due"))
    with django_assert_num_queries(20):  # as without, and the findings of intervals
        page.get(reverse("web:due"))


def test_the_list_of_engines_is_narrowed_to_those_with_a_longer_interval_in_reach(
    page, interval, evaluated
) -> None:
    of_type = {"type": ["LX-9"]}
    base = interval(LAW, when=of_type)
    interval(LONGER, when={"all": [of_type, {"embodied": "SB-1"}]}, beside=base)
    evaluated("private", serial="4731")
    evaluated("private", serial="4732", engine_type__designation="LX-9")
    address = reverse("web:engine-list")
    both = words_of(page.get(address))
    assert "4731" in both
    assert "4732" in both
    narrowed = rows_of(page.get(address, {"interval": "within reach"}))
    [row] = [row for row in narrowed if "473" in row]
    assert "LX-9 · 4732" in row
    assert "within reach ends 1 500.0 h" in row
    past = words_of(page.get(address, {"interval": "past"}))
    assert "No engine is like that." in past


@pytest.mark.parametrize("engines", [1, 15])
def test_an_owners_start_page_says_the_same_of_each_engine(
    viewer_as,
    signed_in,
    station,
    interval,
    evaluated,
    now,
    clock_stands,
    django_assert_num_queries,
    engines: int,
) -> None:
    base = interval(LAW)
    interval(LONGER, when={"embodied": "SB-24-011"}, beside=base)
    viewer = viewer_as(Role.OWNER)
    owner = OwnerFactory(station=station)
    give_login(owner, viewer.user, now)
    for _ in range(engines):
        evaluated("private", owner=owner)
    mine = signed_in(viewer)
    said = words_of(mine.get(reverse("web:due")))
    assert "Does a longer interval apply?" in said
    assert said.count("1 800 h if you embody SB-24-011") == min(engines, 12)
    with django_assert_num_queries(32):
        mine.get(reverse("web:due"))


# The same on the page of the engine.


def test_the_engine_page_shows_the_interval_among_its_facts_and_on_the_rulers(
    page, interval, evaluated
) -> None:
    base = interval(LAW)
    interval(LONGER, when={"embodied": "SB-24-011"}, beside=base)
    engine = evaluated("commercial")
    answer = page.get(reverse("web:engine", args=[engine.public_id]))
    said = words_of(answer)
    assert "Overhaul interval ends in 980.0 h at 1 500.0 h or 1 Mar 2032" in said
    assert "Used: 35 % of the hours, 57 % of the years" in said
    assert "A longer interval is within reach: 1 800 h if you embody SB-24-011" in said
    drawn = answer.content.decode()
    assert "interval ends, outstanding: 1\u202f500.0" in drawn
    assert "longer one would end, within reach: 1\u202f800.0" in drawn
    assert at(engine) in drawn


def test_the_engine_page_lists_what_the_interval_lacks_once(
    page, interval, evaluated
) -> None:
    interval(LAW)
    engine = evaluated()
    answer = page.get(reverse("web:engine", args=[engine.public_id]))
    lacking = [row for row in rows_of(answer) if row.startswith("Kind of operation")]
    assert len(lacking) == 1
    assert "SI-18-001" in lacking[0]


@pytest.mark.parametrize("provisions", [1, 15])
def test_the_engine_page_asks_as_often_for_many_provisions(
    page, interval, evaluated, django_assert_num_queries, provisions: int
) -> None:
    base = interval(LAW)
    for number in range(provisions):
        one = {**LONGER, "id": f"longer-{number}"}
        interval(one, when={"embodied": f"SB-{number}"}, beside=base)
    address = reverse("web:engine", args=[evaluated("commercial").public_id])
    page.get(address)
    with django_assert_num_queries(32):
        page.get(address)


# What has ended, what is nearly used up, and what is not known


def test_used_is_never_rounded_up_to_the_whole(page, interval, evaluated) -> None:
    interval({**LAW, "hours": 521})
    said = told(page, evaluated("commercial"))
    assert "99.8 % of the hours" in said
    assert "100 % of the hours" not in said


def test_hours_left_do_not_hide_that_the_years_have_ended(
    page, interval, evaluated
) -> None:
    interval(LAW)
    engine = evaluated("private", built=date(2010, 3, 1))
    said = words_of(page.get(reverse("web:engine", args=[engine.public_id])))
    assert "Overhaul interval ends in −1 729 d" in said
    [row] = [r for r in rows_of(page.get(reverse("web:engine-list"))) if "–" in r]
    assert "years ended 1 Mar 2022" in row


def test_after_a_makers_rebuild_every_end_is_since_the_rebuild(
    page, interval, evaluated, technician, now
) -> None:
    """Rebuilt at 490 h of the meter, which shows 520 h: 30 h since new."""
    interval(FIVE_HUNDRED)
    engine = evaluated("commercial")
    changes.add_rebuild(technician, engine, on=date(2026, 3, 1), hours=49_000, at=now)
    engine_page = reverse("web:engine", args=[engine.public_id])
    assert "ends in 470.0 h at 500.0 h" in words_of(page.get(engine_page))
    for where in (at(engine), reverse("web:engine-list")):
        text = words_of(page.get(where))
        assert "500.0 h" in text
        assert "990.0" not in text


def test_an_end_that_is_not_known_is_said_on_every_page(
    page, viewer_as, signed_in, interval, evaluated
) -> None:
    interval(LAW)
    engine = evaluated("private", built=None)
    said = told(page, engine)
    assert "1 500.0 h TSN, in 980.0 h, or earlier, by date: date of manufacture" in said
    assert said.count("or earlier, by date") == 3  # sentence, facts, row
    own = words_of(page.get(reverse("web:engine", args=[engine.public_id])))
    assert "at 1 500.0 h, or earlier, by date" in own
    status = words_of(page.get(reverse("web:engine-status", args=[engine.public_id])))
    assert "or earlier, by date: date of manufacture not known." in status


def test_each_row_ends_where_it_does_by_itself(
    page, technician, interval, evaluated, today, now
) -> None:
    base = interval(LAW)
    interval(LONGER, when={"embodied": "SB-1"}, beside=base)
    longest = {**LONGER, "id": "longest", "hours": 2000}
    interval(longest, when={"embodied": "SB-1"}, beside=base)
    engine = evaluated("commercial")
    changes.embody(technician, engine, "SB-1", true_from=today, source="log", at=now)
    rows = offers(page, engine)
    assert rows[0].startswith("holds 2 000 h")
    assert rows[0].endswith("2 000.0 h")
    assert "It does not decide: “2000 h” of SI-18-001 is as long, or longer." in rows[1]
    assert rows[1].endswith("1 800.0 h")


def test_under_a_restriction_neither_page_nor_list_says_that_a_longer_one_holds(
    page, interval, evaluated
) -> None:
    base = interval(LAW)
    short = {**LAW, "id": "short", "kind": "restriction", "hours": 1200}
    interval(LONGER, when={"embodied": "SB-1"}, beside=base)
    interval(short, when={"operation": ["commercial"]}, beside=base)
    engine = evaluated("commercial")
    said = told(page, engine)
    assert "No extension lengthens it while “1200 h” of SI-18-001 holds." in said
    assert "It no longer holds once kind of operation is not commercial." in said
    assert "It lengthens nothing while “1200 h” of SI-18-001 holds." in said
    assert Engine.objects.get().standing.longer_interval == "does not hold"


def test_an_owner_is_not_told_of_a_longer_one_that_has_ended_as_if_it_helped(
    viewer_as, signed_in, station, interval, evaluated, now, clock_stands
) -> None:
    base = interval(LAW)
    interval(LONGER, when={"embodied": "SB-24-011"}, beside=base)
    viewer = viewer_as(Role.OWNER)
    owner = OwnerFactory(station=station)
    give_login(owner, viewer.user, now)
    evaluated("private", owner=owner, built=date(2010, 3, 1))
    said = words_of(signed_in(viewer).get(reverse("web:due")))
    assert "does not hold 1 500.0 h or 1 Mar 2022" in said
    assert "would change the hours only: the years ended on 1 March 2022." in said
    assert "within reach" not in said

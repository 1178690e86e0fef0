"""The overhaul interval of an engine in the service: the answer, and what is stored of it.

Check values for what is law and what is advice, by their summaries: 14 CFR 135.421 (the
maker's programme binds in commercial operation) and FAA Notice N 8900.410 (overhaul is
not mandatory for private operation). The figures themselves are made up.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from notices.models import Provision
from tests.factories.compliance import entry
from tracker.compliance import changes
from tracker.compliance.due import due_list
from tracker.compliance.facts import engine_files
from tracker.compliance.findings import refresh, refresh_library
from tracker.compliance.intervals import EngineInterval, interval_of
from tracker.compliance.models import Closed, Finding, LongerInterval, Standing
from tracker.compliance.rules import rules_in_force
from tracker.compliance.states import due_of, lead_of
from tracker.compliance.tallies import counts_of_engines
from tracker.fleet.models import Engine

BASE = {"id": "base", "kind": "base", "hours": 500, "years": 12, "since": "overhaul"}
LAW = {**BASE, "binding": ["commercial"]}
LONGER = {"id": "longer", "kind": "extension", "hours": 700, "since": "overhaul"}
SHORTER = {"id": "shorter", "kind": "restriction", "hours": 400, "since": "overhaul"}
EMBODIED = {"embodied": "SB-24-011"}
LISTED = {"ask": "Is the serial listed in table 1?"}

Make = Callable[..., Provision]
pytestmark = pytest.mark.both


def answer(engine: Engine, on: date) -> EngineInterval:
    found = interval_of(
        rules_in_force(engine.station, on),
        engine_files([engine], on=on)[engine.pk],
        on=on,
    )
    assert found is not None
    return found


def finding(engine: Engine, provision: Provision) -> Finding | None:
    return Finding.objects.filter(engine=engine, provision=provision).first()


def words(viewer, engine: Engine, on: date) -> list[tuple[str, str]]:
    """The open findings of an engine: state and title."""
    rows = due_list(viewer, on, engine=engine).rows
    return [(row.word, row.provision.title) for row in rows]


# What is recommended and what is law.


def test_past_a_recommended_interval_nothing_is_overdue(
    interval, evaluated, technician, today
) -> None:
    base = interval(LAW)
    engine = evaluated("private")
    assert words(technician, engine, today) == []
    kept = finding(engine, base)
    assert kept is not None
    assert kept.closed == Closed.NOTHING_DUE
    assert "In this operation it is a recommendation" in " ".join(kept.reasons)
    read = Finding.objects.select_related("engine__standing").get(pk=kept.pk)
    due = due_of(read, on=today, lead=lead_of(technician.station))
    assert due.sentence.startswith("It is the interval now. In this operation")
    standing = Standing.objects.get(engine=engine)
    assert (standing.overhaul_hours, standing.overhaul_binds) == (50_000, False)
    assert standing.overhaul_on == date(2032, 3, 1)  # twelve years since it was made


def test_past_an_interval_that_is_law_it_is_overdue_in_every_list(
    interval, evaluated, technician, today
) -> None:
    base = interval(LAW)
    engine = evaluated("commercial")
    [row] = due_list(technician, today, engine=engine).rows
    assert (row.word, row.due_hours, row.remaining_hours) == ("overdue", 50_000, -2000)
    assert row.due_on == date(2032, 3, 1)
    assert row.finding.provision == base
    counts = counts_of_engines(technician, [engine], today)[engine.pk]
    assert counts == {"overdue": 1}
    assert Standing.objects.get(engine=engine).overhaul_binds


def test_without_knowing_the_operation_it_is_undetermined(
    interval, evaluated, technician, today
) -> None:
    interval(LAW)
    engine = evaluated()
    [row] = due_list(technician, today, engine=engine).rows
    assert row.word == "undetermined"
    assert row.missing == ["kind of operation"]
    assert Standing.objects.get(engine=engine).overhaul_missing == ["kind of operation"]


def test_what_an_airworthiness_limitation_says_is_law_in_every_operation(
    interval, evaluated, technician, today
) -> None:
    interval(BASE, kind="ALS", number="ALS-1")
    engine = evaluated("private")
    assert words(technician, engine, today) == [("overdue", "500 h")]


def test_reaching_the_interval_exactly_is_still_in_time(
    interval, evaluated, technician, today
) -> None:
    interval(LAW)
    engine = evaluated("commercial", hours=(48_000, 50_000))
    assert [word for word, _ in words(technician, engine, today)] == ["coming due"]


# Extensions and restrictions.


def test_an_extension_within_reach_makes_no_finding_and_is_told_by_the_standing(
    interval, evaluated, technician, today
) -> None:
    base = interval(LAW)
    longer = interval(LONGER, when=EMBODIED, beside=base)
    engine = evaluated("commercial")
    assert finding(engine, longer) is None
    standing = Standing.objects.get(engine=engine)
    assert standing.longer_interval == LongerInterval.WITHIN_REACH
    assert words(technician, engine, today) == [("overdue", "500 h")]


def test_an_extension_that_holds_carries_the_hours_and_the_base_the_years(
    interval, evaluated, technician, today, now
) -> None:
    base = interval(LAW)
    longer = interval(LONGER, when=EMBODIED, beside=base)
    engine = evaluated("commercial")
    changes.embody(
        technician, engine, "SB-24-011", true_from=today, source="log", at=now
    )
    rows = due_list(technician, today, engine=engine).rows
    due = {row.provision.pk: (row.word, row.due_hours, row.due_on) for row in rows}
    assert due == {
        longer.pk: ("outstanding", 70_000, None),
        base.pk: ("outstanding", None, date(2032, 3, 1)),
    }
    told = {row.provision.pk: row.due.sentence for row in rows}
    assert "It decides the hours now, and is law in this operation." in told[longer.pk]
    assert "It decides the years now, and is law in this operation." in told[base.pk]
    standing = Standing.objects.get(engine=engine)
    assert standing.longer_interval == LongerInterval.HOLDS
    assert standing.overhaul_hours == 70_000


def test_a_record_of_an_embodying_action_lengthens_the_interval(
    interval, evaluated, make_provision, technician, today, now
) -> None:
    base = interval(LAW)
    interval(LONGER, when=EMBODIED, beside=base)
    action = make_provision(number="SB-24-011", embodies=["SB-24-011"])
    engine = evaluated("commercial")
    done = entry(date(2026, 11, 24), hours=52_000, provision=action)
    changes.record_work(technician, engine, done, at=now)
    assert Standing.objects.get(engine=engine).overhaul_hours == 70_000


def test_an_undetermined_restriction_leaves_the_certain_limit_where_it_is(
    interval, evaluated, technician, today
) -> None:
    base = interval(LAW)
    shorter = interval({**SHORTER, "binding": ["commercial"]}, when=LISTED, beside=base)
    engine = evaluated("commercial")
    assert words(technician, engine, today) == [
        ("overdue", "500 h"),
        ("undetermined", "400 h"),
    ]
    kept = finding(engine, shorter)
    assert kept is not None
    assert kept.missing
    assert "it counts as holding" in " ".join(kept.reasons)
    assert Standing.objects.get(engine=engine).overhaul_hours == 40_000


def test_a_recommended_restriction_does_not_hide_the_law_behind_it(
    interval, evaluated, technician, today
) -> None:
    base = interval(LAW)
    interval(SHORTER, beside=base)
    engine = evaluated("commercial")
    assert words(technician, engine, today) == [("overdue", "500 h")]


def test_an_undetermined_extension_counts_as_not_holding_and_names_the_fact(
    interval, evaluated, technician, today
) -> None:
    base = interval(LAW)
    longer = interval(LONGER, when=LISTED, beside=base)
    engine = evaluated("commercial")
    kept = finding(engine, longer)
    assert kept is not None
    assert kept.undetermined
    assert "it counts as not holding" in " ".join(kept.reasons)
    standing = Standing.objects.get(engine=engine)
    assert standing.longer_interval == LongerInterval.UNDETERMINED
    assert standing.overhaul_hours == 50_000


@pytest.mark.parametrize("recorded", [False, True])
def test_past_its_entry_limit_an_extension_does_not_hold_and_is_no_finding(
    interval, evaluated, make_provision, technician, today, now, recorded: bool
) -> None:
    base = interval(LAW)
    entered = {**LONGER, "enter_by": {"hours": 510}}
    longer = interval(entered, when=EMBODIED, beside=base)
    action = make_provision(number="SB-24-011", embodies=["SB-24-011"])
    engine = evaluated("commercial")
    if recorded:
        done = entry(date(2026, 11, 24), hours=52_000, provision=action)
        changes.record_work(technician, engine, done, at=now)
    [offer] = answer(engine, today).point.offers
    assert offer.holding.value == "does not apply"
    assert "be entered within 510" in " ".join(offer.reasons)
    assert "an overhaul begins the count anew" in offer.reasons[-1]
    assert finding(engine, longer) is None
    standing = Standing.objects.get(engine=engine)
    assert standing.longer_interval == LongerInterval.DOES_NOT_HOLD
    assert standing.overhaul_hours == 50_000


def test_work_done_before_the_entry_limit_was_passed_lets_the_extension_hold(
    interval, evaluated, make_provision, technician, today, now
) -> None:
    base = interval(LAW)
    entered = {**LONGER, "enter_by": {"hours": 510}}
    interval(entered, when=EMBODIED, beside=base)
    action = make_provision(number="SB-24-011", embodies=["SB-24-011"])
    engine = evaluated("commercial")
    done = entry(date(2026, 5, 4), hours=49_500, provision=action)
    changes.record_work(technician, engine, done, at=now)
    assert Standing.objects.get(engine=engine).overhaul_hours == 70_000


@pytest.mark.parametrize(
    ("noted", "holds"),
    [
        # 480 h were read on 2026-01-10 and 520 h on 2026-11-24
        (date(2026, 1, 10), LongerInterval.HOLDS),
        # noted later: it may have been done before
        (date(2026, 11, 24), LongerInterval.UNDETERMINED),
    ],
)
def test_what_is_noted_as_embodied_was_so_by_that_day_at_the_latest(
    interval, evaluated, technician, now, noted: date, holds: LongerInterval
) -> None:
    base = interval(LAW)
    entered = {**LONGER, "enter_by": {"hours": 510}}
    interval(entered, when=EMBODIED, beside=base)
    engine = evaluated("commercial")
    changes.embody(technician, engine, "SB-24-011", true_from=noted, at=now)
    assert Standing.objects.get(engine=engine).longer_interval == holds


# Several documents.


def test_two_documents_may_both_call_theirs_base_and_the_shorter_counts(
    interval, evaluated, technician, today
) -> None:
    interval(LAW)
    interval({**LAW, "hours": 450}, number="SI-20-002")
    engine = evaluated("commercial")
    found = answer(engine, today)
    assert found.point.conflict == ("SI-18-001 base", "SI-20-002 base")
    assert found.point.from_hours == "SI-20-002 base"
    # Twelve years stand in both; they are told by the first.
    told = words(technician, engine, today)
    assert told == [("overdue", "450 h"), ("outstanding", "500 h")]


@pytest.mark.parametrize(("others", "holds"), [(1, True), (2, False)])
def test_what_an_extension_builds_on_may_stand_in_one_other_document(
    interval, evaluated, today, others: int, holds: bool
) -> None:
    interval(BASE)
    for number in range(others):
        interval({**LONGER, "hours": 600}, number=f"SB-2{number}-001")
    top = {**LONGER, "id": "top", "hours": 900, "builds_on": "longer"}
    interval(top, number="SB-26-009")
    found = answer(evaluated("private"), today)
    offer = next(one for one in found.point.offers if one.id == "SB-26-009 top")
    assert (offer.holding.value == "applies") is holds
    assert (found.point.hours == 90_000) is holds


@pytest.mark.parametrize(
    "about_others",
    [{"type": ["LX-9"]}, {"serial": ["9000.."]}],
)
def test_what_a_document_about_other_engines_says_is_never_built_on(
    interval, evaluated, today, about_others
) -> None:
    """A second maker's bulletin may call its interval "base", too."""
    interval(BASE)
    top = {**LONGER, "builds_on": "base"}
    interval(top, number="SB-26-009")
    engine = evaluated("private")
    assert answer(engine, today).point.hours == 70_000
    interval({**BASE, "hours": 300}, when=about_others, number="SB-26-100")
    found = answer(engine, today).point
    assert (found.hours, found.from_hours) == (70_000, "SB-26-009 longer")


def test_where_two_may_be_meant_it_cannot_be_said_which(
    interval, evaluated, today
) -> None:
    interval(BASE)
    interval({**BASE, "hours": 300}, when=LISTED, number="SB-26-100")
    interval({**LONGER, "builds_on": "base"}, number="SB-26-009")
    [offer] = answer(evaluated("private"), today).point.offers
    assert offer.holding.value == "undetermined"
    assert "the provision base, on which SB-26-009 longer builds" in offer.missing


def test_an_engine_of_another_type_has_no_interval(interval, evaluated, today) -> None:
    interval(BASE, when={"type": ["LX-9"]})
    engine = evaluated("private")
    file = engine_files([engine], on=today)[engine.pk]
    assert interval_of(rules_in_force(engine.station, today), file, on=today) is None
    standing = Standing.objects.get(engine=engine)
    assert standing.overhaul_hours is None
    assert standing.longer_interval == ""


# Not adopted.


def test_a_recommended_interval_may_be_declined_and_one_that_is_law_not(
    interval, evaluated, technician, today, now
) -> None:
    base = interval(LAW)
    advised, bound = evaluated("private"), evaluated("commercial")
    for engine in (advised, bound):
        changes.decline(
            technician,
            engine,
            base.revision.publication,
            person="Maud Ek",
            reason="Run on condition.",
            true_from=today,
            at=now,
        )
    assert finding(advised, base).closed == Closed.NOT_ADOPTED
    assert words(technician, bound, today) == [("overdue", "500 h")]


# A change in the library.


def test_a_change_in_the_library_moves_the_interval_of_the_engines_concerned(
    interval, evaluated, station, today, now
) -> None:
    base = interval(LAW)
    engine = evaluated("commercial")
    longer = interval(LONGER, when=EMBODIED, number="SB-24-011", kind="SB")
    publication = longer.revision.publication_id
    refresh_library([publication], station, on=today, at=now)
    standing = Standing.objects.get(engine=engine)
    assert standing.longer_interval == LongerInterval.WITHIN_REACH
    assert standing.overhaul_hours == 50_000
    longer.revision.takes_over_on = date(2030, 1, 1)
    longer.revision.save(update_fields=["takes_over_on"])
    refresh_library([publication], station, on=today, at=now)
    assert Standing.objects.get(engine=engine).longer_interval == ""
    base.revision.takes_over_on = date(2030, 1, 1)
    base.revision.save(update_fields=["takes_over_on"])
    publication = base.revision.publication_id
    refresh_library([publication], station, on=today, at=now)
    standing = Standing.objects.get(engine=engine)
    assert standing.overhaul_hours is None
    assert not Standing.objects.told_an_interval().exists()


@pytest.mark.parametrize("engines", [1, 12])
@pytest.mark.parametrize("with_intervals", [False, True])
def test_intervals_cost_no_further_query(
    interval,
    evaluated,
    make_provision,
    station,
    today,
    now,
    django_assert_num_queries,
    engines: int,
    with_intervals: bool,
) -> None:
    make_provision()
    if with_intervals:
        base = interval(LAW)
        interval(LONGER, when=EMBODIED, beside=base)
    for _ in range(engines):
        evaluated("commercial")
    rows = Engine.objects.select_related("engine_type").filter(station=station)
    refresh(station, rows, on=today, at=now)
    with django_assert_num_queries(31):
        refresh(station, rows, on=today, at=now)

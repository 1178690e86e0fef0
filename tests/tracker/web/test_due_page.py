"""The start page, the list of everything open, and the facts that are missing."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
import time_machine
from django.urls import reverse

from tests.factories.fleet import EngineFactory, OwnerFactory
from tests.factories.notices import PublicationFactory, RevisionFactory
from tests.tracker.web.reading import rows_of, words_of
from tracker.accounts.models import Role
from tracker.fleet.register import give_login

DUE = reverse("web:due")
OPEN = reverse("web:due-open")
MISSING = reverse("web:due-missing")
ASKS = {"ask": "Is the case stamped R?"}


def within(hours: float) -> dict:
    return {"initial": {"hours": hours, "after": "effective"}}


FLIGHT = {"initial": {"event": "further flight"}}


def test_before_further_flight_stands_above_overdue_and_coming_due(
    page, make_engine, make_provision
) -> None:
    make_provision(rule__action=within(39), title="Inspect the pump")
    make_provision(rule__action=FLIGHT, title="Inspect the plug")
    make_provision(rule__action=within(50), title="Change the filter")
    make_provision(rule__action=within(500), title="Look at the mounts")
    make_engine()
    rows = [row for row in rows_of(page.get(DUE)) if "MX-" in row]
    assert [row.split("MX-")[0].strip() for row in rows] == [
        "before further flight",
        "overdue",
        "coming due",
    ]
    assert "519.0 h" in rows[1]
    assert "−1.0 h" in rows[1]


def test_the_lead_counts_what_is_open_and_leads_to_it(
    page, make_engine, make_provision
) -> None:
    make_provision(rule__action=within(39))
    make_provision(rule__action=within(50))
    make_engine()
    response = page.get(DUE)
    assert "Of 1 engine in care, 1 is overdue and 1 is coming due." in words_of(
        response
    )
    assert f"{OPEN}?state=overdue" in response.content.decode()


@pytest.mark.parametrize(
    ("sure", "doubtful", "words"),
    [
        (1, 0, "1 item must be done before further flight, nothing is overdue"),
        (1, 2, "1 item must be done before further flight, and 2 more if they apply,"),
        (0, 1, "1 item must be done before further flight if it applies, nothing"),
    ],
)
def test_what_must_be_done_before_flight_only_if_it_applies_is_said_apart(
    page, make_engine, make_provision, sure: int, doubtful: int, words: str
) -> None:
    for _ in range(sure):
        make_provision(rule__action=FLIGHT)
    for _ in range(doubtful):
        make_provision(rule__action=FLIGHT, rule__condition=ASKS)
    engine = make_engine()
    assert words in words_of(page.get(DUE))
    own = words_of(page.get(reverse("web:engine", args=[engine.public_id])))
    assert words.partition(", nothing")[0].rstrip(",") in own
    status = words_of(page.get(reverse("web:engine-status", args=[engine.public_id])))
    assert (f"{sure} before further flight " in status) is bool(sure)
    said = f"{doubtful} before further flight, if it applies"
    assert (said in status) is bool(doubtful)


def test_an_engine_that_is_in_no_recorded_aircraft_is_said_to_be_so(
    page, make_engine, make_provision
) -> None:
    make_provision(rule__action=within(39))
    make_engine()
    assert "not recorded in an aircraft" in words_of(page.get(OPEN))


def test_hours_that_are_old_say_nothing_of_what_is_due_before_further_flight(
    technician, signed_in, make_engine, make_provision, now
) -> None:
    either = {
        "first_of": [{"event": "further flight"}, {"hours": 41, "after": "effective"}]
    }
    make_provision(rule__action={"initial": either})
    make_engine()
    with time_machine.travel(now + timedelta(hours=480), tick=False):
        text = words_of(signed_in(technician).get(OPEN))
    assert "before further flight" in text
    assert "read the meter" not in text


def test_what_may_be_overdue_is_listed_and_says_to_read_the_meter(
    technician, signed_in, make_engine, make_provision, now
) -> None:
    make_provision(rule__action=within(40.5))
    make_engine()
    with time_machine.travel(now + timedelta(hours=480), tick=False):
        text = words_of(signed_in(technician).get(DUE))
    assert "May be overdue: read the meter, last read on 24 Nov 2026" in text


def test_a_limit_that_has_passed_and_does_not_decide_is_not_said_to_be_past(
    page, make_engine, make_provision
) -> None:
    """Of "whichever comes later" nothing is past before both are."""
    both = {"last_of": [{"hours": 60, "after": "effective"}, {"date": "2026-10-01"}]}
    make_provision(rule__action={"initial": both}, title="Inspect the pump")
    make_engine()
    [row] = [row for row in rows_of(page.get(OPEN)) if "Inspect the pump" in row]
    assert "540.0 h and 1 Oct 2026" in row
    assert "20.0 h" in row
    assert "−" not in row


HALF_KNOWN = {
    "initial": {
        "first_of": [
            {"hours": 60, "after": "effective"},
            {"hours": 500, "after": {"part": "magneto", "since": "new"}},
        ]
    }
}


def test_a_limit_of_which_one_half_is_not_known_names_that_half_in_every_list(
    page, make_engine, make_provision
) -> None:
    provision = make_provision(rule__action=HALF_KNOWN)
    engine = make_engine()
    words = "540.0 h or earlier, not known: magneto fitted"
    assert words in words_of(page.get(OPEN))
    assert words in words_of(page.get(reverse("web:engine", args=[engine.public_id])))
    publication = provision.revision.publication.public_id
    address = reverse("web:publication", args=[publication])
    assert words in words_of(page.get(address))
    address = reverse("web:engine-status", args=[engine.public_id])
    assert words in words_of(page.get(address))


def test_old_hours_are_said_to_be_read_in_every_list(
    technician, signed_in, make_engine, make_provision, now
) -> None:
    provision = make_provision(rule__action=within(40.5))
    engine = make_engine()
    publication = provision.revision.publication.public_id
    with time_machine.travel(now + timedelta(hours=480), tick=False):
        client = signed_in(technician)
        for address in (
            OPEN,
            reverse("web:engine", args=[engine.public_id]),
            reverse("web:engine-status", args=[engine.public_id]),
            reverse("web:publication", args=[publication]),
        ):
            text = words_of(client.get(address))
            assert "May be overdue: read the meter, last read on 24 Nov 2026." in text


def test_a_missing_fact_is_listed_once_with_what_it_would_decide(
    page, make_engine, make_provision
) -> None:
    provision = make_provision(rule__condition=ASKS)
    for _ in range(5):
        make_engine()
    response = page.get(DUE)
    [row] = [row for row in rows_of(response) if "stamped R" in row]
    assert provision.revision.publication.number in row
    assert "5 findings in all" in row
    assert "and 1 more" in row
    assert "treated as open" in words_of(response)
    assert "#unknown" in response.content.decode()
    assert words_of(page.get(MISSING)).count("stamped R") == 1


def test_drafts_and_revisions_that_took_over_lately_are_listed(
    page, station, make_engine, make_provision
) -> None:
    draft = RevisionFactory(publication=PublicationFactory(station=station))
    recent = make_provision(effective_on=date(2026, 11, 20))
    make_engine()
    rows = rows_of(page.get(DUE))
    assert any(draft.publication.number in r and "is a draft" in r for r in rows)
    number = recent.revision.publication.number
    assert any(
        number in r and "took over on 20 Nov 2026" in r and r.endswith("1 0")
        for r in rows
    )


def test_an_engine_that_was_never_read_is_listed_as_old(page, station) -> None:
    engine = EngineFactory(station=station)
    [row] = [row for row in rows_of(page.get(DUE)) if engine.serial in row]
    assert "never read" in row


def test_the_empty_page_says_as_of_when_and_what_was_looked_at(page) -> None:
    text = words_of(page.get(DUE))
    assert "Nothing is past a limit or near it as of 24 November 2026" in text
    assert "No engine has been evaluated yet." in text


def test_the_page_says_when_the_engines_were_last_evaluated(
    page, make_engine, make_provision
) -> None:
    make_provision()
    make_engine()
    text = words_of(page.get(DUE))
    assert "1 engine over 1 current publication." in text
    assert "All were last evaluated on 24 November 2026, 09:30." in text


def test_the_list_of_everything_open_keeps_to_the_state_asked_for(
    page, make_engine, make_provision
) -> None:
    make_provision(rule__action=within(39))
    make_provision(rule__action=within(500))
    make_engine()
    assert words_of(page.get(OPEN)).count("Inspect the fuel pump") == 2
    overdue = words_of(page.get(OPEN, {"state": "overdue"}))
    assert overdue.count("Inspect the fuel pump") == 1
    assert "1 to 1 of 1 findings" in overdue


@pytest.mark.parametrize("asked", ["99", "x", "-1", "0", "1e9", "٣", "9" * 30])
def test_a_page_number_that_makes_no_sense_shows_a_page(
    page, make_engine, make_provision, asked: str
) -> None:
    make_provision(rule__action=within(39))
    make_engine()
    for address in (DUE, OPEN, MISSING):
        assert page.get(address, {"page": asked}).status_code == 200


def test_a_state_that_there_is_not_shows_all(page, make_engine, make_provision) -> None:
    make_provision(rule__action=within(39))
    make_engine()
    assert "1 to 1 of 1" in words_of(page.get(OPEN, {"state": "<b>"}))


def test_an_owner_sees_the_same_for_own_engines_only(
    viewer_as, signed_in, station, make_engine, make_provision, now, clock_stands
) -> None:
    make_provision(rule__action=within(39))
    viewer = viewer_as(Role.OWNER)
    mine, other = OwnerFactory(station=station), OwnerFactory(station=station)
    give_login(mine, viewer.user, now)
    own, foreign = make_engine(owner=mine), make_engine(owner=other)
    text = words_of(signed_in(viewer).get(DUE))
    assert "1 item is overdue" in text
    assert own.serial in text
    assert foreign.serial not in text
    assert "Owners" not in text


def test_another_station_sees_nothing_of_ours(
    stranger, signed_in, make_engine, make_provision, clock_stands
) -> None:
    engine = make_engine()
    make_provision(rule__action=within(39))
    for address in (DUE, OPEN, MISSING):
        assert engine.serial not in words_of(signed_in(stranger).get(address))


# session, user, membership;
# due list: the unclear, counts, rows; facts; old readings; new revisions; drafts;
# affected; old readings counted; engines evaluated: states, engines, publications;
# enquiries that wait; overhaul intervals: counts, engines
START = 19


@pytest.mark.parametrize("engines", [1, 20])
def test_the_start_page_asks_as_often_for_many_engines(
    page, make_engine, make_provision, django_assert_num_queries, engines: int
) -> None:
    make_provision(rule__action=within(39))
    make_provision(rule__condition=ASKS)
    for _ in range(engines):
        make_engine()
    with django_assert_num_queries(START):
        page.get(DUE)


@pytest.mark.parametrize("engines", [1, 20])
def test_the_lists_behind_it_do_so_too(
    page, make_engine, make_provision, django_assert_num_queries, engines: int
) -> None:
    make_provision(rule__action=within(39))
    make_provision(rule__condition=ASKS)
    for _ in range(engines):
        make_engine()
    with django_assert_num_queries(
        6
    ):  # session, user, membership; unclear, counts, rows
        page.get(OPEN)
    with django_assert_num_queries(4):  # session, user, membership; findings
        page.get(MISSING)

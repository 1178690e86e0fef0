"""One engine: what is due and why, what cannot be said, its parts, its ledger."""

from __future__ import annotations

from datetime import date
from uuid import uuid4

import pytest
from django.urls import reverse

from notices.models import Provision
from tests.factories.compliance import entry, past_entry
from tests.factories.fleet import EngineFactory, EngineTypeFactory, OwnerFactory
from tests.factories.notices import RuleVersionFactory
from tests.tracker.web.reading import rows_of, words_of
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.compliance.ledger import FreeDocument
from tracker.compliance.models import Finding
from tracker.fleet.models import SearchKind
from tracker.fleet.parts import Fit, PartEntry
from tracker.fleet.register import FittingFacts, give_login

ASKS = {"ask": "Is the case stamped R?"}


def within(hours: float) -> dict:
    return {"initial": {"hours": hours, "after": "effective"}}


def at(name: str, engine) -> str:
    return reverse(f"web:{name}", args=[engine.public_id])


def row_with(response, text: str) -> str:
    [row] = [row for row in rows_of(response) if text in row]
    return row


def test_a_finding_says_its_state_its_due_point_and_why(
    page, make_engine, make_provision
) -> None:
    make_provision(
        rule__action=within(39), rule__condition={"serial": ["1..9999"]}, title="Look"
    )
    response = page.get(at("engine", make_engine(serial="4711")))
    row = row_with(response, "Look")
    assert row.startswith("overdue SB-")
    assert "Serial number 4711 is from 1 to 9999." in row
    assert row.endswith("519.0 h −1.0 h")
    assert "1 item is overdue" in words_of(response)


def test_the_two_rulers_stand_under_the_facts(
    page, make_engine, make_provision
) -> None:
    make_provision(rule__action=within(60))
    make_provision(rule__action={"initial": {"date": "2027-03-01"}})
    make_provision(rule__action={"initial": {"event": "overhaul"}}, number="SB-900")
    response = page.get(at("engine", make_engine()))
    drawn = response.content.decode()
    assert "540.0" in drawn
    assert "1 Mar 2027" in drawn
    assert "Figure 1. Hours." in words_of(response)
    assert "Figure 2. Dates." in words_of(response)
    assert "SB-900, at overhaul" in words_of(response)


def test_what_cannot_be_said_names_the_fact_and_what_hangs_on_it(
    page, make_engine, make_provision
) -> None:
    make_provision(rule__condition=ASKS, number="SB-901")
    response = page.get(at("engine", make_engine()))
    rows = [row for row in rows_of(response) if "stamped R" in row]
    assert any(row.startswith("undetermined") for row in rows)
    assert rows[-1].endswith("SB-901")
    assert (
        "1 cannot be said and is to be treated as open until one fact is known"
        in words_of(response)
    )


def test_what_is_complied_with_stands_apart_with_its_record(
    page, technician, make_engine, make_provision, now
) -> None:
    provision = make_provision()
    engine = make_engine()
    done = entry(date(2026, 11, 20), hours=51_000, provision=provision)
    changes.record_work(technician, engine, done, at=now)
    response = page.get(at("engine", engine))
    rows = rows_of(response)
    closed = rows.index("Closed, or nothing due")
    assert rows[closed + 1].startswith("complied with")
    assert "Last done at 510.0 h on 20 Nov 2026" in rows[closed + 1]
    assert any("Runa Tveit, inspection authorization ZZ-4471" in row for row in rows)
    assert "Nothing is overdue" in words_of(response)


def test_a_voided_record_says_by_which_it_was_voided(
    page, technician, make_engine, now
) -> None:
    engine = make_engine()
    past = past_entry(date(2026, 3, 1), document=FreeDocument(number="SB-77"))
    record = changes.record_work(technician, engine, past, at=now)
    changes.void_record(technician, record, reason="wrong engine", at=now)
    response = page.get(at("engine", engine))
    assert "Voided by record 2." in row_with(response, "SB-77")
    assert "wrong engine" in row_with(response, "Voids record 1")
    assert "transcribed from logbook, page 17" in words_of(response)


def test_what_is_not_adopted_names_who_and_why(
    page, technician, make_engine, make_provision, now
) -> None:
    provision = make_provision(rule__action=within(10))
    engine = make_engine()
    changes.decline(
        technician,
        engine,
        provision.revision.publication,
        person="P. Aldermoor",
        reason="the pump is inspected each year",
        true_from=date(2026, 11, 1),
        at=now,
    )
    row = row_with(page.get(at("engine", engine)), "P. Aldermoor")
    assert row.startswith("not adopted")
    assert "the pump is inspected each year" in row


def test_a_prohibition_is_in_force_and_has_nothing_left_to_run(
    page, make_engine, make_provision
) -> None:
    provision = make_provision(
        kind="AD", title="Do not fit a pump P-8801", rule__action={}
    )
    Provision.objects.filter(pk=provision.pk).update(kind=Provision.Kind.PROHIBITION)
    row = row_with(page.get(at("engine", make_engine())), "Do not fit")
    assert row.startswith("outstanding")
    assert row.endswith("always –")


def test_parts_stand_with_their_hours_and_unknown_is_said(
    page, technician, make_engine, now
) -> None:
    engine = make_engine()
    changes.add_part(
        technician,
        engine,
        PartEntry(role="fuel pump", number="P-8801", serial="A-17"),
        Fit(engine_hours=50_000, hours_new=1_000),
        true_from=date(2026, 6, 1),
        at=now,
    )
    row = row_with(page.get(at("engine", engine)), "P-8801")
    assert row == "Fuel pump P-8801, serial A-17 not known 1 Jun 2026 20.0 h 30.0 h"
    history = page.get(at("engine-history", engine))
    assert "fuel pump, P-8801, serial A-17" in words_of(history)


def test_how_far_the_search_went_is_shown_or_said_to_be_open(
    page, technician, make_engine, now
) -> None:
    engine = make_engine()
    changes.note_search(
        technician,
        engine,
        SearchKind.DIRECTIVES,
        searched_to=date(2026, 1, 5),
        source="list of the authority",
        person="Jory Penhale",
        at=now,
    )
    response = page.get(at("engine", engine))
    assert "5 Jan 2026 old: treat as open" in row_with(
        response, "list of the authority"
    )
    assert "how far the search for bulletins went" in words_of(response)


def test_the_page_says_over_how_many_publications_it_looked(
    page, make_engine, make_provision
) -> None:
    make_provision()
    make_provision(
        rule__condition={"serial": ["99999"]}, number="SB-902", title="Other"
    )
    engine = make_engine(serial="12")
    text = words_of(page.get(at("engine", engine)))
    assert "2 of 2 current publications were evaluated, with 2 provisions" in text
    assert "SB-902" not in text
    row = row_with(page.get(at("engine-not-applying", engine)), "SB-902")
    assert row.startswith("does not apply")
    assert "Serial number 12 is not 99999." in row


def test_an_engine_of_which_nothing_is_known_says_so(page, station) -> None:
    engine = EngineFactory(station=station)
    text = words_of(page.get(at("engine", engine)))
    assert "Last reading never read" in text
    assert "not reviewed: what is not recorded is not known" in text
    assert "No record has been made for this engine yet." in text
    assert "No part is recorded as fitted to this engine." in text


def test_a_serial_of_another_shape_is_noted(page, station) -> None:
    made = EngineTypeFactory(station=station, serial_pattern="K-#-#")
    odd = EngineFactory(station=station, engine_type=made, serial="K-612-62B")
    fits = EngineFactory(station=station, engine_type=made, serial="K-612-62")
    note = 'It does not have the shape of the type\'s serials, "K-#-#"'
    assert note in words_of(page.get(at("engine", odd)))
    assert note not in words_of(page.get(at("engine", fits)))


def test_the_aircraft_and_the_owner_stand_at_the_top(
    page, station, make_engine
) -> None:
    engine = make_engine(
        owner=OwnerFactory(station=station, name="Brackwater Flying Group"),
        fitting=FittingFacts(
            fitted=True, aircraft_type="TR-24", registration="ZZ-RHO", position="left"
        ),
    )
    text = words_of(page.get(at("engine", engine)))
    assert "Engine Brackwater Flying Group" in text
    assert "In ZZ-RHO, a TR-24, left." in text


@pytest.mark.parametrize(
    "name", ["engine", "engine-history", "engine-not-applying", "engine-status"]
)
def test_an_engine_that_is_foreign_or_not_there_is_not_found(
    stranger, signed_in, make_engine, viewer_as, station, now, clock_stands, name: str
) -> None:
    engine = make_engine(owner=OwnerFactory(station=station))
    assert signed_in(stranger).get(at(name, engine)).status_code == 404
    other = viewer_as(Role.OWNER)
    give_login(OwnerFactory(station=station), other.user, now)
    assert signed_in(other).get(at(name, engine)).status_code == 404
    assert (
        signed_in(other).get(reverse(f"web:{name}", args=[uuid4()])).status_code == 404
    )


# session, user, membership; engine with type, owner, standing, use and aircraft; parts;
# findings with provision, revision and publication; declined; overhauls; reviews;
# searches; records; messages
ENGINE = 12


@pytest.mark.parametrize("provisions", [1, 300])
def test_the_page_asks_as_often_for_300_findings(
    page, make_engine, make_provision, django_assert_num_queries, provisions: int
) -> None:
    first = make_provision(rule__action=within(39))
    more = [
        Provision(
            station=first.station,
            revision=first.revision,
            order=first.order + 1 + number,
            title=f"Inspect place {number}",
        )
        for number in range(provisions - 1)
    ]
    for provision in Provision.objects.bulk_create(more):
        RuleVersionFactory(
            provision=provision, action=within(39 + provision.order % 60)
        )
    engine = make_engine()
    assert Finding.objects.filter(engine=engine).count() == provisions
    with django_assert_num_queries(ENGINE):
        response = page.get(at("engine", engine))
    assert len(rows_of(response)) >= provisions


@pytest.mark.parametrize("parts", [1, 20])
def test_the_history_asks_as_often_for_many_parts(
    page, technician, make_engine, now, django_assert_num_queries, parts: int
) -> None:
    engine = make_engine()
    for number in range(parts):
        changes.add_part(
            technician,
            engine,
            PartEntry(role="hose", number=f"H-{number}"),
            Fit(place=str(number), engine_hours=50_000),
            true_from=date(2026, 6, 1),
            at=now,
        )
    # session, user, membership; engine; moves, their descriptions and places; fitted
    # parts, descriptions, overhauls, readings; modifications, attributes, overhauls,
    # events, reviews, meters, newest readings, readings counted
    with django_assert_num_queries(19):
        page.get(at("engine-history", engine))


def test_a_part_that_came_with_the_engine_is_on_it_since_new(
    page, engine, technician, now
) -> None:
    changes.add_part(
        technician,
        engine,
        PartEntry(role="camshaft", number="C-1"),
        Fit(date_known=False, fitted_new=True),
        true_from=date(2020, 3, 1),
        at=now,
    )
    for role in ("camshaft", "magneto"):
        changes.review(
            technician, engine, role, "R. Tveit", true_from=date(2026, 11, 20), at=now
        )
    response = page.get(reverse("web:engine", args=[engine.public_id]))
    [row] = [row for row in rows_of(response) if row.startswith("Camshaft")]
    assert "since new" in row
    assert "Reviewed 20 Nov 2026: camshaft, magneto." in words_of(response)

"""Every route and method, as every person, on own and foreign objects.

Source of the method: the table is declared, the resolver is walked, and both must
agree; a foreign object looks like one that is not there. `CI=1` asks every cell,
otherwise every third is asked.
"""

from __future__ import annotations

import copy
import os
from collections.abc import Iterator

import pytest
import time_machine
from django.db import connection
from django.test import override_settings
from django.test.utils import CaptureQueriesContext

from tests.tracker.payloads import PAYLOADS
from tests.tracker.walk import (
    FOUND,
    Answer,
    Cell,
    Who,
    Whose,
    addresses,
    answer_of,
    ask,
    cells,
    client_of,
    digest,
    missing_headers,
    payload,
    swapped,
    text_of,
    undone,
)
from tests.tracker.world import AT, CANARY, World, build, grow
from tracker.routes import METHODS, ROUTES, Audience, Route
from tracker.watch.health import problems

pytestmark = pytest.mark.django_db

STEP = 1 if os.environ.get("CI") else 3
CELLS = list(cells())[::STEP]
PAGES = [route for route in ROUTES if route.method == "GET"]
SENT = [route for route in ROUTES if route.method != "GET"]
ACTS = [route for route in SENT if route.changes]
FORMS = [route for route in ACTS if not route.by_secret]
# Somebody without an account gets there by a link of a mail; the walk's link is old.
BY_LINK = "account_reset_password_from_key"
# Where nobody of no station has a station to choose.
NEEDS_A_STATION = "account_stations"


@pytest.fixture(scope="module")
def built(
    django_db_setup: None, django_db_blocker, tmp_path_factory
) -> Iterator[World]:
    """The two stations, built once for all tests here and then undone."""
    files = tmp_path_factory.mktemp("files")
    folder = override_settings(DOCUMENT_DIR=files, ATTACHMENT_DIR=files)
    with django_db_blocker.unblock(), time_machine.travel(AT), folder, undone():
        problems(AT)  # once in a process it asks whether the tables are migrated
        yield build()


@pytest.fixture
def world(built: World, settings) -> Iterator[World]:
    settings.ACCOUNT_RATE_LIMITS = {}
    with undone():
        yield copy.deepcopy(built)


def test_the_table_and_the_resolver_agree() -> None:
    found = {name: sorted(route.methods) for name, route in FOUND.items()}
    assert found == METHODS


def test_no_row_stands_twice() -> None:
    rows = [(route.name, route.method) for route in ROUTES]
    assert len(rows) == len(set(rows))


def test_every_page_has_a_budget_and_every_act_has_data() -> None:
    assert [route.name for route in PAGES if route.queries is None] == []
    sent = {row for row in PAYLOADS if row[1] != "GET"}
    assert {(route.name, route.method) for route in SENT} == sent


def test_a_route_that_names_an_object_says_so() -> None:
    for route in ROUTES:
        parameters = FOUND[route.name].parameters
        named = tuple(route.names.split(", ")) if route.names else ()
        assert named == parameters or route.name == BY_LINK, route


@pytest.mark.parametrize("who", list(Who), ids=lambda who: who.name.lower())
def test_every_cell_is_answered_as_declared(world: World, who: Who) -> None:
    wrong: list[str] = []
    for cell in CELLS:
        if cell.who is who and not _has_nothing_to_find(cell):
            for address in addresses(cell, world):
                with undone():
                    wrong += faults_of(cell, world, address)
    assert wrong == []


def faults_of(cell: Cell, world: World, address: str) -> list[str]:
    """What is wrong with the answer to one request."""
    client = client_of(cell.who, world)
    before = digest()
    response = ask(client, cell, address, payload(cell, world))
    faults = [f"lacks {name}" for name in missing_headers(response, cell)]
    if CANARY.lower() in text_of(response).lower():
        faults.append("shows something of another station")
    answer, changed = answer_of(response, cell), digest() != before
    if answer is not cell.expected:
        faults.append(f"answered {answer}")
    elif answer is not Answer.OK and changed:
        faults.append("was refused and changed something")
    elif answer is Answer.OK and _must_change(cell) and not changed:
        faults.append("changed nothing")
    elif not cell.route.changes and changed:
        faults.append("changed something although it was only looked at")
    return [f"{cell} ({address}): {fault}" for fault in faults]


def _has_nothing_to_find(cell: Cell) -> bool:
    return cell.route.method == "POST" and (
        cell.route.name == BY_LINK
        or (cell.route.name == NEEDS_A_STATION and cell.who is Who.NOBODY)
    )


def _must_change(cell: Cell) -> bool:
    """Acts under a right change a row of ours; signing in and out need not."""
    return cell.route.changes and not isinstance(cell.route.needs, Audience)


def test_a_foreign_id_in_what_is_sent_changes_nothing(world: World) -> None:
    for route in ACTS:
        cell = Cell(route, Who.ADMINISTRATOR, Whose.OWN)
        [address] = addresses(cell, world)
        for sent in swapped(payload(cell, world), world.own, world.foreign):
            with undone():
                client = client_of(cell.who, world)
                before = digest()
                response = ask(client, cell, address, sent)
                assert 400 <= response.status_code < 500, f"{cell}: {sent}"
                assert CANARY.lower() not in text_of(response).lower(), f"{cell}"
                assert digest() == before, f"{cell}: {sent}"


@pytest.mark.parametrize("route", FORMS, ids=lambda route: route.name)
def test_an_act_without_the_token_of_the_form_is_refused(
    world: World, route: Route
) -> None:
    cell = Cell(route, Who.ADMINISTRATOR, Whose.OWN)
    client = client_of(cell.who, world, enforce_csrf_checks=True)
    [address] = addresses(cell, world)
    before = digest()
    assert ask(client, cell, address, payload(cell, world)).status_code == 403
    assert digest() == before


@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE", "OPTIONS", "TRACE"])
def test_a_method_that_is_not_declared_is_not_answered(
    world: World, method: str
) -> None:
    client = client_of(Who.ADMINISTRATOR, world)
    for route in ROUTES:
        cell = Cell(route, Who.ADMINISTRATOR, Whose.OWN)
        [address] = addresses(cell, world)
        assert client.generic(method, address).status_code == 405, cell


@pytest.mark.parametrize("who", [Who.ADMINISTRATOR, Who.OWNER], ids=lambda w: w.name)
def test_a_page_keeps_its_budget_whatever_the_number_of_rows(
    world: World, who: Who
) -> None:
    asked = [Cell(route, who, Whose.OWN) for route in PAGES]
    allowed = [cell for cell in asked if cell.expected is Answer.OK]
    few = {cell: queries_of(cell, world) for cell in allowed}
    over = {str(c): n for c, n in few.items() if n > (c.route.queries or 0)}
    assert over == {}
    names = world.own.names
    for mark in ("2", "3"):
        grow(world.own, mark)
    world.own.names = names
    many = {cell: queries_of(cell, world) for cell in allowed}
    grown = {str(c): (few[c], many[c]) for c in allowed if few[c] != many[c]}
    assert grown == {}


def queries_of(cell: Cell, world: World) -> int:
    client = client_of(cell.who, world)
    [address] = addresses(cell, world)
    with CaptureQueriesContext(connection) as asked:
        ask(client, cell, address, payload(cell, world))
    return len(asked)


def test_a_foreign_object_looks_like_one_that_is_not_there(world: World) -> None:
    client = client_of(Who.TECHNICIAN, world)
    foreign = client.get(f"/api/v1/engines/{world.foreign.names['engine']}")
    missing = client.get(f"/api/v1/engines/{world.nobody.public_id}")
    assert foreign.status_code == missing.status_code == 404
    assert foreign.content == missing.content
    assert dict(foreign.headers) == dict(missing.headers)

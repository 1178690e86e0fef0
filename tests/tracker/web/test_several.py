"""Several records signed at once: all of them, or none."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from notices.models import Provision
from tests.factories.accounts import PASSWORD
from tests.factories.compliance import entry
from tests.tracker.web.reading import words_of
from tests.tracker.web.test_record_form import said, work
from tests.tracker.web.test_signing import hidden
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.compliance.models import Finding, Method, Record
from tracker.fleet.models import Engine

pytestmark = pytest.mark.django_db


@pytest.fixture
def provision(make_provision: Callable[..., Provision]) -> Provision:
    return make_provision(number="SB-24-011", title="Inspect the fuel pump")


@pytest.fixture
def engines(provision: Provision, make_engine: Callable[..., Engine]) -> list[Engine]:
    return [make_engine(serial=f"43{n:02}") for n in range(3)]


def for_engines(provision: Provision) -> str:
    return reverse("web:publication-record", args=[provision.public_id])


def lines(*findings: Finding, **given: str) -> dict[str, Any]:
    """What the form sends of these lines, each marked as done."""
    sent = work()
    for name in ("hours", "description"):
        del sent[name]
    for finding in findings:
        row = {
            "take": "on",
            "hours": "520",
            "description": "Inspected, no wear.",
            **given,
        }
        sent |= {f"{finding.public_id}-{name}": value for name, value in row.items()}
    return sent


def findings_of(engines: list[Engine]) -> list[Finding]:
    return list(Finding.objects.filter(engine__in=engines).order_by("engine__serial"))


def test_one_action_is_signed_for_many_engines_at_once(
    page: Client, provision: Provision, engines: list[Engine]
) -> None:
    shown = words_of(page.get(for_engines(provision)))
    assert all(engine.serial in shown for engine in engines)
    first, second, _ = findings_of(engines)
    looked = page.post(for_engines(provision), lines(first, second) | {"password": ""})
    assert "Sign 2 records" in said(looked)
    assert not Record.objects.exists()
    answer = page.post(for_engines(provision), hidden(looked) | {"password": PASSWORD})
    assert answer.status_code == 302
    assert {record.engine for record in Record.objects.all()} == set(engines[:2])
    assert [finding.closed for finding in findings_of(engines)] == [
        "complied with",
        "complied with",
        "",
    ]


def test_one_line_that_cannot_be_right_keeps_all_from_the_ledgers(
    page: Client, provision: Provision, engines: list[Engine]
) -> None:
    first, second, _ = findings_of(engines)
    sent = lines(first, second) | {f"{second.public_id}-hours": "521"}
    answer = page.post(for_engines(provision), sent)
    assert answer.status_code == 422
    text = said(answer)
    assert f"Look at the line of {engines[1]}, SB-24-011." in text
    assert "521.00 h is beyond the last reading, 520.00 h" in text
    assert not Record.objects.exists()


def test_what_somebody_else_has_signed_meanwhile_keeps_all_from_the_ledgers(
    page: Client,
    provision: Provision,
    engines: list[Engine],
    technician: Viewer,
    now: datetime,
) -> None:
    found = findings_of(engines)
    sent = lines(*found)
    done = entry(now.date(), hours=52_000, provision=provision)
    changes.record_work(technician, engines[1], done, at=now)
    # The form shows what is open, and this line has gone from it.
    answer = page.post(for_engines(provision), sent)
    assert answer.status_code == 422
    assert "A line that you marked is no longer open" in said(answer)
    assert Record.objects.count() == 1


def test_several_actions_of_one_engine_are_signed_at_once(
    page: Client,
    make_engine: Callable[..., Engine],
    make_provision: Callable[..., Provision],
) -> None:
    for number in ("SB-1", "SB-2", "SB-3"):
        make_provision(number=number)
    engine = make_engine()
    at = reverse("web:engine-record-several", args=[engine.public_id])
    assert "SB-2" in words_of(page.get(at))
    answer = page.post(at, lines(*Finding.objects.order_by("pk")[:2]), follow=True)
    assert "The records are added to the ledger" in said(answer)
    first, second = Record.objects.order_by("sequence")
    assert second.previous_hash == first.hash
    assert {first.document_number, second.document_number} == {"SB-1", "SB-2"}


def test_nothing_marked_is_said(
    page: Client, provision: Provision, engines: list[Engine]
) -> None:
    answer = page.post(for_engines(provision), lines())
    assert answer.status_code == 422
    assert "Nothing is marked as done." in said(answer)


def test_an_alternative_method_is_signed_alone(
    page: Client, provision: Provision, engines: list[Engine]
) -> None:
    sent = lines(findings_of(engines)[0]) | {"method": Method.ALTERNATIVE.value}
    assert page.post(for_engines(provision), sent).status_code == 422


def test_it_is_refused_to_strangers_and_owners(
    provision: Provision,
    engines: list[Engine],
    stranger: Viewer,
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
) -> None:
    sent = lines(*findings_of(engines))
    assert signed_in(stranger).post(for_engines(provision), sent).status_code == 404
    owner = signed_in(viewer_as(Role.OWNER))
    assert owner.post(for_engines(provision), sent).status_code == 403
    assert not Record.objects.exists()


@pytest.mark.parametrize("count", [2, 20])
def test_the_page_takes_as_many_queries_for_many_engines_as_for_few(
    page: Client,
    provision: Provision,
    make_engine: Callable[..., Engine],
    count: int,
    django_assert_num_queries: Any,
) -> None:
    for n in range(count):
        make_engine(serial=f"45{n:02}")
    page.get(for_engines(provision))
    with django_assert_num_queries(6):
        page.get(for_engines(provision))


@pytest.mark.parametrize("count", [2, 12])
def test_signing_for_many_takes_as_many_queries_of_the_ledger_as_for_few(
    technician: Viewer,
    provision: Provision,
    make_engine: Callable[..., Engine],
    now: datetime,
    count: int,
    django_assert_max_num_queries: Any,
) -> None:
    work_of_all = {
        make_engine(serial=f"46{n:02}"): [
            entry(now.date(), hours=52_000, provision=provision)
        ]
        for n in range(count)
    }
    with django_assert_max_num_queries(60):
        changes.sign_work(technician, work_of_all, password=PASSWORD, at=now)
    assert Record.objects.count() == count

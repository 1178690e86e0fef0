"""Enquiries of people without an account: who sees them, and that they can be deleted."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories.accounts import StationFactory
from tests.tracker.web.reading import rows_of, words_of
from tracker.accounts.access import Forbidden, Viewer
from tracker.accounts.models import Role, Station
from tracker.compliance import changes
from tracker.compliance.models import Enquiry
from tracker.fleet.errors import Refused

pytestmark = [pytest.mark.django_db, pytest.mark.both]

LIST = reverse("web:enquiry-list")
START = reverse("web:due")
Leave = Callable[..., Enquiry]


@pytest.fixture
def station() -> Station:
    return StationFactory(check_is_open=True, check_address="lowmoor")


@pytest.fixture
def other_station() -> Station:
    return StationFactory(check_is_open=True, check_address="highmoor")


@pytest.fixture
def leave(station: Station, now: datetime) -> Leave:
    """Return an enquiry left so many minutes ago."""

    def make(name: str, minutes: int = 0, at: Station | None = None) -> Enquiry:
        entry = changes.EnquiryEntry(
            name=name,
            email="ragna@post.example",
            message="Can you <b>help</b>?",
            answer="Answered on 24 November 2026, 11:00.\nThat cannot be said yet.",
            described={
                "type": "MX-4",
                "serial": "4118",
                "entries": [["Type designation", "MX-4"], ["Serial number", "4118"]],
            },
        )
        left = now - timedelta(minutes=minutes)
        return changes.leave_enquiry(at or station, entry, at=left)

    return make


def at(name: str, enquiry: Enquiry) -> str:
    return reverse(f"web:{name}", args=[enquiry.public_id])


def test_those_that_wait_stand_first_the_longest_waiting_on_top(
    page: Client, leave: Leave, technician: Viewer, now: datetime
) -> None:
    answered = leave("Answered", 90)
    leave("Second", 10)
    leave("First", 60)
    changes.mark_enquiry_answered(technician, answered, at=now)
    rows = rows_of(page.get(LIST))[1:]
    assert [row.split(" MX-4")[0] for row in rows] == ["First", "Second", "Answered"]
    assert rows[0].endswith("waits")
    assert rows[2].endswith(f"24 Nov 2026 by {technician.user.name}")


def test_one_enquiry_shows_all_that_was_left_and_nothing_as_markup(
    page: Client, leave: Leave
) -> None:
    one = leave("Ragna Holt")
    answer = page.get(at("enquiry", one))
    text = words_of(answer)
    for part in (
        "Ragna Holt", "ragna@post.example", "Serial number 4118", "Nobody",
        "What they were told", "11:00. That cannot be said yet.",
    ):  # fmt: skip
        assert part in text
    assert "Can you &lt;b&gt;help&lt;/b&gt;?" in answer.content.decode()


def test_answered_is_marked_once_and_the_first_stays_noted(
    page: Client,
    leave: Leave,
    technician: Viewer,
    inspector: Viewer,
    now: datetime,
) -> None:
    one = leave("Ragna Holt")
    assert page.post(at("enquiry-answer", one)).status_code == 302
    later = now + timedelta(hours=1)
    changes.mark_enquiry_answered(inspector, one, at=later)
    one.refresh_from_db()
    assert (one.answered_by, one.answered_at) == (technician.user, now)


def test_deleted_is_gone_for_good(page: Client, leave: Leave) -> None:
    one = leave("Ragna Holt")
    leave("Other")
    answer = page.post(at("enquiry-delete", one), follow=True)
    assert "The enquiry of Ragna Holt is deleted for good." in words_of(answer)
    assert [kept.name for kept in Enquiry.objects.all()] == ["Other"]
    assert page.get(at("enquiry", one)).status_code == 404
    assert page.post(at("enquiry-delete", one)).status_code == 404


def test_another_stations_enquiry_is_not_there(
    page: Client, leave: Leave, technician: Viewer, other_station: Station, now: Any
) -> None:
    foreign = leave("Foreign", at=other_station)
    assert "Foreign" not in words_of(page.get(LIST))
    for name in ("enquiry", "enquiry-answer", "enquiry-delete"):
        ask = page.get if name == "enquiry" else page.post
        assert ask(at(name, foreign)).status_code == 404
    with pytest.raises(Enquiry.DoesNotExist):
        changes.mark_enquiry_answered(technician, foreign, at=now)
    with pytest.raises(Enquiry.DoesNotExist):
        changes.delete_enquiry(technician, foreign)
    foreign.refresh_from_db()
    assert foreign.answered_at is None


def test_an_owner_sees_none(
    leave: Leave, signed_in: Any, viewer_as: Any, now: Any, clock_stands: None
) -> None:
    one, owner = leave("Ragna Holt"), viewer_as(Role.OWNER)
    client = signed_in(owner)
    for address in (LIST, at("enquiry", one)):
        assert client.get(address).status_code == 403
    assert "enquir" not in words_of(client.get(START))
    assert not Enquiry.objects.visible_to(owner).exists()
    with pytest.raises(Forbidden):
        changes.delete_enquiry(owner, one)


def test_the_start_page_says_how_many_wait(
    page: Client, leave: Leave, technician: Viewer, now: Any
) -> None:
    assert "enquir" not in words_of(page.get(START))
    first = leave("First")
    assert "1 enquiry waits from the check page." in words_of(page.get(START))
    leave("Second")
    assert "2 enquiries wait from the check page." in words_of(page.get(START))
    changes.mark_enquiry_answered(technician, first, at=now)
    assert "1 enquiry waits" in words_of(page.get(START))


def test_the_header_leads_there_while_the_check_page_is_open(
    page: Client, station: Station
) -> None:
    link = f'<a href="{LIST}" aria-current="page">Enquiries</a>'
    assert link in page.get(LIST).content.decode()
    Station.objects.update(check_is_open=False)
    assert link not in page.get(LIST).content.decode()


def test_the_empty_list_says_what_would_fill_it(page: Client, station: Station) -> None:
    assert "One is listed here when somebody asks for it" in words_of(page.get(LIST))
    Station.objects.update(check_is_open=False)
    assert "The check page of the station is switched off." in words_of(page.get(LIST))


@pytest.mark.parametrize("count", [1, 20])
def test_the_list_asks_as_often_for_many(
    page: Client, leave: Leave, django_assert_num_queries: Any, count: int
) -> None:
    for number in range(count):
        leave(f"Visitor {number}", number)
    # session, user, membership; enquiries counted; enquiries
    with django_assert_num_queries(5):
        page.get(LIST)


def test_there_is_a_second_page(page: Client, leave: Leave) -> None:
    for number in range(51):
        leave(f"Visitor {number}", number)
    assert "51 to 51 of 51 enquiries" in words_of(page.get(LIST, {"page": "2"}))


def test_nobody_is_kept_who_cannot_be_reached(station: Station, now: Any) -> None:
    entry = changes.EnquiryEntry(name="Ragna Holt", described={})
    with pytest.raises(Refused, match="Give an e-mail address or a telephone"):
        changes.leave_enquiry(station, entry, at=now)
    assert not Enquiry.objects.exists()

"""A document told to all owners whom it concerns: nothing before the confirmation."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from notices.models import Provision, Publication
from tests.factories.fleet import OwnerFactory
from tests.factories.notices import PublicationFactory
from tests.tracker.web.reading import rows_of, words, words_of
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role, Station
from tracker.fleet.models import Engine, Owner, Preference
from tracker.watch.models import HoursLink, Message

pytestmark = [pytest.mark.django_db, pytest.mark.both]

ALWAYS: dict[str, Any] = {"initial": {"hours": 700, "after": "new"}}


@pytest.fixture
def publication(make_provision: Callable[..., Provision]) -> Publication:
    provision = make_provision(
        number="SB-26-003",
        rule__action=ALWAYS,
        category=Provision.Category.RECOMMENDED,
    )
    return provision.revision.publication


@pytest.fixture
def club(station: Station, publication: Publication, make_engine: Any) -> Owner:
    """An owner of two engines that the publication concerns."""
    owner = OwnerFactory(
        station=station, name="Ostrel Flying Club", email="office@ostrel.example"
    )
    make_engine(owner=owner)
    make_engine(owner=owner)
    return owner


def at(publication: Publication) -> str:
    return reverse("web:publication-tell", args=[publication.public_id])


def test_what_would_be_written_is_shown_and_nothing_is_written(
    page: Client, club: Owner, publication: Publication
) -> None:
    card = reverse("web:publication", args=[publication.public_id])
    assert "Tell the owners" in words_of(page.get(card))
    answer = page.post(at(publication), {"note": "The kit is <b>here</b>."})
    text = words_of(answer)
    assert "Nothing is written yet. 1 owner of 2 engines would be told." in text
    assert "Ostrel Flying Club office@ostrel.example" in text
    assert "The kit is <b>here</b>." in text
    assert "&lt;b&gt;here" in answer.content.decode()
    assert "Write 1 message" in text
    assert not Message.objects.exists()
    assert not HoursLink.objects.exists()


def test_confirmed_it_is_written_once_however_often_it_is_pressed(
    page: Client, club: Owner, publication: Publication, make_engine: Any
) -> None:
    other = OwnerFactory(station=club.station, email="r@post.example")
    make_engine(owner=other)
    sent = {"note": "The kit is here.", "confirm": "1"}
    text = words_of(page.post(at(publication), sent, follow=True))
    assert "2 messages are written, and will be sent." in text
    assert set(Message.objects.values_list("owner", flat=True)) == {club.pk, other.pk}
    assert "The kit is here." in Message.objects.get(owner=club).text
    again = words_of(page.post(at(publication), sent, follow=True))
    assert "Nothing was written: all of them were told so before." in again
    assert Message.objects.count() == 2


def test_who_is_not_told_stands_with_the_reason(
    page: Client,
    club: Owner,
    publication: Publication,
    make_engine: Any,
    administrator: Viewer,
    now: datetime,
) -> None:
    def owner(name: str, email: str = "post@post.example", **preference: Any) -> None:
        made = OwnerFactory(station=club.station, name=name, email=email)
        Preference.objects.create(owner=made, **preference)
        make_engine(owner=made)

    owner("A. Without", email="")
    owner("B. Refused", refused_address="post@post.example", refused_at=now)
    owner(
        "C. Silent",
        silenced_at=now,
        silenced_reason="Gave up flying.",
        silenced_by=administrator.user,
    )
    owner("D. Unwilling", optional=False)
    make_engine()
    answer = page.post(at(publication), {"note": ""})
    text = words_of(answer)
    assert "1 owner of 2 engines would be told." in text
    assert "1 engine that it concerns has no owner." in text
    assert rows_of(answer)[1:] == [
        "A. Without has no address",
        "B. Refused post@post.example was refused",
        "C. Silent is told nothing: Gave up flying.",
        "D. Unwilling does not want to be told what nobody is obliged to do",
    ]


def test_where_nobody_can_be_told_there_is_nothing_to_confirm(
    page: Client, engine: Engine, publication: Publication
) -> None:
    text = words_of(page.post(at(publication), {"note": ""}))
    assert "Nothing is written yet. Nobody would be told." in text
    assert "Write 0" not in text


@pytest.mark.parametrize("confirm", [{}, {"confirm": "1"}], ids=["look", "confirm"])
def test_a_note_that_is_too_long_is_marked_and_nothing_is_written(
    page: Client, club: Owner, publication: Publication, confirm: dict[str, str]
) -> None:
    answer = page.post(at(publication), {"note": "x" * 4001} | confirm)
    assert answer.status_code == 422
    assert "at most 4000 are kept" in words(answer.content.decode())
    assert not Message.objects.exists()


def test_a_publication_without_a_current_revision_is_told_to_nobody(
    page: Client, station: Station
) -> None:
    alone = PublicationFactory(station=station)
    card = reverse("web:publication", args=[alone.public_id])
    assert "Tell the owners" not in words_of(page.get(card))
    assert page.get(at(alone)).status_code == 404


def test_another_stations_publication_is_not_there_and_owners_may_not(
    page: Client,
    publication: Publication,
    other_station: Station,
    signed_in: Any,
    viewer_as: Any,
) -> None:
    foreign = PublicationFactory(station=other_station)
    assert page.post(at(foreign), {"confirm": "1"}).status_code == 404
    client = signed_in(viewer_as(Role.OWNER))
    assert client.post(at(publication), {"confirm": "1"}).status_code == 403
    assert not Message.objects.exists()


@pytest.mark.parametrize("owners", [1, 8])
def test_the_preview_asks_as_often_for_many_owners(
    page: Client,
    station: Station,
    publication: Publication,
    make_engine: Any,
    django_assert_num_queries: Any,
    owners: int,
) -> None:
    for number in range(owners):
        make_engine(
            owner=OwnerFactory(station=station, email=f"o{number}@post.example")
        )
    # session, user, membership; publication; revision; counts, who is first, their
    # findings, their row; who is not told; engines of nobody
    with django_assert_num_queries(11):
        page.post(at(publication), {"note": ""})

"""Publications by their form: entered, corrected, refused with the reason."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from notices.models import Publication, Reference
from tests.factories.notices import PublicationFactory, RevisionFactory
from tests.tracker.web.reading import words
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role, Station

pytestmark = pytest.mark.django_db

ENTRY = {
    "kind": "SB",
    "number": "SB-24-011",
    "issuer": "Halvorsen Engines",
    "title": "Oil feed to valve guides",
}


def said(response: HttpResponse) -> str:
    return words(response.content.decode())


def test_a_publication_is_entered_and_links_what_named_it_before(
    page: Client, station: Station
) -> None:
    older = RevisionFactory(publication__station=station)
    named = Reference.objects.create(
        revision=older, kind="refers to", number="SB 24 011", number_key="SB24011"
    )
    answer = page.post(reverse("web:publication-add"), ENTRY, follow=True)
    entered = Publication.objects.get(number="SB-24-011")
    assert answer.redirect_chain[-1][0] == reverse(
        "web:publication", args=[entered.public_id]
    )
    assert "The publication is entered. Enter its revision next." in said(answer)
    named.refresh_from_db()
    assert named.publication == entered


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"title": ""}, "This cannot be left out."),
        ({"kind": "XX"}, "Choose one from the list; what was sent is not in it."),
        ({"number": "---"}, "Write the number of the document, as in SB-24-011."),
        ({"issuer": "x" * 121}, "At most 120 characters, found 121."),
        (
            {"number": "sb 24/009"},
            '"SB-24-009" is in the library already: Inspect the fuel pump. Add a '
            "revision to it, or write another number.",
        ),
    ],
)
def test_what_cannot_be_right_is_refused_and_nothing_is_kept(
    page: Client, station: Station, given: dict[str, str], message: str
) -> None:
    PublicationFactory(station=station, number="SB-24-009")
    before = list(Publication.objects.values())
    if "number" in given:
        given = {"number": given["number"].replace("/", " ")}
    answer = page.post(reverse("web:publication-add"), {**ENTRY, **given})
    assert answer.status_code == 422
    assert message in said(answer)
    assert list(Publication.objects.values()) == before


def test_an_entry_is_corrected_and_the_change_is_said(
    page: Client, station: Station
) -> None:
    kept = PublicationFactory(station=station, **ENTRY)
    at = reverse("web:publication-change", args=[kept.public_id])
    answer = page.post(at, {**ENTRY, "title": "Oil feed"}, follow=True)
    assert "Title: Oil feed, was Oil feed to valve guides." in said(answer)
    kept.refresh_from_db()
    assert kept.title == "Oil feed"
    again = page.post(at, {**ENTRY, "title": "Oil feed"}, follow=True)
    assert "Nothing is different, so nothing was written." in said(again)


def test_a_stranger_finds_nothing_and_an_owner_may_not(
    station: Station,
    stranger: Viewer,
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
) -> None:
    kept = PublicationFactory(station=station, **ENTRY)
    at = reverse("web:publication-change", args=[kept.public_id])
    sent = {**ENTRY, "title": "Taken over"}
    assert signed_in(stranger).post(at, sent).status_code == 404
    assert signed_in(viewer_as(Role.OWNER)).post(at, sent).status_code == 403
    kept.refresh_from_db()
    assert kept.title == ENTRY["title"]

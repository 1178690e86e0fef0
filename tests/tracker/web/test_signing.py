"""Signing: what was entered is looked at first, then signed with the password."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from notices.models import Provision
from tests.factories.accounts import PASSWORD
from tests.tracker.web.test_record_form import recording, said, work
from tracker.accounts.access import Viewer
from tracker.accounts.passwords import MOST_WRONG
from tracker.compliance.ledger import open_attachment
from tracker.compliance.models import Attachment, Record
from tracker.fleet.models import Engine

pytestmark = pytest.mark.django_db
PHOTO = b"\xff\xd8\xff\xe0photo\xff\xd9"
SCAN = b"%PDF-1.4 page\n%%EOF\n"


@pytest.fixture
def provision(make_provision: Callable[..., Provision]) -> Provision:
    return make_provision(number="SB-24-011", title="Inspect the fuel pump")


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Any) -> None:
    settings.ATTACHMENT_DIR = tmp_path


def unsigned(**given: Any) -> dict[str, Any]:
    sent = work(**given)
    del sent["password"]
    return sent


def hidden(answer: Any) -> dict[str, list[str]]:
    """What the page carries on in its first form, as a browser would send it."""
    text = answer.content.decode()
    first = text[text.index('<form class="ask"') :].split("</form>")[0]
    found: dict[str, list[str]] = {}
    pattern = r'<input type="hidden" name="([^"]+)" value="([^"]*)">'
    for name, value in re.findall(pattern, first):
        if name != "csrfmiddlewaretoken":
            found.setdefault(name, []).append(unescape(value))
    return found


def test_the_entry_is_shown_as_it_will_stand_and_nothing_is_kept(
    page: Client, engine: Engine, provision: Provision
) -> None:
    answer = page.post(recording(engine, provision), unsigned())
    assert answer.status_code == 200
    text = said(answer)
    revision = provision.revision.label
    assert f"SB-24-011, revision {revision}: Inspect the fuel pump." in text
    assert (
        "Approved for return to service, for the work stated here only: Runa Tveit, "
        "inspection authorization ZZ-4471." in text
    )
    assert "Your password" in text
    assert not Record.objects.exists()


def test_what_was_looked_at_is_signed_as_it_was_shown(
    page: Client, engine: Engine, provision: Provision
) -> None:
    at = recording(engine, provision)
    looked = page.post(at, unsigned())
    answer = page.post(at, {**hidden(looked), "password": PASSWORD})
    assert answer.status_code == 302
    assert Record.objects.get().text["signed_by"]


def test_what_was_looked_at_can_be_changed_before_it_is_signed(
    page: Client, engine: Engine, provision: Provision
) -> None:
    at = recording(engine, provision)
    looked = page.post(at, unsigned(description="A wrong word."))
    again = page.post(at, {**hidden(looked), "change": "1"})
    assert again.status_code == 200
    assert "A wrong word." in again.content.decode()
    assert "Nothing has been kept yet" not in said(again)


@pytest.mark.parametrize("password", ["", "not that one"])
def test_without_the_password_nothing_is_signed(
    page: Client, engine: Engine, provision: Provision, password: str
) -> None:
    answer = page.post(recording(engine, provision), work(password=password))
    assert answer.status_code == 422
    assert "Nothing has been signed yet." in said(answer)
    assert hidden(answer)["description"] == [work()["description"]]
    assert not Record.objects.exists()


def test_after_many_wrong_passwords_not_even_the_right_one_signs(
    page: Client, engine: Engine, provision: Provision
) -> None:
    at = recording(engine, provision)
    for _ in range(MOST_WRONG):
        assert "That is not your password." in said(page.post(at, work(password="no")))
    refused = page.post(at, work())
    assert refused.status_code == 422
    assert "wrong too often" in said(refused)
    assert not Record.objects.exists()


def test_files_are_carried_through_the_look_and_tied_to_the_record(
    page: Client, engine: Engine, provision: Provision
) -> None:
    at = recording(engine, provision)
    files = [
        SimpleUploadedFile("crank pin.JPG", PHOTO),
        SimpleUploadedFile("page 7.pdf", SCAN),
    ]
    looked = page.post(at, unsigned(attachments=files))
    assert "Attached: crank pin.jpg, SHA-256 begins" in said(looked)
    assert not Attachment.objects.exists()
    answer = page.post(at, {**hidden(looked), "password": PASSWORD})
    assert answer.status_code == 302
    rows = list(Attachment.objects.order_by("order"))
    assert [row.name for row in rows] == ["crank pin.jpg", "page 7.pdf"]
    assert [open_attachment(row) for row in rows] == [PHOTO, SCAN]


def test_a_file_that_is_no_photograph_is_refused_by_what_it_holds(
    page: Client, engine: Engine, provision: Provision
) -> None:
    web_page = SimpleUploadedFile("photo.jpg", b"<html><script></script></html>")
    sent = unsigned(attachments=[web_page])
    answer = page.post(recording(engine, provision), sent)
    assert answer.status_code == 422
    assert "is no photograph (JPEG or PNG) and no PDF by what it holds" in said(answer)


def test_a_token_of_somebody_else_s_making_names_no_file(
    page: Client, engine: Engine, provision: Provision
) -> None:
    answer = page.post(recording(engine, provision), work(carried=["made:up:token"]))
    assert answer.status_code == 422
    assert not Record.objects.exists()


def test_an_inspection_that_found_something_lists_it_for_the_owner(
    page: Client, engine: Engine, provision: Provision
) -> None:
    sent = work(
        airframe_hours="900.5",
        airworthy="no",
        extent="annual inspection, engine and nacelle group",
        discrepancies="Oil cooler line chafed.\n\nBaffle cracked at the left rear.",
    )
    answer = page.post(recording(engine, provision), sent, follow=True)
    record = Record.objects.get()
    assert record.text["inspection"]["discrepancies"] == [
        "Oil cooler line chafed.",
        "Baffle cracked at the left rear.",
    ]
    text = said(answer)
    assert "Aircraft total time in service 900.50 h" in text
    assert "2. Baffle cracked at the left rear." in text
    assert "Not approved for return to service." in text


def test_the_password_is_that_of_who_signs_not_of_somebody_else(
    signed_in: Callable[[Viewer], Client],
    technician: Viewer,
    inspector: Viewer,
    engine: Engine,
    provision: Provision,
) -> None:
    inspector.user.set_password("the inspector's own")
    inspector.user.save(update_fields=["password"])
    client = signed_in(technician)
    answer = client.post(
        recording(engine, provision), work(password="the inspector's own")
    )
    assert answer.status_code == 422
    assert not Record.objects.exists()

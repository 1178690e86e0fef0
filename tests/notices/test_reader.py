"""Stored documents are read in a process of their own, which nothing can break out of."""

from __future__ import annotations

import time
from datetime import datetime
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from pytest_django import Settings

from notices.documents import store
from notices.models import Document
from notices.reader import read_document, read_in_child
from notices.reading.pages import Outcome
from tests.factories.accounts import UserFactory
from tests.factories.notices import DocumentFactory
from tests.notices.reading.drawn_pdfs import drawn, encrypted, inflating, scanned
from tracker.accounts.models import Station


@pytest.fixture
def stored(
    settings: Settings, tmp_path: Path, station: Station, now: datetime
) -> dict[str, Document]:
    settings.DOCUMENT_DIR = tmp_path
    contents = {
        "text.pdf": drawn([["Page one."], ["Page two."]]),
        "scan.pdf": scanned(),
        "locked.pdf": encrypted(user="secret", owner="other"),
        "bomb.pdf": inflating(300),
        "broken.pdf": b"%PDF-1.7\nnothing in it\n%%EOF\n",
    }
    return {
        name: store(content, name=name, station=station, by=UserFactory(), at=now)
        for name, content in contents.items()
    }


def test_a_child_reads_what_the_parent_would() -> None:
    pages = read_in_child(drawn([["Page one."], ["Page two."]]))
    assert pages.outcome is Outcome.READ
    assert pages.count == 2
    assert pages.texts == ("Page one.", "Page two.")


def test_a_child_that_takes_too_long_is_ended() -> None:
    started = time.monotonic()
    assert read_in_child(drawn(), wall_seconds=0.01).outcome is Outcome.LIMIT
    assert time.monotonic() - started < 5


def test_each_waiting_document_is_read_once_and_said(
    stored: dict[str, Document],
) -> None:
    out = StringIO()
    call_command("read_pdfs", stdout=out)
    assert out.getvalue().splitlines() == [
        "text.pdf: text read, 2 pages",
        "scan.pdf: no text on any page: a scan, 1 page",
        "locked.pdf: could not be read: encrypted",
        "bomb.pdf: could not be read: larger than the limits allow",
        "broken.pdf: could not be read: damaged",
    ]
    document = Document.objects.get(name="text.pdf")
    assert document.page_texts == ["Page one.", "Page two."]
    again = StringIO()
    call_command("read_pdfs", stdout=again)
    assert again.getvalue() == ""


def test_a_lost_file_fails_with_a_sentence_and_the_others_are_read(
    stored: dict[str, Document],
) -> None:
    DocumentFactory(station=stored["text.pdf"].station, name="gone.pdf")
    out, err = StringIO(), StringIO()
    with pytest.raises(CommandError, match="1 could not be read"):
        call_command("read_pdfs", stdout=out, stderr=err)
    assert "gone.pdf is missing from the store" in err.getvalue()
    assert len(out.getvalue().splitlines()) == 5
    assert Document.objects.waiting().get().name == "gone.pdf"


def test_what_another_process_has_read_meanwhile_is_left_alone(
    stored: dict[str, Document],
) -> None:
    document = stored["text.pdf"]
    Document.objects.filter(pk=document.pk).update(reading="read", text="theirs")
    assert read_document(document) is False
    document.refresh_from_db()
    assert document.text == "theirs"

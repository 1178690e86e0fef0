"""Documents: what is taken, how it is kept, and how it is given out."""

from __future__ import annotations

import os
from datetime import datetime
from email.message import Message
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest_django import Settings

from notices import documents
from notices.documents import (
    DocumentLost,
    DocumentRefused,
    clean_name,
    open_document,
    serve_headers,
    store,
)
from notices.models import Document
from tests.factories.accounts import UserFactory
from tests.factories.notices import DocumentFactory
from tests.notices.reading.drawn_pdfs import drawn
from tracker.accounts.models import Station


@pytest.fixture
def kept_in(settings: Settings, tmp_path: Path) -> Path:
    settings.DOCUMENT_DIR = tmp_path / "documents"
    return tmp_path / "documents"


@pytest.fixture
def stored(station: Station, now: datetime, kept_in: Path) -> Any:
    def make(content: bytes = drawn(), name: str = "SB-001.pdf", at: Any = None) -> Any:
        return store(
            content, name=name, station=at or station, by=UserFactory(), at=now
        )

    return make


def files_in(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def test_a_pdf_is_kept_under_its_hash_and_waits_to_be_read(
    stored: Any, kept_in: Path
) -> None:
    document = stored()
    path = kept_in / document.sha256[:2] / f"{document.sha256}.pdf"
    assert files_in(kept_in) == [path]
    assert path.read_bytes() == drawn() == open_document(document)
    assert document.size == len(drawn())
    assert document.reading == Document.Reading.WAITING


def test_the_same_bytes_are_one_document_whatever_their_name(
    stored: Any, kept_in: Path
) -> None:
    assert stored(name="a.pdf").pk == stored(name="b.pdf").pk
    assert Document.objects.get().name == "a.pdf"
    assert len(files_in(kept_in)) == 1


def test_two_stations_never_share_a_document(
    stored: Any, other_station: Station
) -> None:
    mine, theirs = stored(), stored(at=other_station)
    assert mine.pk != theirs.pk
    assert list(Document.objects.for_station(other_station)) == [theirs]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", 'does not begin with "%PDF-"'),
        (b"Dear customer", 'does not begin with "%PDF-"'),
        # A web page that carries a PDF further in: both readers would open it.
        (b"<html><script>x</script>" + drawn(), 'does not begin with "%PDF-"'),
        (b"\n" + drawn(), 'does not begin with "%PDF-"'),
        (drawn()[:500], "the end of the PDF is missing"),
        (drawn() + b" " * 2000, "the end of the PDF is missing"),
    ],
)
def test_what_is_no_whole_pdf_is_refused_and_nothing_is_kept(
    stored: Any, kept_in: Path, content: bytes, message: str
) -> None:
    with pytest.raises(DocumentRefused, match=message):
        stored(content)
    assert not Document.objects.exists()
    assert files_in(kept_in) == []


def test_a_file_over_the_limit_is_refused_and_one_at_it_is_taken(
    stored: Any, settings: Settings
) -> None:
    settings.DOCUMENT_LIMIT_BYTES = len(drawn())
    assert stored().size == len(drawn())
    settings.DOCUMENT_LIMIT_BYTES -= 1
    with pytest.raises(DocumentRefused, match="at most"):
        stored()


def test_a_disk_that_fails_leaves_nothing_half_written(
    stored: Any, kept_in: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(DocumentRefused, match="the disk refused it"):
        stored()
    assert files_in(kept_in) == []
    assert not Document.objects.exists()


def test_a_lost_file_is_named_and_comes_back_with_the_next_upload(
    stored: Any, kept_in: Path
) -> None:
    document = stored()
    files_in(kept_in)[0].unlink()
    with pytest.raises(DocumentLost, match=r"SB-001\.pdf is missing from the store"):
        open_document(document)
    assert open_document(stored()) == drawn()


def test_an_altered_file_is_never_given_out(stored: Any, kept_in: Path) -> None:
    document = stored()
    files_in(kept_in)[0].write_bytes(drawn() + b"\n")
    with pytest.raises(DocumentLost, match="is not the one that was stored"):
        open_document(document)


@pytest.mark.parametrize(
    ("given_name", "label"),
    [
        ("SB-24-011 rev 2.pdf", "SB-24-011 rev 2.pdf"),
        ("bulletin", "bulletin.pdf"),
        ("Bulletin.PDF", "Bulletin.pdf"),
        # No way out of a folder, no hidden file.
        ("../../etc/passwd", "passwd.pdf"),
        ("C:\\scans\\SB 1.pdf", "SB 1.pdf"),
        ("..", "document.pdf"),
        (".pdf", "document.pdf"),
        ("", "document.pdf"),
        # Breaks in lines, and marks that turn the direction of writing.
        ("a\r\nb\x00.pdf", "a b.pdf"),
        ("invoice\u202efdp.exe", "invoicefdp.exe.pdf"),
        # One character, however it was typed.
        ("Mu\u0308ller.pdf", "M\u00fcller.pdf"),
        ("x" * 300 + ".pdf", "x" * 116 + ".pdf"),
    ],
)
def test_a_name_becomes_a_harmless_label(given_name: str, label: str) -> None:
    assert clean_name(given_name) == label


@given(st.text(max_size=300))
def test_any_name_becomes_a_label_that_stays_as_it_is(name: str) -> None:
    label = clean_name(name)
    assert 5 <= len(label) <= documents.LONGEST_NAME
    assert clean_name(label) == label
    assert not set(label) & set("/\\\r\n\x00\u202e")


@pytest.mark.django_db
@pytest.mark.parametrize(
    "name", ["SB-001.pdf", 'a "quoted" one.pdf', "M\u00fcller \u2192 rev;2.pdf"]
)
def test_a_document_is_served_as_an_attachment_under_its_own_name(name: str) -> None:
    headers = serve_headers(DocumentFactory.build(name=name))
    said = Message()
    said["Content-Disposition"] = headers.pop("Content-Disposition")
    assert said.get_content_disposition() == "attachment"
    assert said.get_filename() == name
    assert headers == {
        "Content-Type": "application/pdf",
        "X-Content-Type-Options": "nosniff",
        "Cache-Control": "no-store",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Content-Security-Policy": "default-src 'none'; sandbox",
    }

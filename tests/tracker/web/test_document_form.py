"""The document of a revision: uploaded, refused, downloaded, its text shown."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from notices.models import Document, Provision, Revision
from tests.tracker.web.reading import words, words_of
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role

pytestmark = pytest.mark.django_db

PDF = b"%PDF-1.4\n% a notice\ntrailer\n%%EOF\n"


@pytest.fixture(autouse=True)
def documents(settings, tmp_path: Path) -> Path:
    settings.DOCUMENT_DIR = tmp_path
    return tmp_path


@pytest.fixture
def revision(make_provision: Callable[..., Provision]) -> Revision:
    return make_provision(number="SB-24-011").revision


def adding(revision: Revision) -> str:
    return reverse("web:publication-document-add", args=[revision.public_id])


def file(content: bytes = PDF, name: str = "notice.pdf") -> dict[str, object]:
    return {"file": SimpleUploadedFile(name, content)}


def said(response: HttpResponse) -> str:
    return words(response.content.decode())


def test_a_document_is_added_and_given_out_as_an_attachment(
    page: Client, revision: Revision
) -> None:
    answer = page.post(adding(revision), file(name="../å notice.PDF"), follow=True)
    assert "The document is added. Its text is not read yet" in said(answer)
    assert "text not read yet" in said(answer)
    document = Document.objects.get()
    assert Revision.objects.get().document == document
    got = page.get(reverse("web:publication-document", args=[document.public_id]))
    assert got.content == PDF
    assert got["Content-Type"] == "application/pdf"
    assert got["X-Content-Type-Options"] == "nosniff"
    assert got["Content-Disposition"].startswith("attachment; filename")
    assert "/" not in got["Content-Disposition"].replace("utf-8''", "")


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"<html></html>", 'The file is not a PDF: it does not begin with "%PDF-".'),
        (
            b"%PDF-1.4 cut off",
            "The file is not complete: the end of the PDF is missing.",
        ),
        (b"", "The file is empty. Fetch the document again and upload it."),
        (PDF + b"%" * 2000 + PDF, "The file has 0.0 MB; at most 0.001 MB are taken."),
    ],
)
def test_what_is_no_whole_pdf_is_refused_and_nothing_is_stored(
    page: Client,
    revision: Revision,
    settings,
    documents: Path,
    content: bytes,
    message: str,
) -> None:
    settings.DOCUMENT_LIMIT_BYTES = 1000
    answer = page.post(adding(revision), file(content))
    assert answer.status_code == 422
    assert message in said(answer)
    assert not Document.objects.exists()
    assert list(documents.iterdir()) == []
    assert Revision.objects.get().document is None


def test_a_form_without_a_file_says_so(page: Client, revision: Revision) -> None:
    answer = page.post(adding(revision), {})
    assert answer.status_code == 422
    assert "This cannot be left out." in said(answer)
    assert 'enctype="multipart/form-data"' in answer.content.decode()


def test_the_document_of_a_confirmed_revision_stays(
    page: Client, revision: Revision
) -> None:
    page.post(adding(revision), file())
    first = Revision.objects.get().document
    answer = page.post(adding(revision), file(PDF.replace(b"notice", b"others")))
    assert answer.status_code == 422
    assert "is confirmed with another document, which stays as its proof." in said(
        answer
    )
    assert Revision.objects.get().document == first
    assert Document.objects.count() == 1


def test_the_text_is_shown_page_by_page_once_it_was_read(
    page: Client, revision: Revision
) -> None:
    page.post(adding(revision), file())
    document = Document.objects.get()
    at = reverse("web:publication-document-text", args=[document.public_id])
    assert "The text has not been read yet." in words_of(page.get(at))
    document.reading, document.pages = Document.Reading.READ, 2
    document.text = "Replace the <pump>.\f"
    document.save()
    shown = words_of(page.get(at))
    assert "Text read, 2 pages." in shown
    assert "Page 1 Replace the <pump>. Page 2 No text was found on this page." in shown


def test_a_stranger_finds_neither_document_nor_text(
    page: Client,
    revision: Revision,
    stranger: Viewer,
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
) -> None:
    page.post(adding(revision), file())
    document = Document.objects.get()
    foreign = signed_in(stranger)
    for name in ("publication-document", "publication-document-text"):
        at = reverse(f"web:{name}", args=[document.public_id])
        assert foreign.get(at).status_code == 404
    assert foreign.post(adding(revision), file()).status_code == 404
    owner = signed_in(viewer_as(Role.OWNER))
    assert owner.post(adding(revision), file()).status_code == 403
    assert Document.objects.count() == 1

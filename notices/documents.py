"""Stored documents: taken in, kept under the hash of their bytes, given out again.

A file is taken by what it is, not by its name. The bytes lie outside every served
folder; the given name is only a label.
"""

from __future__ import annotations

import unicodedata
from datetime import datetime
from pathlib import Path
from typing import Final

from django.conf import settings
from django.contrib.auth.models import AbstractBaseUser
from django.db import models
from django.utils.http import content_disposition_header

from notices.models import Document
from notices.reading.text import visible
from notices.store import FileLost, StoreRefused, digest_of, keep, place, read

HEADER: Final = b"%PDF-"
END_MARK: Final = b"%%EOF"
END_WITHIN_BYTES: Final = 1024
LONGEST_NAME: Final = 120
SUFFIX: Final = ".pdf"


class DocumentRefused(ValueError):  # noqa: N818  # said so in every sentence
    """The file is not taken; the message says why and what to do."""


class DocumentLost(LookupError):  # noqa: N818  # a fault of the store, not of the caller
    """The stored bytes are missing, or are not those that were taken in."""


def store(
    content: bytes,
    *,
    name: str,
    station: models.Model,
    by: AbstractBaseUser,
    at: datetime,
) -> Document:
    """Return the document of these bytes, stored; the same bytes give the same one.

    Its text is not read here: that takes a process of its own.
    """
    _check_is_pdf(content)
    digest = digest_of(content)
    _keep(_path(digest), content)
    document, _ = Document.objects.get_or_create(
        station_id=station.pk,
        sha256=digest,
        defaults={
            "size": len(content),
            "name": clean_name(name),
            "added_by_id": by.pk,
            "added_at": at,
        },
    )
    return document


def open_document(document: Document) -> bytes:
    """Return the stored bytes, proved to be those that were taken in."""
    try:
        return read(_path(document.sha256), document.sha256)
    except FileLost as lost:
        raise DocumentLost(
            f"The file of {document.name} {lost}. "
            "Restore it from the backup, or upload the same file again."
        ) from lost


def serve_headers(document: Document) -> dict[str, str]:
    """Return the headers under which a browser may have the file: never inline.

    The name is encoded as RFC 6266 and RFC 8187 say.
    """
    disposition = content_disposition_header(as_attachment=True, filename=document.name)
    assert disposition is not None, "an attachment always has one"
    return {
        "Content-Type": "application/pdf",
        "Content-Disposition": disposition,
        "X-Content-Type-Options": "nosniff",
        "Cache-Control": "no-store",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Content-Security-Policy": "default-src 'none'; sandbox",
    }


def clean_name(name: str) -> str:
    """Return the name of a file as a harmless label that ends in .pdf."""
    last = unicodedata.normalize("NFC", name).replace("\\", "/").rsplit("/", 1)[-1]
    label = " ".join(visible(last).split())
    if label.lower().endswith(SUFFIX):
        label = label[: -len(SUFFIX)]
    label = label.strip(". ")[: LONGEST_NAME - len(SUFFIX)].rstrip(". ")
    return (label or "document") + SUFFIX


def _check_is_pdf(content: bytes) -> None:
    limit = settings.DOCUMENT_LIMIT_BYTES
    if len(content) > limit:
        raise DocumentRefused(
            f"The file has {len(content) / 1e6:.1f} MB; at most {limit / 1e6:g} MB "
            "are taken. Save it with smaller pictures, or in parts."
        )
    # Readers look for the header further in, too. Then a web page could pass as a PDF.
    if not content.startswith(HEADER):
        raise DocumentRefused(
            'The file is not a PDF: it does not begin with "%PDF-". '
            "Save or print the document as PDF and upload that."
        )
    if END_MARK not in content[-END_WITHIN_BYTES:]:
        raise DocumentRefused(
            "The file is not complete: the end of the PDF is missing. "
            "Fetch the document again and upload it."
        )


def _path(digest: str) -> Path:
    return place(Path(settings.DOCUMENT_DIR), digest, SUFFIX)


def _keep(path: Path, content: bytes) -> None:
    try:
        keep(path, content)
    except StoreRefused as refused:
        raise DocumentRefused(str(refused)) from refused

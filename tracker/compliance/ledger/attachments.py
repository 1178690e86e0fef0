"""What is attached to an entry: taken by what it is, kept under the hash of its bytes."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Final

from django.conf import settings
from django.utils.http import content_disposition_header

from notices.reading.text import visible
from notices.store import FileLost, StoreRefused, digest_of, keep, place, read
from tracker.compliance.ledger.refusals import RecordRefused
from tracker.compliance.models import Attachment, Record

MOST: Final = 8
LONGEST_NAME: Final = 120
_BEGINNINGS: Final = {
    b"\xff\xd8\xff": "image/jpeg",
    b"\x89PNG\r\n\x1a\n": "image/png",
    b"%PDF-": "application/pdf",
}
_ENDINGS: Final = {
    "image/jpeg": b"\xff\xd9",
    "image/png": b"IEND\xaeB`\x82",
    "application/pdf": b"%%EOF",
}
_END_WITHIN_BYTES: Final = 1024
SUFFIXES: Final = {
    "image/jpeg": ".jpg",
    "image/png": ".png",
    "application/pdf": ".pdf",
}


class AttachmentLost(LookupError):  # noqa: N818  # a fault of the store
    """The stored bytes are missing, or are not those that were attached."""


@dataclass(frozen=True)
class Upload:
    """A file as it was sent. Its name is only a label; what it is, its bytes say.

    No slots, so that what is worked out once is kept with it.
    """

    name: str
    content: bytes

    @cached_property
    def sha256(self) -> str:
        return digest_of(self.content)

    @cached_property
    def media_type(self) -> str:
        """What the bytes begin with; "" for what is not taken."""
        for beginning, media_type in _BEGINNINGS.items():
            if self.content.startswith(beginning):
                return media_type
        return ""

    @cached_property
    def label(self) -> str:
        """The name as a harmless label, with the ending that the bytes call for."""
        last = unicodedata.normalize("NFC", self.name).replace("\\", "/")
        seen = visible(last.rsplit("/", 1)[-1])
        suffix = SUFFIXES[self.media_type]
        stem = " ".join(seen.split()).rsplit(".", 1)[0].strip(". ")
        return (stem[: LONGEST_NAME - len(suffix)].rstrip(". ") or "file") + suffix

    def as_text(self) -> dict[str, object]:
        """What the text of a record says of it."""
        return {
            "name": self.label,
            "media_type": self.media_type,
            "size": len(self.content),
            "sha256": self.sha256,
        }


def check_uploads(uploads: Sequence[Upload]) -> None:
    """Raise RecordRefused for a file that is not taken, and say why."""
    if len(uploads) > MOST:
        raise RecordRefused(
            "attachments", f"At most {MOST} files go with one record. Combine some."
        )
    if len({upload.sha256 for upload in uploads}) < len(uploads):
        raise RecordRefused("attachments", "The same file is attached twice.")
    for upload in uploads:
        _check(upload)


def _check(upload: Upload) -> None:
    limit = settings.ATTACHMENT_LIMIT_BYTES
    if len(upload.content) > limit:
        raise RecordRefused(
            "attachments",
            f"{upload.name} has {len(upload.content) / 1e6:.1f} MB; at most "
            f"{limit / 1e6:g} MB are taken. Save it smaller.",
        )
    if not upload.media_type:
        raise RecordRefused(
            "attachments",
            f"{upload.name} is no photograph (JPEG or PNG) and no PDF by what it "
            "holds, whatever its name says. Save it as one of these.",
        )
    end = upload.content[-_END_WITHIN_BYTES:]
    if _ENDINGS[upload.media_type] not in end:
        raise RecordRefused(
            "attachments", f"{upload.name} is not complete. Attach it again."
        )


def keep_uploads(uploads: Sequence[Upload]) -> None:
    """Write the bytes; called before the rows that name them are committed."""
    for upload in uploads:
        try:
            keep(_path(upload.sha256, upload.media_type), upload.content)
        except StoreRefused as refused:
            raise RecordRefused("attachments", str(refused)) from refused


def kept_upload(name: str, digest: str, media_type: str) -> Upload:
    """Return a file that was stored before its entry is made; RecordRefused if lost."""
    try:
        return Upload(name=name, content=read(_path(digest, media_type), digest))
    except FileLost as lost:
        raise RecordRefused("attachments", f"{name} {lost}. Attach it again.") from lost


def rows_of(record: Record, uploads: Sequence[Upload]) -> list[Attachment]:
    """Return the rows of a record's files, not saved."""
    return [
        Attachment(
            record=record,
            order=order,
            name=upload.label,
            media_type=upload.media_type,
            size=len(upload.content),
            sha256=upload.sha256,
        )
        for order, upload in enumerate(uploads, start=1)
    ]


def open_attachment(attachment: Attachment) -> bytes:
    """Return the bytes, proved to be those that were attached; AttachmentLost if not."""
    try:
        path = _path(attachment.sha256, attachment.media_type)
        return read(path, attachment.sha256)
    except FileLost as lost:
        raise AttachmentLost(
            f"{attachment.name} {lost}. Restore it from the backup."
        ) from lost


def serve_headers(attachment: Attachment) -> dict[str, str]:
    """Return the headers under which a browser may have the file: never inline."""
    disposition = content_disposition_header(
        as_attachment=True, filename=attachment.name
    )
    assert disposition is not None, "an attachment always has one"
    return {
        "Content-Type": attachment.media_type,
        "Content-Disposition": disposition,
        "X-Content-Type-Options": "nosniff",
        "Cache-Control": "no-store",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Content-Security-Policy": "default-src 'none'; sandbox",
    }


def _path(digest: str, media_type: str) -> Path:
    return place(Path(settings.ATTACHMENT_DIR), digest, SUFFIXES[media_type])

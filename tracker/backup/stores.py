"""The files of the two stores that rows name: copied out, put back, looked at."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final, NamedTuple

from django.conf import settings

from notices.documents import SUFFIX
from notices.models import Document
from notices.store import FileLost, StoreRefused, keep, place, read
from tracker.backup.manifest import BackupRefused, File, Manifest, settle
from tracker.compliance.ledger.attachments import SUFFIXES
from tracker.compliance.models import Attachment

DOCUMENTS: Final = "documents"
ATTACHMENTS: Final = "attachments"


class Stored(NamedTuple):
    """A file of a store, by the hash of its bytes."""

    store: str
    digest: str
    suffix: str

    @property
    def name(self) -> str:
        """Where it lies in a backup."""
        return place(Path(self.store), self.digest, self.suffix).as_posix()

    def content(self) -> bytes:
        """Return the bytes that the store holds, proved; FileLost if it does not."""
        folder = _folders()[self.store]
        return read(place(folder, self.digest, self.suffix), self.digest)


def files_named() -> Iterator[Stored]:
    """Yield the files that the rows of a database name, each once. Two queries."""
    documents = Document.objects.values_list("sha256")
    for (digest,) in documents.order_by("sha256").distinct():
        yield Stored(DOCUMENTS, digest, SUFFIX)
    attachments = Attachment.objects.values_list("sha256", "media_type")
    for digest, media_type in attachments.order_by("sha256", "media_type").distinct():
        yield Stored(ATTACHMENTS, digest, SUFFIXES[media_type])


def copy_out(folder: Path) -> tuple[list[File], list[str]]:
    """Write the files that rows name into a backup; return them, and those lost.

    A file lies in the store before a row names it, and stays: what rows of a moment
    name is there after that moment.
    """
    copied, lost = [], []
    for stored in files_named():
        try:
            content = stored.content()
        except FileLost:
            lost.append(stored.name)
            continue
        path = folder / stored.name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        copied.append(
            File(name=stored.name, size=len(content), sha256=stored.digest),
        )
    return copied, lost


def check_empty() -> None:
    """Raise BackupRefused where a store has a file already."""
    for folder in _folders().values():
        there = next((path for path in folder.rglob("*") if path.is_file()), None)
        if there is not None:
            raise BackupRefused(
                f"The folder {folder} has files already, as {there.name}. A backup is "
                "only restored into empty folders: move this one away."
            )


@contextmanager
def restored(source: Path, manifest: Manifest) -> Iterator[None]:
    """Inside, the stores hold the files of a backup; after a failure, none of them."""
    written: list[Path] = []
    try:
        for store, folder in _folders().items():
            for file in manifest.files:
                if file.name.startswith(f"{store}/"):
                    path = folder / file.name.removeprefix(f"{store}/")
                    written.append(path)
                    keep(path, read(source / file.name, file.sha256))
            if folder.exists():
                settle(folder)
        yield
    except BaseException as failure:
        for path in written:
            with suppress(OSError):
                path.unlink(missing_ok=True)
                path.parent.rmdir()
        if isinstance(failure, StoreRefused | FileLost):
            raise BackupRefused(f"{written[-1]}: {failure}") from failure
        raise


def lost_files() -> list[str]:
    """Return the files that rows name and the stores do not hold as they were."""
    lost = []
    for stored in files_named():
        try:
            stored.content()
        except FileLost:
            lost.append(stored.name)
    return lost


def _folders() -> dict[str, Path]:
    return {
        DOCUMENTS: Path(settings.DOCUMENT_DIR),
        ATTACHMENTS: Path(settings.ATTACHMENT_DIR),
    }

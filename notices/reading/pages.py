"""The text of a PDF, page by page, under limits that a hostile file cannot pass.

The limits were chosen by trying: files that inflate to 19 MB and more stop within two
seconds, ordinary documents of hundreds of pages pass.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import Enum
from io import BytesIO
from typing import Final

import pypdf
from pypdf.errors import FileNotDecryptedError, LimitReachedError, WrongPasswordError

from notices.reading.text import normal_text

PAGES_READ: Final = 500
LONGEST_TEXT: Final = 5_000_000


class Outcome(Enum):
    """What became of reading a file."""

    READ = "read"
    NO_TEXT = "no text"
    ENCRYPTED = "encrypted"
    DAMAGED = "damaged"
    LIMIT = "limit"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pages:
    """What was read. `count`: pages of the file, None where that is not known.

    `texts`: one for each page read, empty unless the outcome is "read". `notes`: what
    else to know of the file, as sentences.
    """

    outcome: Outcome
    count: int | None = None
    texts: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def read_pages(content: bytes) -> Pages:
    """Return the text of each page of a PDF; never raises for what the bytes are.

    A file that opens without its owner's password is read, and noted as protected.
    """
    try:
        with pypdf.apply_configuration(
            disable_legacy_handling=True,
            zlib_maximum_output_length=20_000_000,
            stream_decoding_work_maximum_length=60_000_000,
            stream_parsing_work_maximum_count=400_000,
            page_tree_maximum_entries=5_000,
            page_tree_maximum_depth=20,
        ):
            return _read(content)
    except (FileNotDecryptedError, WrongPasswordError):
        return Pages(outcome=Outcome.ENCRYPTED)
    except (LimitReachedError, MemoryError, RecursionError):
        return Pages(outcome=Outcome.LIMIT)
    # Broken files raise nearly anything inside the parser, TypeError included.
    except Exception:  # noqa: BLE001
        return Pages(outcome=Outcome.DAMAGED)


class _LeftOut(logging.Handler):
    """Counts what the parser leaves out of a page, which it only says in its log."""

    def __init__(self) -> None:
        super().__init__()
        self.count = 0

    def emit(self, record: logging.LogRecord) -> None:
        """Count the record if it is about a form that was not decoded."""
        self.count += "Impossible to decode XFormObject" in record.getMessage()


@contextmanager
def _counting_what_is_left_out() -> Iterator[_LeftOut]:
    log = logging.getLogger("pypdf")
    counting, propagated = _LeftOut(), log.propagate
    log.addHandler(counting)
    # Whatever else it has to say of a broken file is of no use to anybody here.
    log.propagate = False
    try:
        yield counting
    finally:
        log.removeHandler(counting)
        log.propagate = propagated


def _read(content: bytes) -> Pages:
    reader = pypdf.PdfReader(BytesIO(content))
    if reader.is_encrypted and not reader.decrypt(""):
        return Pages(outcome=Outcome.ENCRYPTED)
    count = len(reader.pages)
    if not count:
        return Pages(outcome=Outcome.DAMAGED)
    texts: list[str] = []
    length = 0
    with _counting_what_is_left_out() as left_out:
        for page in reader.pages[:PAGES_READ]:
            text = normal_text(page.extract_text())
            length += len(text)
            if length > LONGEST_TEXT:
                return Pages(outcome=Outcome.LIMIT, count=count)
            texts.append(text)
    if left_out.count and not any(texts):
        return Pages(outcome=Outcome.LIMIT, count=count)
    notes = (
        *(["Some of its text could not be read."] if left_out.count else []),
        *_notes(reader, count),
    )
    if not any(texts):
        return Pages(outcome=Outcome.NO_TEXT, count=count, notes=notes)
    return Pages(outcome=Outcome.READ, count=count, texts=tuple(texts), notes=notes)


def _notes(reader: pypdf.PdfReader, count: int) -> Iterator[str]:
    if count > PAGES_READ:
        yield f"Only the first {PAGES_READ} of {count} pages were read."
    if reader.is_encrypted:
        yield "The file is protected against changes by a password of its owner."
    catalog = reader.root_object
    names = _dictionary(catalog, "/Names")
    if "/OpenAction" in catalog or "/AA" in catalog:
        yield "The file asks its reader to do something when it is opened."
    if "/JavaScript" in names:
        yield "The file carries script."
    if "/EmbeddedFiles" in names:
        yield "The file carries other files."
    if "/XFA" in _dictionary(catalog, "/AcroForm"):
        yield "The file carries a form that draws itself."


def _dictionary(
    within: pypdf.generic.DictionaryObject, key: str
) -> pypdf.generic.DictionaryObject:
    found = within.get(key)
    resolved = found.get_object() if found is not None else None
    if isinstance(resolved, pypdf.generic.DictionaryObject):
        return resolved
    return pypdf.generic.DictionaryObject()

"""Reads the text of stored documents, each in a fresh process; never in a request."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Final

import notices
from notices.documents import open_document
from notices.models import Document
from notices.models.documents import PAGE_BREAK
from notices.reading.pages import Outcome, Pages

WALL_SECONDS: Final = 30.0
# The child gets nothing of ours: no secret, no address of a database.
ENVIRONMENT: Final = {"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8"}


def read_document(document: Document) -> bool:
    """Read the text of a waiting document and keep it; False if it waited no longer.

    Raises DocumentLost where the stored file is missing or altered.
    """
    pages = read_in_child(open_document(document))
    document.reading = Document.Reading(pages.outcome.value)
    document.pages = pages.count
    document.text = PAGE_BREAK.join(pages.texts)
    document.notes = list(pages.notes)
    kept = Document.objects.waiting().filter(pk=document.pk)
    return bool(
        kept.update(
            reading=document.reading,
            pages=document.pages,
            text=document.text,
            notes=document.notes,
        )
    )


def read_in_child(content: bytes, *, wall_seconds: float = WALL_SECONDS) -> Pages:
    """Return what a child process reads. Never raises for what the bytes are.

    A child that ran out of time or memory, or was stopped by a signal, met a limit;
    one that ended in any other wrong way found the file damaged.
    """
    try:
        child = subprocess.run(
            [sys.executable, "-m", "notices.reading.child"],
            input=content,
            capture_output=True,
            cwd=Path(notices.__file__).parents[1],
            env=ENVIRONMENT,
            timeout=wall_seconds,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return Pages(outcome=Outcome.LIMIT)
    if child.returncode < 0:
        return Pages(outcome=Outcome.LIMIT)
    try:
        told = json.loads(child.stdout)
        return Pages(
            outcome=Outcome(told["outcome"]),
            count=told["count"],
            texts=tuple(told["texts"]),
            notes=tuple(told["notes"]),
        )
    except (ValueError, KeyError, TypeError):
        return Pages(outcome=Outcome.DAMAGED)

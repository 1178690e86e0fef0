"""Read the text of every document that waits for it, one process for each."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from notices.documents import DocumentLost
from notices.models import Document
from notices.reader import read_document


class Command(BaseCommand):
    help = (
        "Read the text of the documents that wait for it, and say what became of each."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        lost = 0
        for document in Document.objects.waiting():
            try:
                read_document(document)
            except DocumentLost as failure:
                lost += 1
                self.stderr.write(str(failure))
            else:
                self.stdout.write(f"{document.name}: {_said_of(document)}")
        if lost:
            raise CommandError(f"{lost} could not be read, the file is not there.")


def _said_of(document: Document) -> str:
    words = str(Document.Reading(document.reading).label)
    if document.pages is None:
        return words
    return f"{words}, {document.pages} {'page' if document.pages == 1 else 'pages'}"

"""Mail put into a folder, one file each, for work on the service and for trying it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend

from notices.store import write_whole
from tracker.watch.delivery.answers import Answer, Outcome
from tracker.watch.delivery.mails import mail_of
from tracker.watch.models import Message

_ODD: Final = re.compile(r"[^A-Za-z0-9.@_-]")


class Folder:
    """Messages as files named by their ids: the same one is there once."""

    def send(self, message: Message) -> Answer:
        file = _file(message.message_id)
        _write(file, mail_of(message))
        return Answer(Outcome.SENT, None, f"Written to {file.name}")

    def accepted(self, message: Message) -> bool | None:
        return _file(message.message_id).exists()

    def close(self) -> None:
        """Nothing is held open."""


class FolderBackend(BaseEmailBackend):
    """Mails of the accounts into the same folder, as with links to choose a password."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        for one in email_messages:
            mail = one.message()
            _write(_file(mail["Message-ID"]), mail.as_bytes())
        return len(email_messages)


def _file(message_id: str) -> Path:
    return Path(settings.MAIL_DIR) / f"{_ODD.sub('_', message_id.strip('<>'))}.eml"


def _write(file: Path, content: bytes) -> None:
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    write_whole(file, content)

"""Which way of sending each channel has in this installation."""

from __future__ import annotations

import sys
from collections.abc import Mapping

from django.conf import settings

from tracker.environment import MAIL_CONSOLE, MAIL_FOLDER
from tracker.watch.delivery.answers import Answer, Outcome, Transport
from tracker.watch.delivery.folder import Folder
from tracker.watch.delivery.mails import mail_of
from tracker.watch.delivery.smtp import Smtp
from tracker.watch.hooks import posting
from tracker.watch.models import Channel, Message


class Console:
    """Mails printed, for looking at them while they are made."""

    def send(self, message: Message) -> Answer:
        sys.stdout.write(mail_of(message).decode("ascii") + "-" * 79 + "\n")
        return Answer(Outcome.SENT, None, "Printed.")

    def accepted(self, message: Message) -> bool | None:
        return None

    def close(self) -> None:
        """Nothing is held open."""


def transports_in_use() -> Mapping[Channel, Transport]:
    """Return new ones for a batch, by the settings."""
    return {Channel.MAIL: _mail(), Channel.WEBHOOK: posting.Webhooks()}


def _mail() -> Transport:
    match settings.MAIL.backend:
        case backend if backend == MAIL_FOLDER:
            return Folder()
        case backend if backend == MAIL_CONSOLE:
            return Console()
        case _:
            return Smtp()

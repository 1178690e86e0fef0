"""Messages put into the outbox: each is written once, with its final words."""

from __future__ import annotations

import unicodedata
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final
from urllib.parse import urlsplit

from django.conf import settings
from django.db import transaction

from notices.reading.text import visible
from tracker.accounts.models import Station
from tracker.compliance.models import Event
from tracker.fleet.models import Engine, Owner
from tracker.watch.models import Channel, Hook, Message, MessageState, Told

LONGEST_SUBJECT: Final = 150


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """What a message will say, before it has a row.

    `key`: what makes it the same message as another one. `recipient`: an owner or a
    hook. `thread`: what mails of one matter have in common, as an engine's public id;
    a mail program shows them together. `reason`: why it is held back, if it is.
    """

    station: Station
    kind: str
    key: str
    address: str
    subject: str
    text: str
    html: str = ""
    owner: Owner | None = None
    hook: Hook | None = None
    engine: Engine | None = None
    mandatory: bool = False
    thread: str = ""
    headers: Mapping[str, str] = field(default_factory=dict)
    events: Sequence[Event] = ()
    held: str = ""

    @property
    def recipient(self) -> str:
        """How `Told` names who hears of an event, at most once each."""
        return f"owner {self.owner.pk}" if self.owner else f"hook {_key(self.hook)}"


def put(letter: Letter, *, at: datetime) -> Message | None:
    """Write a message, or None where one of that key was written before.

    Run inside the transaction of what causes it. ValueError where a word of it cannot
    stand in a mail at all: nothing is written then.
    """
    if not letter.address or "\n" in letter.address or "\r" in letter.address:
        raise ValueError(f'"{letter.address}" is not an address to send to.')
    message, is_new = Message.objects.get_or_create(
        dedupe_key=letter.key, defaults=_columns(letter, at)
    )
    if not is_new:
        return None
    _tell(message, letter)
    return message


def put_all(letters: Iterable[Letter], *, at: datetime) -> list[Message]:
    """Write those that are new, one transaction each: one bad one stops no other."""
    written = []
    for letter in letters:
        with transaction.atomic():
            message = put(letter, at=at)
        if message is not None:
            written.append(message)
    return written


def message_id() -> str:
    """Return a new Message-ID of this installation, with its angle brackets."""
    return f"<{uuid.uuid4()}@{_domain()}>"


def thread_id(thread: str) -> str:
    """Return the id that all mails of one thread refer to; no mail carries it."""
    return f"<{thread}@{_domain()}>"


def one_line(text: str) -> str:
    """Return the text as it may stand in a header: nothing that breaks it or steers."""
    return unicodedata.normalize("NFC", " ".join(visible(text).split()))


def _columns(letter: Letter, at: datetime) -> dict[str, object]:
    headers = dict(letter.headers)
    if letter.thread:
        headers["References"] = thread_id(letter.thread)
    return {
        "station": letter.station,
        "channel": Channel.WEBHOOK if letter.hook else Channel.MAIL,
        "kind": letter.kind,
        "owner": letter.owner,
        "hook": letter.hook,
        "engine": letter.engine,
        "mandatory": letter.mandatory,
        "address": letter.address,
        "subject": one_line(letter.subject)[:LONGEST_SUBJECT],
        "text": letter.text,
        "html": letter.html,
        "headers": headers,
        "message_id": message_id(),
        "state": MessageState.HELD if letter.held else MessageState.WAITING,
        "reason": letter.held,
        "not_before": at,
        "created_at": at,
    }


def _tell(message: Message, letter: Letter) -> None:
    """Note which events it speaks of; one already told to this recipient stays so."""
    keys = [event.pk for event in letter.events]
    told = set(
        Told.objects.filter(recipient=letter.recipient, event__in=keys).values_list(
            "event", flat=True
        )
    )
    Told.objects.bulk_create(
        Told(message=message, event=event, recipient=letter.recipient)
        for event in letter.events
        if event.pk not in told
    )


def _domain() -> str:
    return urlsplit(settings.BASE_URL).hostname or "localhost"


def _key(hook: Hook | None) -> int:
    assert hook is not None, "a letter goes to an owner or to a hook"
    return hook.pk

"""A mail to one owner: its content, rendered twice, with the headers that it needs."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from email.headerregistry import Address
from email.utils import parseaddr
from typing import Final

from django.conf import settings
from django.template.loader import render_to_string

from tracker.accounts.models import Station
from tracker.fleet.models import Engine, Owner
from tracker.watch.links import unsubscribe_url
from tracker.watch.models import MessageKind
from tracker.watch.outbox import Letter, one_line
from tracker.watch.telling.content import (
    Content,
    blocks_of,
    mandatory_words,
    matter_of,
    preferences_url,
    why_you,
)
from tracker.watch.telling.heads import Heads
from tracker.watch.telling.reading import Item

HoursUrl = Callable[[Engine, Owner], str]
_GAPS: Final = re.compile(r"\n{3,}")
_BLANKS: Final = {0x00A0: " ", 0x202F: " "}
ONE_CLICK: Final = "List-Unsubscribe=One-Click"


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What is particular to a mail; the rest follows from owner and items.

    `note`: what a person of the station wrote. `heads`: the last records of the
    engines, where the mail speaks of the ledger.
    """

    kind: MessageKind
    key: str
    subject: str
    heading: str
    lead: str
    day: str
    items: Sequence[Item]
    mandatory: bool
    all_mandatory: bool
    note: tuple[str, ...] = ()
    heads: Heads | None = None


def letter_of(
    draft: Draft, owner: Owner, *, hours_url: HoursUrl, held: str = ""
) -> Letter:
    """Return the mail as it will be sent. The owner is read with their station."""
    engines = {item.engine.pk: item.engine for item in draft.items}
    one_engine = next(iter(engines.values())) if len(engines) == 1 else None
    content = _content(
        draft, owner, {pk: hours_url(one, owner) for pk, one in engines.items()}
    )
    return Letter(
        station=owner.station,
        kind=draft.kind,
        key=draft.key,
        address=owner.email,
        subject=draft.subject,
        text=_text(content),
        html=render_to_string("watch/mail/message.html", {"mail": content}),
        owner=owner,
        engine=one_engine,
        mandatory=draft.mandatory,
        thread=str(one_engine.public_id if one_engine else owner.public_id),
        headers={"From": sender_of(owner.station), **_headers(content)},
        events=[event for item in draft.items for event in item.events],
        held=held,
    )


def sender_of(station: Station) -> str:
    """Return the installation's address under the name of the station."""
    _, address = parseaddr(settings.DEFAULT_FROM_EMAIL)
    name = one_line(station.name).replace("=?", "= ?")
    return str(Address(display_name=name, addr_spec=address))


def _content(draft: Draft, owner: Owner, hours_urls: Mapping[int, str]) -> Content:
    table = tuple(map(matter_of, draft.items)) if len(draft.items) > 1 else ()
    unsubscribe = "" if draft.all_mandatory else unsubscribe_url(owner)
    return Content(
        heading=one_line(draft.heading),
        station=one_line(owner.station.name),
        owner=one_line(owner.name),
        day=draft.day,
        note=draft.note,
        lead=draft.lead,
        table=table,
        blocks=blocks_of(draft.items, hours_urls=hours_urls, heads=draft.heads),
        several=len(hours_urls) > 1,
        why_you=why_you(owner, len(hours_urls)),
        mandatory=mandatory_words(owner, all_mandatory=draft.all_mandatory),
        unsubscribe_url=unsubscribe,
        preferences_url=preferences_url(owner),
    )


def _headers(content: Content) -> dict[str, str]:
    """Sent by a program (RFC 3834); one click ends what may be ended (RFC 8058).

    The pair asks for an https address; an installation without one leaves it out.
    """
    headers = {"Auto-Submitted": "auto-generated"}
    if content.unsubscribe_url and settings.BASE_URL.startswith("https://"):
        headers["List-Unsubscribe"] = f"<{content.unsubscribe_url}>"
        headers["List-Unsubscribe-Post"] = ONE_CLICK
    return headers


def _text(content: Content) -> str:
    """The words alone: no more than one empty line in a row, and plain blanks."""
    raw = render_to_string("watch/mail/message.txt", {"mail": content})
    rows = (row.rstrip() for row in raw.translate(_BLANKS).splitlines())
    return _GAPS.sub("\n\n", "\n".join(rows)).strip() + "\n"

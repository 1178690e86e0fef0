"""A message as the bytes of a mail (RFC 5322): the same ones at every try.

Nothing in them is drawn or taken from the clock: the date is the moment at which the
message was written, and what parts its bodies follows from its id.
"""

from __future__ import annotations

import hashlib
from email.headerregistry import Address, AddressHeader
from email.message import EmailMessage
from email.policy import SMTP as _SMTP
from email.policy import EmailPolicy
from typing import Any, Final, cast

from django.conf import settings

from tracker.watch.models import Message

LONGEST_LINE: Final = 900


class _Lines(EmailPolicy):
    """Leaves a header of plain ASCII on one line: folding would encode long addresses."""

    def fold_binary(self, name: str, value: Any) -> bytes:
        if "\r" in str(value) or "\n" in str(value):
            raise ValueError(f"The header {name} would break its line.")
        line = f"{name}: {value}\r\n"
        if line.isascii() and len(line) <= LONGEST_LINE:
            return line.encode("ascii")
        return super().fold_binary(name, value)


_POLICY: Final = _Lines(
    linesep=_SMTP.linesep, cte_type="7bit", max_line_length=_SMTP.max_line_length
)


def mail_of(message: Message) -> bytes:
    """Return the mail. Raises ValueError where its words can stand in no mail."""
    mail = EmailMessage(policy=_POLICY)
    for name, value in _headers(message).items():
        mail[name] = value
    mail.set_content(message.text)
    if message.html:
        mail.add_alternative(message.html, subtype="html")
        digest = hashlib.sha256(message.message_id.encode()).hexdigest()
        mail.set_boundary(f"=_{digest[:32]}")
    return mail.as_bytes()


def sender_of(message: Message) -> str:
    """Return the address that a mail comes from, without the name beside it."""
    mail = EmailMessage(policy=_POLICY)
    mail["From"] = _from(message)
    [sender] = cast(AddressHeader, mail["From"]).addresses
    return ascii_address(sender.addr_spec)


def ascii_address(address: str) -> str:
    """Return an address as every server takes it: its domain by IDNA, no other signs.

    Raises ValueError where it is none, or only a server with SMTPUTF8 would know it.
    """
    local, at, domain = address.rpartition("@")
    if not at or not local.isascii():
        raise ValueError("The address has signs that mail servers do not know.")
    in_ascii = domain.encode("idna").decode("ascii")
    return Address(username=local, domain=in_ascii).addr_spec


def _headers(message: Message) -> dict[str, Any]:
    """Return the headers; those kept with the message stand last and replace none."""
    ours = {
        "From": _from(message),
        "To": ascii_address(message.address),
        # What looks like encoded words (RFC 2047) is meant as it stands.
        "Subject": message.subject.replace("=?", "= ?"),
        "Date": message.created_at,
        "Message-ID": message.message_id,
        "Auto-Submitted": "auto-generated",  # RFC 3834
    }
    known = {name.lower() for name in ours}
    kept = {
        name: value
        for name, value in message.headers.items()
        if name.lower() not in known
    }
    return ours | kept


def _from(message: Message) -> str:
    return str(message.headers.get("From") or settings.DEFAULT_FROM_EMAIL)

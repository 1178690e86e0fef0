"""What the codes of a mail server mean for us: RFC 5321 4.2, and RFC 3463 for details."""

from __future__ import annotations

import re
from typing import Final

from tracker.watch.delivery.answers import Outcome

_DETAIL: Final = re.compile(rb"\s*([245])\.([0-9]{1,3})\.([0-9]{1,3})\b")
_OF_SENDER: Final = frozenset({(1, 7), (1, 8)})
"""Details under "address" that blame the sender's: X.1.7 and X.1.8."""
_POLICY: Final = 7
_ADDRESS, _MAILBOX = 1, 2
_UNAVAILABLE: Final = 550


def at_recipient(code: int, reply: bytes) -> Outcome:
    """What a refusal at RCPT means: by default it is about the recipient."""
    if code == 421 or code < 400 or code in (503, 530):
        return Outcome.OURS
    if code < 500:
        return Outcome.LATER
    return Outcome.OURS if _blames_us(reply) else Outcome.REFUSED


def of_data(code: int, reply: bytes) -> Outcome:
    """What a refusal at DATA, or after it, means: about what is said or who says it.

    550 without a detail means "for policy reasons" there (RFC 5321 4.2.3, 4.3.2).
    """
    if code == 421 or code < 400:
        return Outcome.OURS
    if code < 500:
        return Outcome.LATER
    detail = _detail(reply)
    if _blames_us(reply) or (detail is None and code == _UNAVAILABLE):
        return Outcome.OURS
    if detail is not None and detail[0] in (_ADDRESS, _MAILBOX):
        return Outcome.REFUSED
    return Outcome.BROKEN


def in_words(fault: Exception) -> str:
    """Return what a session ended with, on one line."""
    if isinstance(fault, TimeoutError):
        return "no answer in time."
    return in_one_line(str(fault)) or type(fault).__name__


def in_one_line(reply: bytes | str) -> str:
    """Return the words of a server, which may come in several lines and any signs."""
    words = reply.decode("utf-8", "replace") if isinstance(reply, bytes) else reply
    return " ".join(words.split())


def _blames_us(reply: bytes) -> bool:
    detail = _detail(reply)
    return detail is not None and (detail[0] == _POLICY or detail in _OF_SENDER)


def _detail(reply: bytes) -> tuple[int, int] | None:
    """Return subject and detail of an enhanced status code, if the reply has one."""
    found = _DETAIL.match(reply)
    return (int(found[2]), int(found[3])) if found else None

"""One message posted to its webhook, and what came of it.

Nothing that the other end says is kept or shown but the number of its status.
"""

from __future__ import annotations

import logging
import socket
import ssl
from datetime import datetime
from typing import Final

from django.utils import timezone

from tracker.watch.delivery.answers import Answer, Outcome
from tracker.watch.hooks.connecting import NoAnswer, exchange
from tracker.watch.hooks.signing import signed_headers
from tracker.watch.hooks.standing import (
    IS_OFF,
    hold_back,
    note_failed,
    note_taken,
    switch_off,
)
from tracker.watch.hooks.targets import (
    Resolver,
    TargetRefused,
    addresses_of,
    resolved,
    target_of,
)
from tracker.watch.models import Hook, Message

logger = logging.getLogger(__name__)
GONE: Final = 410


class Webhooks:
    """Events posted to a station's own systems, which know a repeat by its key.

    It lives as long as a batch. A webhook that gave no answer at all is asked no second
    time in it: it would cost all the others its time limit again.
    """

    def __init__(self, resolve: Resolver = resolved) -> None:
        self._resolve = resolve
        self._silent: dict[int, Answer] = {}

    def send(self, message: Message) -> Answer:
        assert message.hook_id is not None, "a webhook's message names it"
        known = self._silent.get(message.hook_id)
        if known is not None:
            return known
        answer = post(message, resolve=self._resolve)
        if answer.outcome is Outcome.LATER and answer.code is None:
            self._silent[message.hook_id] = answer
        return answer

    def accepted(self, message: Message) -> bool | None:
        return None

    def close(self) -> None:
        """Each is posted by a connection of its own."""


def post(message: Message, *, resolve: Resolver = resolved) -> Answer:
    """Sign and send a message; note how its webhook stands after it.

    410 switches the webhook off at once, days of failures do so in the end; the message
    is put aside with the others then. A repeat is harmless, so that a try without an
    answer is like one that was not taken. Run outside any transaction.
    """
    hook = Hook.objects.get(messages=message.pk)
    if hook.off_at is not None:
        return Answer(Outcome.REFUSED, None, IS_OFF)
    at = timezone.now()
    code, words = _tried(message, hook, resolve=resolve, at=at)
    if code is not None and 200 <= code < 300:
        note_taken(hook)
        return Answer(Outcome.SENT, code, words)
    logger.warning("webhook %s: message %s: %s", hook.pk, message.pk, code or "none")
    if _is_switched_off(hook, code, words, at=at):
        return Answer(Outcome.REFUSED, code, IS_OFF)
    if code is None:
        hold_back(hook, at=at)
    return Answer(Outcome.LATER, code, words)


def _is_switched_off(hook: Hook, code: int | None, words: str, *, at: datetime) -> bool:
    """Note a failure; return whether the webhook is off for it."""
    if code == GONE:
        why = f"The receiver says that it is gone for good ({GONE})."
        return switch_off(hook, why, at=at)
    return note_failed(hook, why=words, at=at)


def _tried(
    message: Message, hook: Hook, *, resolve: Resolver, at: datetime
) -> tuple[int | None, str]:
    """Return the status, None where there was none, and what happened in our words."""
    body = message.text.encode()
    try:
        target = target_of(hook.url)
        headers = signed_headers(
            hook, url=target.url, body=body, key=str(message.public_id), at=at
        )
        addresses = addresses_of(target, resolve)
        code = exchange(target, addresses, headers=headers, body=body)
    except TargetRefused as refused:
        return None, str(refused)
    except ssl.SSLCertVerificationError:
        return None, "Its certificate does not prove that it is this host."
    except ssl.SSLError:
        return None, "It does not agree on TLS."
    except TimeoutError:
        return None, "It did not answer in time."
    except NoAnswer as fault:
        return None, f"It gave no answer of HTTP: {fault}."
    except socket.gaierror:
        return None, "Its host was not found."
    except OSError:
        return None, "It took no connection, or broke it off."
    if 300 <= code < 400:
        return code, f"It answered {code}. A redirect is not followed."
    return code, f"It answered {code}."

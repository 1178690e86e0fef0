"""Sending what is due: a batch is claimed, each message tried and marked by itself.

A message is taken at least once, and twice only where its sender died or the line broke
between the last byte and the answer; then the same bytes go again under the same id.
"""

from __future__ import annotations

import logging
import time
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

from celery.exceptions import SoftTimeLimitExceeded
from django.db import Error, InterfaceError, OperationalError, connection

from tracker.watch.delivery import breaker
from tracker.watch.delivery.answers import Answer, Outcome, Transport
from tracker.watch.delivery.claiming import (
    BATCH,
    LEASE,
    USED,
    Claim,
    begin,
    claim,
    give_back,
    is_any_due,
)
from tracker.watch.delivery.marking import MOST_UNSURE, mark, mark_taken, park
from tracker.watch.delivery.transports import transports_in_use
from tracker.watch.models import Channel, Message

log = logging.getLogger(__name__)

LONGEST_SECONDS: Final = 60
"""How long one call goes on taking new batches."""
WRITING_AGAIN_SECONDS: Final = (0.5, 1, 2, 4, 8)
"""Pauses of a database that is away before what came of a try is written again."""
Stop = Callable[[], bool]
Transports = Mapping[Channel, Transport]


@dataclass(slots=True)
class Delivered:
    """How many messages ended in which way."""

    outcomes: Counter[str] = field(default_factory=Counter)

    def count(self, word: str) -> None:
        self.outcomes[word] += 1

    def add(self, other: Delivered) -> None:
        self.outcomes.update(other.outcomes)

    def as_counts(self) -> dict[str, int]:
        return {str(word): number for word, number in self.outcomes.items()}

    def __bool__(self) -> bool:
        return bool(self.outcomes)

    def __str__(self) -> str:
        return ", ".join(f"{number} {word}" for word, number in self.outcomes.items())


@dataclass(frozen=True, slots=True)
class Clock:
    """Moments counted from one that was named, by a clock that never jumps."""

    at: datetime
    begun: float = field(default_factory=time.monotonic)

    @property
    def passed(self) -> timedelta:
        return timedelta(seconds=time.monotonic() - self.begun)

    def now(self) -> datetime:
        return self.at + self.passed


def deliver_due(at: datetime, *, stop: Stop = lambda: False) -> Delivered:
    """Send what is due by a moment, batch by batch, for a minute at most."""
    clock, total = Clock(at), Delivered()
    while clock.passed.total_seconds() < LONGEST_SECONDS and not stop():
        done = deliver_batch(clock.now(), stop=stop)
        if not done:
            break
        total.add(done)
    return total


def deliver_batch(
    at: datetime,
    *,
    stop: Stop = lambda: False,
    transports: Transports | None = None,
    most: int = BATCH,
    lease: timedelta = LEASE,
) -> Delivered:
    """Send one batch of each channel; nothing was done where nothing is counted.

    Runs outside any transaction: it waits for other machines. `stop` is asked before
    each message.
    """
    done = Delivered()
    for channel, transport in (transports or transports_in_use()).items():
        if stop() or not is_any_due(channel, at=at):
            continue
        failures = breaker.failures_of(channel)
        if breaker.is_open(failures, at):
            continue
        number = 1 if breaker.is_probing(failures) else most
        clock = Clock(at)
        claimed = claim(channel, at=at, most=number, lease=lease)
        try:
            _send_all(claimed, transport, clock, stop, done, failed=len(failures))
        finally:
            transport.close()
            give_back(claimed)
    return done


def _send_all(
    claimed: Claim,
    transport: Transport,
    clock: Clock,
    stop: Stop,
    done: Delivered,
    *,
    failed: int,
) -> None:
    """Try one after the other while the lease lasts and the channel does not fail."""
    last = claimed.lease * USED
    for message in claimed.messages:
        if stop() or clock.passed > last:
            break
        word = _send(message, claimed, transport, clock)
        done.count(word)
        failed = failed + 1 if word == Outcome.OURS else 0
        if failed >= breaker.IN_A_ROW:
            log.warning(
                "%s fails for a reason of ours and is left alone", message.channel
            )
            break


def _send(message: Message, claimed: Claim, transport: Transport, clock: Clock) -> str:
    """Try one message and mark it; return the word under which it is counted."""
    if message.unsure:
        if transport.accepted(message):
            mark_taken(message, claimed.token, at=clock.now())
            return "taken before"
        if message.unsure >= MOST_UNSURE:
            reason = f"{message.unsure} tries ended without an answer."
            park(message, claimed.token, reason)
            return "parked"
    if not begin(message, claimed):
        return "lost"
    started = clock.now()
    answer = _answer(message, transport)
    is_ours = _written(message, claimed, answer, started=started, ended=clock.now())
    return answer.outcome if is_ours else "lost"


def _answer(message: Message, transport: Transport) -> Answer:
    """Try once. Whatever cannot be sent at all is told by its fault, and goes no further."""
    try:
        return transport.send(message)
    except (Error, SoftTimeLimitExceeded):
        raise
    except Exception as fault:
        log.exception("message %s cannot be sent", message.pk)
        return Answer(Outcome.BROKEN, None, f"{type(fault).__name__}: {fault}")


def _written(
    message: Message,
    claimed: Claim,
    answer: Answer,
    *,
    started: datetime,
    ended: datetime,
) -> bool:
    """Mark what came of a try, again and again while the database is away."""
    for pause in WRITING_AGAIN_SECONDS:
        try:
            return mark(message, claimed.token, answer, started=started, ended=ended)
        except (OperationalError, InterfaceError):
            if connection.in_atomic_block:
                raise
            log.warning("message %s: the database is away, once more", message.pk)
            connection.close()
            time.sleep(pause)
    return mark(message, claimed.token, answer, started=started, ended=ended)

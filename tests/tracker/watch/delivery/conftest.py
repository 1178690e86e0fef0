"""A mail server that is really there, and messages that wait to be sent to it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from itertools import count
from typing import Any

import pytest
from django.db.models.functions import Now

from tests.factories.fleet import OwnerFactory
from tests.sink import Sink
from tests.tracker.watch.hooks.conftest import certificate
from tracker.accounts.models import Station
from tracker.environment import MAIL_SMTP, Mail
from tracker.fleet.models import Owner
from tracker.watch import outbox
from tracker.watch.delivery import Delivered, deliver_batch
from tracker.watch.models import Message, MessageKind

__all__ = ["certificate"]


@pytest.fixture
def sink(settings: Any) -> Iterator[Sink]:
    """A server that takes everything unless told otherwise, and is the one in use."""
    with Sink() as server:
        settings.MAIL = Mail(backend=MAIL_SMTP)
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", server.port
        settings.EMAIL_TIMEOUT = 5
        yield server


@pytest.fixture
def owner(station: Station) -> Owner:
    return OwnerFactory(station=station, email="l.marrow@post.example")


@pytest.fixture
def mail(station: Station, owner: Owner, now: datetime) -> Callable[..., Message]:
    """Write a message; each a minute after the one before, all of them due."""
    numbers = count()

    def write(**given: Any) -> Message:
        number = next(numbers)
        at = given.pop("at", now - timedelta(hours=1) + timedelta(minutes=number))
        told: dict[str, Any] = {
            "station": station,
            "owner": owner,
            "kind": MessageKind.DIGEST,
            "key": f"digest|{number}",
            "address": owner.email,
            "subject": f"Digest {number}",
            "text": f"Text {number}\n.A line that begins with a full stop.\n",
            "html": f"<p>Text {number}</p>",
        }
        message = outbox.put(outbox.Letter(**(told | given)), at=at)
        assert message is not None
        return message

    return write


@pytest.fixture
def send(now: datetime) -> Callable[..., Delivered]:
    """Send one batch, at the present of the tests unless another moment is named."""

    def deliver(at: datetime = now, **told: Any) -> Delivered:
        return deliver_batch(at, **told)

    return deliver


def end_leases() -> int:
    """Let time pass for whoever holds messages."""
    held = Message.objects.filter(lease_until__isnull=False)
    return held.update(lease_until=Now() - timedelta(seconds=1))

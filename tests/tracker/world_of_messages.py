"""What the world holds of events, messages, secret addresses and webhooks."""

from __future__ import annotations

import secrets
from datetime import UTC, datetime

from tests.tracker.world_of_links import add_links
from tracker.accounts.access import Viewer
from tracker.compliance.models import Event, EventKind, Finding
from tracker.fleet.models import Engine, Owner, Preference
from tracker.watch import outbox
from tracker.watch.models import (
    Attempt,
    Hook,
    Message,
    MessageKind,
    MessageState,
)

AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)


def add_messages(
    viewer: Viewer, owner: Owner, engine: Engine, word: str
) -> dict[str, str]:
    """One row of everything that is told to an owner, and of what tells it."""
    Preference.objects.get_or_create(owner=owner)
    event = add_event(engine, word)
    letter = outbox.Letter(
        station=viewer.station,
        kind=MessageKind.DIGEST,
        key=f"digest|{owner.pk}|{engine.pk}",
        address=f"post@{word.lower()}.example",
        subject=f"{word} digest",
        text=f"{word} text",
        html=f"<p>{word} text</p>",
        owner=owner,
        engine=engine,
        events=[event],
    )
    message = outbox.put(letter, at=AT)
    assert message is not None
    Attempt.objects.create(
        message=message, started_at=AT, ended_at=AT, outcome="later", reply=word
    )
    hook = Hook.objects.create(
        station=viewer.station,
        url=f"https://{word.lower()}.example/{engine.pk}",
        salt=secrets.token_hex(16),
        made_at=AT,
        made_by=viewer.user,
    )
    return {
        "message": str(message.public_id),
        "hook": str(hook.public_id),
        **add_links(viewer, owner, engine),
    }


def add_stuck(viewer: Viewer, owner: Owner, word: str) -> dict[str, str]:
    """Two messages that wait for a person: one held back, one refused."""
    names = {}
    for name, state in (("held", MessageState.HELD), ("ended", MessageState.FAILED)):
        letter = outbox.Letter(
            station=viewer.station,
            kind=MessageKind.DIGEST,
            key=f"{name}|{owner.pk}",
            address=f"post@{word.lower()}.example",
            subject=f"{word} {name}",
            text=f"{word} text",
            owner=owner,
        )
        message = outbox.put(letter, at=AT)
        assert message is not None
        Message.objects.filter(pk=message.pk).update(state=state, reason=word)
        names[f"{name}_message"] = str(message.public_id)
    return names


def add_event(engine: Engine, word: str) -> Event:
    finding = Finding.objects.filter(engine=engine).first()
    return Event.objects.create(
        station=engine.station,
        engine=engine,
        kind=EventKind.COMING,
        key=f"coming due|{engine.pk}|{word}",
        provision=finding.provision if finding else None,
        said={"number": word, "title": word},
        happened_on=AT.date(),
        noted_at=AT,
    )

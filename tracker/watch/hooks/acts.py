"""What an administrator does with the station's webhooks. Each opens one transaction."""

from __future__ import annotations

import secrets
import uuid
from datetime import datetime
from typing import Final

from tracker.accounts.access import Right, Viewer
from tracker.accounts.models import Station
from tracker.compliance.transactions import one_transaction
from tracker.fleet.errors import Refused
from tracker.watch import outbox
from tracker.watch.hooks.bodies import body_of_test
from tracker.watch.hooks.signing import secret_of
from tracker.watch.hooks.standing import switch_off, take_up_again
from tracker.watch.hooks.targets import TargetRefused, target_of
from tracker.watch.models import Hook, Message, MessageKind

MOST: Final = 10
"""How many webhooks a station may have in use."""


def add_hook(viewer: Viewer, *, url: str, at: datetime) -> tuple[Hook, str]:
    """Let an address hear the station's events; return it and its secret.

    Raises Forbidden and Refused. Nothing is resolved or posted yet.
    """
    viewer.require(Right.MANAGE_STATION)
    address = _checked(url)
    with one_transaction():
        station = Station.objects.select_for_update().get(pk=viewer.station.pk)
        hooks = Hook.objects.filter(station=station)
        if hooks.filter(url=address).exists():
            raise Refused("url", "This address is in the list already.")
        _check_number(station)
        hook = Hook.objects.create(
            station=station,
            url=address,
            salt=_salt(),
            made_at=at,
            made_by=viewer.user,
        )
    return hook, secret_of(hook)


def renew_secret(viewer: Viewer, hook: Hook) -> str:
    """Give the webhook another secret and return it; the old one ends at once."""
    viewer.require(Right.MANAGE_STATION)
    with one_transaction():
        locked = _locked(viewer, hook)
        locked.salt = _salt()
        locked.save(update_fields=["salt"])
    return secret_of(locked)


def stop(viewer: Viewer, hook: Hook, *, at: datetime) -> None:
    """Switch it off. What waits for it is put aside."""
    viewer.require(Right.MANAGE_STATION)
    with one_transaction():
        locked = _locked(viewer, hook)
        if not switch_off(locked, f"Switched off by {viewer.user}.", at=at):
            raise Refused("", "It is switched off already.")


def start(viewer: Viewer, hook: Hook, *, at: datetime) -> None:
    """Switch it on again. What was put aside and what was noted meanwhile follows."""
    viewer.require(Right.MANAGE_STATION)
    with one_transaction():
        Station.objects.select_for_update().get(pk=viewer.station.pk)
        locked = _locked(viewer, hook)
        if locked.off_at is None:
            raise Refused("", "It is switched on already.")
        _checked(locked.url)
        _check_number(locked.station)
        locked.off_at, locked.failing_since, locked.off_reason = None, None, ""
        locked.save(update_fields=["off_at", "failing_since", "off_reason"])
        take_up_again(locked, at=at)


def send_test(viewer: Viewer, hook: Hook, *, at: datetime) -> Message:
    """Put an event that is about no engine into the outbox, to try the receiver."""
    viewer.require(Right.MANAGE_STATION)
    with one_transaction():
        locked = _locked(viewer, hook)
        if locked.off_at is not None:
            raise Refused("", "It is switched off. Switch it on before you try it.")
        public_id = str(uuid.uuid4())
        letter = outbox.Letter(
            station=viewer.station,
            kind=MessageKind.EVENT,
            key=f"test|{public_id}|hook {locked.pk}",
            address=locked.url,
            subject="Test event",
            text=body_of_test(public_id, at=at),
            hook=locked,
        )
        message = outbox.put(letter, at=at)
    assert message is not None, "its key was made a moment ago"
    return message


def _checked(url: str) -> str:
    try:
        return target_of(url).url
    except TargetRefused as refused:
        raise Refused("url", str(refused)) from None


def _check_number(station: Station) -> None:
    if Hook.objects.filter(station=station).in_use().count() >= MOST:
        raise Refused(
            "", f"The station has {MOST} webhooks in use. Switch one of them off first."
        )


def _locked(viewer: Viewer, hook: Hook) -> Hook:
    hooks = Hook.objects.select_for_update(of=("self",)).visible_to(viewer)
    return hooks.select_related("station").get(pk=hook.pk)


def _salt() -> str:
    return secrets.token_hex(32)

"""How a webhook stands after each try: well, failing since a moment, or off."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from tracker.compliance.transactions import one_transaction
from tracker.watch.models import Hook, Message, MessageState

PATIENCE: Final = timedelta(days=3)
"""How long nothing may be taken before a webhook is switched off."""
SHORTEST: Final = timedelta(minutes=1)
LONGEST: Final = timedelta(hours=1)
IS_OFF: Final = "The webhook is switched off."
"""The reason of a message that was put aside; when it is on again, it waits again."""


def note_taken(hook: Hook) -> None:
    """Something was taken: days of failures begin anew with the next one."""
    Hook.objects.filter(pk=hook.pk, failing_since__isnull=False).update(
        failing_since=None
    )


def note_failed(hook: Hook, *, why: str, at: datetime) -> bool:
    """Note a failure; return whether the webhook was switched off for lasting ones."""
    Hook.objects.filter(pk=hook.pk, failing_since=None).update(failing_since=at)
    since = hook.failing_since or at
    if at - since < PATIENCE:
        return False
    reason = f"Nothing was taken for {PATIENCE.days} days. The last answer: {why}"
    return switch_off(hook, reason, at=at)


def hold_back(hook: Hook, *, at: datetime) -> None:
    """Let all that waits for it stand back, the longer the longer it has failed.

    So one that takes no connection costs the others its time limit now and then only.
    """
    failed_for = at - (hook.failing_since or at)
    until = at + min(max(failed_for / 8, SHORTEST), LONGEST)
    waiting = Message.objects.filter(hook=hook, state=MessageState.WAITING)
    waiting.filter(not_before__lt=until).update(not_before=until)


def switch_off(hook: Hook, reason: str, *, at: datetime) -> bool:
    """Switch it off and put aside what waits for it; False where it was off already."""
    with one_transaction(durable=False):
        changed = Hook.objects.filter(pk=hook.pk, off_at=None).update(
            off_at=at, off_reason=reason[:200]
        )
        if changed:
            waiting = Message.objects.filter(hook=hook, state=MessageState.WAITING)
            waiting.update(state=MessageState.PARKED, reason=IS_OFF)
    return bool(changed)


def take_up_again(hook: Hook, *, at: datetime) -> None:
    """Let wait again what was put aside because the webhook was off."""
    aside = Message.objects.filter(hook=hook, state=MessageState.PARKED, reason=IS_OFF)
    aside.update(state=MessageState.WAITING, not_before=at, reason="")

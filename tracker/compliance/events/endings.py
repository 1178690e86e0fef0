"""What is noted of findings that go: they apply no longer, or a revision took over."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime
from typing import Final

from notices.models import Provision, Revision
from tracker.compliance.events.writing import event_of, key_of, write_events
from tracker.compliance.models import Event, EventKind, Finding
from tracker.compliance.states import WORDS

QUIET: Final = len(WORDS)
"""`Finding.noted` of what is outstanding: it was told of, and nothing presses."""


def note_endings(
    removed: Sequence[Finding], added: Sequence[Finding], *, on: date, at: datetime
) -> None:
    """Note what ends for engines, before its findings are deleted.

    Where another revision of the same document has findings for the engine, one event
    says that it took over, and the new ones (not saved yet) count as told of. Four
    queries more where anything ends that was noted, else none.
    """
    known = [row for row in removed if row.noted]
    if not known:
        return
    provisions = _provisions({row.provision_id for row in (*known, *added)})
    following = {_matter(row, provisions): row for row in added}
    before = {_matter(row, provisions) for row in known}
    ended = {(row.engine_id, provisions[row.provision_id].revision_id) for row in known}
    for row in added:
        is_other = (
            row.engine_id,
            provisions[row.provision_id].revision_id,
        ) not in ended
        if _matter(row, provisions) in before and is_other:
            row.noted = QUIET
    current = set(
        Revision.objects.current(on)
        .filter(pk__in={one.revision_id for one in provisions.values()})
        .values_list("pk", flat=True)
    )
    write_events(
        _replaced(row, provisions, following, on=on, at=at)
        or _ended(row, provisions[row.provision_id], current, on=on, at=at)
        for row in known
    )


def _provisions(keys: Collection[int]) -> dict[int, Provision]:
    rows = Provision.objects.filter(pk__in=keys)
    return rows.select_related("revision__publication").in_bulk()


def _matter(row: Finding, provisions: Mapping[int, Provision]) -> tuple[int, int]:
    """Which engine and which document it is about."""
    return row.engine_id, provisions[row.provision_id].revision.publication_id


def _replaced(
    row: Finding,
    provisions: Mapping[int, Provision],
    following: Mapping[tuple[int, int], Finding],
    *,
    on: date,
    at: datetime,
) -> Event | None:
    """That a revision took over; None where no other one speaks of the engine."""
    follower = following.get(_matter(row, provisions))
    if follower is None:
        return None
    ended, next_one = provisions[row.provision_id], provisions[follower.provision_id]
    before, now = ended.revision, next_one.revision
    if now == before:
        return None
    reason = f"Revision {now.label} has taken over from revision {before.label}."
    event = event_of(
        row,
        next_one,
        EventKind.SUPERSEDED,
        key_of("superseded", row.engine_id, now.public_id),
        {
            "title": now.publication.title,
            "reasons": [reason, *([now.summary] if now.summary else [])],
        },
        on=on,
        at=at,
    )
    event.part = None  # it is about the document, whatever of it is about a part
    return event


def _ended(
    row: Finding, ended: Provision, current: Collection[int], *, on: date, at: datetime
) -> Event:
    reason = "It does not apply as the engine's facts now stand."
    if ended.revision_id not in current:
        reason = f"Revision {ended.revision.label} is no longer current."
    said: dict[str, object] = {"reasons": [reason]}
    key = key_of("ended", row.public_id)
    return event_of(row, ended, EventKind.ENDED, key, said, on=on, at=at)

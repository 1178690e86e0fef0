"""Acts that are signed: the password is asked again before anything is written."""

from __future__ import annotations

from datetime import datetime

from tracker.accounts.access import Right, Viewer
from tracker.accounts.passwords import PasswordRefused, confirm_password
from tracker.compliance import ledger
from tracker.compliance.changes.acting import changing
from tracker.compliance.changes.records import check_ours, void_record
from tracker.compliance.ledger import Work
from tracker.compliance.models import Record
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine


class WrongPassword(Refused):
    """The password is not that of who signs, or was wrong too often."""


def look_at_work(viewer: Viewer, work: Work, *, at: datetime) -> list[Record]:
    """Return the records that signing would add, as drafts; nothing is written.

    Raises what signing raises, but for the password.
    """
    viewer.require(Right.RECORD_WORK)
    _check_ours(viewer, work)
    return ledger.draft_records(_read_again(viewer, work), by=viewer.user, at=at)


def sign_work(
    viewer: Viewer,
    work: Work,
    *,
    password: str,
    at: datetime,
    version: int | None = None,
) -> list[Record]:
    """Add work that was done and approved, signed, to one ledger or several.

    All entries or none. `version`: of the first engine, as it was seen. Raises
    WrongPassword, RecordRefused with field and engine, Taken where it is recorded.
    """
    viewer.require(Right.RECORD_WORK)
    confirm(viewer, password)
    first, *others = work
    with changing(
        viewer, first, Right.RECORD_WORK, at=at, version=version, also=others
    ):
        _check_ours(viewer, work)
        locked = _read_again(viewer, work)
        return ledger.add_to_ledgers(locked, by=viewer.user, at=at)


def _check_ours(viewer: Viewer, work: Work) -> None:
    for entries in work.values():
        for entry in entries:
            check_ours(viewer, entry)


def _read_again(viewer: Viewer, work: Work) -> Work:
    """The same work under engines as they are now; DoesNotExist for one not seen."""
    keys = [engine.pk for engine in work]
    visible = Engine.objects.visible_to(viewer).select_related("engine_type", "station")
    now = visible.in_bulk(keys)
    if len(now) != len(keys):
        raise Engine.DoesNotExist("One of the engines is not in the viewer's care.")
    return {now[engine.pk]: entries for engine, entries in work.items()}


def sign_void(
    viewer: Viewer, record: Record, *, reason: str, password: str, at: datetime
) -> Record:
    """Add a record, signed, that voids another and says why."""
    viewer.require(Right.RECORD_WORK)
    confirm(viewer, password)
    return void_record(viewer, record, reason=reason, at=at)


def confirm(viewer: Viewer, password: str) -> None:
    """Raise WrongPassword unless it is the viewer's own."""
    try:
        confirm_password(viewer.user, password)
    except PasswordRefused as refused:
        raise WrongPassword("password", str(refused)) from refused

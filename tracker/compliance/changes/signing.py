"""Acts that are signed: the password is asked again before anything is written."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from tracker.accounts.access import Right, Viewer
from tracker.accounts.passwords import PasswordRefused, confirm_password
from tracker.compliance import ledger
from tracker.compliance.changes.records import check_ours, record_all, void_record
from tracker.compliance.ledger import Entry
from tracker.compliance.models import Record
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine


class WrongPassword(Refused):
    """The password is not that of who signs, or was wrong too often."""


def look_at_work(
    viewer: Viewer, engine: Engine, entries: Sequence[Entry], *, at: datetime
) -> list[Record]:
    """Return the records that signing would add, as drafts; nothing is written.

    Raises what signing raises, but for the password.
    """
    viewer.require(Right.RECORD_WORK)
    visible = Engine.objects.visible_to(viewer).select_related("engine_type", "station")
    seen = visible.get(pk=engine.pk)
    for entry in entries:
        check_ours(viewer, entry)
    return ledger.draft_records(engine=seen, entries=entries, by=viewer.user, at=at)


def sign_work(
    viewer: Viewer,
    engine: Engine,
    entries: Sequence[Entry],
    *,
    password: str,
    at: datetime,
    version: int | None = None,
) -> list[Record]:
    """Add work that was done and approved, signed; all entries or none.

    Raises WrongPassword, RecordRefused with the field, Taken where it is recorded.
    """
    viewer.require(Right.RECORD_WORK)
    confirm(viewer, password)
    return record_all(viewer, engine, entries, at=at, version=version)


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

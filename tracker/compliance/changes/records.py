"""Acts on the ledger: work recorded, past work transcribed, a record voided.

What a person does on a page or through the API is signed: see `signing`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from tracker.accounts.access import Right, Viewer
from tracker.compliance import ledger
from tracker.compliance.changes.acting import changing
from tracker.compliance.ledger import Entry, RecordRefused
from tracker.compliance.models import Record
from tracker.fleet.entries import day_at
from tracker.fleet.models import Engine


def record_work(
    viewer: Viewer,
    engine: Engine,
    entry: Entry,
    *,
    at: datetime,
    version: int | None = None,
) -> Record:
    """Add work that was done to the engine's ledger.

    Raises RecordRefused with the field, Taken where it is recorded already.
    """
    [record] = record_all(viewer, engine, [entry], at=at, version=version)
    return record


def record_all(
    viewer: Viewer,
    engine: Engine,
    entries: Sequence[Entry],
    *,
    at: datetime,
    version: int | None = None,
) -> list[Record]:
    """Add several entries, oldest first; all of them or none."""
    with changing(viewer, engine, Right.RECORD_WORK, at=at, version=version) as locked:
        for entry in entries:
            check_ours(viewer, entry)
        return ledger.add_records(engine=locked, entries=entries, by=viewer.user, at=at)


def void_record(viewer: Viewer, record: Record, *, reason: str, at: datetime) -> Record:
    """Add a record that voids another and says why."""
    with changing(viewer, record.engine, Right.RECORD_WORK, at=at) as locked:
        record.engine = locked
        return ledger.void_record(
            record,
            reason=reason,
            by=viewer.user,
            at=at,
            on=day_at(viewer.station, at),
        )


def check_ours(viewer: Viewer, entry: Entry) -> None:
    """Raise RecordRefused for an entry that names what belongs to another station."""
    ours = viewer.station.pk
    if entry.provision is not None and entry.provision.station_id != ours:
        raise RecordRefused("provision", "This publication is of another station.")
    if entry.part is not None and entry.part.station_id != ours:
        raise RecordRefused("part", "This part is of another station.")

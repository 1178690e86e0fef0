"""The chain of an engine's records, gone through from the first to the last.

Rows are read as plain values: a million of them are to be looked at in seconds.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from operator import attrgetter
from typing import Any, Final, Literal, NamedTuple
from uuid import UUID

from tracker.compliance.ledger.attachments import AttachmentLost, open_attachment
from tracker.compliance.ledger.canonical import (
    canonical_moment,
    first_hash,
    record_hash,
    written_hours,
)
from tracker.compliance.models import Attachment, Record, RecordQuerySet
from tracker.fleet.models import Engine

Fault = Literal["gap", "link", "payload", "columns", "attachments", "head", "file"]
_SENTENCES: Final[dict[Fault, str]] = {
    "gap": "a record before it is missing",
    "link": "it does not follow from the record before it",
    "payload": "its text is not the text that was recorded",
    "columns": "its columns do not say what its text says",
    "attachments": "its attachments are not those that its text names",
    "head": "it was the head of the chain, and is not there any more as it was",
    "file": "a file attached to it is lost or was changed",
}


class Row(NamedTuple):
    """What is read of a record, in the order of `_COLUMNS`."""

    pk: int
    engine: int
    chain_id: UUID
    engine_station: int
    sequence: int
    previous_hash: str
    hash: str
    payload: str
    station: int
    handed_over: bool
    kind: str
    slot: str
    on: date
    hours: int | None
    part_hours: int | None
    airframe_hours: int | None
    method: str
    result: str
    en_route: bool
    description: str
    document_number: str
    document_revision: str
    recorded_at: datetime
    recorded_by: UUID
    revision: UUID | None
    provision: UUID | None
    rule: int | None
    part: UUID | None
    voids: int | None


_COLUMNS: Final = (
    "pk",
    "engine",
    "engine__chain_id",
    "engine__station",
    "sequence",
    "previous_hash",
    "hash",
    "payload",
    "station",
    "handed_over",
    "kind",
    "slot",
    "on",
    "hours",
    "part_hours",
    "airframe_hours",
    "method",
    "result",
    "en_route",
    "description",
    "document_number",
    "document_revision",
    "recorded_at",
    "recorded_by__public_id",
    "revision__public_id",
    "provision__public_id",
    "rule__number",
    "part__public_id",
    "voids__sequence",
)
AT_ONCE: Final = 5_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """Where a chain breaks first, and how. `engine`: in words."""

    engine: str
    sequence: int
    fault: Fault

    def __str__(self) -> str:
        return f"{self.engine}, record {self.sequence}: {_SENTENCES[self.fault]}"


def head_of(engine: Engine) -> Record | None:
    """Return the last record of an engine; its hash is the head of the chain."""
    return Record.objects.filter(engine=engine).order_by("-sequence").first()


def verify_chain(engine: Engine) -> Break | None:
    """Return the first break in an engine's chain, None where it is whole."""
    return next(breaks(Record.objects.filter(engine=engine)), None)


def breaks(records: RecordQuerySet) -> Iterator[Break]:
    """Yield the first break of each engine of which these are all records."""
    attached = _Attached(records)
    ordered = records.order_by("engine", "sequence").values_list(*_COLUMNS)
    rows = map(Row._make, ordered.iterator(chunk_size=AT_ONCE))
    for key, chain in groupby(rows, key=attrgetter("engine")):
        found = _first_break(chain, attached)
        if found is not None:
            sequence, fault = found
            engine = Engine.objects.select_related("engine_type").get(pk=key)
            yield Break(engine=str(engine), sequence=sequence, fault=fault)


def _first_break(chain: Iterator[Row], attached: _Attached) -> tuple[int, Fault] | None:
    previous: str | None = None
    for expected, row in enumerate(chain, start=1):
        if previous is None:
            previous = first_hash(row.chain_id)
        fault = _fault_of(row, attached, expected=expected, previous=previous)
        if fault is not None:
            return row.sequence, fault
        previous = row.hash
    return None


def _fault_of(
    row: Row, attached: _Attached, *, expected: int, previous: str
) -> Fault | None:
    if row.sequence != expected:
        return "gap"
    if row.previous_hash != previous:
        return "link"
    computed = record_hash(
        previous=previous,
        engine=row.chain_id,
        sequence=row.sequence,
        payload=row.payload,
    )
    if computed != row.hash:
        return "payload"
    said = json.loads(row.payload)
    if not _columns_agree(row, said):
        return "columns"
    return None if attached.agrees(row.pk, said) else "attachments"


def _columns_agree(row: Row, said: dict[str, Any]) -> bool:
    document = said.get("document") or {}
    return (
        said["kind"] == row.kind
        and said["slot"] == row.slot
        and said["on"] == row.on.isoformat()
        and said.get("hours") == written_hours(row.hours)
        and said.get("part_hours") == written_hours(row.part_hours)
        and said.get("airframe_hours") == written_hours(row.airframe_hours)
        and said.get("method", "") == row.method
        and said.get("result", "") == row.result
        and said.get("en_route", False) == row.en_route
        and said.get("work", "") == row.description
        and said["recorded_at"] == canonical_moment(row.recorded_at)
        and said["engine"]["id"] == str(row.chain_id)
        and row.station == row.engine_station
        and document.get("number", "") == row.document_number
        and document.get("revision", "") == row.document_revision
        and (said.get("voids") or {}).get("sequence") == row.voids
        and (row.handed_over or _ids_agree(row, said, document))
    )


def _ids_agree(row: Row, said: dict[str, Any], document: dict[str, Any]) -> bool:
    """Whether the rows that a record is tied to are those that its text names.

    They are not known at a station that the engine was handed over to.
    """
    return (
        said["recorded_by"] == str(row.recorded_by)
        and document.get("id") == _named(row.revision)
        and document.get("provision_id") == _named(row.provision)
        and document.get("rule") == row.rule
        and (said.get("part") or {}).get("id") == _named(row.part)
    )


def _named(key: UUID | None) -> str | None:
    return None if key is None else str(key)


def lost_files(records: RecordQuerySet) -> Iterator[Break]:
    """Yield the records of which an attached file is lost or is not as it was."""
    files = Attachment.objects.filter(record__in=records).select_related(
        "record__engine__engine_type"
    )
    for file in files.order_by("record", "order").iterator(chunk_size=AT_ONCE):
        try:
            open_attachment(file)
        except AttachmentLost:
            yield Break(
                engine=str(file.record.engine),
                sequence=file.record.sequence,
                fault="file",
            )


class _Attached:
    """The rows of all attachments of some records, by the key of the record."""

    def __init__(self, records: RecordQuerySet) -> None:
        rows = Attachment.objects.filter(record__in=records).order_by("record", "order")
        columns = ("record", "order", "name", "media_type", "size", "sha256")
        self._rows: dict[int, list[tuple[Any, ...]]] = {}
        for record, *row in rows.values_list(*columns).iterator(chunk_size=AT_ONCE):
            self._rows.setdefault(record, []).append(tuple(row))

    def agrees(self, record: int, said: dict[str, Any]) -> bool:
        """Whether the rows of a record are what its text names, in order."""
        named = [
            (order, file["name"], file["media_type"], file["size"], file["sha256"])
            for order, file in enumerate(said.get("attachments") or (), start=1)
        ]
        return self._rows.get(record, []) == named

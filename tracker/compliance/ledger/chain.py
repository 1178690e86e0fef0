"""The chain of an engine's records, gone through from the first to the last.

Rows are read as plain values: a million of them are to be looked at in seconds.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from typing import Any, Final, Literal, NamedTuple

from django.db.models import CharField, Manager, QuerySet
from django.db.models.functions import Cast

from notices.models import Provision, Revision, RuleVersion
from tracker.accounts.models import User
from tracker.compliance.ledger.attachments import AttachmentLost, open_attachment
from tracker.compliance.ledger.canonical import (
    first_hash,
    record_hash,
    written_hours,
)
from tracker.compliance.models import Attachment, Record, RecordQuerySet
from tracker.fleet.models import Engine, Part

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
    """What is read of a record: columns of its own table only, in this order.

    `AS_READ`: what comes as the database writes it, which is not converted then.
    """

    engine: int
    pk: int
    sequence: int
    previous_hash: str
    hash: str
    payload: str
    station: int
    came_along: str
    kind: str
    slot: str
    day: str
    hours: int | None
    part_hours: int | None
    airframe_hours: int | None
    method: str
    result: str
    past_the_limit: str
    description: str
    document_number: str
    document_revision: str
    moment: str
    recorded_by: int
    revision: int | None
    provision: int | None
    rule: int | None
    part: int | None
    voids: int | None


AS_READ: Final = {
    "day": Cast("on", CharField()),
    "moment": Cast("recorded_at", CharField()),
    "came_along": Cast("handed_over", CharField()),
    "past_the_limit": Cast("en_route", CharField()),
}
TRUE: Final = {"1", "true"}
AT_ONCE: Final = 5_000
_READ: Final = json.JSONDecoder().raw_decode
_NO_RECORD: Final = (ValueError, LookupError, TypeError, AttributeError)
_NOTHING: Final[dict[str, Any]] = {}


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
    named = _Named(records)
    ordered = records.order_by("engine", "sequence").annotate(**AS_READ)
    rows = ordered.values_list(*Row._fields).iterator(chunk_size=AT_ONCE)
    for key, chain in groupby(map(Row._make, rows), key=itemgetter(0)):
        found = _first_break(chain, named, *named.engines.get(key, ("", 0)))
        if found is not None:
            sequence, fault = found
            engine = Engine.objects.select_related("engine_type").filter(pk=key).first()
            name = str(engine or f"engine {key}")
            yield Break(engine=name, sequence=sequence, fault=fault)


def _first_break(
    chain: Iterator[Row], named: _Named, chain_id: str, station: int
) -> tuple[int, Fault] | None:
    previous = first_hash(chain_id)
    places: dict[int | None, int] = {}
    for expected, row in enumerate(chain, start=1):
        sequence = row.sequence
        if sequence != expected:
            return sequence, "gap"
        if row.previous_hash != previous:
            return sequence, "link"
        computed = record_hash(
            previous=previous, engine=chain_id, sequence=sequence, payload=row.payload
        )
        if computed != row.hash:
            return sequence, "payload"
        try:
            said, end = _READ(row.payload)
            agree = (
                end == len(row.payload)
                and row.station == station
                and said["engine"]["id"] == chain_id
                and (said.get("voids") or {}).get("sequence") == places.get(row.voids)
                and _columns_agree(row, said)
                and (row.came_along in TRUE or _ids_agree(row, said, named))
            )
        except _NO_RECORD:
            agree = False
        if not agree:
            return sequence, "columns"
        if not named.files_agree(row.pk, said.get("attachments")):
            return sequence, "attachments"
        places[row.pk] = sequence
        previous = computed
    return None


def _columns_agree(row: Row, said: dict[str, Any]) -> bool:
    document = said.get("document") or _NOTHING
    return (
        said["kind"] == row.kind
        and said["slot"] == row.slot
        and said["on"] == row.day
        and said.get("hours") == written_hours(row.hours)
        and said.get("part_hours") == written_hours(row.part_hours)
        and said.get("airframe_hours") == written_hours(row.airframe_hours)
        and said.get("method", "") == row.method
        and said.get("result", "") == row.result
        and said.get("en_route", False) == (row.past_the_limit in TRUE)
        and said.get("work", "") == row.description
        and said["recorded_at"] == _moment(row.moment)
        and document.get("number", "") == row.document_number
        and document.get("revision", "") == row.document_revision
    )


def _moment(written: str) -> str:
    """Return a time, as a database writes it, as it stands in the text.

    Both keep it in UTC. SQLite leaves out the zone, and PostgreSQL the zeros at the end of a fraction.
    """
    moment = written.removesuffix("+00").replace(" ", "T")
    return f"{moment.ljust(26, '0') if '.' in moment else moment}Z"


def _ids_agree(row: Row, said: dict[str, Any], named: _Named) -> bool:
    """Whether the rows that a record is tied to are those that its text names.

    They are not known at a station that the engine was handed over to.
    """
    document = said.get("document") or _NOTHING
    return (
        said["recorded_by"] == named.people.get(row.recorded_by)
        and document.get("id") == named.revisions.get(row.revision)
        and document.get("provision_id") == named.provisions.get(row.provision)
        and document.get("rule") == named.rules.get(row.rule)
        and (said.get("part") or _NOTHING).get("id") == named.parts.get(row.part)
    )


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


class _Named:
    """All that the records are tied to, as their texts name it, by key. Seven queries.

    A key that leads nowhere finds None, and then the text names something else.
    """

    def __init__(self, records: RecordQuerySet) -> None:
        engines = Engine.objects.filter(pk__in=records.values("engine"))
        self.engines = {
            key: (str(chain_id), station)
            for key, chain_id, station in engines.values_list(
                "pk", "chain_id", "station"
            )
        }
        self.people = _ids(User.objects, records.values("recorded_by"))
        self.revisions = _ids(Revision.objects, records.values("revision"))
        self.provisions = _ids(Provision.objects, records.values("provision"))
        self.parts = _ids(Part.objects, records.values("part"))
        versions = RuleVersion.objects.filter(pk__in=records.values("rule"))
        self.rules: dict[int | None, int] = dict(versions.values_list("pk", "number"))
        self._files = _files_of(records)

    def files_agree(self, record: int, named: Any) -> bool:
        """Whether the attachments of a record are what its text names, in order."""
        rows = self._files.get(record)
        if not named and rows is None:
            return True
        try:
            return rows == [
                (order, file["name"], file["media_type"], file["size"], file["sha256"])
                for order, file in enumerate(named or (), start=1)
            ]
        except _NO_RECORD:
            return False


def _ids(rows: Manager[Any], keys: QuerySet[Any, Any]) -> dict[int | None, str]:
    found = rows.filter(pk__in=keys).values_list("pk", "public_id")
    return {key: str(public_id) for key, public_id in found}


def _files_of(records: RecordQuerySet) -> dict[int, list[tuple[Any, ...]]]:
    rows = Attachment.objects.filter(record__in=records).order_by("record", "order")
    columns = ("record", "order", "name", "media_type", "size", "sha256")
    found: dict[int, list[tuple[Any, ...]]] = {}
    for record, *row in rows.values_list(*columns).iterator(chunk_size=AT_ONCE):
        found.setdefault(record, []).append(tuple(row))
    return found

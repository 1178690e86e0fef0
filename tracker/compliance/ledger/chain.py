"""The chain of an engine's records, gone through from the first to the last."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from operator import attrgetter
from typing import Any, Literal

from tracker.compliance.ledger.canonical import (
    decimal_hours,
    first_hash,
    record_hash,
)
from tracker.compliance.models import Record
from tracker.fleet.models import Engine

Fault = Literal["gap", "link", "payload", "columns"]
_SENTENCES: dict[Fault, str] = {
    "gap": "a record before it is missing",
    "link": "it does not follow from the record before it",
    "payload": "its text is not the text that was recorded",
    "columns": "its columns do not say what its text says",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """Where a chain breaks first, and how."""

    engine: Engine
    sequence: int
    fault: Fault

    def __str__(self) -> str:
        return f"{self.engine}, record {self.sequence}: {_SENTENCES[self.fault]}"


def head_of(engine: Engine) -> Record | None:
    """Return the last record of an engine; its hash is the head of the chain."""
    return Record.objects.filter(engine=engine).order_by("-sequence").first()


def verify_chain(engine: Engine) -> Break | None:
    """Return the first break in an engine's chain, None where it is whole."""
    records = Record.objects.filter(engine=engine).for_verifying()
    return next(breaks(records.iterator()), None)


def breaks(records: Iterable[Record]) -> Iterator[Break]:
    """Yield the first break of each engine; records come by engine, then in order."""
    for _, chain in groupby(records, key=attrgetter("engine_id")):
        found = _first_break(chain)
        if found is not None:
            yield found


def _first_break(chain: Iterator[Record]) -> Break | None:
    previous: str | None = None
    for expected, record in enumerate(chain, start=1):
        if previous is None:
            previous = first_hash(record.engine.public_id)
        fault = _fault_of(record, expected=expected, previous=previous)
        if fault is not None:
            return Break(engine=record.engine, sequence=record.sequence, fault=fault)
        previous = record.hash
    return None


def _fault_of(record: Record, *, expected: int, previous: str) -> Fault | None:
    if record.sequence != expected:
        return "gap"
    if record.previous_hash != previous:
        return "link"
    computed = record_hash(
        previous=previous,
        engine=record.engine.public_id,
        sequence=record.sequence,
        payload=record.payload,
    )
    if computed != record.hash:
        return "payload"
    return None if _columns_agree(record) else "columns"


def _columns_agree(record: Record) -> bool:
    text = record.text
    document = text.get("document") or {}
    voids = text.get("voids") or {}
    said: tuple[Any, ...] = (
        text["kind"],
        text["slot"],
        text["on"],
        text.get("hours"),
        text.get("part_hours"),
        text.get("airframe_hours"),
        text.get("method", ""),
        text.get("result", ""),
        text.get("en_route", False),
        text.get("work", ""),
        document.get("number", ""),
        document.get("revision", ""),
        document.get("provision_id"),
        (text.get("part") or {}).get("id"),
        voids.get("sequence"),
    )
    return said == (
        record.kind,
        record.slot,
        record.on.isoformat(),
        _text(record.hours),
        _text(record.part_hours),
        _text(record.airframe_hours),
        record.method,
        record.result,
        record.en_route,
        record.description,
        record.document_number,
        record.document_revision,
        str(record.provision.public_id) if record.provision else None,
        str(record.part.public_id) if record.part else None,
        record.voids.sequence if record.voids else None,
    )


def _text(hours: int | None) -> str | None:
    return None if hours is None else str(decimal_hours(hours))

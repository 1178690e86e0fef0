"""The two plain writes of the ledger. Both expect a transaction that has locked the engine."""

from __future__ import annotations

import hashlib
from datetime import date, datetime

from notices.models import RuleVersion
from tracker.accounts.models import User
from tracker.compliance.ledger.canonical import canonical, first_hash, record_hash
from tracker.compliance.ledger.chain import head_of
from tracker.compliance.ledger.checks import check
from tracker.compliance.ledger.entries import Entry, payload_of_void, payload_of_work
from tracker.compliance.ledger.refusals import RecordRefused, Taken
from tracker.compliance.models import Record, RecordKind
from tracker.fleet.models import Engine, PartDescription


def add_record(*, engine: Engine, entry: Entry, by: User, at: datetime) -> Record:
    """Add an entry to the end of an engine's chain.

    Raises RecordRefused for what cannot be right, and Taken where the same thing is
    recorded already.
    """
    check(entry, engine=engine, at=at)
    rule = _rule_of(entry)
    slot = _free_slot(engine, _slot_of(entry, rule))
    part = _described(entry)
    payload = payload_of_work(
        entry, engine=engine, rule=rule, part=part, slot=slot, by=by, at=at
    )
    record = Record(
        kind=entry.kind,
        publication=entry.publication,
        revision=entry.revision,
        provision=entry.provision,
        rule=rule,
        document_number=entry.document_number,
        document_revision=entry.document_revision,
        part=entry.part,
        on=entry.on,
        hours=entry.hours,
        part_hours=entry.part_hours,
        airframe_hours=entry.airframe_hours,
        method=entry.method,
        result=entry.result,
        en_route=entry.en_route,
        description=entry.description,
        slot=slot,
    )
    return _chain(record, engine=engine, payload=payload, by=by, at=at)


def void_record(
    record: Record, *, reason: str, by: User, at: datetime, on: date
) -> Record:
    """Add an entry that voids another. Raises RecordRefused where that cannot be."""
    if record.kind == RecordKind.VOID:
        raise RecordRefused("record", "An entry that voids another cannot be voided.")
    if not reason.strip():
        raise RecordRefused("reason", "Say why the entry is void.")
    earlier = Record.objects.filter(voids=record).first()
    if earlier is not None:
        raise RecordRefused(
            "record",
            f"Entry {record.sequence} is void already, by entry {earlier.sequence}.",
        )
    slot = f"void:{record.sequence}"
    payload = payload_of_void(record, reason=reason, slot=slot, by=by, at=at, on=on)
    void = Record(kind=RecordKind.VOID, voids=record, on=on, slot=slot)
    return _chain(void, engine=record.engine, payload=payload, by=by, at=at)


def _chain(
    record: Record,
    *,
    engine: Engine,
    payload: dict[str, object],
    by: User,
    at: datetime,
) -> Record:
    head = head_of(engine)
    record.engine = engine
    record.station_id = engine.station_id
    record.sequence = head.sequence + 1 if head else 1
    record.previous_hash = head.hash if head else first_hash(engine.public_id)
    record.payload = canonical(payload)
    record.hash = record_hash(
        previous=record.previous_hash,
        engine=engine.public_id,
        sequence=record.sequence,
        payload=record.payload,
    )
    record.recorded_at = at
    record.recorded_by = by
    record.save(force_insert=True)
    return record


def _rule_of(entry: Entry) -> RuleVersion | None:
    if entry.provision is None:
        return None
    return entry.provision.rules.filter(current=True).first()


def _described(entry: Entry) -> PartDescription | None:
    if entry.part is None:
        return None
    return (
        PartDescription.objects.filter(part=entry.part, current=True)
        .select_related("part")
        .first()
    )


def _slot_of(entry: Entry, rule: RuleVersion | None) -> str:
    """Return action, part and occurrence: the day where it repeats, else "once"."""
    part = entry.part.public_id if entry.part else "-"
    if entry.provision is None:
        what = f"{entry.document_number}\n{entry.description}"
        digest = hashlib.sha256(what.encode("utf-8")).hexdigest()[:32]
        return f"work:{digest}:{part}:{entry.on}"
    repeats = rule is not None and "repeat" in rule.action
    return f"{entry.provision.public_id}:{part}:{entry.on if repeats else 'once'}"


def _free_slot(engine: Engine, wanted: str) -> str:
    """Return the slot with the number of its replacement; raise Taken if it is held."""
    held = (
        Record.objects.filter(engine=engine, slot__startswith=f"{wanted}:")
        .select_related("recorded_by", "voided_by")
        .order_by("sequence")
    )
    replaced = 0
    for record in held:
        if not hasattr(record, "voided_by"):
            raise Taken(record)
        replaced += 1
    return f"{wanted}:{replaced}"

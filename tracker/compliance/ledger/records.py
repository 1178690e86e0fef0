"""The two plain writes of the ledger. Both expect a transaction that has locked the engine."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import date, datetime

from notices.models import RuleVersion
from tracker.accounts.models import User
from tracker.compliance.ledger.attachments import keep_uploads, rows_of
from tracker.compliance.ledger.background import Background, background_of
from tracker.compliance.ledger.canonical import canonical, first_hash, record_hash
from tracker.compliance.ledger.chain import head_of
from tracker.compliance.ledger.checks import check, check_plain
from tracker.compliance.ledger.entries import Entry, payload_of_void, payload_of_work
from tracker.compliance.ledger.refusals import RecordRefused, Taken
from tracker.compliance.models import Attachment, Record, RecordKind
from tracker.fleet.models import Engine, PartDescription

Work = Mapping[Engine, Sequence[Entry]]


def add_records(
    *,
    engine: Engine,
    entries: Sequence[Entry],
    by: User,
    at: datetime,
) -> list[Record]:
    """Add entries, oldest first, to the end of an engine's chain. Ten queries at most.

    Raises RecordRefused for what cannot be right, and Taken where the same thing is
    recorded already.
    """
    return add_to_ledgers({engine: entries}, by=by, at=at)


def add_to_ledgers(work: Work, *, by: User, at: datetime) -> list[Record]:
    """Add entries to the chains of several engines, in as many queries as to one.

    Raises what `add_records` raises, with the engine it is about.
    """
    records = draft_records(work, by=by, at=at)
    Record.objects.bulk_create(records, batch_size=500)
    _attach(records, _in_order(work))
    return records


def draft_records(work: Work, *, by: User, at: datetime) -> list[Record]:
    """Return the records that these entries would become, not saved.

    Engine by engine as given, oldest first. Raises what `add_to_ledgers` raises.
    """
    entries = _in_order(work)
    pasts = background_of(list(work), [entry.revision for entry in entries])
    rules, parts = _rules_of(entries), _described(entries)
    records = []
    for engine, own in work.items():
        past = pasts[engine.pk]
        for entry in _oldest_first(own):
            rule = rules.get(entry.provision.pk) if entry.provision else None
            part = parts.get(entry.part.pk) if entry.part else None
            try:
                check(entry, past, at=at)
                slot = _free_slot(past, slot_of(entry, rule))
            except RecordRefused as refused:
                refused.engine, refused.entry = engine, entry
                raise
            payload = payload_of_work(
                entry, engine=engine, rule=rule, part=part, slot=slot, by=by, at=at
            )
            record = _row_of(entry, rule=rule, slot=slot)
            _chain(record, past.last, engine=engine, payload=payload, by=by, at=at)
            past.take(record)
            records.append(record)
    return records


def _in_order(work: Work) -> list[Entry]:
    return [entry for entries in work.values() for entry in _oldest_first(entries)]


def _oldest_first(entries: Sequence[Entry]) -> list[Entry]:
    return sorted(entries, key=lambda entry: (entry.on, entry.hours or 0))


def _attach(records: Sequence[Record], entries: Sequence[Entry]) -> None:
    """Write the files and their rows; without files, nothing is asked."""
    rows = []
    for record, entry in zip(records, entries, strict=True):
        keep_uploads(entry.attachments)
        rows += rows_of(record, entry.attachments)
    if rows:
        Attachment.objects.bulk_create(rows, batch_size=500)


def _row_of(entry: Entry, *, rule: RuleVersion | None, slot: str) -> Record:
    return Record(
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


def void_record(
    record: Record, *, reason: str, by: User, at: datetime, on: date
) -> Record:
    """Add an entry that voids another. Raises RecordRefused where that cannot be."""
    if record.kind == RecordKind.VOID:
        raise RecordRefused("record", "An entry that voids another cannot be voided.")
    if not reason.strip():
        raise RecordRefused("reason", "Say why the entry is void.")
    check_plain("reason", reason)
    earlier = Record.objects.filter(voids=record).first()
    if earlier is not None:
        raise RecordRefused(
            "record",
            f"Entry {record.sequence} is void already, by entry {earlier.sequence}.",
        )
    slot = f"void:{record.sequence}"
    payload = payload_of_void(record, reason=reason, slot=slot, by=by, at=at, on=on)
    void = Record(kind=RecordKind.VOID, voids=record, on=on, slot=slot)
    engine = record.engine
    _chain(void, head_of(engine), engine=engine, payload=payload, by=by, at=at)
    void.save(force_insert=True)
    return void


def _chain(
    record: Record,
    last: Record | None,
    *,
    engine: Engine,
    payload: dict[str, object],
    by: User,
    at: datetime,
) -> None:
    """Give the record its place after the last one, its text and its hash."""
    record.engine = engine
    record.station_id = engine.station_id
    record.sequence = last.sequence + 1 if last else 1
    record.previous_hash = last.hash if last else first_hash(engine.chain_id)
    record.payload = canonical(payload)
    record.hash = record_hash(
        previous=record.previous_hash,
        engine=engine.chain_id,
        sequence=record.sequence,
        payload=record.payload,
    )
    record.recorded_at = at
    record.recorded_by = by


def _rules_of(entries: Sequence[Entry]) -> dict[int, RuleVersion]:
    provisions = {entry.provision.pk for entry in entries if entry.provision}
    versions = RuleVersion.objects.filter(provision__in=provisions, current=True)
    return {version.provision_id: version for version in versions}


def _described(entries: Sequence[Entry]) -> dict[int, PartDescription]:
    parts = {entry.part.pk for entry in entries if entry.part}
    rows = PartDescription.objects.filter(part__in=parts, current=True)
    return {row.part_id: row for row in rows.select_related("part")}


def slot_of(entry: Entry, rule: RuleVersion | None) -> str:
    """Return action, part and occurrence: the day where it repeats, else "once"."""
    part = entry.part.public_id if entry.part else "-"
    if entry.provision is None:
        what = f"{entry.document_number}\n{entry.description}"
        digest = hashlib.sha256(what.encode("utf-8")).hexdigest()[:32]
        return f"work:{digest}:{part}:{entry.on}"
    repeats = rule is not None and "repeat" in rule.action
    return f"{entry.provision.public_id}:{part}:{entry.on if repeats else 'once'}"


def _free_slot(past: Background, wanted: str) -> str:
    """Return the slot with the number of its replacement; raise Taken if it is held."""
    if wanted in past.held:
        raise Taken(past.held[wanted])
    return f"{wanted}:{past.replaced[wanted]}"

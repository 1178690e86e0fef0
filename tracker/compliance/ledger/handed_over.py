"""The ledger of an engine as it goes along to another station, and is taken in there.

Only the texts that were hashed go, with their hashes: every column is read from them
again, so that nothing can come in beside what was signed.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from notices.models import Provision, RuleVersion
from notices.rules.designations import designation
from notices.rules.errors import Fault, RuleError
from tracker.accounts.models import User
from tracker.compliance.ledger.attachments import Upload, keep_uploads, rows_of
from tracker.compliance.ledger.canonical import first_hash, record_hash
from tracker.compliance.models import Attachment, Method, Record, RecordKind
from tracker.fleet.models import Engine


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One record of a chain: its place, its hash, and the text that was hashed."""

    sequence: int
    hash: str
    payload: str


def links_of(engine: Engine) -> list[Link]:
    """Return the chain of an engine, oldest first. One query."""
    rows = Record.objects.filter(engine=engine).order_by("sequence")
    columns = rows.values_list("sequence", "hash", "payload")
    return [Link(sequence=s, hash=h, payload=p) for s, h, p in columns]


def check_chain(chain_id: Any, links: Sequence[Link]) -> None:
    """Raise RuleError with the first place where the chain does not hold."""
    engine = str(chain_id)
    previous = first_hash(engine)
    for place, link in enumerate(links):
        digest = record_hash(
            previous=previous,
            engine=engine,
            sequence=place + 1,
            payload=link.payload,
        )
        if (link.sequence, link.hash) != (place + 1, digest):
            raise RuleError(
                [
                    Fault(
                        f"ledger[{place}]",
                        "The chain breaks here: the record is not the one that was "
                        "signed, or does not follow from the one before it.",
                    )
                ]
            )
        previous = digest


def take_in_chain(
    engine: Engine,
    links: Sequence[Link],
    files: Mapping[str, bytes],
    *,
    by: User,
) -> list[Record]:
    """Write the chain of an engine that was just entered. Its chain was checked.

    `files`: the attached bytes by their hash. Expects a transaction.
    """
    known = _known_provisions(engine, [json.loads(link.payload) for link in links])
    records: list[Record] = []
    previous = first_hash(engine.chain_id)
    for place, link in enumerate(links):
        path = f"ledger[{place}]"
        try:
            record = _record(engine, link, records, known)
        except (KeyError, TypeError, ValueError, InvalidOperation) as error:
            message = f"Its text is not that of a record: {error!r}"
            raise RuleError([Fault(path, message)]) from error
        record.previous_hash, previous = previous, link.hash
        record.recorded_by = by
        record.save(force_insert=True)
        _take_in_files(record, files, path)
        records.append(record)
    return records


def _record(
    engine: Engine,
    link: Link,
    before: Sequence[Record],
    known: Mapping[tuple[str, str, str], tuple[Provision, RuleVersion]],
) -> Record:
    said = json.loads(link.payload)
    document = said.get("document") or {}
    provision, rule = known.get(_key(document), (None, None))
    voids = said.get("voids")
    return Record(
        station_id=engine.station_id,
        engine=engine,
        sequence=link.sequence,
        hash=link.hash,
        payload=link.payload,
        recorded_at=datetime.fromisoformat(said["recorded_at"]),
        handed_over=True,
        kind=RecordKind(said["kind"]),
        publication=provision.revision.publication if provision else None,
        revision=provision.revision if provision else None,
        provision=provision,
        rule=rule,
        document_number=document.get("number", ""),
        document_revision=document.get("revision", ""),
        on=date.fromisoformat(said["on"]),
        hours=_hundredths(said.get("hours")),
        part_hours=_hundredths(said.get("part_hours")),
        airframe_hours=_hundredths(said.get("airframe_hours")),
        method=Method(said["method"]) if said.get("method") else "",
        result=said.get("result", ""),
        en_route=said.get("en_route", False),
        description=said.get("work", ""),
        slot=said["slot"],
        voids=before[voids["sequence"] - 1] if voids else None,
    )


def _hundredths(text: str | None) -> int | None:
    return None if text is None else int(Decimal(text).scaleb(2))


def _take_in_files(record: Record, files: Mapping[str, bytes], path: str) -> None:
    uploads = []
    for place, named in enumerate(record.text.get("attachments") or ()):
        content = files.get(named["sha256"])
        upload = None if content is None else Upload(named["name"], content)
        if upload is None or upload.as_text() != named:
            message = f"The file {named['name']} is not the one that was attached."
            raise RuleError([Fault(f"{path}.attachments[{place}]", message)])
        uploads.append(upload)
    if uploads:
        keep_uploads(uploads)
        Attachment.objects.bulk_create(rows_of(record, uploads))


def _key(document: Mapping[str, Any]) -> tuple[str, str, str]:
    return (
        designation(document.get("number", "")),
        document.get("revision", "").casefold(),
        document.get("provision", "").casefold(),
    )


def _known_provisions(
    engine: Engine, said: Sequence[Mapping[str, Any]]
) -> dict[tuple[str, str, str], tuple[Provision, RuleVersion]]:
    """The provisions of our own library that the texts name, by number, revision and
    title. Of a document with several provisions nothing else tells which was meant.
    """
    documents = [text.get("document") or {} for text in said]
    keys = {_key(document)[0] for document in documents if document}
    versions = RuleVersion.objects.filter(
        current=True,
        frozen_at__isnull=False,
        provision__station=engine.station_id,
        provision__revision__publication__number_key__in=keys,
    ).select_related("provision__revision__publication")
    found = {}
    for version in versions:
        provision = version.provision
        revision = provision.revision
        key = (
            revision.publication.number_key,
            revision.label.casefold(),
            provision.title.casefold(),
        )
        found[key] = (provision, version)
    return found

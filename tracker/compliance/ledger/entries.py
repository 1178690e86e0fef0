"""What somebody enters, and the payload that it becomes.

Fields of a maintenance entry: 14 CFR 43.9(a) (work, date, who did it, who approved it
with kind and number of certificate) and 43.11(a) (total time in service).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, fields
from datetime import date, datetime
from typing import Any

from notices.models import Provision, Publication, Revision, RuleVersion
from tracker.accounts.models import User
from tracker.compliance.ledger.attachments import Upload
from tracker.compliance.ledger.canonical import VERSION, decimal_hours
from tracker.compliance.models import Method, Record, RecordKind
from tracker.fleet.models import Engine, Part, PartDescription


@dataclass(frozen=True, slots=True, kw_only=True)
class Approval:
    """Who approved the return to service, with kind and number of the certificate."""

    name: str
    certificate_kind: str
    certificate_number: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """An approved alternative method of compliance: its reference, and who approved it.

    Without an approval it is none (14 CFR 39.19).
    """

    reference: str
    approved_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """An inspection, 14 CFR 43.11(a): type and extent, and what came of it.

    `discrepancies`: the list that the owner is given where it was not found airworthy
    (43.11(b)), empty where it was.
    """

    extent: str
    airworthy: bool
    discrepancies: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeDocument:
    """A document that the library does not hold, as printed in the logbook."""

    number: str
    revision: str = ""

    def __post_init__(self) -> None:
        _normalise(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry to be made. Hours are hundredths, `hours` on the engine's own axis.

    What it was done under is a provision of the library, or a document that it does
    not hold, or neither (other work). `page`: the logbook page of past work, which is
    transcribed and carries no approval here. `late`: under a revision that was
    superseded when the work was done, and known to be so; needs `remarks`.
    `alternative` goes with that method, and only with it.
    """

    on: date
    hours: int | None = None
    provision: Provision | None = None
    document: FreeDocument | None = None
    part: Part | None = None
    part_hours: int | None = None
    airframe_hours: int | None = None
    method: Method = Method.DONE
    description: str = ""
    result: str = ""
    en_route: bool = False
    done_by: str = ""
    approval: Approval | None = None
    remarks: str = ""
    page: str = ""
    late: bool = False
    alternative: Alternative | None = None
    inspection: Inspection | None = None
    attachments: tuple[Upload, ...] = ()

    def __post_init__(self) -> None:
        _normalise(self)

    @property
    def kind(self) -> RecordKind:
        return RecordKind.TRANSCRIBED if self.page else RecordKind.WORK

    @property
    def revision(self) -> Revision | None:
        return self.provision.revision if self.provision else None

    @property
    def publication(self) -> Publication | None:
        return self.provision.revision.publication if self.provision else None

    @property
    def document_number(self) -> str:
        if self.publication is not None:
            return self.publication.number
        return self.document.number if self.document else ""

    @property
    def document_revision(self) -> str:
        if self.revision is not None:
            return self.revision.label
        return self.document.revision if self.document else ""


def _normalise(entered: Any) -> None:
    """Bring texts into Unicode form NFC, as which they are hashed: columns repeat them."""
    for field in fields(entered):
        value = getattr(entered, field.name)
        if type(value) is str:
            plain = unicodedata.normalize("NFC", value)
            object.__setattr__(entered, field.name, plain)


def texts_of(entry: Entry) -> Iterator[tuple[str, str]]:
    """Yield every text of an entry with the name of its field."""
    yield "description", entry.description
    yield "result", entry.result
    yield "remarks", entry.remarks
    yield "done_by", entry.done_by
    yield "page", entry.page
    if entry.document is not None:
        yield "document", f"{entry.document.number}{entry.document.revision}"
    if entry.approval is not None:
        yield "approval", entry.approval.name
        yield "certificate_kind", entry.approval.certificate_kind
        yield "certificate_number", entry.approval.certificate_number
    if entry.alternative is not None:
        yield "alternative", entry.alternative.reference
        yield "alternative_approved_by", entry.alternative.approved_by
    if entry.inspection is not None:
        yield "extent", entry.inspection.extent
        yield "discrepancies", "\n".join(entry.inspection.discrepancies)


def payload_of_work(
    entry: Entry,
    *,
    engine: Engine,
    rule: RuleVersion | None,
    part: PartDescription | None,
    slot: str,
    by: User,
    at: datetime,
) -> dict[str, object]:
    """Return all that an entry says, as it is hashed."""
    return {
        **_head(engine, kind=entry.kind, slot=slot, by=by, at=at),
        "document": _document(entry, rule),
        "part": _part(part),
        "work": entry.description,
        "method": entry.method.value,
        "result": entry.result,
        "en_route": entry.en_route,
        "on": entry.on,
        "hours": decimal_hours(entry.hours),
        "tsn": decimal_hours(_tsn(entry, engine)),
        "part_hours": decimal_hours(entry.part_hours),
        "airframe_hours": decimal_hours(entry.airframe_hours),
        "done_by": entry.done_by,
        "approved_by": _approval(entry.approval),
        "signed_by": by.name if entry.kind is RecordKind.WORK else None,
        "alternative": _alternative(entry.alternative),
        "inspection": _inspection(entry.inspection),
        "attachments": [upload.as_text() for upload in entry.attachments],
        "remarks": entry.remarks,
        "late": entry.late,
        "transcribed": _transcribed(entry.page),
        "voids": None,
    }


def _tsn(entry: Entry, engine: Engine) -> int | None:
    if entry.hours is None or engine.hours_at_new is None:
        return None
    return (
        entry.hours - engine.hours_at_new
        if entry.hours >= engine.hours_at_new
        else None
    )


def payload_of_void(
    record: Record, *, reason: str, slot: str, by: User, at: datetime, on: date
) -> dict[str, object]:
    """Return what an entry says that voids another."""
    return {
        **_head(record.engine, kind=RecordKind.VOID, slot=slot, by=by, at=at),
        "on": on,
        "voids": {"sequence": record.sequence, "hash": record.hash},
        "remarks": reason,
    }


def _head(
    engine: Engine, *, kind: RecordKind, slot: str, by: User, at: datetime
) -> dict[str, object]:
    return {
        "v": VERSION,
        "kind": kind.value,
        "engine": {
            "id": engine.chain_id,
            "type": engine.engine_type.designation,
            "serial": engine.serial,
        },
        "slot": slot,
        "recorded_at": at,
        "recorded_by": by.public_id,
    }


def _document(entry: Entry, rule: RuleVersion | None) -> dict[str, object] | None:
    if not entry.document_number:
        return None
    known = entry.provision is not None and rule is not None
    return {
        "number": entry.document_number,
        "revision": entry.document_revision,
        "id": entry.revision.public_id if entry.revision else None,
        "provision": entry.provision.title if entry.provision else "",
        "provision_id": entry.provision.public_id if entry.provision else None,
        "rule": rule.number if known and rule else None,
    }


def _part(part: PartDescription | None) -> dict[str, object] | None:
    if part is None:
        return None
    return {
        "id": part.part.public_id,
        "role": part.role,
        "number": part.number,
        "serial": part.serial,
    }


def _approval(approval: Approval | None) -> dict[str, object] | None:
    if approval is None:
        return None
    return {
        "name": approval.name,
        "certificate_kind": approval.certificate_kind,
        "certificate_number": approval.certificate_number,
    }


def _alternative(alternative: Alternative | None) -> dict[str, object] | None:
    if alternative is None:
        return None
    return {
        "reference": alternative.reference,
        "approved_by": alternative.approved_by,
    }


def _inspection(inspection: Inspection | None) -> dict[str, object] | None:
    if inspection is None:
        return None
    return {
        "extent": inspection.extent,
        "airworthy": inspection.airworthy,
        "discrepancies": list(inspection.discrepancies),
    }


def _transcribed(page: str) -> str | None:
    if not page:
        return None
    return f"transcribed from logbook, page {page}; signatory not seen"

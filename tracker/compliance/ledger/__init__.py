"""The ledger of an engine: entries are added, one is voided by another, none changes."""

from tracker.compliance.ledger.attachments import (
    AttachmentLost,
    Upload,
    open_attachment,
)
from tracker.compliance.ledger.background import Background, background_of
from tracker.compliance.ledger.canonical import canonical, first_hash, record_hash
from tracker.compliance.ledger.chain import Break, breaks, head_of, verify_chain
from tracker.compliance.ledger.checks import check
from tracker.compliance.ledger.entries import (
    Alternative,
    Approval,
    Entry,
    FreeDocument,
    Inspection,
)
from tracker.compliance.ledger.records import add_records, slot_of, void_record
from tracker.compliance.ledger.refusals import RecordRefused, Taken

__all__ = [
    "Alternative",
    "Approval",
    "AttachmentLost",
    "Background",
    "Break",
    "Entry",
    "FreeDocument",
    "Inspection",
    "RecordRefused",
    "Taken",
    "Upload",
    "add_records",
    "background_of",
    "breaks",
    "canonical",
    "check",
    "first_hash",
    "head_of",
    "open_attachment",
    "record_hash",
    "slot_of",
    "verify_chain",
    "void_record",
]

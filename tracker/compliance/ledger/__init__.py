"""The ledger of an engine: entries are added, one is voided by another, none changes."""

from tracker.compliance.ledger.attachments import (
    AttachmentLost,
    Upload,
    check_uploads,
    keep_uploads,
    kept_upload,
    open_attachment,
    serve_headers,
)
from tracker.compliance.ledger.background import Background, background_of
from tracker.compliance.ledger.canonical import canonical, first_hash, record_hash
from tracker.compliance.ledger.chain import (
    Break,
    breaks,
    head_of,
    lost_files,
    verify_chain,
)
from tracker.compliance.ledger.checks import check
from tracker.compliance.ledger.entries import (
    Alternative,
    Approval,
    Entry,
    FreeDocument,
    Inspection,
)
from tracker.compliance.ledger.handed_over import (
    Link,
    check_chain,
    links_of,
    take_in_chain,
)
from tracker.compliance.ledger.heads import (
    HeadsRefused,
    lost_heads,
    read_heads,
    written_heads,
)
from tracker.compliance.ledger.records import (
    Work,
    add_records,
    add_to_ledgers,
    draft_records,
    slot_of,
    void_record,
)
from tracker.compliance.ledger.refusals import (
    BeyondReading,
    RecordRefused,
    Taken,
)
from tracker.compliance.ledger.texts import discrepancy_lines, entry_lines

__all__ = [
    "Alternative",
    "Approval",
    "AttachmentLost",
    "Background",
    "BeyondReading",
    "Break",
    "Entry",
    "FreeDocument",
    "HeadsRefused",
    "Inspection",
    "Link",
    "RecordRefused",
    "Taken",
    "Upload",
    "Work",
    "add_records",
    "add_to_ledgers",
    "background_of",
    "breaks",
    "canonical",
    "check",
    "check_chain",
    "check_uploads",
    "discrepancy_lines",
    "draft_records",
    "entry_lines",
    "first_hash",
    "head_of",
    "keep_uploads",
    "kept_upload",
    "links_of",
    "lost_files",
    "lost_heads",
    "open_attachment",
    "read_heads",
    "record_hash",
    "serve_headers",
    "slot_of",
    "take_in_chain",
    "verify_chain",
    "void_record",
    "written_heads",
]

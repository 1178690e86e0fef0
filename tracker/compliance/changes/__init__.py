"""Every act that changes a fact. Pages, API, import and tasks call only these.

An act asks for the right, opens the one transaction, locks the engine, calls the plain
writes, and brings findings in line before it commits. It raises Forbidden without the
right, `DoesNotExist` for what the viewer does not see, and a ValueError of the plain
write (Refused, RuleError, LibraryRefused) for what cannot be entered. Each act is a
durable transaction of its own and cannot run inside another one.
"""

from tracker.compliance.changes.alternatives import (
    AlternativeEntry,
    approve_alternative,
    end_alternative,
)
from tracker.compliance.changes.answers import adopt, answer, decline
from tracker.compliance.changes.engines import (
    add_engine,
    add_engine_type,
    add_engines,
    add_owner,
    change_engine_type,
    change_identity,
    change_operation,
    change_owner,
    change_owner_entry,
    change_state,
    fit_in_aircraft,
)
from tracker.compliance.changes.enquiries import (
    EnquiryEntry,
    delete_enquiry,
    leave_enquiry,
    mark_enquiry_answered,
)
from tracker.compliance.changes.fuel import add_fuel
from tracker.compliance.changes.handover import TakenIn, take_in
from tracker.compliance.changes.history import (
    add_event,
    add_overhaul,
    add_rebuild,
    embody,
    lapse_reviews,
    not_embodied,
    note_search,
    review,
    set_attribute,
    withdraw,
)
from tracker.compliance.changes.imports import (
    Imported,
    import_compliance,
    import_fleet,
    import_parts,
    look_at_compliance,
    look_at_fleet,
    look_at_parts,
)
from tracker.compliance.changes.library import (
    add_draft,
    add_publication,
    attach_document,
    cancel_revision,
    change_draft,
    change_publication,
    change_rule,
    confirm_revision,
    discard_draft,
)
from tracker.compliance.changes.meters import (
    add_reading,
    change_meter,
    correct_reading,
    start_meter,
)
from tracker.compliance.changes.owners import personal_data, remove_owner
from tracker.compliance.changes.parts import (
    add_part,
    correct_fitting,
    describe_part,
    fit_part,
    move_part,
    remove_part,
    replace_part,
)
from tracker.compliance.changes.preferences import (
    change_preference,
    end_silence,
    silence_owner,
)
from tracker.compliance.changes.records import record_all, record_work, void_record
from tracker.compliance.changes.sheets import (
    drop_sheet,
    import_sheet,
    look_at_sheet,
    upload_sheet,
)
from tracker.compliance.changes.signing import (
    WrongPassword,
    look_at_work,
    sign_void,
    sign_work,
)
from tracker.compliance.changes.station import (
    Checked,
    check_new_day,
    refresh_station,
)

__all__ = [
    "AlternativeEntry",
    "Checked",
    "EnquiryEntry",
    "Imported",
    "TakenIn",
    "WrongPassword",
    "add_draft",
    "add_engine",
    "add_engine_type",
    "add_engines",
    "add_event",
    "add_fuel",
    "add_overhaul",
    "add_owner",
    "add_part",
    "add_publication",
    "add_reading",
    "add_rebuild",
    "adopt",
    "answer",
    "approve_alternative",
    "attach_document",
    "cancel_revision",
    "change_draft",
    "change_engine_type",
    "change_identity",
    "change_meter",
    "change_operation",
    "change_owner",
    "change_owner_entry",
    "change_preference",
    "change_publication",
    "change_rule",
    "change_state",
    "check_new_day",
    "confirm_revision",
    "correct_fitting",
    "correct_reading",
    "decline",
    "delete_enquiry",
    "describe_part",
    "discard_draft",
    "drop_sheet",
    "embody",
    "end_alternative",
    "end_silence",
    "fit_in_aircraft",
    "fit_part",
    "import_compliance",
    "import_fleet",
    "import_parts",
    "import_sheet",
    "lapse_reviews",
    "leave_enquiry",
    "look_at_compliance",
    "look_at_fleet",
    "look_at_parts",
    "look_at_sheet",
    "look_at_work",
    "mark_enquiry_answered",
    "move_part",
    "not_embodied",
    "note_search",
    "personal_data",
    "record_all",
    "record_work",
    "refresh_station",
    "remove_owner",
    "remove_part",
    "replace_part",
    "review",
    "set_attribute",
    "sign_void",
    "sign_work",
    "silence_owner",
    "start_meter",
    "take_in",
    "upload_sheet",
    "void_record",
    "withdraw",
]

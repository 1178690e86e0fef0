"""Plain writes of the library: publications, drafts, confirming, rules, documents.

None opens a transaction or asks who may; whoever calls them does both, and refreshes
what depends on them. What is wrong with the input is a RuleError with the path of
each fault; what cannot be done as things stand is a LibraryRefused.
"""

from notices.library.comparing import paired
from notices.library.condition_warnings import condition_warnings
from notices.library.confirming import (
    cancel_revision,
    change_rule,
    changed_rule,
    confirm_revision,
)
from notices.library.drafts import (
    add_draft,
    attach_document,
    change_draft,
    discard_draft,
    stated_in,
)
from notices.library.fluid_warnings import fluid_warnings
from notices.library.inputs import (
    ChangedMeanwhile,
    LibraryRefused,
    ProvisionInput,
    ReferenceInput,
    RevisionInput,
    RuleChange,
)
from notices.library.interval_warnings import interval_warnings
from notices.library.intervals import (
    Placed,
    beside_revision,
    intervals_beside,
    intervals_in,
    placed,
)
from notices.library.publications import add_publication, change_publication
from notices.library.standing import current_revision, newer_drafts, standing
from notices.library.starting import start_from
from notices.library.warnings import warnings_of

__all__ = [
    "ChangedMeanwhile",
    "LibraryRefused",
    "Placed",
    "ProvisionInput",
    "ReferenceInput",
    "RevisionInput",
    "RuleChange",
    "add_draft",
    "add_publication",
    "attach_document",
    "beside_revision",
    "cancel_revision",
    "change_draft",
    "change_publication",
    "change_rule",
    "changed_rule",
    "condition_warnings",
    "confirm_revision",
    "current_revision",
    "discard_draft",
    "fluid_warnings",
    "interval_warnings",
    "intervals_beside",
    "intervals_in",
    "newer_drafts",
    "paired",
    "placed",
    "standing",
    "start_from",
    "stated_in",
    "warnings_of",
]

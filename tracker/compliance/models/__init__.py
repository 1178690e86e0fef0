"""What is found for an engine, what was answered, declined, and done."""

from tracker.compliance.models.alternatives import AlternativeMethod
from tracker.compliance.models.answers import Answer, Declined
from tracker.compliance.models.attachments import Attachment
from tracker.compliance.models.enquiries import Enquiry
from tracker.compliance.models.events import Event, EventKind, EventQuerySet
from tracker.compliance.models.findings import (
    Closed,
    Finding,
    FindingQuerySet,
    LongerInterval,
    Standing,
    ToldBy,
)
from tracker.compliance.models.records import (
    Method,
    Record,
    RecordKind,
    RecordQuerySet,
)

__all__ = [
    "AlternativeMethod",
    "Answer",
    "Attachment",
    "Closed",
    "Declined",
    "Enquiry",
    "Event",
    "EventKind",
    "EventQuerySet",
    "Finding",
    "FindingQuerySet",
    "LongerInterval",
    "Method",
    "Record",
    "RecordKind",
    "RecordQuerySet",
    "Standing",
    "ToldBy",
]

"""Events: what became so for an engine, noted once, in the transaction of its cause."""

from tracker.compliance.events.endings import note_endings
from tracker.compliance.events.noting import longest_lead, note_events

__all__ = ["longest_lead", "note_endings", "note_events"]

"""Rows of register and ledger -> what is known of each engine, in few queries."""

from tracker.compliance.facts.ahead import days_ahead
from tracker.compliance.facts.columns import Fleet, fleet_of
from tracker.compliance.facts.files import OVERHAUL, EngineFile, PartFile, Subject
from tracker.compliance.facts.reading import engine_files, temperatures

__all__ = [
    "OVERHAUL",
    "EngineFile",
    "Fleet",
    "PartFile",
    "Subject",
    "days_ahead",
    "engine_files",
    "fleet_of",
    "temperatures",
]

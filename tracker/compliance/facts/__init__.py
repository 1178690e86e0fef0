"""Rows of register and ledger -> what is known of each engine, in few queries."""

from tracker.compliance.facts.files import EngineFile, PartFile, Subject
from tracker.compliance.facts.reading import engine_files

__all__ = ["EngineFile", "PartFile", "Subject", "engine_files"]

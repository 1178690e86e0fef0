"""The overhaul interval of each engine, from all provisions about it that are in force."""

from tracker.compliance.intervals.columns import INTERVAL_COLUMNS, interval_columns
from tracker.compliance.intervals.evaluating import (
    EngineInterval,
    IntervalRules,
    ProvisionOutcome,
    interval_of,
    interval_rules,
)
from tracker.compliance.intervals.notes import provision_words

__all__ = [
    "INTERVAL_COLUMNS",
    "EngineInterval",
    "IntervalRules",
    "ProvisionOutcome",
    "interval_columns",
    "interval_of",
    "interval_rules",
    "provision_words",
]

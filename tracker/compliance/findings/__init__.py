"""Findings: each rule evaluated for each engine, compared, and the differences written."""

from tracker.compliance.findings.assessing import (
    Assessment,
    assess,
    assessments,
    kept_assessments,
)
from tracker.compliance.findings.refreshing import (
    Changed,
    refresh,
    refresh_for,
    refresh_library,
)
from tracker.compliance.rules import CompiledRule, rules_in_force

__all__ = [
    "Assessment",
    "Changed",
    "CompiledRule",
    "assess",
    "assessments",
    "kept_assessments",
    "refresh",
    "refresh_for",
    "refresh_library",
    "rules_in_force",
]

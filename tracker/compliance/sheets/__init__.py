"""Past compliance entered from a sheet: one row for each thing done, from the logbook."""

from tracker.compliance.sheets.applying import apply_compliance
from tracker.compliance.sheets.columns import COLUMNS, export_compliance
from tracker.compliance.sheets.planning import PastWork, plan_compliance

__all__ = [
    "COLUMNS",
    "PastWork",
    "apply_compliance",
    "export_compliance",
    "plan_compliance",
]

"""Everything that the annual needs to know of one engine, as frozen data."""

from tracker.compliance.summary.lines import Line, NotApplicable
from tracker.compliance.summary.status import (
    SearchStatus,
    StatusOfEngine,
    end_of_day,
    status_of,
    statuses_of,
)
from tracker.compliance.summary.together import statuses_beside, statuses_of_owner

__all__ = [
    "Line",
    "NotApplicable",
    "SearchStatus",
    "StatusOfEngine",
    "end_of_day",
    "status_of",
    "statuses_beside",
    "statuses_of",
    "statuses_of_owner",
]

"""The check that anybody may make against a station's current documents.

Nothing that is told here is stored, and no engine of the station is read.
"""

from tracker.compliance.open_check.answers import (
    Found,
    Missing,
    OpenAnswer,
    answer_for,
)
from tracker.compliance.open_check.described import Described
from tracker.compliance.open_check.facts import Fact, Happened, Kind, Of, Told
from tracker.compliance.open_check.library import (
    OpenLibrary,
    open_library,
    types_spoken_of,
)
from tracker.compliance.open_check.wanted import Wanted

__all__ = [
    "Described",
    "Fact",
    "Found",
    "Happened",
    "Kind",
    "Missing",
    "Of",
    "OpenAnswer",
    "OpenLibrary",
    "Told",
    "Wanted",
    "answer_for",
    "open_library",
    "types_spoken_of",
]

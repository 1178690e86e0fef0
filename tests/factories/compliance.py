"""The smallest entry that the ledger takes."""

from __future__ import annotations

from datetime import date
from typing import Any

from tracker.compliance.ledger import Approval, Entry

APPROVAL = Approval(
    name="Runa Tveit",
    certificate_kind="inspection authorization",
    certificate_number="ZZ-4471",
)


def entry(on: date, **given: Any) -> Entry:
    """Return an entry of work, complete but for what it was done under."""
    whole: dict[str, Any] = {
        "description": "Fuel pump inspected, no wear found.",
        "done_by": "Jory Penhale",
        "approval": APPROVAL,
        **given,
    }
    return Entry(on=on, **whole)


def past_entry(on: date, **given: Any) -> Entry:
    """Return an entry transcribed from a logbook."""
    whole = {"description": "As entered in the logbook.", "page": "17", **given}
    return Entry(on=on, **whole)

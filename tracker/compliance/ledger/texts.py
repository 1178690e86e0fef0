"""The words of a maintenance entry, drafted from a record, to copy into the paper log.

Work: what 14 CFR 43.9(a) asks for, that is the work or the data it followed, the date
of completion, who did it, and name, kind and number of certificate of who approved it;
the approval is for that work only. Inspections: 43.11(a), that is type and extent, the
date, the aircraft's total time in service, and a statement of what was found; where it
was not found airworthy, the owner is given a signed and dated list (43.11(b)).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any, Final

from tracker.compliance.models import Method

Said = Mapping[str, Any]
SIGNATURE: Final = "Signature: ______________________________"
NOT_ENTERED: Final = "not entered"


def entry_lines(said: Said) -> tuple[str, ...]:
    """Return the lines of the entry. `said`: the text of a record, read as JSON."""
    return tuple(line for line in _lines(said) if line)


def discrepancy_lines(said: Said) -> tuple[str, ...]:
    """Return the list that the owner is given, () where there is none."""
    found = (said.get("inspection") or {}).get("discrepancies") or []
    if not found:
        return ()
    approval = said.get("approved_by") or {}
    return (
        f"Discrepancies found on {_day(said)} on engine {_engine(said)}, "
        f"{said['inspection']['extent']}:",
        *(f"{number}. {text}" for number, text in enumerate(found, start=1)),
        f"{_person(approval)}. {SIGNATURE}",
    )


def _lines(said: Said) -> Iterator[str]:
    if said["kind"] == "void":
        yield f"{_day(said)}. Entry {said['voids']['sequence']} is void."
        yield f"Reason: {said['remarks']}"
        return
    inspection = said.get("inspection")
    yield _when(said, of_inspection=inspection is not None)
    yield _document(said)
    if inspection is not None:
        yield f"Inspection: {inspection['extent']}."
    yield said["work"]
    yield _part(said)
    yield _method(said)
    if said.get("result"):
        yield f"Result: {said['result']}."
    if said.get("en_route"):
        yield "The limit was passed on the way to where the work could be done."
    if said.get("late"):
        yield "Late entry, under a revision that was not current then."
    if said.get("remarks"):
        yield f"Remarks: {said['remarks']}"
    yield from _attached(said)
    yield from _statement(said)


def _when(said: Said, *, of_inspection: bool) -> str:
    airframe = _hours(said.get("airframe_hours"))
    engine = f"engine {_engine(said)}, {_engine_hours(said)}"
    if of_inspection:
        total = airframe or NOT_ENTERED
        return f"{_day(said)}. Aircraft total time in service {total}; {engine}."
    return f"{_day(said)}. {engine[0].upper()}{engine[1:]}" + (
        f"; airframe {airframe}." if airframe else "."
    )


def _engine_hours(said: Said) -> str:
    if said.get("tsn") is not None:
        return f"TSN {_hours(said['tsn'])}"
    kept = _hours(said.get("hours"))
    return f"hours kept {kept}, TSN not known" if kept else f"hours {NOT_ENTERED}"


def _document(said: Said) -> str:
    document = said.get("document")
    if not document:
        return ""
    revision = f", revision {document['revision']}" if document["revision"] else ""
    provision = f": {document['provision']}" if document["provision"] else ""
    return f"{document['number']}{revision}{provision}."


def _part(said: Said) -> str:
    part = said.get("part")
    if not part:
        return ""
    named = " ".join(filter(None, (part["role"], part["number"])))
    serial = f", serial {part['serial']}" if part["serial"] else ""
    hours = _hours(said.get("part_hours"))
    return f"Part: {named}{serial}{f', {hours} since new' if hours else ''}."


def _method(said: Said) -> str:
    method = said.get("method")
    if not method or not said.get("document"):
        return ""
    words = f"Method of compliance: {Method(method).label}"
    alternative = said.get("alternative")
    if alternative:
        words += (
            f" {alternative['reference']}, approved by {alternative['approved_by']}"
        )
    return f"{words}."


def _attached(said: Said) -> Iterator[str]:
    for file in said.get("attachments") or []:
        yield f"Attached: {file['name']}, SHA-256 begins {file['sha256'][:16]}."


def _statement(said: Said) -> Iterator[str]:
    if said.get("transcribed"):
        yield f"{said['transcribed'].capitalize()}."
        return
    approval, inspection = said.get("approved_by") or {}, said.get("inspection")
    if inspection is None:
        yield f"Done by {said['done_by']}."
        yield (
            "Approved for return to service, for the work stated here only: "
            f"{_person(approval)}."
        )
    elif inspection["airworthy"]:
        yield "Inspected as stated, and found to be in airworthy condition."
        yield f"Inspected by {_person(approval)}."
    else:
        yield (
            "Inspected as stated, and not found to be in airworthy condition. A signed "
            f"list of the discrepancies, dated {_day(said)}, is given to the owner:"
        )
        for number, text in enumerate(inspection["discrepancies"], start=1):
            yield f"{number}. {text}"
        yield f"Inspected by {_person(approval)}. Not approved for return to service."
    yield SIGNATURE


def _person(approval: Said) -> str:
    if not approval:
        return NOT_ENTERED
    return (
        f"{approval['name']}, {approval['certificate_kind']} "
        f"{approval['certificate_number']}"
    )


def _engine(said: Said) -> str:
    return f"{said['engine']['type']}, serial {said['engine']['serial']}"


def _day(said: Said) -> str:
    on = date.fromisoformat(said["on"])
    return f"{on.day} {on:%B %Y}"


def _hours(text: str | None) -> str:
    return "" if text is None else f"{text} h"

"""What is looked at before an entry is taken: date, hours, revision, who, which part.

Each check refuses with the field it is about and with what it disagrees with.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from datetime import date, datetime
from typing import Final

from notices.models import Provision
from tracker.compliance.ledger.attachments import check_uploads
from tracker.compliance.ledger.background import Background
from tracker.compliance.ledger.canonical import decimal_hours
from tracker.compliance.ledger.entries import Entry, texts_of
from tracker.compliance.ledger.refusals import BeyondReading, RecordRefused
from tracker.compliance.models import Method
from tracker.fleet.entries import day_at
from tracker.fleet.models import Engine

Kind = Provision.Kind
_OVERHAULED: Final = re.compile(r"\boverhauled\b", re.IGNORECASE)
_TEST: Final = re.compile(r"\btest", re.IGNORECASE)
_NO_ACTION: Final = "It asks for no action, so no record completes it. "
_UNRECORDED: Final[Mapping[str, str]] = {
    Kind.TOGETHER: "No record completes it: it ends when the parts fit. Enter the part "
    "or the attribute that was changed.",
    Kind.PROHIBITION: "No record completes it: a prohibition holds until its document "
    "is superseded or cancelled.",
    Kind.INTERVAL: f"{_NO_ACTION}Enter the overhaul in the engine's history.",
    Kind.FLUIDS: f"{_NO_ACTION}Record the work as other work.",
    Kind.INFORMATION: f"{_NO_ACTION}Record the work as other work.",
}


def check(entry: Entry, past: Background, *, at: datetime) -> None:
    """Raise RecordRefused for the first thing that cannot be right. No query."""
    engine = past.engine
    _check_text(entry)
    _check_provision(entry)
    _check_alternative(entry)
    _check_inspection(entry)
    check_uploads(entry.attachments)
    _check_date(entry, engine, at)
    if entry.kind == "work":
        _check_approval(entry)
        _check_called_overhauled(entry)
        _check_revision(entry, past)
    _check_part(entry, past)
    _check_hours(entry, past)


def _check_text(entry: Entry) -> None:
    if not entry.description.strip():
        raise RecordRefused("description", "Describe the work that was done.")
    for field, text in texts_of(entry):
        check_plain(field, text)
    if entry.provision is not None and entry.document is not None:
        raise RecordRefused(
            "document", "Name a document of the library or another one, not both."
        )


def check_plain(field: str, text: str) -> None:
    """Raise RecordRefused for what no printer and no reader can show."""
    for character in text:
        if unicodedata.category(character) == "Cc" and character not in "\r\n\t":
            raise RecordRefused(
                field,
                f"The text holds the control character U+{ord(character):04X}. "
                "Type it again.",
            )


def _check_provision(entry: Entry) -> None:
    if entry.provision is not None and entry.provision.kind != Kind.ACTION:
        raise RecordRefused("provision", _UNRECORDED[entry.provision.kind])


def _check_alternative(entry: Entry) -> None:
    alternative = entry.alternative
    if entry.method is not Method.ALTERNATIVE:
        if alternative is not None:
            raise RecordRefused(
                "alternative",
                "A reference of an alternative method goes only with that method. "
                "Choose the method, or leave the reference out.",
            )
        return
    if entry.page and entry.remarks.strip():
        return  # The remarks of a logbook say it in its own words.
    if alternative is None or not alternative.reference.strip():
        raise RecordRefused(
            "alternative",
            "Give the reference under which the alternative method was approved. "
            "Without an approval it is no method of compliance.",
        )
    if not alternative.approved_by.strip():
        raise RecordRefused(
            "alternative_approved_by", "Say who approved the alternative method."
        )


def _check_inspection(entry: Entry) -> None:
    inspection = entry.inspection
    if inspection is None:
        return
    if not inspection.extent.strip():
        raise RecordRefused("extent", "Say which inspection it was, and its extent.")
    if entry.airframe_hours is None:
        raise RecordRefused(
            "airframe_hours",
            "The entry of an inspection states the aircraft's total time in service.",
        )
    if inspection.airworthy and inspection.discrepancies:
        raise RecordRefused(
            "discrepancies",
            "What was found airworthy has no list of discrepancies. Say that it was "
            "not, or write what was found into the remarks.",
        )
    if not inspection.airworthy and not any(
        text.strip() for text in inspection.discrepancies
    ):
        raise RecordRefused(
            "discrepancies",
            "Where it was not found airworthy, list what was found: the owner is given "
            "that list.",
        )


def _check_date(entry: Entry, engine: Engine, at: datetime) -> None:
    today = day_at(engine.station, at)
    if entry.on > today:
        raise RecordRefused(
            "on", f"{entry.on} lies in the future; today is {today} at the station."
        )
    if engine.built is not None and entry.on < engine.built:
        raise RecordRefused(
            "on", f"{entry.on} is before the engine was made, {engine.built}."
        )


def _check_approval(entry: Entry) -> None:
    if entry.approval is None or not entry.approval.name.strip():
        raise RecordRefused("approval", "Name who approved the return to service.")
    if not entry.approval.certificate_kind.strip():
        raise RecordRefused("certificate_kind", "Say which kind of certificate it is.")
    if not entry.approval.certificate_number.strip():
        raise RecordRefused("certificate_number", "Give the number of the certificate.")
    if not entry.done_by.strip():
        raise RecordRefused("done_by", "Name who did the work.")


def _check_called_overhauled(entry: Entry) -> None:
    """14 CFR 43.2(a)(2): what is described as overhauled was tested, too."""
    if not _OVERHAULED.search(entry.description):
        return
    if _TEST.search(f"{entry.description} {entry.result} {entry.remarks}"):
        return
    raise RecordRefused(
        "description",
        'It says "overhauled", and nothing of a test. Say against what it was tested; '
        'where that is not known, write "no test noted" into the remarks.',
    )


def _check_revision(entry: Entry, past: Background) -> None:
    revision = entry.revision
    if revision is None:
        return
    if revision.confirmed_at is None:
        raise RecordRefused(
            "provision", f"{revision} is a draft. Confirm it before work is recorded."
        )
    superseded = past.superseded(revision, entry.on)
    if not superseded or (entry.late and entry.remarks.strip()):
        return
    raise RecordRefused(
        "late" if not entry.late else "remarks",
        f"{revision} was not current on {entry.on}: {superseded}. "
        "Record it as a late entry, with a remark that says why, or choose the "
        "revision that was current.",
    )


def _check_part(entry: Entry, past: Background) -> None:
    role = entry.provision.role if entry.provision is not None else ""
    if entry.part is None:
        if role:
            raise RecordRefused(
                "part",
                f"This is about each fitted {role}. Say which one it was done on.",
            )
    elif entry.part.pk not in past.parts:
        raise RecordRefused("part", f"This part was never fitted to {past.engine}.")


def _check_hours(entry: Entry, past: Background) -> None:
    if entry.hours is None:
        if entry.kind == "work" and past.engine.hours_now is not None:
            raise RecordRefused(
                "hours", "Enter the hours of the engine when the work was done."
            )
        return
    if entry.hours < 0:
        raise RecordRefused("hours", "Hours cannot be below 0.")
    _against_readings(entry, past, entry.hours)
    _against_records(entry, past, entry.hours)


def _against_readings(entry: Entry, past: Background, hours: int) -> None:
    newest = max(past.readings, key=lambda one: one.hours, default=None)
    if newest is not None and hours > newest.hours:
        raise BeyondReading(
            "hours",
            f"{_h(hours)} is beyond the last reading, {_h(newest.hours)} on "
            f"{newest.on}. Add a reading first, or correct the hours.",
        )
    for reading in past.readings:
        if _contradicts(reading.on, reading.hours, entry.on, hours):
            raise RecordRefused(
                "hours",
                f"{_h(hours)} on {entry.on} does not fit the reading of "
                f"{_h(reading.hours)} on {reading.on}. Correct the date or the hours.",
            )


def _against_records(entry: Entry, past: Background, hours: int) -> None:
    for record in past.records:
        if record.hours is not None and _contradicts(
            record.on, record.hours, entry.on, hours
        ):
            raise RecordRefused(
                "hours",
                f"{_h(hours)} on {entry.on} does not fit entry {record.sequence}, "
                f"made at {_h(record.hours)} on {record.on}. Correct the date or the "
                "hours, or void that entry.",
            )


def _contradicts(known_on: date, known_hours: int, on: date, hours: int) -> bool:
    """Whether hours would have fallen from one day to a later one."""
    if known_on < on:
        return known_hours > hours
    return known_on > on and known_hours < hours


def _h(hours: int | None) -> str:
    return f"{decimal_hours(hours)} h"

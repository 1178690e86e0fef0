"""What is looked at before an entry is taken: date, hours, revision, who, which part.

Each check refuses with the field it is about and with what it disagrees with.
"""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import Q

from notices.models import Reference, Revision
from tracker.compliance.ledger.canonical import decimal_hours
from tracker.compliance.ledger.entries import Entry
from tracker.compliance.ledger.refusals import RecordRefused
from tracker.compliance.models import Method, Record
from tracker.fleet.models import Engine, PartFitting, Reading


def check(entry: Entry, *, engine: Engine, at: datetime) -> None:
    """Raise RecordRefused for the first thing that cannot be right. Five queries."""
    _check_text(entry)
    _check_date(entry, engine, at)
    if entry.kind == "work":
        _check_approval(entry)
        _check_revision(entry)
    _check_part(entry, engine)
    _check_hours(entry, engine)


def _check_text(entry: Entry) -> None:
    if not entry.description.strip():
        raise RecordRefused("description", "Describe the work that was done.")
    if entry.method is Method.ALTERNATIVE and not entry.remarks.strip():
        raise RecordRefused(
            "remarks",
            "For an alternative method of compliance write its reference and who "
            "approved it.",
        )
    if entry.provision is not None and entry.document is not None:
        raise RecordRefused(
            "document", "Name a document of the library or another one, not both."
        )


def _check_date(entry: Entry, engine: Engine, at: datetime) -> None:
    today = at.astimezone(ZoneInfo(engine.station.time_zone)).date()
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


def _check_revision(entry: Entry) -> None:
    revision = entry.revision
    if revision is None:
        return
    if revision.confirmed_at is None:
        raise RecordRefused(
            "provision", f"{revision} is a draft. Confirm it before work is recorded."
        )
    superseded = _superseded_by(revision, entry.on)
    if not superseded or (entry.late and entry.remarks.strip()):
        return
    raise RecordRefused(
        "late" if not entry.late else "remarks",
        f"{revision} was not current on {entry.on}: {superseded}. "
        "Record it as a late entry, with a remark that says why, or choose the "
        "revision that was current.",
    )


def _superseded_by(revision: Revision, on: date) -> str:
    if revision.cancelled_on is not None and revision.cancelled_on <= on:
        return f"cancelled on {revision.cancelled_on}"
    later = (
        Revision.objects.taken_over(on)
        .filter(publication_id=revision.publication_id)
        .filter(
            Q(takes_over_on__gt=revision.takes_over_on)
            | Q(takes_over_on=revision.takes_over_on, sequence__gt=revision.sequence)
        )
        .order_by("takes_over_on", "sequence")
        .last()
    )
    if later is not None:
        return f"revision {later.label} took over on {later.takes_over_on}"
    successor = (
        Revision.objects.taken_over(on)
        .filter(
            references__kind=Reference.Kind.SUPERSEDES,
            references__publication=revision.publication_id,
            takes_over_on__gte=revision.takes_over_on,
        )
        .exclude(publication=revision.publication_id)
        .select_related("publication")
        .first()
    )
    return f"{successor} supersedes it" if successor else ""


def _check_part(entry: Entry, engine: Engine) -> None:
    wants_part = entry.provision is not None and entry.provision.role
    if wants_part and entry.part is None:
        role = entry.provision.role if entry.provision else ""
        raise RecordRefused(
            "part", f"This is about each fitted {role}. Say which one it was done on."
        )
    if entry.part is None:
        return
    here = PartFitting.objects.filter(part=entry.part, engine=engine, removed=False)
    if not here.exists():
        raise RecordRefused("part", f"This part was never fitted to {engine}.")


def _check_hours(entry: Entry, engine: Engine) -> None:
    if entry.hours is None:
        if entry.kind == "work" and engine.hours_now is not None:
            raise RecordRefused(
                "hours", "Enter the hours of the engine when the work was done."
            )
        return
    if entry.hours < 0:
        raise RecordRefused("hours", "Hours cannot be below 0.")
    _against_readings(entry, engine, entry.hours)
    _against_records(entry, engine, entry.hours)


def _against_readings(entry: Entry, engine: Engine, hours: int) -> None:
    readings = Reading.objects.valid().filter(engine=engine)
    newest = readings.order_by("-hours").first()
    if newest is not None and hours > newest.hours:
        raise RecordRefused(
            "hours",
            f"{_h(hours)} is beyond the last reading, {_h(newest.hours)} on "
            f"{newest.on}. Add a reading first, or correct the hours.",
        )
    clash = (
        readings.filter(
            Q(on__lt=entry.on, hours__gt=hours) | Q(on__gt=entry.on, hours__lt=hours)
        )
        .order_by("on")
        .first()
    )
    if clash is not None:
        raise RecordRefused(
            "hours",
            f"{_h(hours)} on {entry.on} does not fit the reading of "
            f"{_h(clash.hours)} on {clash.on}. Correct the date or the hours.",
        )


def _against_records(entry: Entry, engine: Engine, hours: int) -> None:
    records = Record.objects.valid().filter(engine=engine)
    clash = records.filter(
        Q(on__lt=entry.on, hours__gt=hours) | Q(on__gt=entry.on, hours__lt=hours)
    ).first()
    if clash is not None:
        raise RecordRefused(
            "hours",
            f"{_h(hours)} on {entry.on} does not fit entry {clash.sequence}, made at "
            f"{_h(clash.hours)} on {clash.on}. Correct the date or the hours, or void "
            "that entry.",
        )


def _h(hours: int | None) -> str:
    return f"{decimal_hours(hours)} h"

"""What was done, answered, approved in place of a document, and not adopted."""

from __future__ import annotations

from datetime import date

from notices.models import Provision
from tracker.accounts.access import Right
from tracker.compliance import changes
from tracker.compliance.changes.acting import changing
from tracker.compliance.ledger import Approval, Entry, add_records
from tracker.compliance.models import Method, Record
from tracker.compliance.scenario import files
from tracker.compliance.scenario.files import Row
from tracker.compliance.scenario.stage import Member, Stage, iso, iso_or_none

APPROVED_BY = Approval(
    name="Osric Vane",
    certificate_kind="inspection authorization",
    certificate_number="ZZ-IA-0417",
)


def enter_answers(stage: Stage) -> None:
    for row in files.rows("answers", stage.today):
        on = iso(row["on"])
        revision = (
            stage.publications[row["publication"]]
            .revisions.filter(takes_over_on__lte=on)
            .latest("sequence")
        )
        changes.answer(
            stage.team.technician,
            stage.members[row["engine"]].engine,
            revision,
            row["question"],
            row["yes"],
            seen_on=row["seen_on"],
            part=stage.part(row["engine"], row["part"]) if "part" in row else None,
            true_from=on,
            at=stage.at(on),
        )


def enter_declined(stage: Stage) -> None:
    for row in files.rows("declined", stage.today):
        on = iso(row["on"])
        changes.decline(
            stage.team.technician,
            stage.members[row["engine"]].engine,
            stage.publications[row["publication"]],
            person=row["person"],
            reason=row["reason"],
            true_from=on,
            at=stage.at(on),
        )


def enter_alternatives(stage: Stage) -> None:
    for row in files.rows("alternatives", stage.today):
        on, until = iso(row["on"]), iso_or_none(row.get("valid_until"))
        changes.approve_alternative(
            stage.team.technician,
            stage.members[row["engine"]].engine,
            _provision(stage, row),
            changes.AlternativeEntry(
                reference=row["reference"],
                approved_by=row["approved_by"],
                approved_on=on,
                description=row["description"],
                times=row["times"],
                valid_until=until,
            ),
            at=stage.at(on),
        )


def enter_records(stage: Stage) -> None:
    """Enter the records of each engine in one act, each day's as of that day."""
    rows = files.rows("records", stage.today)
    for name, member in stage.members.items():
        own = [row for row in rows if row["engine"] == name]
        with changing(
            stage.team.technician, member.engine, Right.RECORD_WORK, at=stage.now
        ) as engine:
            days = sorted({_entered_on(stage, row, member) for row in own})
            for day in days:
                of_day = [row for row in own if _entered_on(stage, row, member) == day]
                entries = [_entry(stage, row, member) for row in of_day]
                add_records(engine=engine, entries=entries, **stage.entered(day))


def void_mistakes(stage: Stage) -> None:
    """Void what the rows say was entered by mistake."""
    for row in files.rows("records", stage.today):
        if "void" in row:
            record = Record.objects.get(
                engine=stage.members[row["engine"]].engine,
                provision=_provision(stage, row),
            )
            changes.void_record(
                stage.team.inspector, record, reason=row["void"], at=stage.now
            )


def _done_on(row: Row, member: Member) -> date:
    if "on" in row:
        return iso(row["on"])
    assert member.life is not None, "hours ago need a life"
    return member.life.day_at(member.hours_ago(row["hours_ago"]))


def _entered_on(stage: Stage, row: Row, member: Member) -> date:
    """Return the day: past work was transcribed when the engine was taken in."""
    return max(_done_on(row, member), stage.watched_since)


def _entry(stage: Stage, row: Row, member: Member) -> Entry:
    on = _done_on(row, member)
    provision = _provision(stage, row)
    past = row.get("kind") == "transcribed" or on < stage.watched_since
    return Entry(
        on=on,
        hours=member.hours_ago(row["hours_ago"])
        if "hours_ago" in row
        else member.hours_on(on),
        provision=provision,
        part=stage.part(row["engine"], row["part"]) if "part" in row else None,
        method=_METHODS[row.get("method", "done")],
        result=row.get("result", ""),
        en_route=row.get("en_route", False),
        description=row.get("description", provision.title),
        page=row.get("page", "not noted") if past else "",
        done_by="" if past else "Jory Penhale",
        approval=None if past else APPROVED_BY,
    )


def _provision(stage: Stage, row: Row) -> Provision:
    return Provision.objects.select_related("revision__publication").get(
        revision__publication=stage.publications[row["publication"]],
        revision__label=row["revision"],
        order=row["provision"],
    )


_METHODS = {
    "done": Method.DONE,
    "action done": Method.DONE,
    "replaced": Method.REPLACED,
    "inspected": Method.INSPECTED,
}

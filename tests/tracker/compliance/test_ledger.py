"""The ledger: one chain for each engine, what it takes, and what it refuses."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

from tests.factories.compliance import APPROVAL, entry, ledger_unprotected, past_entry
from tests.factories.notices import RevisionFactory
from tracker.accounts.access import Forbidden, Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.compliance.ledger import (
    Alternative,
    Approval,
    AttachmentLost,
    FreeDocument,
    Inspection,
    RecordRefused,
    Taken,
    Upload,
    canonical,
    open_attachment,
    verify_chain,
)
from tracker.compliance.models import Attachment, Method, Record
from tracker.fleet.errors import ChangedMeanwhile
from tracker.fleet.models import Engine

DONE_ON = date(2026, 11, 20)


@pytest.fixture
def record(technician: Viewer, engine, make_provision, now):
    """Record an entry of the engine; one about a provision unless told otherwise."""

    def make(on: date = DONE_ON, hours: int | None = 51_000, **given) -> Record:
        if "provision" not in given and "document" not in given:
            given["provision"] = make_provision()
        done = entry(on, hours=hours, **given)
        return changes.record_work(technician, engine, done, at=now)

    return make


# -- canonical text


def test_the_canonical_text_has_one_form_only() -> None:
    zone = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
    said = {"b": Decimal("512.30"), "a": "e\u0301", "c": [date(2026, 1, 2), zone, None]}
    text = '{"a":"\u00e9","b":"512.30","c":["2026-01-02","2026-11-24T09:30:00Z",null]}'
    assert canonical(said) == text


@pytest.mark.parametrize("value", [1.5, datetime(2026, 1, 1), object()])  # noqa: DTZ001 - the naive time is the point
def test_what_has_no_exact_form_is_not_hashed(value) -> None:
    with pytest.raises(TypeError):
        canonical({"a": value})


# -- the chain


def test_every_hash_can_be_computed_again_from_the_text_alone(engine, record) -> None:
    for day in (18, 19, 20):
        record(date(2026, 11, day), document=FreeDocument(number=f"SL-{day}"))
    previous = hashlib.sha256(f"rec-v1\n{engine.chain_id}".encode()).hexdigest()
    for sequence, kept in enumerate(Record.objects.order_by("sequence"), start=1):
        text = f"rec-v1\n{previous}\n{engine.chain_id}\n{sequence}\n{kept.payload}"
        assert kept.previous_hash == previous
        assert kept.hash == hashlib.sha256(text.encode()).hexdigest()
        assert json.dumps(
            json.loads(kept.payload),
            sort_keys=True,
            separators=(",", ":"),
            ensure_ascii=False,
        ) == (kept.payload)
        previous = kept.hash
    assert verify_chain(engine) is None


TAMPERING = [
    ("UPDATE compliance_record SET payload = replace(payload, 'wear', 'tear') WHERE sequence = 2", 2, "payload"),
    ("UPDATE compliance_record SET \"on\" = '2025-01-01' WHERE sequence = 2", 2, "columns"),
    ("UPDATE compliance_record SET hours = 1 WHERE sequence = 3", 3, "columns"),
    ("UPDATE compliance_record SET method = 'inspected' WHERE sequence = 1", 1, "columns"),
    ("DELETE FROM compliance_record WHERE sequence = 2", 3, "gap"),
    ("UPDATE compliance_record SET previous_hash = substr(hash, 1, 63) WHERE sequence = 2", 2, "link"),
]  # fmt: skip


@pytest.mark.both
@pytest.mark.parametrize(("statement", "sequence", "fault"), TAMPERING)
def test_whatever_is_changed_behind_the_ledger_is_found_where_it_is(
    engine, record, statement, sequence, fault
) -> None:
    for day in (18, 19, 20):
        record(date(2026, 11, day))
    with ledger_unprotected(), connection.cursor() as cursor:
        cursor.execute(statement)
    found = verify_chain(engine)
    assert found is not None
    assert (found.sequence, found.fault) == (sequence, fault)


def test_a_chain_cannot_be_moved_to_another_engine(make_engine, record) -> None:
    record()
    other = make_engine()
    with ledger_unprotected(), connection.cursor() as cursor:
        cursor.execute("UPDATE compliance_record SET engine_id = %s", [other.pk])
    found = verify_chain(other)
    assert found is not None
    assert found.fault == "link"


def test_the_command_says_where_the_ledger_breaks(engine, record, capsys) -> None:
    record()
    call_command("verify_ledger")
    assert "1 records, every chain is whole." in capsys.readouterr().out
    with ledger_unprotected(), connection.cursor() as cursor:
        cursor.execute("UPDATE compliance_record SET hours = 1")
    with pytest.raises(SystemExit) as left:
        call_command("verify_ledger", engine=str(engine.public_id))
    assert left.value.code == 1
    assert "record 1: its columns do not say" in capsys.readouterr().out


# -- what the database refuses


def execute(*statements: str) -> None:
    """Run statements in one transaction, past every model."""
    with transaction.atomic(), connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


UPDATE = "UPDATE compliance_record SET description = ''"
DELETE = "DELETE FROM compliance_record"


@pytest.mark.both
@pytest.mark.parametrize("statement", [UPDATE, DELETE])
def test_the_database_refuses_to_change_or_delete_a_record(record, statement) -> None:
    kept = record()
    with pytest.raises(DatabaseError, match="only added"):
        execute(statement)
    assert Record.objects.get().hash == kept.hash


@pytest.mark.sqlite_only
def test_sqlite_refuses_to_replace_a_record(record) -> None:
    record()
    with pytest.raises(DatabaseError, match="only added"):
        execute(
            "INSERT OR REPLACE INTO compliance_record SELECT * FROM compliance_record"
        )


@pytest.mark.both
@pytest.mark.postgresql_only
@pytest.mark.parametrize(
    "statements",
    [
        ["SET CONSTRAINTS ALL IMMEDIATE", "TRUNCATE compliance_record CASCADE"],
        ["SET LOCAL session_replication_role = replica", DELETE],
        ["SET LOCAL session_replication_role = replica", UPDATE],
    ],
)
def test_postgresql_refuses_also_those_who_switch_triggers_off(
    record, statements
) -> None:
    record()
    with pytest.raises(DatabaseError, match="only added"):
        execute(*statements)
    assert Record.objects.count() == 1


@pytest.mark.both
@pytest.mark.django_db(transaction=True)
def test_the_ledger_is_protected_after_a_flush_too(record) -> None:
    record()
    with pytest.raises(DatabaseError, match="only added"):
        execute(DELETE)


# -- what is refused, and what is said


SCAN = Upload("C:\\scans\\Log  page 7.txt", b"%PDF-1.4 page\n%%EOF\n")
PHOTO = Upload("crank.jpg", b"\xff\xd8\xff\xe0photo\xff\xd9")
REFUSED = [
    ({"on": date(2026, 11, 25)}, "on", "lies in the future"),
    ({"on": date(2020, 2, 1), "hours": None}, "on", "before the engine was made"),
    ({"hours": None}, "hours", "Enter the hours"),
    ({"hours": 52_001}, "hours", "520.01 h is beyond the last reading, 520.00 h on 2026-11-24"),
    ({"hours": 47_999}, "hours", "does not fit the reading of 480.00 h on 2026-01-10"),
    ({"description": " "}, "description", "Describe the work"),
    ({"done_by": ""}, "done_by", "who did the work"),
    ({"approval": None}, "approval", "approved the return to service"),
    ({"approval": Approval(name="R", certificate_kind="", certificate_number="1")}, "certificate_kind", "kind"),
    ({"approval": Approval(name="R", certificate_kind="IA", certificate_number=" ")}, "certificate_number", "number"),
    ({"method": Method.ALTERNATIVE}, "alternative", "under which the alternative method was approved"),
    ({"method": Method.ALTERNATIVE, "remarks": "AMOC"}, "alternative", "Without an approval"),
    ({"method": Method.ALTERNATIVE, "alternative": Alternative(reference="A 12", approved_by=" ")}, "alternative_approved_by", "who approved"),
    ({"alternative": Alternative(reference="A 12", approved_by="X")}, "alternative", "only with that method"),
    ({"inspection": Inspection(extent=" ", airworthy=True)}, "extent", "which inspection"),
    ({"inspection": Inspection(extent="annual", airworthy=True)}, "airframe_hours", "total time in service"),
    ({"inspection": Inspection(extent="annual", airworthy=False), "airframe_hours": 90_000}, "discrepancies", "list what was found"),
    ({"inspection": Inspection(extent="annual", airworthy=True, discrepancies=("leak",)), "airframe_hours": 90_000}, "discrepancies", "has no list"),
    ({"attachments": (Upload("a.pdf", b"<html>"),)}, "attachments", "no photograph"),
    ({"attachments": (Upload("a.pdf", b"%PDF-1.4 cut"),)}, "attachments", "not complete"),
    ({"attachments": (PHOTO, PHOTO)}, "attachments", "attached twice"),
    ({"attachments": tuple(Upload(f"{n}.jpg", b"\xff\xd8\xff%d\xff\xd9" % n) for n in range(9))}, "attachments", "At most 8"),
]  # fmt: skip


@pytest.mark.parametrize(("given", "field", "said"), REFUSED)
def test_an_entry_that_cannot_be_right_is_refused_with_its_field(
    record, given, field, said
) -> None:
    with pytest.raises(RecordRefused, match=said) as refused:
        record(**given)
    assert refused.value.field == field
    assert not Record.objects.exists()


def test_hours_that_contradict_an_earlier_record_are_refused_with_both(record) -> None:
    record(date(2026, 10, 1), 50_000)
    with pytest.raises(RecordRefused, match=r"499\.00 h on 2026-11-20 .* 500\.00 h on 2026-10-01"):  # fmt: skip
        record(DONE_ON, 49_900)
    record(DONE_ON, 50_000)


def test_the_same_work_is_recorded_once_and_the_second_is_told_by_whom(
    record, make_provision, technician, now
) -> None:
    provision = make_provision()
    record(provision=provision)
    with pytest.raises(Taken, match=technician.user.name) as taken:
        record(provision=provision)
    assert f"{now:%Y-%m-%d %H:%M}" in str(taken.value)
    assert Record.objects.count() == 1


def test_a_repeated_action_is_recorded_once_a_day(record, make_provision) -> None:
    provision = make_provision(
        rule__action={
            "initial": {"hours": 50, "after": "effective"},
            "repeat": {"hours": 50, "after": "last done"},
        }
    )
    record(date(2026, 11, 1), 50_000, provision=provision)
    record(date(2026, 11, 2), 50_000, provision=provision)
    with pytest.raises(Taken):
        record(date(2026, 11, 2), 50_000, provision=provision)


def test_a_voided_entry_can_be_made_again(
    record, make_provision, technician, now, engine
) -> None:
    provision = make_provision()
    first = record(provision=provision)
    changes.void_record(technician, first, reason="Wrong engine.", at=now)
    again = record(provision=provision)
    assert again.sequence == 3
    assert list(Record.objects.valid()) == [again]
    assert verify_chain(engine) is None


def test_an_entry_is_voided_once_with_a_reason_and_a_void_never(
    record, technician, now
) -> None:
    first = record()
    with pytest.raises(RecordRefused, match="Say why"):
        changes.void_record(technician, first, reason="  ", at=now)
    void = changes.void_record(technician, first, reason="Wrong engine.", at=now)
    with pytest.raises(RecordRefused, match="void already, by entry 2"):
        changes.void_record(technician, first, reason="Again.", at=now)
    with pytest.raises(RecordRefused, match="cannot be voided"):
        changes.void_record(technician, void, reason="Not so.", at=now)


def test_work_under_a_superseded_revision_is_a_late_entry_with_a_remark(
    record, make_provision
) -> None:
    provision = make_provision()
    RevisionFactory(
        publication=provision.revision.publication,
        label="2",
        sequence=10_000,
        confirmed=True,
        effective_on=date(2026, 6, 1),
    )
    with pytest.raises(RecordRefused, match="revision 2 took over on 2026-06-01"):
        record(provision=provision)
    with pytest.raises(RecordRefused) as refused:
        record(provision=provision, late=True)
    assert refused.value.field == "remarks"
    record(provision=provision, late=True, remarks="Revision 2 was not at hand.")


def test_work_done_before_the_next_revision_took_over_is_no_late_entry(
    record, make_provision
) -> None:
    provision = make_provision()
    RevisionFactory(
        publication=provision.revision.publication,
        label="2",
        sequence=10_000,
        confirmed=True,
        effective_on=DONE_ON + timedelta(days=1),
    )
    assert record(provision=provision).sequence == 1


def test_work_under_a_draft_is_refused(record, make_provision, station) -> None:
    draft = RevisionFactory(station=station, publication__station=station)
    with pytest.raises(RecordRefused, match="is a draft"):
        record(provision=make_provision(revision=draft))


def test_past_work_is_transcribed_without_approval(
    technician: Viewer, engine, make_provision, now
) -> None:
    past = past_entry(date(2024, 5, 2), hours=30_000, provision=make_provision())
    kept = changes.record_work(technician, engine, past, at=now)
    assert kept.kind == "transcribed"
    assert kept.text["transcribed"] == (
        "transcribed from logbook, page 17; signatory not seen"
    )


def test_several_past_entries_go_in_together_or_not_at_all(
    technician: Viewer, engine, now
) -> None:
    past = [
        past_entry(date(2024, 5, day), document=FreeDocument(number=f"SL-{day}"))
        for day in (3, 2)
    ]
    wrong = past_entry(date(2027, 1, 1), document=FreeDocument(number="SL-9"))
    with pytest.raises(RecordRefused):
        changes.record_all(technician, engine, [*past, wrong], at=now)
    assert not Record.objects.exists()
    kept = changes.record_all(technician, engine, past, at=now)
    assert [record.on.day for record in kept] == [2, 3]


# -- who may


def test_an_owner_may_not_record_work(viewer_as, engine, now) -> None:
    with pytest.raises(Forbidden, match="add records to the ledger"):
        changes.record_work(viewer_as(Role.OWNER), engine, entry(DONE_ON), at=now)


def test_another_station_does_not_find_the_engine(
    stranger: Viewer, engine, now
) -> None:
    with pytest.raises(Engine.DoesNotExist):
        changes.record_work(stranger, engine, entry(DONE_ON, hours=51_000), at=now)


def test_a_form_opened_before_somebody_else_changed_the_engine_is_refused(
    technician: Viewer, engine, now
) -> None:
    done = entry(DONE_ON, hours=51_000)
    changes.record_work(technician, engine, done, at=now, version=engine.version)
    with pytest.raises(ChangedMeanwhile):
        changes.record_work(
            technician,
            engine,
            entry(DONE_ON, hours=51_000, description="Oil changed."),
            at=now,
            version=engine.version,
        )
    assert Record.objects.count() == 1


def test_personal_data_of_the_owner_is_not_in_the_text(record) -> None:
    said = record().text
    assert set(said) == {
        "alternative", "approved_by", "airframe_hours", "attachments", "document",
        "done_by", "inspection", "signed_by",
        "en_route", "engine", "hours", "kind", "late", "method", "on", "part",
        "part_hours", "recorded_at", "recorded_by", "remarks", "result", "slot",
        "transcribed", "tsn", "v", "voids", "work",
    }  # fmt: skip
    assert said["approved_by"]["name"] == APPROVAL.name


@pytest.mark.both
def test_what_is_attached_is_named_by_the_text_and_kept_by_its_hash(
    record, settings, tmp_path
) -> None:
    settings.ATTACHMENT_DIR = tmp_path
    added = record(attachments=(PHOTO, SCAN))
    rows = list(added.attachments.all())
    assert [(row.order, row.name, row.media_type) for row in rows] == [
        (1, "crank.jpg", "image/jpeg"),
        (2, "Log page 7.pdf", "application/pdf"),
    ]
    assert [row.sha256 for row in rows] == [
        hashlib.sha256(PHOTO.content).hexdigest(),
        hashlib.sha256(SCAN.content).hexdigest(),
    ]
    assert added.text["attachments"] == [
        {
            "name": row.name,
            "media_type": row.media_type,
            "size": row.size,
            "sha256": row.sha256,
        }
        for row in rows
    ]
    assert [open_attachment(row) for row in rows] == [PHOTO.content, SCAN.content]


@pytest.mark.both
def test_the_database_refuses_to_change_or_delete_an_attachment(
    record, settings, tmp_path
) -> None:
    settings.ATTACHMENT_DIR = tmp_path
    record(attachments=(PHOTO,))
    rows = Attachment.objects.all()
    delete = lambda: rows._raw_delete(rows.db)  # noqa: E731
    for act in (lambda: rows.update(name="other.jpg"), delete):
        with pytest.raises(DatabaseError, match="only added"), transaction.atomic():
            act()
    assert Attachment.objects.get().name == "crank.jpg"


def test_a_file_that_is_not_the_one_attached_is_told(
    record, settings, tmp_path
) -> None:
    settings.ATTACHMENT_DIR = tmp_path
    row = record(attachments=(PHOTO,)).attachments.get()
    [path] = list(tmp_path.rglob("*.jpg"))
    path.write_bytes(PHOTO.content + b"!")
    with pytest.raises(AttachmentLost, match="is not the one that was stored"):
        open_attachment(row)
    path.unlink()
    with pytest.raises(AttachmentLost, match="is missing from the store"):
        open_attachment(row)

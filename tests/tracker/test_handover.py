"""An engine handed over: its archive holds everything, and is taken in whole or not."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from notices.models import Provision
from notices.rules.errors import RuleError
from notices.store import digest_of
from tests.factories.accounts import PASSWORD
from tests.factories.compliance import entry
from tests.factories.notices import (
    ProvisionFactory,
    PublicationFactory,
    RevisionFactory,
)
from tests.tracker.compliance.conftest import make_engine, make_provision
from tests.tracker.compliance.test_faults import everything, failing_statement
from tests.tracker.web.reading import words
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.facts import engine_files
from tracker.compliance.ledger import Upload, breaks, lost_files
from tracker.compliance.models import AlternativeMethod, Attachment, Record
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine, Part, Reading
from tracker.fleet.parts import Fit, PartEntry
from tracker.handover.archive import Archive, packed, read_archive
from tracker.handover.writing import archive_of

__all__ = ["make_engine", "make_provision"]
pytestmark = pytest.mark.django_db
PHOTO = Upload("crank.jpg", b"\xff\xd8\xff\xe0photo\xff\xd9")


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.ATTACHMENT_DIR = tmp_path / "attachments"


@pytest.fixture
def engine(
    make_engine: Callable[..., Engine],
    make_provision: Callable[..., Any],
    technician: Viewer,
    now: datetime,
) -> Engine:
    """An engine with everything that goes along: parts, history, a ledger with files."""
    provision = make_provision(number="SB-1", title="Inspect the fuel pump")
    made = make_engine(serial="4321")
    on = date(2026, 3, 1)
    part = changes.add_part(
        technician,
        made,
        PartEntry(role="fuel pump", number="P-8801", serial="A-17"),
        Fit(engine_hours=48_000, hours_new=100),
        true_from=on,
        at=now,
    )
    changes.add_overhaul(
        technician,
        made,
        on=date(2026, 1, 20),
        hours=48_000,
        done_by="maker",
        at=now,
        tested="to limits",
    )
    changes.embody(technician, made, "MOD-7", true_from=on, source="log", at=now)
    changes.set_attribute(technician, made, "drive", "geared", true_from=on, at=now)
    wrong = changes.add_reading(
        technician, made, on=date(2026, 11, 24), shown=52_050, at=now
    )
    changes.correct_reading(technician, wrong, shown=52_040, at=now)
    done = entry(
        date(2026, 11, 20),
        hours=51_000,
        provision=provision,
        attachments=(PHOTO,),
    )
    first = changes.record_work(technician, made, done, at=now)
    pump = entry(
        date(2026, 11, 20), hours=51_000, part=part, description="Pump looked at."
    )
    changes.record_work(technician, made, pump, at=now)
    changes.void_record(technician, first, reason="Wrong engine.", at=now)
    return Engine.objects.select_related("engine_type", "station").get(pk=made.pk)


@pytest.fixture
def content(engine: Engine, technician: Viewer, now: datetime) -> bytes:
    return archive_of(technician, engine, at=now)


def taken_in(viewer: Viewer, archive: Archive, at: datetime) -> Engine:
    taken = changes.take_in(
        viewer,
        chain_id=archive.chain_id,
        engine_type=archive.engine_type,
        tables=archive.tables,
        alternatives=archive.alternatives,
        links=archive.links,
        files=archive.files,
        at=at,
    )
    return taken.engine


def unpacked(content: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(content)) as bundle:
        return {name: bundle.read(name) for name in bundle.namelist()}


# -- what goes along


def test_status_facts_ledger_and_files_go_along(content: bytes, engine: Engine) -> None:
    inside = unpacked(content)
    assert {"manifest.json", "status.pdf", "facts.json", "ledger.json"} <= set(inside)
    assert inside[f"attachments/{PHOTO.sha256}"] == PHOTO.content
    text = "".join(
        page.extract_text()
        for page in PdfReader(io.BytesIO(inside["status.pdf"])).pages
    )
    assert engine.serial in text
    payloads = [link["payload"] for link in json.loads(inside["ledger.json"])]
    kept = Record.objects.filter(engine=engine).order_by("sequence")
    assert payloads == [record.payload for record in kept]
    manifest = json.loads(inside["manifest.json"])
    assert manifest["head"] == kept.last().hash
    for file in manifest["files"]:
        assert digest_of(inside[file["name"]]) == file["sha256"]


def test_no_owner_goes_along(
    content: bytes, engine: Engine, technician: Viewer
) -> None:
    from tests.factories.fleet import OwnerFactory

    owner = OwnerFactory(station=engine.station, name="Quillfeather")
    now = datetime.now().astimezone()
    changes.change_owner(technician, engine, owner, true_from=now.date(), at=now)
    inside = unpacked(archive_of(technician, engine, at=now))
    assert b"Quillfeather" not in inside["facts.json"] + inside["ledger.json"]


# -- taken in


@pytest.mark.both
def test_another_station_takes_the_engine_in_with_its_chain(
    content: bytes, engine: Engine, stranger: Viewer, now: datetime
) -> None:
    archive = read_archive(content)
    new = taken_in(stranger, archive, now)
    assert new.station == stranger.station
    assert new.public_id != engine.public_id
    for name in ("serial", "built", "hours_now", "read_on", "hours_at_new", "chain_id"):
        assert getattr(new, name) == getattr(engine, name), name
    old_records = Record.objects.filter(engine=engine).order_by("sequence")
    records = Record.objects.filter(engine=new).order_by("sequence")
    assert [(r.sequence, r.hash, r.payload) for r in records] == [
        (r.sequence, r.hash, r.payload) for r in old_records
    ]
    assert list(breaks(Record.objects.all())) == []
    assert list(lost_files(Record.objects.all())) == []
    assert records[2].voids == records[0]
    assert Part.objects.filter(station=stranger.station).count() == 1
    corrected = Reading.objects.filter(engine=new).exclude(corrects=None).get()
    assert corrected.corrects.shown == 52_050


def test_the_facts_are_the_same_at_both_stations(
    content: bytes, engine: Engine, stranger: Viewer, now: datetime
) -> None:
    new = taken_in(stranger, read_archive(content), now)
    files = engine_files([engine, new], on=now.date())
    old, now_known = files[engine.pk].facts, files[new.pk].facts
    for name in (
        "type", "serial", "built", "hours", "embodied", "attributes", "overhauls",
    ):  # fmt: skip
        if name == "overhauls" or name == "embodied":
            assert set(getattr(old, name)) == set(getattr(now_known, name)), name
        else:
            assert getattr(old, name) == getattr(now_known, name), name
    assert [part.serial for part in now_known.parts] == ["A-17"]
    assert not now_known.history_reviewed, "a review is for whoever takes it over"


def with_alternative(engine: Engine, by: Viewer, now: datetime) -> bytes:
    approved = changes.AlternativeEntry(
        reference="26-014",
        approved_by="Office of the authority",
        approved_on=date(2026, 3, 2),
        description="Looked at through the cover.",
        times={"repeat": {"hours": 12.5, "after": "last done"}},
        valid_until=date(2027, 3, 1),
    )
    provision = Provision.objects.get(revision__publication__number="SB-1")
    changes.approve_alternative(by, engine, provision, approved, at=now)
    return archive_of(by, engine, at=now)


def test_an_alternative_method_goes_along_to_a_library_that_holds_its_document(
    engine: Engine, technician: Viewer, stranger: Viewer, now: datetime
) -> None:
    content = with_alternative(engine, technician, now)
    old = Provision.objects.get(revision__publication__number="SB-1")
    publication = PublicationFactory(station=stranger.station, number="sb 1")
    label = old.revision.label
    revision = RevisionFactory(publication=publication, label=label, confirmed=True)
    own = ProvisionFactory(revision=revision, title=old.title)
    new = taken_in(stranger, read_archive(content), now)
    kept, taken = (AlternativeMethod.objects.get(engine=one) for one in (engine, new))
    assert taken.provision == own
    for name in ("reference", "approved_by", "approved_on", "times", "valid_until"):
        assert getattr(taken, name) == getattr(kept, name), name
    assert (taken.true_from, taken.recorded_at) == (kept.true_from, kept.recorded_at)


def test_one_that_has_no_place_in_the_library_is_told_and_not_entered(
    engine: Engine,
    technician: Viewer,
    stranger: Viewer,
    signed_in: Callable[[Viewer], Client],
    now: datetime,
) -> None:
    content = with_alternative(engine, technician, now)
    file = SimpleUploadedFile("engine.zip", content)
    at = reverse("web:engine-take-in")
    answer = signed_in(stranger).post(at, {"file": file}, follow=True)
    said = words(answer.content.decode())
    assert (
        "Alternative method 26-014, approved by Office of the authority, for SB-1"
        in (said)
    )
    assert "is not entered: this library does not hold that document" in said
    assert not AlternativeMethod.objects.filter(station=stranger.station).exists()


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("reference", ""),
        ("approved_on", "in March"),
        ("times", '{"repeat": {"hours": -1}}'),
        ("times", "{"),
        ("number", 7),
        ("valid_until", "2026-01-01"),
        ("another", "x"),
    ],
)
def test_an_alternative_method_that_cannot_be_right_is_refused_with_its_place(
    engine: Engine,
    technician: Viewer,
    stranger: Viewer,
    now: datetime,
    name: str,
    value: object,
) -> None:
    def spoil(said: Any) -> None:
        said["alternatives"][0][name] = value

    content = with_alternative(engine, technician, now)
    other = changed(content, "facts.json", spoil, repack=True)
    with pytest.raises(RuleError) as refused:
        taken_in(stranger, read_archive(other), now)
    assert refused.value.faults[0].path == "facts.alternatives[0]"
    assert Engine.objects.filter(station=stranger.station).count() == 0


def test_work_goes_on_in_the_same_chain_at_the_new_station(
    content: bytes, engine: Engine, stranger: Viewer, now: datetime
) -> None:
    new = taken_in(stranger, read_archive(content), now)
    done = entry(date(2026, 11, 24), hours=52_000, description="Oil changed.")
    [record] = changes.sign_work(stranger, {new: [done]}, password=PASSWORD, at=now)
    assert record.sequence == 4
    assert list(breaks(Record.objects.all())) == []


def test_the_same_engine_is_not_taken_in_twice(
    content: bytes, engine: Engine, technician: Viewer, stranger: Viewer, now: datetime
) -> None:
    with pytest.raises(Refused, match="keeps that engine already"):
        taken_in(technician, read_archive(content), now)
    taken_in(stranger, read_archive(content), now)
    with pytest.raises(Refused, match="keeps that engine already"):
        taken_in(stranger, read_archive(content), now)


# -- what is not as it was


def changed(
    content: bytes, name: str, act: Callable[[Any], Any], *, repack: bool
) -> bytes:
    """The archive with one JSON file changed; `repack`: with a manifest made anew."""
    inside = unpacked(content)
    said = json.loads(inside[name])
    act(said)
    inside[name] = json.dumps(said).encode()
    manifest = json.loads(inside.pop("manifest.json"))
    if repack:
        rest = {key: manifest[key] for key in manifest.keys() - {"form", "files"}}
        return packed(rest, inside)
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as bundle:
        bundle.writestr("manifest.json", json.dumps(manifest))
        for each, bytes_of in inside.items():
            bundle.writestr(each, bytes_of)
    return target.getvalue()


def test_a_file_that_was_changed_is_told_by_the_manifest(content: bytes) -> None:
    other = changed(content, "facts.json", lambda said: said.update(x=1), repack=False)
    with pytest.raises(RuleError) as refused:
        read_archive(other)
    assert refused.value.faults[0].path == "facts.json"
    assert "Was changed" in refused.value.faults[0].message


@pytest.mark.parametrize(
    "act",
    [
        lambda said: said.pop(0),
        lambda said: said.pop(),
        lambda said: said.reverse(),
        lambda said: said[0].update(payload=said[0]["payload"].replace("wear", "tear")),
        lambda said: said[1].update(hash="0" * 64),
    ],
)
def test_a_ledger_that_was_changed_is_told_even_under_a_new_manifest(
    content: bytes, act: Callable[[Any], Any]
) -> None:
    with pytest.raises(RuleError, match=r"breaks|end of the chain"):
        read_archive(changed(content, "ledger.json", act, repack=True))


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "not a whole archive"),
        (b"PK\x03\x04 cut", "not a whole archive"),
        (packed({}, {}), "Is missing from the archive"),
    ],
)
def test_what_is_no_archive_is_refused(content: bytes, said: str) -> None:
    with pytest.raises(RuleError, match=said):
        read_archive(content)


@pytest.mark.parametrize(
    ("act", "path"),
    [
        (lambda t: t["readings"][0].update(on="soon"), "facts.readings[0].on"),
        (lambda t: t["readings"][0].update(meter=99), "facts.readings[0].meter"),
        (lambda t: t["meters"][0].update(kind="guess"), "facts.meters[0].kind"),
        (lambda t: t["overhauls"][0].pop("by"), "facts.overhauls[0].by"),
        (lambda t: t["identities"][0].update(extra=1), "facts.identities[0].extra"),
        (lambda t: t["identities"].clear(), "facts.identities"),
    ],
)
def test_a_fact_that_cannot_be_right_is_told_with_its_place_and_nothing_is_kept(
    content: bytes,
    stranger: Viewer,
    now: datetime,
    act: Callable[[Any], Any],
    path: str,
) -> None:
    other = changed(
        content, "facts.json", lambda said: act(said["tables"]), repack=True
    )
    before = everything()
    with pytest.raises(RuleError) as refused:
        taken_in(stranger, read_archive(other), now)
    assert [fault.path for fault in refused.value.faults] == [path]
    assert everything() == before


def test_a_file_of_a_record_that_is_missing_keeps_everything_out(
    content: bytes, stranger: Viewer, now: datetime
) -> None:
    inside = unpacked(content)
    manifest = json.loads(inside.pop("manifest.json"))
    del inside[f"attachments/{PHOTO.sha256}"]
    rest = {key: manifest[key] for key in manifest.keys() - {"form", "files"}}
    before = everything()
    with pytest.raises(RuleError, match=r"crank.jpg is not the one that was attached"):
        taken_in(stranger, read_archive(packed(rest, inside)), now)
    assert everything() == before


def test_whichever_statement_fails_the_engine_is_in_whole_or_not_at_all(
    content: bytes, stranger: Viewer, now: datetime
) -> None:
    from django.db import DatabaseError

    archive, before = read_archive(content), everything()
    for number in range(1, 400, 7):
        with failing_statement(number):
            try:
                taken_in(stranger, archive, now)
            except DatabaseError:
                pass
            else:
                break
        assert everything() == before
    else:
        pytest.fail("the engine was never taken in")
    assert Attachment.objects.count() == 2


# -- the pages


def test_an_engine_goes_from_one_station_to_another_by_its_pages(
    engine: Engine,
    technician: Viewer,
    stranger: Viewer,
    signed_in: Callable[[Viewer], Client],
) -> None:
    address = reverse("web:engine-archive", args=[engine.public_id])
    given = signed_in(technician).get(address)
    assert given["Content-Type"] == "application/zip"
    assert signed_in(stranger).get(address).status_code == 404
    client = signed_in(stranger)
    at = reverse("web:engine-take-in")
    sent = {"file": SimpleUploadedFile("engine.zip", given.content)}
    answer = client.post(at, sent, follow=True)
    assert "The engine is taken in with its ledger" in words(answer.content.decode())
    again = {"file": SimpleUploadedFile("engine.zip", given.content)}
    refused = client.post(at, again)
    assert refused.status_code == 422
    assert "keeps that engine already" in words(refused.content.decode())
    bad = client.post(at, {"file": SimpleUploadedFile("engine.zip", b"no zip")})
    assert "The file is not a whole archive" in words(bad.content.decode())

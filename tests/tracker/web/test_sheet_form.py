"""Sheets uploaded, looked at and imported; downloaded; and files that are no sheets."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import datetime, timedelta

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from tests.factories.fleet import EngineTypeFactory
from tests.tracker.web.reading import rows_of, words
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role, Station
from tracker.compliance.models import Record
from tracker.fleet.models import Engine, Operation, PartFitting, WaitingSheet
from tracker.fleet.sheets.reading import MOST_BYTES

pytestmark = pytest.mark.django_db
UPLOAD = "web:engine-sheets"
GOOD = b"type,serial,date of manufacture\nMX-4,4001,2020-03-01\n"
MIXED = GOOD + b"MX-4,4002,2020-02-30\nMX-5,1,\n"


def said(response: HttpResponse) -> str:
    return words(response.content.decode())


def upload(
    page: Client, content: bytes, kind: str = "fleet", name: str = "fleet.csv"
) -> HttpResponse:
    sent = {"kind": kind, "file": SimpleUploadedFile(name, content)}
    return page.post(reverse(UPLOAD), sent)


def waiting(page: Client, content: bytes, kind: str = "fleet") -> str:
    """Upload a sheet; the address of what it would do."""
    answer = upload(page, content, kind)
    assert answer.status_code == 302, said(answer)
    return str(answer.headers["Location"])


@pytest.fixture(autouse=True)
def engine_type(station: Station) -> None:
    EngineTypeFactory(station=station, designation="MX-4")


def test_a_dry_run_lists_every_fault_and_writes_nothing(page: Client) -> None:
    look = page.get(waiting(page, MIXED))
    assert rows_of(look)[:3] == [
        "Line Column Why",
        '3 date of manufacture "2020-02-30" is not a date. Write it as 2026-05-31.',
        rows_of(look)[2],
    ]
    assert rows_of(look)[2].startswith("4 type")
    assert "1 would be added and 0 would change what is kept" in said(look)
    assert "2 lines cannot be taken as written. Nothing is written yet." in said(look)
    assert not Engine.objects.exists()


def test_good_rows_go_in_only_if_the_person_says_so(page: Client) -> None:
    address = waiting(page, MIXED)
    digest = WaitingSheet.objects.get().digest
    refused = page.post(address, {"digest": digest})
    assert refused.status_code == 422
    assert "2 rows cannot be taken." in said(refused)
    assert not Engine.objects.exists()
    sent = {"digest": digest, "good_rows_only": "on"}
    taken = page.post(address, sent, follow=True)
    assert "Rows added: 1. Changed: 0. Unchanged: 0. Lines with faults: 2." in said(
        taken
    )
    assert Engine.objects.get().serial == "4001"
    assert not WaitingSheet.objects.exists()


def test_hours_in_question_go_in_only_if_the_person_says_they_are_right(
    page: Client,
) -> None:
    """A slip of one figure is asked about, as it is where one reading is entered."""
    first = b"type,serial,TSN hours,reading date\nMX-4,4001,400,2026-01-10\n"
    address = waiting(page, first)
    page.post(address, {"digest": WaitingSheet.objects.get().digest})
    address = waiting(page, first.replace(b"400,2026-01-10", b"900,2026-02-10"))
    look = said(page.get(address))
    assert "In question These can be. Look at each once more" in look
    assert "500.0 h in 31 days" in look.replace("\u202f", " ").replace("\xa0", " ")
    sent = {"digest": WaitingSheet.objects.get().digest}
    refused = page.post(address, sent)
    assert refused.status_code == 422
    assert "1 rows hold figures in question." in said(refused)
    assert Engine.objects.get().hours_now == 40_000
    page.post(address, {**sent, "confirmed": "on"})
    assert Engine.objects.get().hours_now == 90_000


def test_an_operation_that_no_rule_names_goes_in_only_if_a_person_says_so(
    page: Client,
) -> None:
    rows = b'MX-4,4001,"private, commercial"\nMX-4,4002,comercial\n'
    address = waiting(page, b"type,serial,operation\n" + rows)
    look = said(page.get(address))
    assert (
        '3 MX-4, serial 4002 No document in force names the operation "comercial". '
        "It is offered: private and commercial. Kept so, it counts as none of these."
    ) in look
    sent = {"digest": WaitingSheet.objects.get().digest}
    assert page.post(address, sent).status_code == 422
    assert not Engine.objects.exists()
    page.post(address, {**sent, "confirmed": "on"})
    uses = [row.uses for row in Operation.objects.order_by("engine__serial")]
    assert uses == [["private", "commercial"], ["comercial"]]


def test_the_same_sheet_twice_changes_nothing(page: Client) -> None:
    address = waiting(page, GOOD)
    page.post(address, {"digest": WaitingSheet.objects.get().digest})
    version = Engine.objects.get().version
    again = page.get(waiting(page, GOOD))
    assert "There is nothing to import from this sheet." in said(again)
    assert Engine.objects.get().version == version


@pytest.mark.parametrize("digest", ["", "0" * 64])
def test_another_file_than_was_looked_at_is_not_imported(
    page: Client, digest: str
) -> None:
    answer = page.post(waiting(page, GOOD), {"digest": digest})
    assert answer.status_code == 422
    assert "This is not the file that was looked at. Look at it first." in said(answer)
    assert not Engine.objects.exists()


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "The file is empty. Its first row names the columns."),
        (b"type,serial\n\xff", 'Save the sheet as "CSV UTF-8" or as XLSX.'),
        (b"PK\x03\x04 no workbook", "The file cannot be read as an XLSX workbook."),
        (b'type,serial\n"MX-4', "Look for a quotation mark that is not closed"),
        (
            b"x" * (MOST_BYTES + 1),
            "at most 10,000,000 are read. Split it into several.",
        ),
    ],
)
def test_a_file_that_is_no_sheet_is_refused_and_not_kept(
    page: Client, content: bytes, message: str
) -> None:
    answer = upload(page, content)
    assert answer.status_code == 422
    assert message in said(answer)
    assert not WaitingSheet.objects.exists()


def test_no_file_and_no_subject_are_refused(page: Client) -> None:
    answer = page.post(reverse(UPLOAD), {"kind": "weather"})
    assert answer.status_code == 422
    assert answer.context["form"].errors.keys() == {"kind", "file"}


def test_parts_and_past_compliance_are_imported_too(
    page: Client, engine: Engine
) -> None:
    about = f"{engine.engine_type},{engine.serial}"
    parts = f"engine type,engine serial,role,fitted\n{about},magneto,2026-01-10\n"
    past = (
        "engine type,engine serial,document,date,work,page\n"
        f"{about},SB-1,2026-01-10,Replaced the hose,12\n"
    )
    for kind, text in (("parts", parts), ("past", past)):
        address = waiting(page, text.encode(), kind)
        digest = WaitingSheet.objects.get().digest
        answer = page.post(address, {"digest": digest}, follow=True)
        assert "Rows added: 1." in said(answer), kind
    assert PartFitting.objects.get().engine == engine
    assert Record.objects.get().kind == "transcribed"


@pytest.mark.parametrize("subject", ["fleet", "parts", "past"])
def test_a_download_imports_as_it_was_exported(
    page: Client, engine: Engine, subject: str
) -> None:
    export = page.get(reverse(f"web:engine-sheet-{subject}"))
    assert export.headers["Content-Disposition"] == (
        f'attachment; filename="{subject}-2026-11-24.csv"'
    )
    look = page.get(waiting(page, export.content, subject))
    assert "Every line of the sheet can be taken." in said(look)
    assert "0 would be added and 0 would change what is kept" in said(look)


@pytest.mark.parametrize("subject", ["fleet", "parts", "past"])
def test_an_empty_sheet_holds_the_columns_alone(
    page: Client, engine: Engine, subject: str
) -> None:
    address = reverse(f"web:engine-sheet-{subject}")
    csv = page.get(address, {"empty": "1"})
    xlsx = page.get(address, {"empty": "1", "as": "xlsx"})
    rows = openpyxl.load_workbook(io.BytesIO(xlsx.content)).active.values
    [header] = list(rows)
    assert csv.content.decode("utf-8-sig").strip() == ",".join(
        f'"{name}"' for name in header
    )


def test_a_sheet_is_dropped_unimported(page: Client) -> None:
    waiting(page, GOOD)
    sheet = WaitingSheet.objects.get()
    listed = said(page.get(reverse(UPLOAD)))
    assert "Drop fleet.csv" in listed
    page.post(reverse("web:engine-sheet-drop", args=[sheet.public_id]))
    assert not WaitingSheet.objects.exists()
    assert not Engine.objects.exists()


def test_a_sheet_that_has_waited_for_a_week_goes_with_the_next_upload(
    page: Client, now: datetime
) -> None:
    waiting(page, GOOD)
    old = now - timedelta(days=7, seconds=1)
    WaitingSheet.objects.update(uploaded_at=old)
    waiting(page, MIXED)
    assert [bytes(sheet.content) for sheet in WaitingSheet.objects.all()] == [MIXED]


def test_a_sheet_of_another_station_is_not_there_and_an_owner_uploads_none(
    page: Client,
    stranger: Viewer,
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
) -> None:
    address = waiting(page, GOOD)
    sheet = WaitingSheet.objects.get()
    foreign = signed_in(stranger)
    assert foreign.get(address).status_code == 404
    assert foreign.post(address, {"digest": sheet.digest}).status_code == 404
    assert "fleet.csv" not in said(foreign.get(reverse(UPLOAD)))
    assert upload(signed_in(viewer_as(Role.OWNER)), GOOD).status_code == 403
    assert WaitingSheet.objects.count() == 1
    assert not Engine.objects.exists()

"""Sheets: downloaded, uploaded, looked at row by row, and imported."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
)

from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.compliance import sheets as past
from tracker.compliance.changes import Imported
from tracker.fleet.models import Engine, SheetKind, WaitingSheet
from tracker.fleet.sheets import fleet, parts
from tracker.fleet.sheets.cells import Column
from tracker.fleet.sheets.plan import Plan
from tracker.fleet.sheets.writing import write_csv, write_xlsx
from tracker.web.forms.sheets import ImportForm, UploadForm
from tracker.web.views.form_pages import FormPage, answered, sent

FAULTS_ON_A_PAGE: Final = 200
ROWS_SHOWN: Final = 100
XLSX: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What one kind of sheet holds, and the route that downloads it."""

    kind: SheetKind
    route: str
    one_row: str
    columns: tuple[Column, ...]


SUBJECTS: Final = (
    Subject(
        kind=SheetKind.FLEET,
        route="web:engine-sheet-fleet",
        one_row="One row an engine, with owner, aircraft, hours and last overhaul.",
        columns=fleet.COLUMNS,
    ),
    Subject(
        kind=SheetKind.PARTS,
        route="web:engine-sheet-parts",
        one_row="One row a fitted part, with the hours it had when it was fitted.",
        columns=parts.COLUMNS,
    ),
    Subject(
        kind=SheetKind.PAST,
        route="web:engine-sheet-past",
        one_row="One row for each thing done, as transcribed from a logbook.",
        columns=past.COLUMNS,
    ),
)


@require_http_methods(["GET", "POST"])
def upload(request: ViewedRequest) -> HttpResponse:
    """Which sheets there are, and one uploaded to be looked at."""
    viewer = request.viewer
    form = UploadForm(sent(request), request.FILES or None)
    page = FormPage(
        heading="Sheets",
        kind="Engines",
        lead="A sheet is looked at first: every row that cannot be taken is listed, and "
        "nothing is written until you say so. Empty cells say nothing, and the same "
        "sheet twice changes nothing.",
        submit="Look at the sheet",
        said="Nothing is written yet. Look at what the sheet would do.",
        back=reverse("web:engine-list"),
        template="web/sheets/upload.html",
    )

    def act(at: datetime) -> WaitingSheet:
        file, kind = form.cleaned_data["file"], SheetKind(form.cleaned_data["kind"])
        return changes.upload_sheet(viewer, kind, file.read(), file.name, at=at)

    waiting = WaitingSheet.objects.visible_to(viewer).select_related("uploaded_by")
    return answered(
        request,
        page,
        form,
        act,
        then=lambda sheet: reverse("web:engine-sheet", args=[sheet.public_id]),
        shown=lambda: {
            "subjects": SUBJECTS,
            "waiting": waiting.defer("content").order_by("-uploaded_at", "-pk"),
        },
    )


@require_http_methods(["GET", "POST"])
def look(request: ViewedRequest, sheet: UUID) -> HttpResponse:
    """What a waiting sheet would do, and its import."""
    waiting = _waiting(request, sheet)

    def planned() -> Plan[Any]:
        return changes.look_at_sheet(request.viewer, waiting, at=timezone.now())

    plan = None if request.method == "POST" else planned()
    form = ImportForm(
        sent(request),
        digest=waiting.digest,
        has_faults=plan is None or bool(plan.faults),
        has_doubts=plan is None or bool(plan.in_question),
    )
    page = FormPage(
        heading=waiting.name,
        kind="Sheet",
        submit="Import the sheet",
        said="The sheet is imported.",
        back=reverse("web:engine-sheets"),
        template="web/sheets/plan.html",
    )

    def act(at: datetime) -> Imported:
        return changes.import_sheet(
            request.viewer,
            waiting,
            digest=form.cleaned_data["digest"],
            good_rows_only=form.cleaned_data.get("good_rows_only", False),
            confirmed=form.cleaned_data.get("confirmed", False),
            at=at,
        )

    def then(done: Imported) -> str:
        messages.success(request, _told(done.plan))
        return page.back

    return answered(
        request,
        page,
        form,
        act,
        then=then,
        shown=lambda: _shown(request, waiting, plan or planned()),
    )


@require_POST
def drop(request: ViewedRequest, sheet: UUID) -> HttpResponse:
    waiting = _waiting(request, sheet)
    changes.drop_sheet(request.viewer, waiting)
    messages.success(request, f"{waiting.name} is dropped; nothing of it was written.")
    return redirect("web:engine-sheets")


@require_GET
def download_fleet(request: ViewedRequest) -> HttpResponse:
    return _download(
        request,
        SUBJECTS[0],
        lambda xlsx: fleet.export_fleet(_engines(request), xlsx=xlsx),
    )


@require_GET
def download_parts(request: ViewedRequest) -> HttpResponse:
    def export(xlsx: bool) -> bytes:
        return parts.export_parts(_engines(request), at=timezone.now(), xlsx=xlsx)

    return _download(request, SUBJECTS[1], export)


@require_GET
def download_past(request: ViewedRequest) -> HttpResponse:
    def export(xlsx: bool) -> bytes:
        return past.export_compliance(_engines(request), xlsx=xlsx)

    return _download(request, SUBJECTS[2], export)


def _engines(request: ViewedRequest) -> Any:
    engines = Engine.objects.visible_to(request.viewer).for_list()
    return engines.select_related("station")


def _download(
    request: ViewedRequest, subject: Subject, export: Callable[[bool], bytes]
) -> HttpResponse:
    """`?as=xlsx`: a workbook instead of CSV; `?empty=1`: the columns alone."""
    xlsx = request.GET.get("as") == "xlsx"
    if request.GET.get("empty"):
        content = (write_xlsx if xlsx else write_csv)(subject.columns, ())
        name = f"{subject.kind}-empty"
    else:
        content = export(xlsx)
        name = f"{subject.kind}-{today_at(request.viewer.station)}"
    suffix, media = ("xlsx", XLSX) if xlsx else ("csv", "text/csv; charset=utf-8")
    return HttpResponse(
        content,
        content_type=media,
        headers={"Content-Disposition": f'attachment; filename="{name}.{suffix}"'},
    )


def _waiting(request: ViewedRequest, sheet: UUID) -> WaitingSheet:
    waiting = WaitingSheet.objects.visible_to(request.viewer)
    return get_object_or_404(waiting.select_related("uploaded_by"), public_id=sheet)


def _shown(
    request: ViewedRequest, waiting: WaitingSheet, plan: Plan[Any]
) -> Mapping[str, object]:
    page = Paginator(plan.faults, FAULTS_ON_A_PAGE).get_page(request.GET.get("page"))
    return {
        "sheet": waiting,
        "plan": plan,
        "faults": page,
        "bad_lines": len({fault.line for fault in plan.faults}),
        "to_change": plan.to_change[:ROWS_SHOWN],
        "in_question": plan.in_question[:ROWS_SHOWN],
        "to_add": plan.to_add[:ROWS_SHOWN],
    }


def _told(plan: Plan[Any]) -> str:
    faulty = len({fault.line for fault in plan.faults})
    return (
        f"Rows added: {len(plan.to_add)}. Changed: {len(plan.to_change)}. Unchanged: "
        f"{len(plan.unchanged)}. Lines with faults: {faulty}."
    )

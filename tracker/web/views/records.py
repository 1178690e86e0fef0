"""The ledger of an engine: looked at, added to, transcribed into, a record voided."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any, Final
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from notices.models import Provision, Revision
from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes, ledger
from tracker.compliance.changes import Imported
from tracker.compliance.ledger import Entry
from tracker.compliance.models import Attachment, Record, RecordKind
from tracker.fleet.fitted_parts import parts_fitted
from tracker.fleet.meters import meter_on
from tracker.fleet.models import Engine
from tracker.web.forms.records import (
    OtherWorkForm,
    PastForm,
    ProvisionWorkForm,
    VoidForm,
    WorkForm,
)
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.paging import SIZE
from tracker.web.views.seen import engine_seen, page_of, record_seen
from tracker.web.views.signing import signed

FORM = ["GET", "POST"]
SHEET: Final = "rows of the form"
COMPLETE: Final = (
    "What a maintenance entry must hold is asked for. A record is never changed: a "
    "mistake is voided by another record that says why."
)


def record_page(record: Record) -> str:
    return reverse("web:engine-record", args=[record.public_id])


def ledger_page(engine: Engine) -> str:
    return reverse("web:engine-ledger", args=[engine.public_id])


@require_GET
def engine_ledger(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """Every record of an engine, newest first."""
    seen = engine_seen(request, engine)
    named = ("recorded_by", "voids", "voided_by", "engine")
    records = Record.objects.filter(engine=seen).select_related(*named)
    page = Paginator(records.order_by("-sequence"), SIZE)
    shown = {
        "engine": seen,
        "page": page.get_page(request.GET.get("page")),
        "head": ledger.head_of(seen),
    }
    return render(request, "web/records/ledger.html", shown)


@require_GET
def record(request: ViewedRequest, record: UUID) -> HttpResponse:
    """One record as it was hashed."""
    seen = record_seen(request, record)
    shown = {
        "record": seen,
        "engine": seen.engine,
        "said": seen.text,
        "lines": ledger.entry_lines(seen.text),
        "discrepancies": ledger.discrepancy_lines(seen.text),
        "attachments": list(Attachment.objects.filter(record=seen)),
        "is_void": hasattr(seen, "voided_by"),
        "may_be_voided": seen.kind != RecordKind.VOID
        and not hasattr(seen, "voided_by"),
    }
    return render(request, "web/records/detail.html", shown)


@require_GET
def attachment(request: ViewedRequest, file: UUID) -> HttpResponse:
    """A file of a record, to be saved and never shown inside our own pages."""
    files = Attachment.objects.visible_to(request.viewer)
    seen = get_object_or_404(files, public_id=file)
    try:
        content = ledger.open_attachment(seen)
    except ledger.AttachmentLost as lost:
        return HttpResponse(str(lost), status=503, content_type="text/plain")
    headers = ledger.serve_headers(seen)
    return HttpResponse(content, headers=headers)


@require_http_methods(FORM)
def record_provision(
    request: ViewedRequest, engine: UUID, provision: UUID
) -> HttpResponse:
    """Record that a provision of the library was complied with."""
    seen = engine_seen(request, engine)
    done = _provision(request, provision)
    today = today_at(request.viewer.station)
    rule = done.rules.get(current=True)
    form = ProvisionWorkForm(
        sent(request), provision=done, rule=rule, **_around(request, seen)
    )
    if form.data.get("part") is None and (part := request.GET.get("part")):
        form.initial["part"] = part
    page = FormPage(
        heading=f"Record: {done.title}",
        subject=_named(seen),
        lead=COMPLETE,
        submit="Look at the entry",
        said="The record is added to the ledger, and the engine is evaluated again.",
        back=page_of(seen),
        template="web/records/provision.html",
    )

    def shown() -> Mapping[str, object]:
        return {
            "provision": done,
            "is_current": Revision.objects.current(today)
            .filter(pk=done.revision_id)
            .exists(),
            "others": _others(done),
            "engine": seen,
        }

    return _signed(request, page, form, seen, shown=shown)


def _signed(
    request: ViewedRequest,
    page: FormPage,
    form: WorkForm,
    engine: Engine,
    *,
    shown: Callable[[], Mapping[str, object]] | None = None,
) -> HttpResponse:
    viewer = request.viewer

    def look(at: datetime) -> Sequence[Record]:
        if form.adds_reading:
            _add_reading(request, engine, form.entry(), at)
        return changes.look_at_work(viewer, {engine: [form.entry()]}, at=at)

    def sign(password: str, at: datetime) -> Sequence[Record]:
        work = {engine: [form.entry()]}
        return changes.sign_work(viewer, work, password=password, at=at)

    def then(records: Sequence[Record]) -> str:
        return record_page(records[0])

    return signed(request, page, form, look=look, sign=sign, then=then, shown=shown)


def _add_reading(
    request: ViewedRequest, engine: Engine, entry: Entry, at: datetime
) -> None:
    """Add the hours of an entry as a reading, unless one reaches as far already."""
    if entry.hours is None or (engine.hours_now or 0) >= entry.hours:
        return
    shown = entry.hours - meter_on(engine, entry.on).offset
    changes.add_reading(request.viewer, engine, on=entry.on, shown=shown, at=at)


def _provision(request: ViewedRequest, provision: UUID) -> Provision:
    mine = Provision.objects.for_station(request.viewer.station)
    confirmed = mine.filter(
        kind=Provision.Kind.ACTION, revision__confirmed_at__isnull=False
    )
    return get_object_or_404(
        confirmed.select_related("revision__publication"), public_id=provision
    )


def _others(done: Provision) -> list[Provision]:
    """The same provision in the other confirmed revisions of its publication."""
    others = Provision.objects.filter(
        revision__publication=done.revision.publication_id,
        revision__confirmed_at__isnull=False,
        order=done.order,
        kind=Provision.Kind.ACTION,
    )
    return list(
        others.exclude(pk=done.pk)
        .select_related("revision")
        .order_by("revision__sequence")
    )


@require_http_methods(FORM)
def record_other(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """Record work under a document that the library does not hold, or under none."""
    seen = engine_seen(request, engine)
    form = OtherWorkForm(sent(request), **_around(request, seen))
    page = FormPage(
        heading="Record other work",
        subject=_named(seen),
        lead="For work under a document that is not in the library, or under none, "
        f"such as scheduled maintenance. {COMPLETE}",
        submit="Look at the entry",
        said="The record is added to the ledger.",
        back=ledger_page(seen),
    )
    return _signed(request, page, form, seen)


def _around(request: ViewedRequest, engine: Engine) -> dict[str, Any]:
    """What a form of work is told of the engine and of who fills it in."""
    viewer, now = request.viewer, timezone.now()
    today = today_at(viewer.station)
    mine = Record.objects.filter(
        station=viewer.station, recorded_by=viewer.user, kind=RecordKind.WORK
    )
    return {
        "engine": engine,
        "parts": parts_fitted([engine], on=today, known_at=now),
        "by": viewer.user,
        "today": today,
        "last": mine.order_by("-pk").first(),
        "files": request.FILES or None,
    }


def _named(engine: Engine) -> str:
    return f"{engine.engine_type}, serial {engine.serial}"


@require_http_methods(FORM)
def record_past(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """Several rows of a logbook at once: all of them, or none."""
    seen = engine_seen(request, engine)
    more = "more" in request.POST
    form = PastForm(sent(request), engine=seen, more=more)
    page = FormPage(
        heading="Transcribe past work",
        subject=_named(seen),
        lead="As the logbook says it; the signatory is not seen here, and the record "
        "says so. All rows are taken together, or none.",
        submit="Add all rows to the ledger",
        said="",
        back=ledger_page(seen),
        template="web/records/past.html",
    )
    if form.is_bound and form.is_valid():
        return _transcribed(request, page, form, seen)
    status = 422 if form.is_bound else 200
    shown = {"page": page, "form": form, "engine": seen}
    return render(request, page.template, shown, status=status)


def _transcribed(
    request: ViewedRequest, page: FormPage, form: PastForm, engine: Engine
) -> HttpResponse:
    content, at = form.content(), timezone.now()
    plan = changes.look_at_compliance(request.viewer, content, SHEET, at=at)
    form.mark(plan.faults)
    if plan.faults:
        shown = {"page": page, "form": form, "engine": engine}
        return render(request, page.template, shown, status=422)
    added, again = len(plan.to_add), len(plan.unchanged)
    there = f" {again} stood there already." if again else ""
    said = f"{added} record{'' if added == 1 else 's'} added to the ledger.{there}"

    def act(at: datetime) -> Imported:
        return changes.import_compliance(
            request.viewer, content, SHEET, digest=plan.digest, at=at
        )

    written = FormPage(
        heading=page.heading,
        subject=page.subject,
        lead=page.lead,
        submit=page.submit,
        said=said,
        back=page.back,
        template=page.template,
    )
    return answered(request, written, form, act)


@require_http_methods(FORM)
def void(request: ViewedRequest, record: UUID) -> HttpResponse:
    seen = record_seen(request, record)
    if request.method == "GET" and hasattr(seen, "voided_by"):
        said = f"Record {seen.sequence} is void already, by record "
        messages.info(request, f"{said}{seen.voided_by.sequence}.")
        return redirect(record_page(seen))
    form = VoidForm(sent(request))
    page = FormPage(
        heading=f"Void record {seen.sequence}",
        subject=_named(seen.engine),
        lead=f"{seen.document_number or 'Other work'}, {seen.on}: {seen.description}",
        submit="Sign, and void the record",
        said=f"Record {seen.sequence} is void, and the engine is evaluated again.",
        back=record_page(seen),
    )

    def act(at: datetime) -> Record:
        reason = form.cleaned_data["reason"]
        password = form.cleaned_data["password"]
        return changes.sign_void(
            request.viewer, seen, reason=reason, password=password, at=at
        )

    return answered(request, page, form, act, then=record_page)

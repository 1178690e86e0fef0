"""A form that is signed: filled in, looked at as it will stand, signed by password.

The page that asks for the password shows the entry as it will be printed. What was
entered travels in its hidden fields, so nothing is kept before it is signed; only files
are stored at once, where no row names them yet.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.contrib import messages
from django.core.exceptions import ObjectDoesNotExist
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone

from tracker.compliance.changes import WrongPassword
from tracker.compliance.ledger import Taken, entry_lines
from tracker.compliance.models import Record
from tracker.fleet.errors import ChangedMeanwhile, Refused
from tracker.web.forms.acts import ActForm
from tracker.web.forms.signing import SignForm, carried
from tracker.web.views.form_pages import FormPage

SIGN: Final = "password"
CHANGE: Final = "change"
NOT_CARRIED: Final = {SIGN, CHANGE, "carried", "csrfmiddlewaretoken"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """One entry as it would stand: about which engine, its lines, its files."""

    engine: str
    lines: tuple[str, ...]
    files: tuple[str, ...]


def drafts_of(records: Sequence[Record]) -> list[Draft]:
    """Return the entries of records, saved or not, as they will be printed."""
    found = []
    for record in records:
        said = record.text
        engine = said["engine"]
        found.append(
            Draft(
                engine=f"{engine['type']}, serial {engine['serial']}",
                lines=entry_lines(said),
                files=tuple(file["name"] for file in said.get("attachments") or ()),
            )
        )
    return found


def signed(
    request: HttpRequest,
    page: FormPage,
    form: ActForm,
    *,
    look: Callable[[datetime], Sequence[Record]],
    sign: Callable[[str, datetime], Sequence[Record]],
    then: Callable[[Sequence[Record]], str],
    shown: Callable[[], Mapping[str, object]] | None = None,
) -> HttpResponse:
    """Show the form, then the entry with the password field, then lead on.

    `look`: from the valid form to the records it would add, as drafts. `sign`: adds
    them. `then`: from what was added to the address that follows.
    """
    if not form.is_bound or CHANGE in request.POST or not form.is_valid():
        wrong = form.is_bound and CHANGE not in request.POST
        return _form_page(request, page, form, shown, status=422 if wrong else 200)
    now = timezone.now()
    try:
        if SIGN not in request.POST:
            return _sign_page(request, page, form, look(now), SignForm(), status=200)
        asked = SignForm(request.POST)
        if not asked.is_valid():
            return _sign_page(request, page, form, look(now), asked, status=422)
        try:
            records = sign(asked.cleaned_data["password"], now)
        except WrongPassword as wrong_password:
            asked.add_error("password", str(wrong_password))
            return _sign_page(request, page, form, look(now), asked, status=422)
    except Refused as refused:
        form.refuse(refused)
        status = 409 if isinstance(refused, ChangedMeanwhile | Taken) else 422
        return _form_page(request, page, form, shown, status=status)
    except ObjectDoesNotExist:
        raise Http404 from None
    messages.success(request, page.said)
    return redirect(then(records))


def _form_page(
    request: HttpRequest,
    page: FormPage,
    form: ActForm,
    shown: Callable[[], Mapping[str, object]] | None,
    *,
    status: int,
) -> HttpResponse:
    context = {"page": page, "form": form, **(shown() if shown else {})}
    return render(request, page.template, context, status=status)


def _sign_page(
    request: HttpRequest,
    page: FormPage,
    form: ActForm,
    records: Sequence[Record],
    asked: SignForm,
    *,
    status: int,
) -> HttpResponse:
    drafts = drafts_of(records)
    context = {
        "page": page,
        "drafts": drafts,
        "asked": asked,
        "entered": _hidden(request, form),
    }
    return render(request, "web/records/sign.html", context, status=status)


def _hidden(request: HttpRequest, form: ActForm) -> list[tuple[str, str]]:
    """What was entered, as names and values; files as tokens that name them."""
    sent: QueryDict = request.POST
    pairs = [
        (name, str(value))
        for name in sent
        if name not in NOT_CARRIED
        for value in sent.getlist(name)
    ]
    if "carried" in form.fields:
        uploads = form.cleaned_data["attached"]
        pairs += [("carried", token) for token in carried(uploads)]
    return pairs

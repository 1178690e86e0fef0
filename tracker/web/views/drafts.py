"""A draft of a revision: entered, checked, changed, confirmed, discarded."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from datetime import datetime
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from notices.library import (
    beside_revision,
    current_revision,
    intervals_beside,
    start_from,
    stated_in,
)
from notices.models import Publication, Reference, Revision
from notices.rules.applicability.wording import condition_sentence
from notices.rules.conditions import parse_condition
from notices.rules.designations import designation
from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.compliance.finding_changes import finding_changes
from tracker.compliance.interval_trials import Replaces
from tracker.compliance.rules import rules_of
from tracker.compliance.trials import rules_stated
from tracker.fleet.models import PartRole
from tracker.web.forms.library import library_acts
from tracker.web.forms.revisions import DraftForm, VersionForm
from tracker.web.previews import Preview, preview_of
from tracker.web.provisions import applicability_words
from tracker.web.revision_changes import changes_of
from tracker.web.rule_guide import rule_guide
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.publication_forms import publication_page, revision_page
from tracker.web.views.seen import draft_seen, publication_seen

FORM = ["GET", "POST"]
REARRANGING = (
    "more_provision",
    "remove_provision",
    "more_reference",
    "remove_reference",
    "show_provision",
    "more_rows",
)
_NOTHING: Mapping[str, object] = {}
LEAD = (
    "A draft makes no findings until it is confirmed. Check it as often as you like: "
    "nothing is kept by that."
)


@require_http_methods(FORM)
def add_draft(request: ViewedRequest, publication: UUID) -> HttpResponse:
    seen = publication_seen(request, publication)
    held = current_revision(seen, today_at(request.viewer.station))
    starts = held is not None and request.GET.get("from") == str(held.public_id)
    form = DraftForm(
        sent(request),
        roles=_roles(request),
        start=start_from(held) if held and starts else None,
        rearranged=_rearranges(request),
    )
    page = FormPage(
        heading="Enter a revision",
        kind="Publication",
        subject=f"{seen} {seen.title}",
        lead=LEAD,
        submit="Keep the draft",
        said="The draft is kept. It makes no findings until it is confirmed.",
        back=publication_page(seen),
        template="web/revisions/draft.html",
    )

    def act(at: datetime) -> Revision:
        assert form.read is not None, "the form is valid"
        with library_acts():
            return changes.add_draft(request.viewer, seen, form.read, at=at)

    shown = {"held": held, "starts": starts}
    return _answered(request, page, form, seen, None, act, shown)


@require_http_methods(FORM)
def change_draft(request: ViewedRequest, draft: UUID) -> HttpResponse:
    seen = draft_seen(request, draft)
    form = DraftForm(
        sent(request),
        roles=_roles(request),
        kept=stated_in(seen),
        version=seen.version,
        rearranged=_rearranges(request),
    )
    page = FormPage(
        heading=f"Draft of revision {seen.label}",
        kind="Publication",
        subject=f"{seen.publication} {seen.publication.title}",
        lead=LEAD,
        submit="Keep the draft",
        said="The draft is kept.",
        back=revision_page(seen),
        template="web/revisions/draft.html",
    )

    def act(at: datetime) -> Revision:
        assert form.read is not None, "the form is valid"
        version = form.cleaned_data["version"]
        with library_acts():
            return changes.change_draft(
                request.viewer, seen, form.read, version=version, at=at
            )

    return _answered(request, page, form, seen.publication, seen, act)


def _rearranges(request: ViewedRequest) -> bool:
    return any(name in request.POST for name in REARRANGING)


def _roles(request: ViewedRequest) -> list[str]:
    """The roles of parts that the types of the station hold, to be suggested."""
    ours = PartRole.objects.filter(engine_type__station=request.viewer.station)
    return list(ours.values_list("role", flat=True).distinct().order_by("role"))


def _answered(
    request: ViewedRequest,
    page: FormPage,
    form: DraftForm,
    publication: Publication,
    draft: Revision | None,
    act: Callable[[datetime], Revision],
    beside: Mapping[str, object] = _NOTHING,
) -> HttpResponse:
    """`beside`: what the page shows besides the form."""
    shown: dict[str, object] = {"guide": rule_guide(), **beside}
    if form.rearranged or "check" not in request.POST:
        return answered(
            request, page, form, act, then=revision_page, shown=lambda: shown
        )
    status = 422
    if form.is_valid():
        status = 200
        shown["preview"] = _preview(request, form, publication, draft)
    return render(
        request, page.template, {"page": page, "form": form, **shown}, status=status
    )


def _preview(
    request: ViewedRequest,
    form: DraftForm,
    publication: Publication,
    draft: Revision | None,
) -> Preview:
    stated = form.read
    assert stated is not None, "the form is valid"
    applicability = stated.applicability
    words = condition_sentence(parse_condition(applicability)) if applicability else ""
    today = today_at(request.viewer.station)
    superseded = [
        named.number
        for named in stated.references
        if named.kind == Reference.Kind.SUPERSEDES
    ]
    return preview_of(
        request.viewer,
        rules_stated(publication, stated, draft),
        words,
        today,
        beside=lambda: intervals_beside(
            publication,
            today,
            superseded=superseded,
            by=stated.effective_on or stated.issued_on or today,
        ),
        replaces=_replaced(publication, superseded),
        dated=bool(stated.issued_on or stated.effective_on),
    )


def _replaced(publication: Publication, superseded: Collection[str]) -> Replaces:
    """What a revision of a publication takes the place of."""
    numbers = {publication.number_key, *map(designation, superseded)}
    return lambda rule: rule.publication.number_key in numbers


def _superseded(draft: Revision) -> list[str]:
    named = draft.references.filter(kind=Reference.Kind.SUPERSEDES)
    return list(named.values_list("number", flat=True))


@require_http_methods(FORM)
def confirm(request: ViewedRequest, draft: UUID) -> HttpResponse:
    """What a draft says and whom it would concern, above the button that confirms it."""
    seen = draft_seen(request, draft)
    form = VersionForm(sent(request), initial={"version": seen.version})
    page = FormPage(
        heading=f"Confirm revision {seen.label}",
        kind="Publication",
        subject=f"{seen.publication} {seen.publication.title}",
        lead="Confirming freezes the rules. From the effective date on they make "
        "findings for every engine; a change is then a new rule version with its reason.",
        submit="Confirm the revision",
        said="The revision is confirmed, and every engine is evaluated.",
        back=revision_page(seen),
        template="web/revisions/confirm.html",
    )

    def act(at: datetime) -> Revision:
        version = form.cleaned_data["version"]
        with library_acts():
            return changes.confirm_revision(
                request.viewer, seen, version=version, at=at
            )

    def shown() -> Mapping[str, object]:
        today = today_at(request.viewer.station)
        preview = preview_of(
            request.viewer,
            rules_of(seen),
            applicability_words(seen),
            today,
            beside=lambda: beside_revision(seen, today),
            replaces=_replaced(seen.publication, _superseded(seen)),
            dated=bool(seen.issued_on or seen.effective_on),
        )
        changed = changes_of(seen, today)
        return {
            "revision": seen,
            "preview": preview,
            "changes": changed,
            "findings": finding_changes(
                request.viewer, seen, changed.current, preview.trial
            )
            if changed
            else None,
            "hands": (seen.entered_by, seen.changed_by),
        }

    return answered(request, page, form, act, shown=shown)


@require_http_methods(FORM)
def discard(request: ViewedRequest, draft: UUID) -> HttpResponse:
    seen = draft_seen(request, draft)
    form = VersionForm(sent(request), initial={"version": seen.version})
    page = FormPage(
        heading=f"Discard the draft of revision {seen.label}",
        kind="Publication",
        subject=f"{seen.publication} {seen.publication.title}",
        lead="The draft and all that was entered in it are deleted. Nothing was ever "
        "found by it, and what is current stays as it is.",
        submit="Discard the draft",
        said="The draft is discarded.",
        back=revision_page(seen),
    )

    def act(at: datetime) -> None:
        version = form.cleaned_data["version"]
        with library_acts():
            changes.discard_draft(request.viewer, seen, version=version, at=at)

    after = publication_page(seen.publication)
    return answered(request, page, form, act, then=lambda _: after)

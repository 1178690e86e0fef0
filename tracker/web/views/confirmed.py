"""What can still be done with a confirmed revision: cancelled, or a rule corrected."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods

from notices.library import Placed, beside_revision, changed_rule, intervals_in
from notices.models import Provision, Revision, RuleVersion
from notices.rules.applicability.wording import condition_sentence
from notices.rules.conditions import parse_condition
from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.compliance.rules import compiled_rule
from tracker.fleet.errors import Refused
from tracker.web.forms.confirmed import CancelForm, ChangeRuleForm
from tracker.web.forms.library import library_acts
from tracker.web.previews import Preview, preview_of
from tracker.web.rule_guide import rule_guide
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.publication_forms import revision_page
from tracker.web.views.seen import revision_seen

FORM = ["GET", "POST"]


@require_http_methods(FORM)
def cancel(request: ViewedRequest, revision: UUID) -> HttpResponse:
    seen = revision_seen(request, revision)
    form = CancelForm(sent(request), initial={"on": today_at(request.viewer.station)})
    page = FormPage(
        heading=f"Cancel revision {seen.label}",
        kind="Publication",
        subject=f"{seen.publication} {seen.publication.title}",
        lead="What it superseded does not come back: from that day on the publication "
        "has no current revision. Cancelled on the day it takes over or before, it "
        "never held.",
        submit="Cancel the revision",
        said="The revision is cancelled, and every engine is evaluated.",
        back=revision_page(seen),
    )

    def act(at: datetime) -> Revision:
        with library_acts():
            return changes.cancel_revision(
                request.viewer, seen, **form.cleaned_data, at=at
            )

    return answered(request, page, form, act)


@require_http_methods(FORM)
def change_rule(request: ViewedRequest, provision: UUID) -> HttpResponse:
    """A new version of one rule; "check" shows first what it would come to."""
    seen = _provision(request, provision)
    kept = seen.rules.get(current=True)
    more = "more_rows" in request.POST
    form = ChangeRuleForm(sent(request), kept=kept, kind=seen.kind, rearranged=more)
    page = FormPage(
        heading=f"Change a rule: {seen.title}",
        kind="Revision",
        subject=str(seen.revision),
        lead="For a rule that was entered wrongly. If the maker has changed it, enter "
        "the new revision instead.",
        submit="Keep as a new version",
        said="The rule has a new version, and every engine is evaluated.",
        back=revision_page(seen.revision),
        template="web/revisions/rule.html",
    )

    def act(at: datetime) -> RuleVersion:
        with library_acts():
            return changes.change_rule(
                request.viewer,
                seen,
                number=form.cleaned_data["number"],
                reason=form.cleaned_data["reason"],
                at=at,
                **form.changed(),
            )

    shown: dict[str, object] = {"guide": rule_guide(), "kept": kept}
    if more or "check" not in request.POST:
        return answered(request, page, form, act, shown=lambda: shown)
    preview = _preview(request, form, seen)
    return render(
        request,
        page.template,
        {"page": page, "form": form, "preview": preview, **shown},
        status=422 if preview is None else 200,
    )


def _provision(request: ViewedRequest, provision: UUID) -> Provision:
    """A provision of a confirmed revision; of a draft the draft itself is changed."""
    mine = Provision.objects.for_station(request.viewer.station)
    confirmed = mine.filter(revision__confirmed_at__isnull=False)
    return get_object_or_404(
        confirmed.select_related("revision__publication"), public_id=provision
    )


def _preview(
    request: ViewedRequest, form: ChangeRuleForm, provision: Provision
) -> Preview | None:
    """What the rule as typed would come to; None with its faults marked."""
    if not form.is_valid():
        return None
    try:
        with library_acts():
            rule = changed_rule(provision, form.kept, **form.changed())
    except Refused as refused:
        form.refuse(refused)
        return None
    version = RuleVersion(provision=provision, number=form.kept.number + 1, **rule)
    today = today_at(request.viewer.station)
    return preview_of(
        request.viewer,
        [compiled_rule(version)],
        condition_sentence(parse_condition(version.applicability)),
        today,
        beside=lambda: _beside(provision, today),
        replaces=lambda rule: rule.provision.pk == provision.pk,
    )


def _beside(provision: Provision, on: date) -> list[Placed]:
    """The intervals of the same revision, and of the documents beside it."""
    own = intervals_in(provision.revision)
    others = beside_revision(provision.revision, on)
    return [*(one for one in own if one.order != provision.order), *others]

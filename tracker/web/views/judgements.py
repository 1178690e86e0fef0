"""Acts of judgement about an engine: questions answered, a document not adopted."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from notices.models import Publication
from tracker.accounts.context import today_at
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.compliance.models import Answer, Declined
from tracker.compliance.questions import Question, questions_of
from tracker.fleet.models import Engine
from tracker.web.forms.answers import AnswerForm
from tracker.web.forms.declined import AdoptionForm
from tracker.web.views.foresight import Foresight
from tracker.web.views.form_pages import FormPage, answered, sent
from tracker.web.views.seen import (
    engine_seen,
    page_of,
    publication_seen,
    revision_seen,
)

FORM = ["GET", "POST"]


@require_GET
def questions(request: ViewedRequest, engine: UUID) -> HttpResponse:
    """What current revisions ask about an engine that only a person can say."""
    seen = engine_seen(request, engine)
    found = questions_of(seen, today_at(request.viewer.station))
    shown = {
        "engine": seen,
        "open_questions": [one for one in found if one.is_open],
        "other_questions": [one for one in found if not one.is_open],
    }
    return render(request, "web/answers/list.html", shown)


@require_http_methods(FORM)
def answer(request: ViewedRequest, engine: UUID, revision: UUID) -> HttpResponse:
    """Answer one question of a revision; a later answer takes the place of this one."""
    seen = engine_seen(request, engine)
    asking = revision_seen(request, revision)
    if request.method == "GET" and "question" not in request.GET:
        return redirect("web:engine-questions", seen.public_id)
    today = today_at(request.viewer.station)
    asked = _asked(request, questions_of(seen, today, revision=asking))
    form = AnswerForm(sent(request), asked=asked, today=today)
    page = FormPage(
        heading=asked.text,
        subject=f"{seen.engine_type}, serial {seen.serial}",
        lead=f"Asked by {asking} about {asked.part or 'the engine'}. The answer holds "
        "for this revision only.",
        submit="Keep this answer",
        foresight=Foresight.ON_ASKING,
        said="The answer is kept, and the engine is evaluated again.",
        back=page_of(seen),
        template="web/answers/answer.html",
    )

    def act(at: datetime) -> Answer:
        return changes.answer(
            request.viewer,
            seen,
            asking,
            asked.text,
            form.truth,
            at=at,
            true_from=form.cleaned_data["true_from"],
            part=asked.about,
            seen_on=form.cleaned_data["seen_on"],
        )

    return answered(request, page, form, act, shown=lambda: {"asked": asked})


def _asked(request: ViewedRequest, questions: list[Question]) -> Question:
    """The question that was sent, or that the address names."""
    said = request.POST or request.GET
    text, part = said.get("question", ""), said.get("part", "")
    for one in questions:
        if one.text == text and one.part_id == part:
            return one
    raise Http404


@require_http_methods(FORM)
def decline(request: ViewedRequest, engine: UUID, publication: UUID) -> HttpResponse:
    """Mark an advisory document as not adopted for one engine."""
    seen = engine_seen(request, engine)
    document = publication_seen(request, publication)
    form = _form(request, seen)
    page = _page(
        seen,
        heading=f"Do not adopt {document}",
        lead=f"{document.title}. It stays listed as not adopted, with who decided and "
        "why, through all its revisions, until somebody adopts it again.",
        submit="Mark as not adopted",
        said=f"{document} is marked as not adopted.",
        template="web/answers/decline.html",
    )

    def act(at: datetime) -> Declined:
        return changes.decline(
            request.viewer, seen, document, **form.cleaned_data, at=at
        )

    shown = {"document": document, "binds": document.binds}
    return answered(request, page, form, act, shown=lambda: shown)


@require_http_methods(FORM)
def adopt(request: ViewedRequest, engine: UUID, publication: UUID) -> HttpResponse:
    """Adopt again what was marked as not adopted."""
    seen = engine_seen(request, engine)
    document = publication_seen(request, publication)
    declined = _declined(seen, document)
    form = _form(request, seen)
    page = _page(
        seen,
        heading=f"Adopt {document}",
        lead=f"{declined.person} decided on {declined.true_from} not to adopt it: "
        f"{declined.reason} From the day given it is due again like any other.",
        submit="Adopt it",
        said=f"{document} is adopted, and the engine is evaluated again.",
        template="web/form/page.html",
    )

    def act(at: datetime) -> Declined:
        return changes.adopt(request.viewer, seen, document, **form.cleaned_data, at=at)

    return answered(request, page, form, act)


def _declined(engine: Engine, document: Publication) -> Declined:
    """What is not adopted now; without it there is nothing to adopt again."""
    rows = Declined.objects.filter(
        engine=engine, publication=document, current=True, declined=True
    )
    found = rows.first()
    if found is None:
        raise Http404
    return found


def _form(request: ViewedRequest, engine: Engine) -> AdoptionForm:
    owner = engine.owner.name if engine.owner else ""
    today = today_at(request.viewer.station)
    return AdoptionForm(sent(request), today=today, owner=owner)


def _page(
    engine: Engine, *, heading: str, lead: str, submit: str, said: str, template: str
) -> FormPage:
    return FormPage(
        heading=heading,
        subject=f"{engine.engine_type}, serial {engine.serial}",
        lead=lead,
        submit=submit,
        said=said,
        back=page_of(engine),
        template=template,
    )

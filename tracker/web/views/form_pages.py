"""A page that is one form: shown, or its act carried out, or shown with what is wrong."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from django.contrib import messages
from django.core.exceptions import ObjectDoesNotExist
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone

from tracker.fleet.errors import ChangedMeanwhile, Refused
from tracker.web.causes import shown_causes
from tracker.web.forms.acts import ActForm, differences, entered
from tracker.web.views.foresight import Ahead, Foresight, looked_ahead

Done = TypeVar("Done")


@dataclass(frozen=True, slots=True, kw_only=True)
class FormPage:
    """What stands around a form.

    `kind` and `subject`: the margin, and what the form is about, linked to `back`.
    `said`: the sentence after the act. `submit`: what the button does, in words;
    `back_words`: the same of the link that leads back. `foresight`: when it shows what
    the act would cause.
    """

    heading: str
    submit: str
    said: str
    back: str
    kind: str = "Engine"
    subject: str = ""
    lead: str = ""
    back_words: str = "Leave it as it is"
    template: str = "web/form/page.html"
    foresight: Foresight = Foresight.NONE

    @property
    def can_ask(self) -> bool:
        """Whether a button shows what the act would cause."""
        return self.foresight is not Foresight.NONE


def sent(request: HttpRequest) -> QueryDict | None:
    """What was sent with the form, also where that is nothing; None to show it."""
    return request.POST if request.method == "POST" else None


def answered(
    request: HttpRequest,
    page: FormPage,
    form: ActForm,
    act: Callable[[datetime], Done],
    *,
    then: Callable[[Done], str] | None = None,
    shown: Callable[[], Mapping[str, object]] | None = None,
    doubt: Callable[[], str] | None = None,
) -> HttpResponse:
    """Carry out the act of a valid form and lead on; otherwise show the form.

    `then`: from what the act returned to the address that follows, `page.back` if None.
    `shown`: what the page's own template shows besides, asked for only to show it.
    `doubt`: a sentence that puts a valid entry in question, which is then kept only
    after it was shown; empty without any.
    """
    status = 422 if form.is_bound else 200
    ahead: Ahead | None = None
    if form.is_bound and form.is_valid():
        if form.changes_nothing():
            messages.info(request, "Nothing is different, so nothing was written.")
            return redirect(page.back)
        try:
            said = doubt() if doubt else ""
            done, ahead = looked_ahead(
                request, page.foresight, said, act, timezone.now()
            )
        except Refused as refused:
            form.refuse(refused)
            status = 409 if isinstance(refused, ChangedMeanwhile) else 422
        except ObjectDoesNotExist:
            raise Http404 from None
        else:
            if ahead is None:
                messages.success(request, _said(page, form, done))
                return redirect(then(done) if then else page.back)
            status = 200
    context = {"page": page, "form": form, **_foreseen(ahead, form)}
    context |= shown() if shown else {}
    return render(request, page.template, context, status=status)


def _foreseen(ahead: Ahead | None, form: ActForm) -> dict[str, object]:
    if ahead is None:
        return {}
    causes = shown_causes(ahead.caused)
    return {"ahead": ahead, "causes": causes, "entered": entered(form)}


def _said(page: FormPage, form: ActForm, done: object) -> str:
    """What is kept, and of a change what it was before.

    What was so from an earlier day on, till it became otherwise, is not so now.
    """
    if getattr(done, "current", True) is False:
        return (
            f"{page.said} It held till what is known of a later day, which holds now."
        )
    if not form.corrects:
        return page.said
    changed = [f"{d.label}: {d.after}, was {d.before}" for d in differences(form)]
    return f"{page.said} {'; '.join(changed)}."

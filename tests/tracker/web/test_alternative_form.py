"""An alternative method of compliance entered by its form, ended, and shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from notices.models import Provision
from tests.tracker.web.reading import words, words_of
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role
from tracker.compliance.models import AlternativeMethod, Finding
from tracker.fleet.models import Engine

pytestmark = pytest.mark.django_db

SENTENCE = "By alternative method 26-014, approved by Office of the authority on"


def said(response: HttpResponse) -> str:
    return words(response.content.decode())


@pytest.fixture
def directive(make_provision: Callable[..., Provision]) -> Provision:
    return make_provision(kind="AD", number="X-26-014")


def at(name: str, engine: Engine, provision: Provision) -> str:
    return reverse(f"web:{name}", args=[engine.public_id, provision.public_id])


def an_approval(**given: str) -> dict[str, str]:
    return {
        "reference": "26-014",
        "approved_by": "Office of the authority",
        "approved_on": "2026-03-02",
        "description": "Looked at through the cover.",
        "due_first": '{"hours": 150, "after": "effective"}',
        **given,
    }


def test_it_is_entered_shown_on_the_engine_and_in_the_status_and_ended(
    page: Client, engine: Engine, directive: Provision
) -> None:
    form = at("engine-alternative", engine, directive)
    end = at("engine-alternative-end", engine, directive)
    assert page.get(end).status_code == 404, "nothing was approved"
    answer = page.post(form, an_approval(), follow=True)
    assert "The alternative method is entered" in said(answer)
    assert SENTENCE in said(answer)
    assert f'href="{form}"' in answer.content.decode()
    assert Finding.objects.get().overdue_hours == 63_000
    status = page.get(reverse("web:engine-status", args=[engine.public_id]))
    assert SENTENCE in words_of(status)
    assert "Within 150 h after the effective date" in words_of(status)
    again = page.get(form)
    assert "What you enter takes its place" in words_of(again)
    assert 'value="26-014"' in again.content.decode()
    assert f'href="{end}"' in again.content.decode()
    given = {"reason": "Withdrawn by the office.", "true_from": "2026-11-24"}
    answer = page.post(end, given, follow=True)
    assert "The alternative method is ended" in said(answer)
    assert SENTENCE not in said(answer)
    assert Finding.objects.get().overdue_hours == 53_000
    assert AlternativeMethod.objects.get(current=True).reason == given["reason"]


def test_what_it_would_cause_is_shown_before_it_is_kept(
    page: Client, engine: Engine, directive: Provision
) -> None:
    answer = page.post(
        at("engine-alternative", engine, directive), an_approval(look_ahead="1")
    )
    assert answer.status_code == 200
    assert SENTENCE in words_of(answer)
    assert not AlternativeMethod.objects.exists()


@pytest.mark.parametrize(
    ("given", "field", "message"),
    [
        ({"reference": ""}, "reference", "This cannot be left out."),
        ({"approved_by": " "}, "approved_by", "This cannot be left out."),
        ({"approved_on": "2027-01-01"}, "true_from", "lies after today, 2026-11-24"),
        ({"valid_until": "2026-01-01"}, "valid_until", "before it counts at all"),
        ({"due_first": "150 h"}, "due_first", "This is not JSON: line 1"),
        ({"due_first": '{"hours": -1, "after": "new"}'}, "due_first", "hours: "),
        ({"due_again": '{"every": 5}'}, "due_again", "Expected a time: an object with"),
    ],
)
def test_what_cannot_be_taken_is_said_at_its_field_and_nothing_is_kept(
    page: Client,
    engine: Engine,
    directive: Provision,
    given: dict[str, str],
    field: str,
    message: str,
) -> None:
    answer = page.post(
        at("engine-alternative", engine, directive), an_approval(**given)
    )
    assert answer.status_code == 422
    assert message in " ".join(answer.context["form"].errors[field])
    assert message in said(answer)
    assert not AlternativeMethod.objects.exists()


def test_a_stranger_finds_nothing_and_an_owner_may_not(
    engine: Engine,
    directive: Provision,
    stranger: Viewer,
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
) -> None:
    foreign, owner = signed_in(stranger), signed_in(viewer_as(Role.OWNER))
    for name in ("engine-alternative", "engine-alternative-end"):
        sent: dict[str, Any] = an_approval()
        assert foreign.post(at(name, engine, directive), sent).status_code == 404
        assert owner.post(at(name, engine, directive), sent).status_code == 403
    assert not AlternativeMethod.objects.exists()

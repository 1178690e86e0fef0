"""Questions answered, and advisory documents not adopted, by their forms."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any
from urllib.parse import urlencode

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from notices.models import Provision
from tests.tracker.web.reading import rows_of, words, words_of
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.compliance.models import Answer, Declined, Finding
from tracker.fleet.models import Engine, Part
from tracker.fleet.parts import Fit, PartEntry

pytestmark = pytest.mark.django_db

LISTED = "Is the serial listed in table 1?"


def said(response: HttpResponse) -> str:
    return words(response.content.decode())


@pytest.fixture
def asking(make_provision: Callable[..., Provision]) -> Provision:
    return make_provision(
        number="SB-24-011", title="Replace the pump", rule__condition={"ask": LISTED}
    )


def answering(engine: Engine, provision: Provision) -> str:
    ids = [engine.public_id, provision.revision.public_id]
    return reverse("web:engine-answer", args=ids)


def an_answer(**given: Any) -> dict[str, Any]:
    return {"question": LISTED, "answer": "yes", "true_from": "2026-11-24", **given}


def test_a_question_is_listed_with_what_each_answer_decides(
    page: Client, engine: Engine, asking: Provision
) -> None:
    at = reverse("web:engine-questions", args=[engine.public_id])
    shown = page.get(at)
    assert "1 answer would decide something." in words_of(shown)
    [row] = [row for row in rows_of(shown) if row.startswith("Replace the pump")]
    assert "undetermined" in row
    assert "outstanding" in row or "coming due" in row
    assert row.endswith("does not apply")
    link = f"{answering(engine, asking)}?{urlencode({'question': LISTED})}"
    assert link.replace("+", "%20") in shown.content.decode()


def test_an_answer_decides_the_finding_and_a_new_one_takes_its_place(
    page: Client, engine: Engine, asking: Provision
) -> None:
    at = answering(engine, asking)
    shown = page.get(at, {"question": LISTED})
    assert "Asked by SB-24-011" in words_of(shown)
    answer = page.post(at, an_answer(seen_on="table 1"), follow=True)
    assert "The answer is kept, and the engine is evaluated again." in said(answer)
    assert Finding.objects.get().undetermined is False
    again = words_of(page.get(at, {"question": LISTED}))
    assert "Answered on 24 Nov 2026: yes, seen on table 1, recorded by" in again
    page.post(at, an_answer(answer="no"))
    assert not Finding.objects.exists()
    page.post(at, an_answer(answer="cannot"))
    assert Finding.objects.get().undetermined is True
    assert [a.yes for a in Answer.objects.order_by("pk")] == [True, False, None]
    assert Answer.objects.get(current=True).yes is None


@pytest.mark.parametrize(
    ("given", "status", "message"),
    [
        ({"answer": ""}, 422, "This cannot be left out."),
        (
            {"answer": "perhaps"},
            422,
            "Choose one from the list; what was sent is not in it.",
        ),
        ({"true_from": "24 Nov"}, 422, '"24 Nov" is not a date.'),
        ({"seen_on": "x" * 121}, 422, "This has 121 characters; at most 120 are kept."),
        ({"question": "Is it red?"}, 404, ""),
        ({"part": "b6c9a1d0-0000-4000-8000-000000000000"}, 404, ""),
    ],
)
def test_an_answer_that_cannot_be_taken_changes_nothing(
    page: Client,
    engine: Engine,
    asking: Provision,
    given: dict[str, str],
    status: int,
    message: str,
) -> None:
    answer = page.post(answering(engine, asking), an_answer(**given))
    assert answer.status_code == status
    assert message in said(answer)
    assert not Answer.objects.exists()


@pytest.fixture
def magnetos(engine: Engine, technician: Viewer, now: datetime) -> list[Part]:
    return [
        changes.add_part(
            technician,
            engine,
            PartEntry(role="magneto", number="P-7710", serial=serial),
            Fit(place=place, engine_hours=48_000, hours_new=0),
            true_from=date(2026, 1, 10),
            at=now,
        )
        for place, serial in (("left", "A-17"), ("right", "A-18"))
    ]


@pytest.mark.parametrize(
    ("role", "condition"),
    [
        ("magneto", {"this": {"ask": LISTED}}),
        ("", {"part": {"role": "magneto", "where": {"ask": LISTED}}}),
    ],
)
def test_a_question_about_parts_is_asked_of_each_fitted_one(
    page: Client,
    engine: Engine,
    make_provision: Callable[..., Provision],
    magnetos: list[Part],
    role: str,
    condition: dict[str, Any],
) -> None:
    provision = make_provision(role=role, rule__condition=condition)
    _, right = magnetos
    at = reverse("web:engine-questions", args=[engine.public_id])
    shown = words_of(page.get(at))
    assert "about magneto, left, P-7710, serial A-17." in shown
    assert "about magneto, right, P-7710, serial A-18." in shown
    sent = an_answer(part=str(right.public_id))
    assert page.post(answering(engine, provision), sent).status_code == 302
    assert Answer.objects.get().part == right
    assert page.post(answering(engine, provision), an_answer()).status_code == 404


def test_a_question_of_no_weight_is_not_open(
    page: Client, engine: Engine, make_provision: Callable[..., Provision]
) -> None:
    settled = {"any": [{"always": True}, {"ask": LISTED}]}
    make_provision(rule__condition=settled)
    at = reverse("web:engine-questions", args=[engine.public_id])
    shown = words_of(page.get(at))
    assert "No answer is missing." in shown
    assert LISTED in shown


def deciding(name: str, engine: Engine, provision: Provision) -> str:
    publication = provision.revision.publication
    return reverse(f"web:{name}", args=[engine.public_id, publication.public_id])


def a_decision(**given: str) -> dict[str, str]:
    return {
        "person": "Maud Ek",
        "reason": "Private use only.",
        "true_from": "2026-11-24",
        **given,
    }


def test_an_advisory_document_is_not_adopted_and_adopted_again(
    page: Client,
    engine: Engine,
    make_provision: Callable[..., Provision],
    technician: Viewer,
) -> None:
    provision = make_provision(kind="SB", number="SB-24-011")
    decline = deciding("engine-decline", engine, provision)
    adopt = deciding("engine-adopt", engine, provision)
    assert page.get(adopt).status_code == 404, "nothing was left unadopted"
    answer = page.post(decline, a_decision(), follow=True)
    assert "SB-24-011 is marked as not adopted." in said(answer)
    assert Finding.objects.get().closed == "not adopted"
    row = Declined.objects.get()
    assert (row.person, row.reason) == ("Maud Ek", "Private use only.")
    assert row.recorded_by == technician.user
    shown = words_of(page.get(adopt))
    assert "Maud Ek decided on 2026-11-24 not to adopt it: Private use only." in shown
    answer = page.post(adopt, a_decision(reason="Sold to a school."), follow=True)
    assert "SB-24-011 is adopted, and the engine is evaluated again." in said(answer)
    assert Finding.objects.get().closed == ""
    assert [d.declined for d in Declined.objects.order_by("pk")] == [True, False]


@pytest.mark.parametrize(
    ("kind", "words_of_kind"),
    [
        ("AD", "airworthiness directive"),
        ("SD", "safety directive"),
        ("ALS", "airworthiness limitations"),
    ],
)
def test_what_binds_cannot_be_left_unadopted_and_the_reason_is_said(
    page: Client,
    engine: Engine,
    make_provision: Callable[..., Provision],
    kind: str,
    words_of_kind: str,
) -> None:
    provision = make_provision(kind=kind, number="X-26-014")
    at = deciding("engine-decline", engine, provision)
    shown = page.get(at)
    assert "cannot be left unadopted" in words_of(shown)
    assert 'name="reason"' not in shown.content.decode()
    answer = page.post(at, a_decision())
    assert answer.status_code == 422
    assert (
        "X-26-014 is binding and cannot be left unadopted: it is of the kind "
        f"{words_of_kind}."
    ) in said(answer)
    assert not Declined.objects.exists()


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"reason": " "}, "This cannot be left out."),
        ({"person": ""}, "This cannot be left out."),
        ({"true_from": "2026-13-01"}, '"2026-13-01" is not a date.'),
        ({"reason": "x" * 301}, "has 301 characters; at most 300 are kept."),
    ],
)
def test_a_decision_that_is_not_whole_is_refused(
    page: Client,
    engine: Engine,
    make_provision: Callable[..., Provision],
    given: dict[str, str],
    message: str,
) -> None:
    provision = make_provision(kind="SB")
    answer = page.post(
        deciding("engine-decline", engine, provision), a_decision(**given)
    )
    assert answer.status_code == 422
    assert message in said(answer)
    assert not Declined.objects.exists()


def test_a_stranger_finds_nothing_to_judge_and_an_owner_may_not(
    engine: Engine,
    asking: Provision,
    stranger: Viewer,
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
) -> None:
    foreign, owner = signed_in(stranger), signed_in(viewer_as(Role.OWNER))
    acts = {
        answering(engine, asking): an_answer(),
        deciding("engine-decline", engine, asking): a_decision(),
        deciding("engine-adopt", engine, asking): a_decision(),
    }
    for at, sent in acts.items():
        assert foreign.post(at, sent).status_code == 404
        assert owner.post(at, sent).status_code == 403
    assert not Answer.objects.exists()
    assert not Declined.objects.exists()

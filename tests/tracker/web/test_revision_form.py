"""Revisions by their forms: drafted, checked, confirmed, cancelled, a rule corrected."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from notices import library
from notices.models import Provision, Publication, Revision, RuleVersion
from tests.factories.fleet import EngineTypeFactory
from tests.factories.notices import PublicationFactory
from tests.tracker.web.reading import words
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role, Station
from tracker.compliance import changes
from tracker.compliance.models import Finding
from tracker.fleet.models import Engine

pytestmark = pytest.mark.django_db

WITHIN_50 = '{"initial": {"hours": 50, "after": "effective"}}'


def said(response: HttpResponse) -> str:
    return words(response.content.decode())


def entry(**given: Any) -> dict[str, Any]:
    """A draft with one action as its form sends it."""
    return {
        "version": "0",
        "label": "1",
        "issued_on": "2026-01-05",
        "effective_on": "2026-01-15",
        "applicability": '{"serial": ["4001..4987"]}',
        "provision": ["0"],
        "p0-kind": "action",
        "p0-title": "Replace the pump",
        "p0-category": "mandatory",
        "p0-action": WITHIN_50,
        **given,
    }


@pytest.fixture
def publication(station: Station) -> Publication:
    return PublicationFactory(station=station, number="SB-24-011")


@pytest.fixture
def adding(publication: Publication) -> str:
    return reverse("web:publication-draft-add", args=[publication.public_id])


def changing(draft: Revision) -> str:
    return reverse("web:publication-draft-change", args=[draft.public_id])


def confirming(draft: Revision) -> str:
    return reverse("web:publication-draft-confirm", args=[draft.public_id])


def test_a_draft_is_kept_with_everything_that_was_typed(
    page: Client, adding: str
) -> None:
    sent = entry(
        provision=["0", "1"],
        **{
            "p0-embodies": "SB-24-011, M 7",
            "p0-man_hours": "1.5",
            "p0-role": "magneto",
            "p0-condition": '{"this": {"number": ["P-1*"]}}',
            "p1-kind": "information",
            "p1-title": "Read this",
            "p1-category": "information",
            "reference": ["0"],
            "r0-kind": "supersedes",
            "r0-number": "SB-20-001",
        },
    )
    answer = page.post(adding, sent, follow=True)
    assert "The draft is kept. It makes no findings until it is confirmed." in said(
        answer
    )
    stated = library.stated_in(Revision.objects.get())
    first, second = stated.provisions
    assert (first.title, first.man_hours, first.role) == (
        "Replace the pump",
        150,
        "magneto",
    )
    assert first.embodies == ("SB-24-011", "M 7")
    assert first.condition == {"this": {"number": ["P-1*"]}}
    assert (second.kind, second.action) == ("information", None)
    assert [r.number for r in stated.references] == ["SB-20-001"]


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"label": ""}, "This cannot be left out."),
        (
            {"issued_on": "1.2.2026"},
            '"1.2.2026" is not a date. Write it as 2026-05-31.',
        ),
        ({"applicability": '{"all": []'}, "This is not JSON: line 1, column 11:"),
        ({"applicability": "[]"}, "A rule is an object with at least one key"),
        ({"applicability": "{}"}, "A rule is an object with at least one key"),
        ({"applicability": '{"always": NaN}'}, "NaN is not a number that a rule may"),
        (
            {"applicability": '{"type": ["MX-4"], "type": ["MX-6"]}'},
            '"type" stands twice in one object, and only one would count.',
        ),
        (
            {"applicability": '{"all": [{"serial": ["L-500..M-900"]}]}'},
            "all[0].serial[0]: ",
        ),
        ({"applicability": "[" * 20_000}, "The rule is nested too deeply"),
        ({"p0-title": ""}, "This cannot be left out."),
        ({"p0-category": ""}, "This cannot be left out."),
        (
            {"p0-action": '{"initial": {"hours": 50, "after": "effektive"}}'},
            "initial.after: ",
        ),
        (
            {"p0-kind": "information"},
            "Compliance times do not go with information. Take them out.",
        ),
        (
            {"p0-condition": '{"this": {"built": {"before": "2020-01-01"}}}'},
            'The rule tests "this" part. Name the role of the part that is meant.',
        ),
        ({"p0-man_hours": "1,234"}, '"1,234" is not a number of hours.'),
        (
            {"p0-embodies": "SB-1, ---"},
            "[1]: Write the number of the document, as in SB-24-011.",
        ),
        (
            {"reference": ["0"], "r0-kind": "revises", "r0-number": "--"},
            "Write the number of the document, as in SB-24-011.",
        ),
        ({"provision": ["0", "0"]}, "The rows of the form are not understood"),
        ({"provision": ["x"]}, "The rows of the form are not understood"),
        ({"version": "x"}, "The form does not say which version it changes."),
    ],
)
def test_what_cannot_be_right_is_refused_and_nothing_is_kept(
    page: Client, adding: str, given: dict[str, Any], message: str
) -> None:
    answer = page.post(adding, entry(**given))
    assert answer.status_code == 422
    assert message in said(answer)
    assert "Nothing has been kept yet." in said(answer)
    assert not Revision.objects.exists()
    assert not Provision.objects.exists()


def test_all_faults_come_together_each_at_its_field(page: Client, adding: str) -> None:
    sent = entry(
        provision=["0", "4"],
        applicability='{"typ": ["MX-4"]}',
        **{
            "p0-action": '{"initial": ',
            "p4-kind": "action",
            "p4-category": "mandatory",
            "p4-title": "Second",
            "p4-action": '{"initial": {"hours": -1, "after": "new"}}',
        },
    )
    form = page.post(adding, sent).context["form"]
    first, second = form.provisions
    assert list(form.errors) == ["applicability"]
    assert list(first.errors) == ["action"]
    assert list(second.errors) == ["action"]
    assert second.errors["action"][0].startswith("initial.hours: ")


def test_a_provision_is_added_and_taken_out_without_losing_what_was_typed(
    page: Client, adding: str
) -> None:
    typed = entry(**{"p0-title": "", "p0-action": '{"initial": half'})
    more = page.post(adding, {**typed, "more_provision": "1"})
    assert more.status_code == 200
    form = more.context["form"]
    assert [row.key for row in form.provisions] == [0, 1]
    assert form.provisions[0]["action"].value() == '{"initial": half'
    assert "errors" not in more.content.decode().split("<main")[1]
    two = entry(provision=["0", "1"], **{"p1-title": "The second", "p1-kind": "action"})
    less = page.post(adding, {**two, "remove_provision": "0"})
    [left] = less.context["form"].provisions
    assert (left.key, left["title"].value()) == (1, "The second")
    named = page.post(adding, {**typed, "more_reference": "1"})
    assert [row.key for row in named.context["form"].references] == [0]
    assert not Revision.objects.exists()


def test_a_check_says_the_rule_in_words_and_whom_it_concerns_and_keeps_nothing(
    page: Client, adding: str, make_engine: Callable[..., Engine]
) -> None:
    make_engine(serial="4100")
    make_engine(serial="5100")
    sent = entry(
        **{
            "p0-action": '{"initial": {"hours": 50, "after": "effective"}, '
            '"repeat": {"hours": 100, "after": "new"}}',
            "effective_on": "",
        }
    )
    answer = page.post(adding, {**sent, "check": "1"})
    assert answer.status_code == 200
    text = said(answer)
    assert "Serial number is from 4001 to 4987." in text
    assert "Due within 50 h after the effective date. Then again within 100 h" in text
    assert (
        "Of 2 engines in care it concerns 1, may concern 0 more, and does not" in text
    )
    assert "Provision 1: A time is counted from the effective date" in text
    assert 'No limit of the repeat is counted from "last done"' in text
    assert not Revision.objects.exists()


def test_a_check_leaves_out_engines_whose_type_does_not_fit(
    page: Client,
    adding: str,
    station: Station,
    make_engine: Callable[..., Engine],
) -> None:
    fitting = EngineTypeFactory(station=station, designation="MX-4T")
    make_engine(engine_type=fitting, serial="4100")
    make_engine(engine_type=fitting, serial="X-1")
    make_engine(serial="4101")
    in_part = EngineTypeFactory(station=station, designation="MX-4")
    make_engine(engine_type=in_part, serial="4102", type_complete=False)
    rule = '{"all": [{"type": ["MX-4T"]}, {"serial": ["4001..4987"]}]}'
    answer = page.post(adding, {**entry(applicability=rule), "check": "1"})
    counts = answer.context["preview"].trial.counts
    assert (counts.applies, counts.undetermined, counts.does_not_apply) == (1, 1, 2)


def test_a_check_tells_of_names_that_the_station_does_not_know(
    page: Client, adding: str, make_engine: Callable[..., Engine]
) -> None:
    make_engine()
    rule = '{"any": [{"type": ["MX-44"]}, {"operation": ["comercial"]}]}'
    answer = page.post(adding, {**entry(applicability=rule), "check": "1"})
    text = said(answer)
    assert 'No engine type of the station is "MX-44".' in text
    assert 'No engine in care is run as "comercial".' in text


def test_a_check_of_what_is_wrong_shows_the_faults(page: Client, adding: str) -> None:
    answer = page.post(adding, {**entry(applicability="{"), "check": "1"})
    assert answer.status_code == 422
    assert "This is not JSON" in said(answer)
    assert "preview" not in answer.context


def test_a_draft_is_changed_and_a_change_by_somebody_else_is_not_lost(
    page: Client,
    adding: str,
    publication: Publication,
    inspector: Viewer,
    now: datetime,
) -> None:
    page.post(adding, entry())
    draft = Revision.objects.get()
    shown = page.get(changing(draft))
    assert "Serial number is from 4001 to 4987." in said(shown)
    theirs = library.stated_in(draft)
    changes.change_draft(
        inspector,
        draft,
        library.RevisionInput(
            label="1", summary="Theirs", provisions=theirs.provisions
        ),
        version=1,
        at=now,
    )
    mine = entry(version="1", summary="Mine", **{"p0-title": "Look at the pump"})
    refused = page.post(changing(draft), mine)
    assert refused.status_code == 409
    assert "was changed meanwhile. Look at it again" in said(refused)
    assert "Theirs" in said(refused)
    assert "Provision 1: In a few words" in said(refused)
    assert library.stated_in(Revision.objects.get()).summary == "Theirs"
    again = refused.context["form"]["version"].value()
    kept = page.post(changing(draft), {**mine, "version": str(again)})
    assert kept.status_code == 302
    assert library.stated_in(Revision.objects.get()).summary == "Mine"


def test_a_draft_sent_as_it_stands_writes_nothing(page: Client, adding: str) -> None:
    page.post(adding, entry())
    draft = Revision.objects.get()
    answer = page.post(changing(draft), entry(version="1"), follow=True)
    assert "Nothing is different, so nothing was written." in said(answer)
    assert Revision.objects.get().version == 1


def test_confirming_shows_whom_it_concerns_and_makes_the_findings(
    page: Client,
    inspector_page: Client,
    adding: str,
    make_engine: Callable[..., Engine],
) -> None:
    make_engine(serial="4100")
    page.post(adding, entry())
    draft = Revision.objects.get()
    shown = said(inspector_page.get(confirming(draft)))
    assert "Of 1 engine in care it concerns 1" in shown
    assert "Serial number 4100 is from 4001 to 4987." in shown
    answer = inspector_page.post(confirming(draft), {"version": "1"}, follow=True)
    assert "The revision is confirmed, and every engine is evaluated." in said(answer)
    assert Finding.objects.get().provision.title == "Replace the pump"
    assert inspector_page.get(confirming(draft)).status_code == 404


def test_the_category_is_a_choice_to_be_made(page: Client, adding: str) -> None:
    assert '<option value="" selected>choose</option>' in page.get(
        adding
    ).content.decode().replace("\n", "")


def test_an_incomplete_draft_is_not_confirmed_and_each_gap_is_named(
    page: Client, inspector_page: Client, adding: str
) -> None:
    sent = entry(applicability="", issued_on="", effective_on="", **{"p0-action": ""})
    page.post(adding, sent)
    draft = Revision.objects.get()
    shown = said(inspector_page.get(confirming(draft)))
    assert "Neither a date of issue nor an effective date is given." in shown
    answer = inspector_page.post(confirming(draft), {"version": "1"})
    assert answer.status_code == 422
    text = said(answer)
    assert "Give the date of issue or the effective date." in text
    assert "Say which engines it applies to" in text
    assert "Say by when it is to be done" in text
    assert Revision.objects.get().is_draft


def test_the_second_person_is_asked_for_where_the_station_wants_one(
    inspector_page: Client, adding: str, station: Station
) -> None:
    station.second_person_confirms = True
    station.save()
    inspector_page.post(adding, entry())
    draft = Revision.objects.get()
    answer = inspector_page.post(confirming(draft), {"version": "1"})
    assert answer.status_code == 422
    assert "Another person than who entered or changed this revision" in said(answer)
    assert Revision.objects.get().is_draft


def test_a_draft_is_discarded_but_not_the_version_nobody_saw(
    page: Client, adding: str
) -> None:
    page.post(adding, entry())
    draft = Revision.objects.get()
    at = reverse("web:publication-draft-discard", args=[draft.public_id])
    assert page.post(at, {"version": "7"}).status_code == 409
    assert page.post(at, {}).status_code == 422
    assert Revision.objects.exists()
    answer = page.post(at, {"version": "1"}, follow=True)
    assert "The draft is discarded." in said(answer)
    assert not Revision.objects.exists()


@pytest.fixture
def confirmed(
    make_provision: Callable[..., Provision], make_engine: Callable[..., Engine]
) -> Provision:
    """A confirmed rule that concerns one engine."""
    engine = make_engine(serial="4100")
    provision = make_provision(number="SB-24-012", title="Replace the pump")
    assert engine.station_id == provision.station_id
    return provision


def test_a_confirmed_revision_is_cancelled_from_a_day_for_a_reason(
    inspector_page: Client,
    confirmed: Provision,
    technician: Viewer,
    today: date,
    now: datetime,
) -> None:
    changes.refresh_station(technician.station, today, at=now)
    assert Finding.objects.count() == 1
    at = reverse("web:publication-revision-cancel", args=[confirmed.revision.public_id])
    refused = inspector_page.post(at, {"on": "2026-11-01", "reason": ""})
    assert refused.status_code == 422
    assert "This cannot be left out." in said(refused)
    assert Revision.objects.get().cancelled_on is None
    answer = inspector_page.post(
        at, {"on": "2026-11-01", "reason": "Withdrawn."}, follow=True
    )
    assert "The revision is cancelled, and every engine is evaluated." in said(answer)
    assert Revision.objects.get().cancelled_on == date(2026, 11, 1)
    assert not Finding.objects.exists()
    again = inspector_page.post(at, {"on": "2026-11-01", "reason": "Again."})
    assert again.status_code == 422
    assert "is cancelled already." in said(again)


def a_rule(**given: str) -> dict[str, str]:
    return {
        "number": "1",
        "applicability": '{"serial": ["5000.."]}',
        "condition": '{"always": true}',
        "action": WITHIN_50,
        "reason": "The serials were misread.",
        **given,
    }


def test_a_rule_is_corrected_as_a_new_version_and_the_old_one_stays(
    inspector_page: Client, confirmed: Provision
) -> None:
    at = reverse("web:publication-rule-change", args=[confirmed.public_id])
    checked = inspector_page.post(at, a_rule(check="1"))
    assert "Serial number is 5000 or above." in said(checked)
    assert "it concerns 0, may concern 0 more, and does not concern 1." in said(checked)
    assert RuleVersion.objects.count() == 1
    answer = inspector_page.post(at, a_rule(), follow=True)
    assert "The rule has a new version, and every engine is evaluated." in said(answer)
    old, new = RuleVersion.objects.order_by("number")
    assert (old.applicability, old.current) == ({"always": True}, False)
    assert (new.applicability, new.current) == ({"serial": ["5000.."]}, True)
    assert new.reason == "The serials were misread."
    assert not Finding.objects.exists()
    late = inspector_page.post(at, a_rule(applicability='{"always": true}'))
    assert late.status_code == 409
    assert "The rule was changed meanwhile. Look at it again." in said(late)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"reason": ""}, "This cannot be left out."),
        ({"applicability": ""}, "A rule that is in force cannot be taken out."),
        ({"action": ""}, "A rule that is in force cannot be taken out."),
        ({"applicability": '{"serial": []}'}, "serial: "),
        ({"condition": '{"this": {"number": ["P"]}}'}, 'Tests "this" part, but'),
        ({"reason": "x" * 201}, "At most 200 characters, found 201."),
    ],
)
def test_a_wrong_correction_is_refused_and_the_rule_stays(
    inspector_page: Client, confirmed: Provision, given: dict[str, str], message: str
) -> None:
    at = reverse("web:publication-rule-change", args=[confirmed.public_id])
    answer = inspector_page.post(at, a_rule(**given))
    assert answer.status_code == 422
    assert message in said(answer)
    assert RuleVersion.objects.count() == 1


def test_a_technician_may_draft_but_not_confirm_cancel_or_correct(
    page: Client, adding: str, confirmed: Provision
) -> None:
    page.post(adding, entry())
    draft = Revision.objects.drafts().get()
    cancel = reverse(
        "web:publication-revision-cancel", args=[confirmed.revision.public_id]
    )
    correct = reverse("web:publication-rule-change", args=[confirmed.public_id])
    for at in (confirming(draft), cancel, correct):
        assert page.get(at).status_code == 403
        assert page.post(at, {"version": "1"}).status_code == 403
    assert Revision.objects.drafts().get() == draft


def test_a_draft_of_another_station_is_not_there(
    page: Client,
    adding: str,
    stranger: Viewer,
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
) -> None:
    page.post(adding, entry())
    draft = Revision.objects.get()
    foreign, owner = signed_in(stranger), signed_in(viewer_as(Role.OWNER))
    for at in (adding, changing(draft), confirming(draft)):
        assert foreign.post(at, entry(version="1")).status_code == 404
        assert owner.post(at, entry(version="1")).status_code == 403
    assert Revision.objects.get().version == 1

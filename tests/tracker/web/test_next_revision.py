"""The next revision of a document: started from the current one, and what it changes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from html.parser import HTMLParser

import pytest
from django.test import Client
from django.urls import reverse

from notices import library
from notices.models import Provision, Reference, Revision, RuleVersion
from tests.factories.notices import ProvisionFactory
from tests.tracker.web.reading import rows_of, words_of
from tests.tracker.web.test_revision_form import confirming
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.fleet.models import Engine

pytestmark = pytest.mark.django_db

BASE = {"id": "base", "kind": "base", "hours": 1500, "years": 12, "since": "overhaul"}
NO_BREAK = "\u00a0"


class Sent(HTMLParser):
    """What a browser would send of the form that a page shows."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.values: dict[str, list[str]] = {}
        self._text: str | None = None
        self._select: str | None = None
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        name, value = given.get("name") or "", given.get("value") or ""
        if tag == "select":
            self._select = name
        elif tag == "option" and "selected" in given and self._select:
            self.values.setdefault(self._select, []).append(value)
        elif tag == "textarea":
            self._text = name
            self.values[name] = [""]
        elif tag == "input" and name:
            ticked = given.get("type") in ("checkbox", "radio")
            if not ticked or "checked" in given:
                self.values.setdefault(name, []).append(value)

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            self._text = None
        elif tag == "select":
            self._select = None

    def handle_data(self, data: str) -> None:
        if self._text is not None:
            self.values[self._text] = [self.values[self._text][0] + data]


@pytest.fixture
def current(make_provision: Callable[..., Provision]) -> Revision:
    """A revision that says two things, and supersedes a letter."""
    first = make_provision(
        number="SB-24-011",
        order=1,
        title="Replace the pump",
        man_hours=150,
        embodies=["M 7"],
    )
    ProvisionFactory(
        revision=first.revision,
        order=2,
        kind=Provision.Kind.INTERVAL,
        title="Interval",
        rule__action={},
        rule__interval=BASE,
    )
    Reference.objects.create(
        revision=first.revision,
        kind="supersedes",
        number="SL-1",
        number_key="sl1",
    )
    return first.revision


@pytest.fixture
def adding(current: Revision) -> str:
    return reverse("web:publication-draft-add", args=[current.publication.public_id])


def started(page: Client, adding: str, current: Revision) -> dict[str, list[str]]:
    shown = page.get(adding, {"from": str(current.public_id)})
    return Sent(shown.content.decode()).values


def drafted(page: Client, adding: str, sent: dict[str, list[str]]) -> Revision:
    answer = page.post(adding, sent)
    assert answer.status_code == 302, words_of(answer)
    return Revision.objects.drafts().get()


def test_a_start_from_the_current_revision_is_offered_and_not_taken_by_itself(
    page: Client, adding: str, current: Revision
) -> None:
    shown = page.get(adding)
    assert f"Start from revision {current.label}" in words_of(shown)
    assert Sent(shown.content.decode()).values["p0-title"] == [""]


def test_everything_is_filled_in_but_label_and_dates(
    page: Client, adding: str, current: Revision
) -> None:
    sent = started(page, adding, current)
    assert [sent[name] for name in ("label", "issued_on", "effective_on")] == [[""]] * 3
    sent |= {"label": ["99"], "effective_on": ["2026-06-01"]}
    before, after = (
        library.stated_in(one) for one in (current, drafted(page, adding, sent))
    )
    assert after.provisions == before.provisions
    assert after.applicability == before.applicability
    assert {(one.kind, one.number) for one in after.references} == {
        ("revises", "SB-24-011"),
        ("supersedes", "SL-1"),
    }


def test_the_page_of_the_draft_says_what_it_changes_and_what_not(
    page: Client, inspector_page: Client, adding: str, current: Revision
) -> None:
    sent = started(page, adding, current)
    sent |= {
        "label": ["99"],
        "effective_on": ["2026-06-01"],
        "p1-interval-hours": ["1400"],
        "provision": ["0", "1", "2"],
        "p2-kind": ["information"],
        "p2-title": ["Read this"],
        "p2-category": ["information"],
    }
    draft = drafted(page, adding, sent)
    at = reverse("web:publication-revision", args=[draft.public_id])
    for shown in (page.get(at), inspector_page.get(confirming(draft))):
        rows = [row.replace(NO_BREAK, " ") for row in rows_of(shown)]
        assert "1 Replace the pump taken over unchanged" in rows
        assert "3 Read this added" in rows
        [row] = [row for row in rows if row.startswith("2 Interval changed")]
        assert "1 500 h" in row
        assert "1 400 h" in row
        assert f"Against revision {current.label}" in words_of(shown)


def test_what_is_taken_out_and_whom_it_is_about_are_told(
    page: Client, adding: str, current: Revision
) -> None:
    sent = started(page, adding, current)
    sent |= {
        "label": ["99"],
        "provision": ["1"],
        "applicability": ['{"serial": ["4001.."]}'],
    }
    draft = drafted(page, adding, sent)
    at = reverse("web:publication-revision", args=[draft.public_id])
    shown = page.get(at)
    assert "1 Interval taken over unchanged" in rows_of(shown)
    assert (
        f"– Replace the pump taken out: provision 1 of revision {current.label}"
        in rows_of(shown)
    )
    assert "Which engines Every engine. Serial number is 4001 or above." in words_of(
        shown
    )


def test_new_findings_are_told_from_those_that_stay_and_those_that_end(
    page: Client,
    inspector_page: Client,
    adding: str,
    current: Revision,
    make_engine: Callable[..., Engine],
    technician: Viewer,
    today: date,
    now: datetime,
) -> None:
    """Two engines, two provisions: one of them is taken out, and another added."""
    for serial in ("4001", "4002"):
        make_engine(serial=serial)
    changes.refresh_station(technician.station, today, at=now)
    sent = started(page, adding, current)
    sent |= {
        "label": ["99"],
        "effective_on": ["2026-06-01"],
        "provision": ["1", "2"],
        "p2-kind": ["information"],
        "p2-title": ["Read this"],
        "p2-category": ["information"],
        "p2-condition": ['{"serial": ["4001"]}'],
    }
    draft = drafted(page, adding, sent)
    shown = words_of(inspector_page.get(confirming(draft)))
    assert (
        "It would make 3 findings: 1 new, 2 that stay. 2 of revision "
        f"{current.label} would end." in shown
    )
    assert "All 3 findings that it would make" in shown


def test_a_draft_that_changes_nothing_says_so(
    page: Client, adding: str, current: Revision
) -> None:
    sent = started(page, adding, current) | {"label": ["99"]}
    draft = drafted(page, adding, sent)
    at = reverse("web:publication-revision", args=[draft.public_id])
    assert f"It says the same as revision {current.label}" in words_of(page.get(at))


def test_the_first_revision_has_nothing_to_start_from_and_nothing_to_change(
    page: Client, adding: str, current: Revision, now: datetime, inspector: Viewer
) -> None:
    library.cancel_revision(
        current,
        on=current.effective_on or now.date(),
        reason="Withdrawn.",
        by=inspector.user,
        at=now,
    )
    assert "Start from revision" not in words_of(page.get(adding))
    # A revision that holds no more is no start either, though its address is known.
    assert started(page, adding, current)["p0-title"] == [""]


def test_rules_that_were_corrected_one_by_one_keep_whom_they_speak_of(
    current: Revision, now: datetime, inspector: Viewer
) -> None:
    early = {"serial": ["4001..4987"]}
    first, _ = current.provisions.all()
    library.change_rule(
        first,
        number=1,
        reason="Misread.",
        by=inspector.user,
        at=now,
        applicability=early,
    )
    start = library.start_from(current)
    always = {"always": True}
    assert start.applicability == {"any": [early, always]}
    assert [one.condition for one in start.provisions] == [early, always]
    second = current.provisions.get(order=2)
    library.change_rule(
        second,
        number=1,
        reason="Misread.",
        by=inspector.user,
        at=now,
        applicability=early,
    )
    again = library.start_from(current)
    assert again.applicability == early
    assert [one.condition for one in again.provisions] == [always, always]
    assert RuleVersion.objects.filter(current=True).count() == 2

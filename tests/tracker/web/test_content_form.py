"""Overhaul intervals and oils as the form of a draft takes them, without any script."""

from __future__ import annotations

from collections.abc import Callable
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
from tracker.accounts.models import Station

pytestmark = pytest.mark.django_db

NO_BREAK = "\u00a0"
BASE = {"id": "base", "kind": "base", "hours": 1500, "years": 12, "since": "overhaul"}
ROW = {
    "id": "10W-40 semi-synthetic",
    "grade": "10W-40",
    "class": "semi-synthetic",
    "ambient": {"from": -25, "to": 35},
    "fuel": ["unleaded", "leaded"],
}


def said(response: HttpResponse) -> str:
    return words(response.content.decode()).replace(NO_BREAK, " ")


def entry(kind: str, **given: Any) -> dict[str, Any]:
    """A draft with one provision of a kind as its form sends it."""
    of_provision = {f"p0-{name}": value for name, value in given.items()}
    return {
        "version": "0",
        "label": "1",
        "effective_on": "2026-01-15",
        "applicability": '{"type": ["MX-4*"]}',
        "provision": ["0"],
        "p0-kind": kind,
        "p0-title": "What it says",
        "p0-category": "recommended",
        **of_provision,
    }


def interval(**given: str) -> dict[str, Any]:
    typed = {
        "kind": "base",
        "name": "base",
        "hours": "1500",
        "years": "12",
        "since": "overhaul",
        **given,
    }
    return entry(
        "overhaul interval", **{f"interval-{name}": v for name, v in typed.items()}
    )


def oils(*rows: dict[str, Any], **given: Any) -> dict[str, Any]:
    sent: dict[str, Any] = {"fluids": str(len(rows)), **given}
    for number, row in enumerate(rows):
        sent |= {f"fluids-{number}-{name}": value for name, value in row.items()}
    return entry("oils and fluids", **sent)


OIL = {
    "grade": "10W-40",
    "kind": "semi-synthetic",
    "low": "-25",
    "high": "35",
    "unit": "C",
    "fuel": ["unleaded", "leaded"],
}


@pytest.fixture
def publication(station: Station) -> Publication:
    return PublicationFactory(station=station, number="SI-18-001")


@pytest.fixture
def adding(publication: Publication) -> str:
    return reverse("web:publication-draft-add", args=[publication.public_id])


def kept() -> library.ProvisionInput:
    [provision] = library.stated_in(Revision.objects.get()).provisions
    return provision


@pytest.mark.parametrize(
    ("typed", "stored"),
    [
        ({}, BASE),
        ({"hours": "1500.5", "years": ""}, {**BASE, "hours": 1500.5, "years": None}),
        ({"since": "new"}, {**BASE, "since": "new"}),
        ({"binds": "everywhere"}, {**BASE, "binding": True}),
        (
            {"binds": "somewhere", "operations": "commercial, club"},
            {**BASE, "binding": ["commercial", "club"]},
        ),
        (
            {
                "kind": "extension",
                "name": "feed",
                "builds_on": "base",
                "enter_hours": "1500",
                "enter_years": "12",
            },
            {
                **BASE,
                "id": "feed",
                "kind": "extension",
                "enter_by": {"hours": 1500, "years": 12},
                "builds_on": "base",
            },
        ),
    ],
)
def test_an_interval_is_kept_as_it_was_typed(
    page: Client, adding: str, typed: dict[str, str], stored: dict[str, Any]
) -> None:
    answer = page.post(adding, interval(**typed))
    assert answer.status_code == 302
    expected = {key: value for key, value in stored.items() if value is not None}
    assert kept().interval == expected
    assert kept().action is None


@pytest.mark.parametrize(
    ("typed", "field", "message"),
    [
        ({"kind": ""}, "kind", "Choose what it is."),
        ({"name": ""}, "name", "Give it a short name, such as base."),
        ({"hours": "0"}, "hours", "An interval has more than 0 h."),
        ({"hours": "1,500"}, "hours", '"1,500" is not a number of hours.'),
        ({"years": "200"}, "years", "Expected a number from 1 to 100, not 200."),
        ({"hours": "", "years": ""}, "hours", "Say how long the interval is: write"),
        (
            {"enter_hours": "900"},
            "enter_hours",
            "Only an extension is entered; this is a base. Leave \u201cEnter before, "
            "hours\u201d empty, or make it an extension.",
        ),
        (
            {"kind": "restriction", "enter_years": "9"},
            "enter_years",
            "Only an extension is entered; this is a restriction.",
        ),
        (
            {"builds_on": "feed"},
            "builds_on",
            "A base stands alone. Leave \u201cBuilds on\u201d empty",
        ),
        (
            {"kind": "extension", "builds_on": "base"},
            "builds_on",
            "It cannot build on itself.",
        ),
        ({"binds": "somewhere"}, "operations", "Name the operations in which"),
        ({"operations": "club"}, "operations", "Say beside it that it is law in some"),
    ],
)
def test_an_interval_that_cannot_be_right_is_refused_at_its_field(
    page: Client, adding: str, typed: dict[str, str], field: str, message: str
) -> None:
    answer = page.post(adding, interval(**typed))
    assert answer.status_code == 422
    [row] = answer.context["form"].provisions
    assert message in row.interval.errors[field][0]
    assert message in said(answer)
    assert "Nothing has been kept yet." in said(answer)
    assert not Revision.objects.exists()


def test_rows_of_oils_are_kept_and_empty_rows_left_out(
    page: Client, adding: str
) -> None:
    second = {**OIL, "kind": "mineral", "low": "\u22124,5", "high": "", "unit": "F"}
    again = {**OIL, "note": "for towing", "when": '{"type": ["MX-4T"]}'}
    answer = page.post(adding, oils(OIL, {"unit": "C"}, second, again))
    assert answer.status_code == 302
    assert kept().fluids == [
        ROW,
        {
            **ROW,
            "id": "10W-40 mineral",
            "class": "mineral",
            "ambient": {"from": -4.5, "unit": "F"},
        },
        # A third of the same grade and class gets a name of its own.
        {
            **ROW,
            "id": "10W-40 semi-synthetic 2",
            "when": {"type": ["MX-4T"]},
            "note": "for towing",
        },
    ]


@pytest.mark.parametrize(
    ("typed", "field", "message"),
    [
        ({"grade": ""}, "grade", "Write the grade, such as 15W-50."),
        ({"kind": ""}, "kind", "Choose the class of the oil."),
        ({"fuel": []}, "fuel", "Say with which fuel it may be used."),
        ({"low": "cold"}, "low", '"cold" is not a temperature.'),
        (
            {"low": "40", "high": "-10"},
            "low",
            "The lowest ambient temperature is above",
        ),
        ({"low": "", "high": ""}, "low", "Write the lowest ambient temperature,"),
        ({"high": "9000"}, "high", "Expected degrees from -460 to 2000, not 9000."),
        ({"grade": "fifteen"}, "grade", "\u201cfifteen\u201d is no grade. Write it"),
        ({"grade": "15W-"}, "grade", "\u201c15W-\u201d is no grade."),
        ({"grade": "-"}, "grade", "\u201c-\u201d is no grade."),
        ({"grade": "17W-40"}, "grade", "SAE J300 knows no grade 17W."),
        ({"when": '{"typ": ["MX-4"]}'}, "when", '"typ" is not a test of an engine'),
        ({"when": "{"}, "when", "This is not JSON"),
    ],
)
def test_a_row_that_cannot_be_right_is_refused_at_its_field(
    page: Client, adding: str, typed: dict[str, Any], field: str, message: str
) -> None:
    # An empty row before it does not shift where a fault is shown.
    answer = page.post(adding, oils(OIL, {"unit": "C"}, {**OIL, **typed}))
    assert answer.status_code == 422
    [row] = answer.context["form"].provisions
    first, empty, wrong = row.fluids.rows
    assert message in wrong.errors[field][0]
    assert not first.errors
    assert not empty.errors
    assert not Revision.objects.exists()


@pytest.mark.parametrize(
    "grade", ["15W-50", "15w50", "SAE 50", "100", "W100", "W80 plus", "Aviation 100"]
)
def test_a_grade_of_a_makers_own_table_is_taken(
    page: Client, adding: str, grade: str
) -> None:
    assert page.post(adding, oils({**OIL, "grade": grade})).status_code == 302
    assert kept().fluids[0]["grade"] == grade  # type: ignore[index]  # rows are there


def test_the_fields_of_a_pair_stand_together(page: Client, adding: str) -> None:
    answer = page.post(adding, {**interval(), "show_provision": "0"})
    [row] = answer.context["form"].provisions
    groups = [[field.name for field in fields] for _, fields in row.interval.grouped]
    assert ["enter_hours", "enter_years"] in groups
    assert sorted(n for names in groups for n in names) == sorted(row.interval.fields)


def test_what_belongs_to_another_kind_is_shown_and_refused(
    page: Client, adding: str
) -> None:
    wrong = {**interval(), "p0-kind": "information", "p0-man_hours": "1"}
    answer = page.post(adding, wrong)
    assert answer.status_code == 422
    assert "An overhaul interval does not go with information. Take it out." in said(
        answer
    )
    [row] = answer.context["form"].provisions
    assert row["man_hours"].value() == "1"
    sent = {**oils(OIL), "p0-kind": "action"}
    assert "Rows of oils do not go with action." in said(page.post(adding, sent))


@pytest.mark.parametrize(
    ("kind", "shown", "hidden"),
    [
        ("action", "p0-action", "p0-interval-kind"),
        ("parts together", "p0-action", "p0-fluids-0-grade"),
        ("overhaul interval", "p0-interval-kind", "p0-action"),
        ("oils and fluids", "p0-fluids-0-grade", "p0-interval-kind"),
        ("information", "p0-description", "p0-man_hours"),
    ],
)
def test_the_fields_of_a_kind_are_shown_on_asking(
    page: Client, adding: str, kind: str, shown: str, hidden: str
) -> None:
    typed = entry(kind)
    answer = page.post(adding, {**typed, "show_provision": "0"})
    assert answer.status_code == 200
    html = answer.content.decode()
    assert f'name="{shown}"' in html
    assert f'name="{hidden}"' not in html
    assert answer.context["form"].provisions[0]["title"].value() == "What it says"
    assert not Revision.objects.exists()


def test_one_more_provision_comes_with_the_fields_of_its_kind(
    page: Client, adding: str
) -> None:
    more = {**interval(), "more_provision": "1", "more_kind": "oils and fluids"}
    answer = page.post(adding, more)
    first, second = answer.context["form"].provisions
    assert first.interval["hours"].value() == "1500"
    assert second["kind"].value() == "oils and fluids"
    assert len(second.fluids.rows) == 3


def test_more_rows_of_oils_keep_what_was_typed(page: Client, adding: str) -> None:
    half = {**OIL, "low": "col"}
    answer = page.post(adding, {**oils(half), "more_rows": "0"})
    assert answer.status_code == 200
    [row] = answer.context["form"].provisions
    first, *new = row.fluids.rows
    assert first["low"].value() == "col"
    assert first["fuel"].value() == ["unleaded", "leaded"]
    assert len(new) == 3
    many = answer.content.decode().count("grade-known")
    assert many >= 4
    endless = page.post(adding, {**oils(OIL, fluids="999"), "more_rows": "0"})
    assert len(endless.context["form"].provisions[0].fluids.rows) == 60


def test_a_check_says_them_in_words_with_what_to_look_at_twice(
    page: Client, adding: str, station: Station
) -> None:
    EngineTypeFactory(station=station, designation="MX-4T")
    longer = interval(kind="extension", name="feed", hours="2000", builds_on="bass")
    text = said(page.post(adding, {**longer, "check": "1"}))
    assert (
        "Extension of the overhaul interval to 2 000 h or 12 years since overhaul, "
        'whichever comes first. Only where "bass" holds, too.'
    ) in text
    assert "No base interval is known for MX-4T" in text or (
        "No base interval is known for MX-4 and MX-4T" in text
    )
    assert 'It builds on "bass", and no current document has an interval' in text
    text = said(page.post(adding, {**oils(OIL), "check": "1"}))
    assert "10W-40 semi-synthetic from \u221225 °C to 35 °C unleaded, leaded" in text
    for kind, needed in (
        ("overhaul interval", "Say what it is, a base, an extension or a restriction"),
        ("oils and fluids", "Enter at least one row"),
        ("parts together", "It takes two parts that do not go together"),
    ):
        assert needed in said(page.post(adding, {**entry(kind), "check": "1"}))


def test_a_draft_with_them_is_opened_and_sent_back_without_a_change(
    page: Client, adding: str
) -> None:
    page.post(adding, interval(binds="somewhere", operations="commercial"))
    draft = Revision.objects.get()
    at = reverse("web:publication-draft-change", args=[draft.public_id])
    shown = page.get(at)
    assert "It binds by law in commercial operation." in said(shown)
    [row] = shown.context["form"].provisions
    values = {field.html_name: field.value() for field in row.interval.visible_fields()}
    assert values["p0-interval-hours"] == "1500"
    assert values["p0-interval-operations"] == "commercial"
    again = interval(binds="somewhere", operations="commercial")
    answer = page.post(at, {**again, "version": "1"}, follow=True)
    assert "Nothing is different, so nothing was written." in said(answer)


# -- the rule of a confirmed revision


@pytest.fixture
def correcting(
    inspector: Viewer,
    signed_in: Callable[[Viewer], Client],
    clock_stands: None,
    make_provision: Callable[..., Provision],
) -> Callable[..., tuple[Client, str, Provision]]:
    def make(kind: str, **rule: Any) -> tuple[Client, str, Provision]:
        contents = {f"rule__{name}": value for name, value in rule.items()}
        provision = make_provision(rule__action={}, **contents)
        provision.kind = kind
        provision.save()
        at = reverse("web:publication-rule-change", args=[provision.public_id])
        return signed_in(inspector), at, provision

    return make


def a_rule(**given: Any) -> dict[str, Any]:
    rule = '{"always": true}'
    return {
        "number": "1",
        "reason": "Misread.",
        "applicability": rule,
        "condition": rule,
        **given,
    }


def newest(provision: Provision) -> RuleVersion:
    return provision.rules.get(current=True)


def test_the_interval_of_a_confirmed_rule_is_corrected(correcting: Any) -> None:
    client, at, provision = correcting("overhaul interval", interval=BASE)
    shown = client.get(at)
    assert shown.context["form"].interval["years"].value() == 12
    sent = {
        f"interval-{name}": value
        for name, value in {
            "kind": "base",
            "name": "base",
            "hours": "1600",
            "years": "12",
            "since": "overhaul",
        }.items()
    }
    checked = client.post(at, {**a_rule(**sent), "check": "1"})
    assert "Overhaul interval: 1 600 h or 12 years since overhaul" in said(checked)
    assert newest(provision).number == 1
    assert client.post(at, a_rule(**sent)).status_code == 302
    assert newest(provision).interval == {**BASE, "hours": 1600}
    same = client.post(at, {**a_rule(**sent), "number": "2"}, follow=True)
    assert "Nothing is different" in said(same)
    wrong = client.post(
        at, {**a_rule(**{**sent, "interval-hours": "0"}), "number": "2"}
    )
    assert wrong.status_code == 422
    assert "An interval has more than 0 h." in said(wrong)


def test_rows_of_a_confirmed_rule_are_corrected_and_not_taken_out(
    correcting: Any,
) -> None:
    client, at, provision = correcting("oils and fluids", fluids=[ROW])
    [row] = client.get(at).context["form"].fluids.rows
    assert row["low"].value() == "\u221225"
    sent = {f"fluids-0-{name}": value for name, value in OIL.items()}
    sent |= {"fluids": "1", "fluids-0-id": ROW["id"]}
    more = client.post(at, {**a_rule(**sent), "more_rows": "1"})
    assert more.status_code == 200
    assert len(more.context["form"].fluids.rows) == 4
    hotter = {**sent, "fluids-0-high": "40"}
    assert client.post(at, a_rule(**hotter)).status_code == 302
    assert newest(provision).fluids == [{**ROW, "ambient": {"from": -25, "to": 40}}]
    gone = client.post(at, {**a_rule(fluids="1"), "number": "2"})
    assert gone.status_code == 422
    assert "A rule that is in force cannot be taken out." in said(gone)


def test_what_a_revision_says_stands_on_its_page(
    page: Client, make_provision: Callable[..., Provision]
) -> None:
    law = {**BASE, "binding": ["commercial"]}
    provision = make_provision(rule__action={}, rule__interval=law)
    noted = {
        **ROW,
        "id": "b",
        "note": "preferred with leaded fuel",
        "when": {"type": ["MX-4"]},
    }
    make_provision(
        revision=provision.revision, rule__action={}, rule__fluids=[ROW, noted]
    )
    at = reverse("web:publication", args=[provision.revision.publication.public_id])
    text = said(page.get(at))
    assert "Overhaul interval: 1 500 h or 12 years since overhaul" in text
    assert "It binds by law in commercial operation." in text
    assert "10W-40 semi-synthetic from \u221225 °C to 35 °C unleaded, leaded" in text
    assert "preferred with leaded fuel Only where: Type designation is MX-4." in text

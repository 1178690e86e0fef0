"""The page of oils: what suits, why not, from which document, and what is missing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from notices.models import Provision
from tests.factories.fleet import OwnerFactory
from tests.tracker.compliance.test_fluids import row, run, table
from tests.tracker.web.reading import rows_of, words_of
from tracker.accounts.models import Role
from tracker.fleet.models import Engine
from tracker.fleet.register import give_login

__all__ = ["table"]

NOTED = row(
    "10W-40",
    **{"class": "synthetic", "fuel": ["unleaded"], "note": "Preferred, always."},
)
WARM = row("20W-50", ambient={"from": 32, "to": 122, "unit": "F"})


def at(engine: Engine) -> str:
    return reverse("web:engine-oils", args=[engine.public_id])


def test_each_oil_stands_with_its_verdict_its_reason_and_its_range(
    page, make_engine, table: Callable[..., Provision]
) -> None:
    table(row("15W-50"), NOTED, WARM, row("30", when={"type": ["ZX-9*"]}))
    engine = make_engine(operation=run(leaded_share="0"))
    response = page.get(at(engine))
    assert rows_of(response)[1:] == [
        "suited, see note 10W-40 synthetic Preferred, always. "
        "from −20 °C to 40 °C unleaded",
        "suited 15W-50 semi-synthetic Covers the season from −12 °C to 33 °C and the "
        "fuel in use. from −20 °C to 40 °C unleaded or leaded",
        "not suited 20W-50 semi-synthetic Too thick for a start at −12 °C: the table "
        "gives it from 0 °C. from 32 °F to 122 °F from 0 °C to 50 °C unleaded or leaded",
        "not suited 30 semi-synthetic Type designation "
        f"{engine.engine_type.designation} is not of the ZX-9 series. Only where: Type "
        "designation is of the ZX-9 series. from −20 °C to 40 °C unleaded or leaded",
    ]
    said = words_of(response)
    assert (
        "Suited for the coming season: 10W-40 synthetic and 15W-50 semi-synthetic."
    ) in said
    assert (
        "Coming season −12 °C to 33 °C Fuel in use unleaded 0 % leaded, as declared"
        in (said)
    )
    assert "What is missing" not in said


def test_tables_that_do_not_agree_on_an_oil_are_named_with_the_reason(
    page, make_engine, table: Callable[..., Provision]
) -> None:
    cold = row("10W-40", ambient={"from": -30, "to": 20})
    table(row("10W-40"), row("15W-50"), number="SL-1")
    table(cold, number="SL-2")
    said = words_of(page.get(at(make_engine(operation=run(leaded_share="0")))))
    assert "Suited for the coming season: 15W-50 semi-synthetic." in said
    assert (
        "The tables do not agree on 1 oil, and what one of them does not call suited "
        "is not to be taken for it. 10W-40 semi-synthetic: suited by SL-1, not suited "
        "by SL-2. Too thin at 33 °C: the table gives it up to 20 °C."
    ) in said


def test_where_no_oil_is_suited_by_every_table_the_page_says_so(
    page, make_engine, table: Callable[..., Provision]
) -> None:
    table(row("10W-40"), number="SL-1")
    table(row("10W-40"), number="SL-2", rule__condition={"ask": "Is the sump deep?"})
    said = words_of(page.get(at(make_engine(operation=run(leaded_share="0")))))
    assert "No oil is called suited by every table that names it." in said
    assert (
        "10W-40 semi-synthetic: suited by SL-1, undetermined by SL-2. Not known: the "
        "answer to the question: Is the sump deep?"
    ) in said


def test_the_document_and_its_revision_are_linked_and_the_figure_is_drawn(
    page, make_engine, table: Callable[..., Provision]
) -> None:
    made = table(row("15W-50"), number="SL-22")
    response = page.get(at(make_engine(operation=run(leaded_share="0"))))
    text = response.content.decode()
    revision = made.revision
    for name, key in (
        ("publication", revision.publication.public_id),
        ("publication-revision", revision.public_id),
    ):
        assert f'href="{reverse(f"web:{name}", args=[key])}"' in text
    assert f"revision {revision.label} of 5 Jan 2026, Grades of oil." in words_of(
        response
    )
    assert text.count('aria-labelledby="oils-1-') == 3
    assert "Caution" in words_of(response)


def test_what_is_missing_leads_to_the_forms(
    page, make_engine, table: Callable[..., Provision]
) -> None:
    table(NOTED, number="SL-22")
    engine = make_engine()
    response = page.get(at(engine))
    said = words_of(response)
    assert "Which oil suits cannot be said yet: a fact is missing." in said
    assert "Coming season not known Fuel in use not known" in said
    assert rows_of(response)[-2:] == [
        "Ambient temperatures of the coming season Enter how it is run SL-22",
        "Kind of fuel in use Enter the fuel taken on SL-22",
    ]
    text = response.content.decode()
    for name in ("engine-operation", "engine-fuel-add"):
        assert f'href="{reverse(f"web:{name}", args=[engine.public_id])}"' in text
    assert "is not known, so none is drawn." in said


def test_a_table_of_which_it_is_open_whether_it_counts_says_so(
    page, make_engine, table: Callable[..., Provision]
) -> None:
    table(row("15W-50"), rule__condition={"ask": "Is the sump deep?"})
    said = words_of(page.get(at(make_engine(operation=run(leaded_share="0")))))
    assert (
        "Whether this table is about the engine is not known: "
        'The question "Is the sump deep?" has not been answered.'
    ) in said
    assert "undetermined 15W-50" in said


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ({}, "No oil that the current documents name covers the coming season"),
        (
            {"rule__condition": {"type": ["ZX-9*"]}},
            "1 current table of oils is not about this engine, as of 24 November 2026.",
        ),
    ],
)
def test_nothing_that_suits_is_said_in_words(
    page, make_engine, table: Callable[..., Provision], rule: Any, words: str
) -> None:
    table(row("15W-50", ambient={"from": 30, "to": 40}), **rule)
    said = words_of(page.get(at(make_engine(operation=run(leaded_share="0")))))
    assert words in said


def test_without_any_table_the_page_says_what_would_fill_it(page, make_engine) -> None:
    said = words_of(page.get(at(make_engine())))
    assert "No current document says which oil suits this engine." in said
    assert "No current document with a table of oils was entered" in said


def test_a_climate_in_fahrenheit_is_shown_in_fahrenheit(
    page, make_engine, table: Callable[..., Provision]
) -> None:
    table(row("15W-50"))
    operation = run(
        leaded_share="0", ambient_low="5", ambient_high="95", ambient_unit="F"
    )
    response = page.get(at(make_engine(operation=operation)))
    assert rows_of(response)[1].endswith(
        "Covers the season from 5 °F to 95 °F and the fuel in use. "
        "from −20 °C to 40 °C from −4 °F to 104 °F unleaded or leaded"
    )
    assert "in degrees Fahrenheit." in words_of(response)


def test_the_page_of_the_engine_leads_here(page, make_engine) -> None:
    engine = make_engine()
    text = page.get(reverse("web:engine", args=[engine.public_id])).content.decode()
    assert f'href="{at(engine)}"' in text


def test_an_owner_sees_their_own_engine_and_no_form_they_may_not_use(
    make_engine, table, viewer_as, signed_in, now, clock_stands
) -> None:
    table(NOTED)
    viewer = viewer_as(Role.OWNER)
    owner = OwnerFactory(station=viewer.station)
    give_login(owner, viewer.user, now)
    mine, other = make_engine(owner=owner), make_engine()
    client = signed_in(viewer)
    response = client.get(at(mine))
    assert "Which oil suits cannot be said yet" in words_of(response)
    assert "Change climate and habit" not in words_of(response)
    assert client.get(at(other)).status_code == 404


@pytest.mark.parametrize("tables", [1, 5])
def test_the_page_asks_a_fixed_number_of_queries(
    page, make_engine, table: Callable[..., Provision], tables: int,
    django_assert_num_queries,
) -> None:  # fmt: skip
    for number in range(tables):
        rows = [row(f"{n}", grade="15W-50") for n in range(tables)]
        table(*rows, number=f"SL-{number}")
    engine = make_engine(operation=run(leaded_share="0"))
    with django_assert_num_queries(23):  # session, user, membership; those of oils_of
        page.get(at(engine))

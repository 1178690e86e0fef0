"""The check page in a real browser, by somebody without an account.

Contrast, names and order by axe (WCAG 2.2, level AA), nothing refused by the content
policy, nothing wider than the screen; the answer as it is printed on A4.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any
from unicodedata import normalize

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Browser, Page

from notices.models import Provision
from tests.browser.conftest import DESKTOP, PHONE, on_paper
from tests.browser.test_pages import AXE, provision
from tests.factories.accounts import StationFactory
from tests.factories.fleet import EngineTypeFactory
from tracker.accounts.models import Station
from tracker.compliance.models import Enquiry

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

BOTH: dict[str, Any] = {"years": 12, "since": "overhaul"}


@pytest.fixture
def station(transactional_db: None, days_ago: Callable[[int], Any]) -> Station:
    """A station with a base interval, a longer one, and a document of each outcome."""
    made = StationFactory(
        name="Tarnfield Engine Shop", check_is_open=True, check_address="tarnfield"
    )
    EngineTypeFactory(station=made, designation="MX-4")
    base = provision(
        made,
        days_ago,
        kind="SI",
        title="1,500 h or 12 years",
        rule__interval={"id": "base", "kind": "base", "hours": 1500, **BOTH},
        rule__action={},
    )
    longer = provision(
        made,
        days_ago,
        kind="SI",
        title="1,800 h with the modified oil feed",
        rule__condition={"embodied": "SB-24-011"},
        rule__interval={"id": "feed", "kind": "extension", "hours": 1800, **BOTH},
        rule__action={},
    )
    about = Provision.objects.filter(pk__in=[base.pk, longer.pk])
    about.update(kind=Provision.Kind.INTERVAL)
    provision(made, days_ago, title="Inspect the pump")
    provision(made, days_ago, rule__condition={"ask": "Is the case stamped R?"})
    provision(made, days_ago, serials=("9001..",), title="Of another lot")
    named = provision(made, days_ago, rule__action={}, title="For this type")
    named.revision.applicability = {"type": ["MX-4"]}
    named.revision.save(update_fields=["applicability"])
    return made


@pytest.fixture
def look(
    browser: Browser, live_server: Any, station: Station
) -> Iterator[Callable[..., tuple[Page, list[str]]]]:
    """Return the first page as a visitor sees it, and any complaint."""
    contexts = []

    def open_page(*, phone: bool = False, dark: bool = False) -> tuple[Page, list[str]]:
        context = browser.new_context(
            viewport=PHONE if phone else DESKTOP,  # type: ignore[arg-type]  # a TypedDict
            color_scheme="dark" if dark else "light",
        )
        contexts.append(context)
        page, seen = context.new_page(), []
        page.on(
            "console",
            lambda said: seen.append(said.text) if said.type == "error" else None,
        )
        page.goto(live_server.url + reverse("web:check", args=["tarnfield"]))
        return page, seen

    yield open_page
    for context in contexts:
        context.close()


def describe(page: Page) -> None:
    page.click("text=MX-4")
    page.fill("#id_serial", "4118")
    page.fill("#id_hours", "1197.5")
    page.fill("#id_built", str(timezone.now().date() - timedelta(days=2000)))
    page.select_option("#id_overhauled", "no")
    page.select_option("#id_uses", "private")
    page.click("text=Show what applies")


def can_be_read(page: Page, seen: list[str], where: str) -> None:
    found = Axe().run(page, options=AXE)
    assert found.violations_count == 0, f"{where}: {found.generate_report()}"
    assert seen == [], f"{where}: {seen}"
    width = page.viewport_size["width"] if page.viewport_size else 0
    widest = page.evaluate("document.documentElement.scrollWidth")
    assert widest <= width, f"{where} is {widest} px wide"


@pytest.mark.parametrize(
    ("phone", "dark"),
    [(False, False), (True, True)],
    ids=["light on a desk", "dark on a phone"],
)
def test_a_visitor_goes_from_the_type_to_a_message(
    look: Any, phone: bool, dark: bool
) -> None:
    page, seen = look(phone=phone, dark=dark)
    can_be_read(page, seen, "the types")
    page.click("text=MX-4")
    can_be_read(page, seen, "the form")
    page.go_back()
    describe(page)
    assert page.inner_text("h1").strip() == "That cannot be said yet"
    can_be_read(page, seen, "the answer")
    page.select_option("select[name^=work-]", "no")
    page.select_option("select[name^=question-]", "yes")
    page.click("text=Answer again with these facts >> nth=0")
    within_reach = "Not yet, but a longer interval is within reach"
    assert page.inner_text("h1").strip() == within_reach
    assert "4118" not in page.url
    can_be_read(page, seen, "the second answer")
    page.click("button[name=contact]")
    can_be_read(page, seen, "the message")
    page.fill("#id_name", "Ragna Holt")
    page.fill("#id_telephone", "01 23 45")
    page.click("button:has-text('Send it to')")
    assert page.inner_text("h1") == "Your message has been sent"
    can_be_read(page, seen, "the confirmation")
    kept = Enquiry.objects.get()
    assert kept.engine == "MX-4, serial 4118"


def test_what_is_wrong_is_marked_and_what_was_entered_stays(look: Any) -> None:
    page, seen = look()
    page.click("text=MX-4")
    page.fill("#id_serial", "4118")
    page.fill("#id_hours", "many")
    page.click("text=Show what applies")
    assert page.input_value("#id_serial") == "4118"
    assert page.get_attribute("#id_hours", "aria-invalid") == "true"
    # a refused form is answered with 422, of which the browser's console tells
    can_be_read(page, [text for text in seen if "422" not in text], "a wrong form")


def test_the_answer_prints_on_sheets_that_name_the_engine(look: Any) -> None:
    page, _ = look()
    describe(page)
    printed = on_paper(page)
    sheets = [sheet.extract_text() for sheet in printed.pages]
    width, height = printed.pages[0].mediabox[2:]
    assert (round(width / 72 * 25.4), round(height / 72 * 25.4)) == (210, 297)
    whole = normalize("NFKC", " ".join(" ".join(sheets).split()))
    for kept in (
        "Tarnfield Engine Shop",
        "That cannot be said yet",
        "MX-4, serial 4118. Computed on",
        "nothing was stored",
        "What you entered",
        "Of another lot",  # what does not apply is unfolded on paper
        "This must be known: the answer to “Is the case stamped R?”",
        "Caution",
        f"sheet 1 of {len(sheets)}",
    ):
        assert kept in whole, kept
    for left_out in ("Answer again", "Ask Tarnfield", "Show what applies"):
        assert left_out not in whole, left_out


def test_a_phone_reads_the_answer_in_its_own_order(look: Any) -> None:
    page, _ = look(phone=True)
    describe(page)
    heads = [head.strip() for head in page.locator("main h2").all_inner_texts()]
    assert heads == [
        "Overhaul interval",
        "What applies",
        "What cannot be said",
        "When it is due",
        "What does not apply",
        "What you entered",
        "Ask the station",
    ]

"""A part is entered in the browser: first shown what it would cause, then kept."""

from __future__ import annotations

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page

from notices.models import Provision
from tests.browser.test_pages import AXE, Shop, provision, shop
from tracker.compliance import changes
from tracker.fleet.models import PartFitting
from tracker.fleet.parts import Fit, PartEntry

__all__ = ["shop"]

pytestmark = pytest.mark.browser
GAUGE, SENDER = "oil pressure indicator", "oil pressure transmitter"


@pytest.fixture
def sender(shop: Shop, days_ago) -> None:
    """A passive transmitter is fitted, and no gauge G-9 goes with one."""
    of_a_role = {
        role: {"part": {"role": role, "where": where}}
        for role, where in (
            (SENDER, {"attribute": "signal", "in": ["passive"]}),
            (GAUGE, {"number": ["G-9*"]}),
        )
    }
    provision(
        shop.engine.station,
        days_ago,
        kind="SL",
        title="The gauge does not read this transmitter",
        rule__condition={"all": list(of_a_role.values())},
        rule__action={"initial": {"event": "further flight"}},
    )
    made = Provision.objects.get(title="The gauge does not read this transmitter")
    made.kind = Provision.Kind.TOGETHER
    made.save(update_fields=["kind"])
    now = timezone.now()
    when = {"true_from": days_ago(100), "at": now}
    entry = PartEntry(role=SENDER, number="T-1", serial="77")
    part = changes.add_part(shop.technician, shop.engine, entry, Fit(), **when)
    changes.set_attribute(
        shop.technician, shop.engine, "signal", "passive", part=part, **when
    )
    for role in (SENDER, GAUGE):
        changes.review(shop.technician, shop.engine, role, "Jory", **when)


def fill(page: Page, number: str) -> None:
    page.fill("[name=role]", GAUGE)
    page.fill("[name=number]", number)
    page.fill("[name=serial]", "12")
    day = timezone.localdate() - timedelta(days=1)
    page.fill("[name=true_from]", day.isoformat())


@pytest.mark.parametrize(
    ("phone", "dark"),
    [(False, False), (True, True)],
    ids=["light on a desk", "dark on a phone"],
)
def test_parts_that_do_not_go_together_are_shown_before_one_is_kept(
    shop: Shop, sender: None, visit, phone: bool, dark: bool
) -> None:
    path = reverse("web:engine-part-add", args=[shop.engine.public_id])
    page, seen = visit(shop.technician, path, phone=phone, dark=dark)
    fitted = PartFitting.objects.count()
    fill(page, "G-9")
    page.click("text=Enter the part")
    causes = page.locator("section[aria-labelledby=causes]")
    assert "Nothing is written yet." in causes.inner_text()
    assert "go together" in causes.locator("[scope=rowgroup]").first.inner_text()
    assert PartFitting.objects.count() == fitted
    # what it would cause is in sight, and read first by those who hear the page
    assert page.evaluate("document.activeElement.id") == "causes"
    assert page.locator("#causes").is_visible()
    assert page.input_value("[name=number]") == "G-9"
    assert page.locator("button:visible:not(.quiet):not(.link)").count() == 1
    assert Axe().run(page, options=AXE).violations_count == 0
    width = page.evaluate("document.documentElement.scrollWidth")
    assert width <= (390 if phone else 1440)
    causes.locator("button").click()
    assert "The part is entered." in page.inner_text(".said")
    assert PartFitting.objects.count() == fitted + 1
    page.goto(page.url.replace("history/", ""))
    parts = page.locator("section[aria-labelledby=parts]")
    assert f"the {SENDER} T-1, serial 77, and the {GAUGE} G-9, serial 12" in (
        parts.inner_text()
    )
    assert seen == []


def test_another_gauge_is_looked_at_again_and_found_to_fit(
    shop: Shop, sender: None, visit
) -> None:
    path = reverse("web:engine-part-add", args=[shop.engine.public_id])
    page, _ = visit(shop.technician, path)
    fill(page, "G-9")
    page.click("text=Enter the part")
    page.fill("[name=number]", "G-5")
    page.click("text=Show what it would cause")
    causes = page.locator("section[aria-labelledby=causes]").inner_text()
    assert "No finding would change." in causes
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Enter the part"
    page.keyboard.press("Enter")
    page.wait_for_selector(".said")
    assert PartFitting.objects.filter(part__descriptions__number="G-5").exists()

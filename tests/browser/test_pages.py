"""Each page in a real browser: contrast, names and order by axe, nothing refused by the
content policy, nothing wider than the screen. Source of the rules: WCAG 2.2, level AA.

`CI=1` looks at every page both ways, otherwise each page is looked at one way.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from unicodedata import normalize

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from django.utils import timezone

from notices.models import Provision, Publication
from tests.browser.conftest import on_paper
from tests.factories.accounts import MembershipFactory, StationFactory
from tests.factories.compliance import entry
from tests.factories.fleet import EngineFactory, OwnerFactory
from tests.factories.notices import (
    ProvisionFactory,
    PublicationFactory,
    RevisionFactory,
)
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.fleet.fuel import FuelEntry
from tracker.fleet.models import Engine, FuelKind, Owner, Review
from tracker.fleet.parts import Fit, PartEntry
from tracker.fleet.register import FittingFacts, OperationFacts, give_login
from tracker.watch import outbox
from tracker.watch.models import Message, MessageKind

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

STEP = 1 if os.environ.get("CI") else 2
AXE = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}


@dataclass(frozen=True)
class Shop:
    """A station with a bit of everything, and somebody to look at it."""

    technician: Viewer
    owner_viewer: Viewer
    owner: Owner
    engine: Engine
    publication: Publication


def viewer(station, role: Role) -> Viewer:
    member = MembershipFactory(station=station, role=role)
    return Viewer(user=member.user, station=station, role=role)


def provision(station, days_ago, *, kind: str = "SB", serials=("1..9000",), **given):
    revision = RevisionFactory(
        publication=PublicationFactory(station=station, kind=kind),
        confirmed=True,
        issued_on=days_ago(220),
        effective_on=days_ago(200),
        applicability={"serial": list(serials)},
    )
    return ProvisionFactory(revision=revision, **given)


def table_of_oils(station, days_ago):
    """A row that suits, one that does not, one that goes on, one still open."""

    def row(grade: str, **more):
        ambient = {"from": -20, "to": 40}
        kinds = {"class": "mineral", "fuel": ["unleaded", "leaded"]}
        return {"id": grade, "grade": grade, "ambient": ambient, **kinds, **more}

    publication = PublicationFactory(station=station, kind="SL")
    return ProvisionFactory(
        revision=RevisionFactory(
            publication=publication, confirmed=True, effective_on=days_ago(200)
        ),
        kind=Provision.Kind.FLUIDS,
        rule__action={},
        rule__fluids=[
            row("15W-50"),
            row("20W-50", ambient={"from": 32, "unit": "F"}),
            row("100", note="For the first 50 hours."),
            row("50", when={"ask": "Is the sump the deep one?"}),
        ],
    )


def by_the_fuel():
    """A limit that the leaded share of the fuel shortens."""
    limit = {"hours": 100, "after": "effective"}
    short = {"when": {"leaded_share": {"over": 0.3}}, "then": {**limit, "hours": 50}}
    return {"initial": {"cases": [short, {"else": limit}]}}


def add_intervals(station, days_ago) -> None:
    """A base, extensions within reach, out of reach and undetermined, a restriction."""
    revision = RevisionFactory(
        publication=PublicationFactory(station=station, kind="SI"),
        confirmed=True,
        issued_on=days_ago(220),
        effective_on=days_ago(200),
    )
    for name, kind, hours, when in (
        ("base", "base", 3000, {"always": True}),
        ("pump", "extension", 3300, {"embodied": "SB-24-011"}),
        ("gear", "extension", 3600, {"serial": ["9001.."]}),
        ("listed", "extension", 3400, {"ask": "Is it in table 1?"}),
        ("fuel", "restriction", 2900, {"operation": ["commercial"]}),
    ):
        ProvisionFactory(
            revision=revision,
            kind=Provision.Kind.INTERVAL,
            title=f"{hours} h by the {name}",
            rule__condition=when,
            rule__action={},
            rule__interval={
                "id": name,
                "kind": kind,
                "hours": hours,
                "years": 12,
                "since": "overhaul",
                "binding": ["commercial"],
            },
        )


@pytest.fixture
def shop(transactional_db, days_ago) -> Shop:
    now = timezone.now()
    station = StationFactory(name="Tarnfield Engine Shop")
    technician, looks = viewer(station, Role.TECHNICIAN), viewer(station, Role.OWNER)
    owner = OwnerFactory(station=station, name="Brackwater Flying Group")
    give_login(owner, looks.user, now)
    within = {"initial": {"hours": 30, "after": "effective"}}
    late = provision(station, days_ago, kind="AD", rule__action=within)
    done = provision(station, days_ago, title="Replace the diaphragm")
    provision(station, days_ago, rule__action={"initial": {"event": "further flight"}})
    provision(station, days_ago, rule__action={"initial": {"date": str(days_ago(-20))}})
    provision(station, days_ago, rule__condition={"ask": "Is the case stamped R?"})
    provision(station, days_ago, serials=("9001..",))
    provision(station, days_ago, title="Change the oil", rule__action=by_the_fuel())
    RevisionFactory(publication=late.revision.publication)
    add_intervals(station, days_ago)
    table_of_oils(station, days_ago)
    engine = EngineFactory(
        station=station,
        serial="4731",
        owner=owner,
        built=days_ago(4000),
        fitting=FittingFacts(fitted=True, aircraft_type="TR-24", registration="ZZ-RHO"),
        operation=OperationFacts(
            uses=("private",), leaded_share="0.4", ambient_low="-8", ambient_high="33"
        ),
    )
    changes.start_meter(
        technician,
        engine,
        kind="time in service",
        on=days_ago(200),
        shown=270_000,
        at=now,
    )
    changes.add_reading(technician, engine, on=days_ago(3), shown=271_160, at=now)
    for day, kind in ((90, FuelKind.UNLEADED), (20, FuelKind.LEADED)):
        fuel = FuelEntry(on=days_ago(day), quantity="85.5", kind=kind)
        changes.add_fuel(technician, engine, fuel, at=now)
    changes.review(
        technician, engine, Review.HISTORY, "Jory", true_from=days_ago(2), at=now
    )
    changes.add_part(
        technician,
        engine,
        PartEntry(role="fuel pump", number="P-8801", serial="A-17"),
        Fit(engine_hours=270_000, hours_new=0),
        true_from=days_ago(190),
        at=now,
    )
    made = entry(days_ago(30), hours=271_000, provision=done)
    changes.record_work(technician, engine, made, at=now)
    letter = outbox.Letter(
        station=engine.station,
        kind=MessageKind.OVERDUE,
        key="a pump is overdue",
        address="office@post.example",
        subject="MX-4T · 4731: the pump is overdue",
        text="The pump is overdue.",
        owner=owner,
        engine=engine,
    )
    outbox.put(letter, at=now)
    return Shop(technician, looks, owner, engine, late.revision.publication)


def addresses(shop: Shop) -> dict[str, str]:
    engine, publication = [shop.engine.public_id], [shop.publication.public_id]
    revision = [shop.publication.revisions.get(confirmed_at=None).public_id]
    named = {
        "due": None,
        "due-open": None,
        "due-missing": None,
        "engine-list": None,
        "engine": engine,
        "engine-history": engine,
        "engine-not-applying": engine,
        "engine-overhaul": engine,
        "engine-fuel": engine,
        "engine-oils": engine,
        "engine-status": engine,
        "aircraft-status": engine,
        "owner-status": [shop.owner.public_id],
        "owner-list": None,
        "owner": [shop.owner.public_id],
        "owner-preferences": [shop.owner.public_id],
        "message-list": None,
        "message": [Message.objects.get().public_id],
        "publication-tell": publication,
        "publication-list": None,
        "publication": publication,
        "publication-not-affected": publication,
        "publication-revision": revision,
    }
    return {name: reverse(f"web:{name}", args=args) for name, args in named.items()}


@pytest.mark.parametrize(
    ("phone", "dark"),
    [(False, False), (True, True)],
    ids=["light on a desk", "dark on a phone"],
)
def test_every_page_can_be_read_by_everybody(
    shop: Shop, visit, phone: bool, dark: bool
) -> None:
    width = 390 if phone else 1440
    for name, path in [*addresses(shop).items()][int(phone) % STEP :: STEP]:
        page, seen = visit(shop.technician, path, phone=phone, dark=dark)
        found = Axe().run(page, options=AXE)
        assert found.violations_count == 0, f"{name}: {found.generate_report()}"
        assert seen == [], f"{name}: {seen}"
        widest = page.evaluate("document.documentElement.scrollWidth")
        assert widest <= width, f"{name} is {widest} px wide"
        page.close()


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_an_owner_reads_the_start_page_on_a_phone(
    shop: Shop, visit, dark: bool
) -> None:
    page, seen = visit(shop.owner_viewer, "/", phone=True, dark=dark)
    found = Axe().run(page, options=AXE)
    assert found.violations_count == 0, found.generate_report()
    assert seen == []
    assert "before further flight" in page.inner_text("h1")


def test_a_page_is_gone_through_by_keyboard(shop: Shop, visit) -> None:
    page, _ = visit(shop.technician, "/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the content"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    inside = "document.querySelector('main').contains(document.activeElement)"
    assert page.evaluate(inside)


def test_the_pages_work_without_script(shop: Shop, visit) -> None:
    page, _ = visit(shop.technician, reverse("web:engine-list"))
    page.fill("#q", "4731")
    page.click("form.search button")
    page.click("text=4731")
    assert "serial 4731" in page.inner_text("h1")


@pytest.mark.parametrize("width", [320, 390, 800, 1100, 1920])
def test_the_overhaul_page_fits_every_width(shop: Shop, visit, width: int) -> None:
    path = reverse("web:engine-overhaul", args=[shop.engine.public_id])
    page, seen = visit(shop.technician, path)
    page.set_viewport_size({"width": width, "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    shown = [
        kind for kind in ("narrow", "mid", "wide") if page.is_visible(f"svg.w-{kind}")
    ]
    assert len(shown) == 1
    assert seen == []


def test_the_overhaul_page_prints_with_the_answer_first_and_the_caution(
    shop: Shop, visit
) -> None:
    path = reverse("web:engine-overhaul", args=[shop.engine.public_id])
    page, _ = visit(shop.technician, path)
    printed = on_paper(page)
    sheets = [sheet.extract_text() for sheet in printed.pages]
    whole = " ".join(normalize("NFKC", " ".join(sheets)).split())
    assert whole.index("The overhaul interval is 3 000 h") < whole.index("Hours left")
    assert "embody SB-24-011" in whole
    assert "Whether an aircraft is airworthy is decided by its owner" in whole
    assert "Say that it is embodied" not in whole
    for number, text in enumerate(sheets, 1):
        assert f"sheet {number} of {len(sheets)}" in text


def test_the_status_prints_as_sheets_that_name_the_engine(shop: Shop, visit) -> None:
    page, _ = visit(
        shop.technician, reverse("web:engine-status", args=[shop.engine.public_id])
    )
    printed = on_paper(page)
    sheets = [sheet.extract_text() for sheet in printed.pages]
    for number, text in enumerate(sheets, 1):
        assert f"sheet {number} of {len(sheets)}" in text
        assert "serial 4731" in text or "Signature" in text
    whole = " ".join(normalize("NFKC", " ".join(sheets)).split())  # ligatures apart
    assert "Compliance status of" in whole
    assert "Head of the chain" in whole
    assert "Name, kind and number of certificate" in whole
    assert "Sign out" not in whole
    assert "Show that day" not in whole

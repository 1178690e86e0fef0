"""Each missing fact leads to the form that takes it."""

from __future__ import annotations

from datetime import date, datetime
from urllib.parse import urlsplit

import pytest
from django.test import Client
from django.urls import resolve, reverse

from tests.factories.fleet import OwnerFactory
from tests.tracker.web.reading import words_of
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.compliance.overview import PartNow
from tracker.fleet.models import Engine, PartDescription
from tracker.fleet.parts import Fit, PartEntry
from tracker.fleet.register import give_login
from tracker.web.remedies import remedy

pytestmark = pytest.mark.django_db

PUMP = "fuel pump P-8801, serial A-17"
LEADS = """
complete type designation (recorded as MX-4) | engine-identity
complete serial number (recorded as K-612-62B) | engine-identity
serial number of this type (recorded as 5OO2) | engine-identity
date of manufacture | engine-identity
shipping date | engine-identity
whether and when it was rebuilt | engine-identity
time since new | engine-identity
time since new of the engine | engine-identity
time since overhaul | engine-overhaul-add
date of the last overhaul | engine-overhaul-add
overhaul history | engine-overhaul-add
hours at the effective date | engine-reading-add
hours on 1 July 2020 | engine-reading-add
time since overhaul on the effective date | engine-reading-add
hours at the maker's rebuild | engine-rebuild-add
date of the maker's rebuild | engine-rebuild-add
hours at the last overhaul | engine-overhaul-add
when SB-24-011 was embodied | engine-record-past
whether SB-24-011 is embodied | engine-modification-add
whether SB-24-011 was complied with | engine-record-past
whether and when it was done | engine-record-past
whether and when there was: propeller strike | engine-event-add
hours at the event: propeller strike | engine-event-add
the answer to the question: Is it listed? | engine-questions
the answer to the question of fuel pump P-8801, serial A-17: Is it listed? | engine-questions
share of leaded fuel | engine-fuel
oil temperature | engine-operation
kind of operation | engine-operation
ambient temperatures of the coming season | engine-operation
kind of fuel in use | engine-fuel-add
aircraft it is fitted in | engine-aircraft
state of registry | engine-aircraft
turbocharger fitted | engine-part-add
which parts are fitted as turbocharger | engine-part-add
shipping date of fuel pump P-8801, serial A-17 | engine-part-describe
part number of fuel pump P-8801, serial A-17 | engine-part-describe
change letter of fuel pump P-8801, serial A-17 | engine-part-describe
date of manufacture of the fuel pump | engine-part-describe
when the fuel pump was fitted | engine-part-fitting
hours since the fuel pump was fitted | engine-part-fitting
hours since new of the fuel pump | engine-part-fitting
hours of the fuel pump at the effective date | engine-part-fitting
date of fitting of fuel pump P-8801, serial A-17 | engine-part-fitting
hours since overhaul of the fuel pump | engine-part-overhaul
date of the last overhaul of the fuel pump | engine-part-overhaul
date of manufacture of the magneto | engine-history
preservation | engine-attribute-add
The maker has not yet published the life of the gear. | nowhere
hours at the record of 1 March 2026 | nowhere
whether the record lies before the effective date | nowhere
effective date | nowhere
base interval | nowhere
when SI-18-001 oil-feed was entered | nowhere
the provision base, on which SI-18-001 oil-feed builds | nowhere
"""
"""fact | the form that it leads to"""


def part(engine: Engine, viewer: Viewer, now: datetime, place: str, **given) -> PartNow:
    made = changes.add_part(
        viewer,
        engine,
        PartEntry(**given),
        Fit(place=place),
        true_from=date(2026, 1, 10),
        at=now,
    )
    said = PartDescription.objects.select_related("part").get(part=made)
    return PartNow(
        description=said, place=place, fitted_on=None, hours_fitted=None, hours_new=None
    )


@pytest.fixture
def parts(engine: Engine, technician: Viewer, now: datetime) -> list[PartNow]:
    """A fuel pump and two magnetos."""
    pump = {"role": "fuel pump", "number": "P-8801", "serial": "A-17"}
    return [
        part(engine, technician, now, "", **pump),
        part(engine, technician, now, "left", role="magneto"),
        part(engine, technician, now, "right", role="magneto"),
    ]


@pytest.mark.parametrize("line", LEADS.strip().splitlines())
def test_a_fact_leads_to_its_form(
    engine: Engine, parts: list[PartNow], line: str
) -> None:
    fact, route = line.split(" | ")
    found = remedy(fact, engine, parts)
    path = urlsplit(found.address).path if found else ""
    assert (resolve(path).url_name if found else "nowhere") == route


@pytest.mark.parametrize(
    ("fact", "part", "name"),
    [
        ("preservation", "", "preservation"),
        (f"signal of {PUMP}", PUMP, "signal"),
        ("mode of ignition of the engine", "", "mode of ignition of the engine"),
    ],
)
def test_a_missing_property_is_filled_in(
    page: Client,
    engine: Engine,
    parts: list[PartNow],
    fact: str,
    part: str,
    name: str,
) -> None:
    found = remedy(fact, engine, parts)
    assert found is not None
    form = page.get(found.address).context["form"]
    about = next((p for p in parts if p.label == part), None)
    chosen = str(about.description.part.public_id) if about else ""
    assert (form["part"].value(), form["name"].value()) == (chosen, name)


def test_without_a_reading_time_since_new_asks_for_one(engine: Engine) -> None:
    engine.hours_now = None
    found = remedy("time since new", engine, [])
    assert found is not None
    assert resolve(found.address).url_name == "engine-reading-add"


def test_the_page_links_the_form_for_whom_it_is(
    page: Client, make_engine, make_provision, signed_in, viewer_as, now
) -> None:
    owner = viewer_as(Role.OWNER)
    kept = OwnerFactory(station=owner.station)
    give_login(kept, owner.user, now)
    make_provision(rule__condition={"embodied": "MOD-9"})
    engine = make_engine(reviewed=False, owner=kept)
    link = reverse("web:engine-modification-add", args=[engine.public_id])
    for client, linked in ((page, True), (signed_in(owner), False)):
        shown = client.get(reverse("web:engine", args=[engine.public_id]))
        assert "Whether MOD-9 is embodied" in words_of(shown)
        unknown = shown.content.decode().split('id="unknown"')[1].split("</section>")[0]
        assert (link in unknown) is linked

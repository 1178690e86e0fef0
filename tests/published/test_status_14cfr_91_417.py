"""What a printed status must hold, by the rules of the United States, field by field.

Source, as read in the electronic code: 14 CFR 91.417(a)(2)(i) to (v) as amended by Amdt
91-381 (90 FR 35222, 24 July 2025). The columns of the authority's suggested directive
compliance record (AC 43-9C, appendix 1; AC 43-9D, appendix A) are from memory: the form
was not seen, and no conformity is claimed. Propellers and rotors are not kept here.
"""

from __future__ import annotations

import io
from datetime import UTC, date, datetime

import pytest
from pypdf import PdfReader

from notices.models import Provision
from tests.factories.compliance import entry
from tests.factories.fleet import EngineFactory, EngineTypeFactory
from tests.factories.notices import (
    ProvisionFactory,
    PublicationFactory,
    RevisionFactory,
)
from tests.tracker.print.sheets import bare
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station
from tracker.compliance import changes
from tracker.compliance.models import Method
from tracker.compliance.summary import status_of
from tracker.fleet.models import Engine, Review
from tracker.fleet.parts import Fit, PartEntry
from tracker.fleet.register import FittingFacts
from tracker.print.documents import Making, document_of
from tracker.print.pdf import Paper, pdf_of
from tracker.print.sheet import HEADS

NOW = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
FITTED_ON = date(2026, 1, 10)
EACH_100_HOURS_OR_YEAR = {
    "initial": {"hours": 50, "after": "effective"},
    "repeat": {
        "first_of": [
            {"hours": 100, "after": "last done"},
            {"months": 12, "after": "last done"},
        ]
    },
}
LIFE = {"initial": {"hours": 1000, "after": {"part": "fuel pump", "since": "new"}}}


def provision(station: Station, kind: str, number: str, **given: object) -> Provision:
    publication = PublicationFactory(station=station, kind=kind, number=number)
    revision = RevisionFactory(
        publication=publication,
        confirmed=True,
        label="R1",
        issued_on=date(2026, 1, 5),
        effective_on=FITTED_ON,
        entered_at=datetime(2026, 1, 12, 8, 0, tzinfo=UTC),
    )
    return ProvisionFactory(revision=revision, **given)


@pytest.fixture
def engine(station: Station, technician: Viewer) -> Engine:
    """With 480 h when it was fitted and 520 h now, overhauled at 400 h."""
    made = EngineFactory(
        station=station,
        engine_type=EngineTypeFactory(station=station, designation="MX-4T"),
        serial="4731",
        built=date(2020, 3, 1),
        true_from=FITTED_ON,
        at=NOW,
        fitting=FittingFacts(
            aircraft_type="TR-24", registration="ZZ-RHO", airframe_hours=210_000
        ),
    )
    changes.start_meter(
        technician,
        made,
        kind="time in service",
        on=FITTED_ON,
        shown=48_000,
        at=NOW,
    )
    changes.add_reading(technician, made, on=NOW.date(), shown=52_000, at=NOW)
    changes.add_overhaul(
        technician,
        made,
        on=date(2025, 3, 1),
        hours=40_000,
        done_by="a shop",
        at=NOW,
        tested="to limits",
    )
    changes.review(technician, made, Review.HISTORY, "R", true_from=NOW.date(), at=NOW)
    changes.add_part(
        technician,
        made,
        PartEntry(role="fuel pump", number="P-8801", serial="A-17"),
        Fit(engine_hours=48_000, hours_new=10_000, hours_overhaul=2_000),
        true_from=FITTED_ON,
        at=NOW,
    )
    return made


@pytest.fixture
def text(station: Station, technician: Viewer, engine: Engine) -> str:
    """The words of the printed status, without blanks."""
    directive = provision(
        station,
        "AD",
        "2026-01-05",
        title="Inspect the fuel pump",
        rule__action=EACH_100_HOURS_OR_YEAR,
    )
    annual = provision(
        station,
        "scheduled",
        "Annual inspection",
        title="Annual inspection",
        rule__action={
            "initial": {"months": 12, "after": "effective", "calendar": True},
            "repeat": {"months": 12, "after": "last done", "calendar": True},
        },
    )
    provision(
        station,
        "ALS",
        "ALS-MX",
        title="Life of the fuel pump",
        role="fuel pump",
        rule__action=LIFE,
    )
    for done in (directive, annual):
        made = entry(
            date(2026, 6, 1),
            hours=50_000,
            airframe_hours=212_000,
            provision=done,
            method=Method.INSPECTED,
            remarks="Next at the annual.",
        )
        changes.record_work(technician, engine, made, at=NOW)
    status = status_of(engine, on=NOW.date())
    making = Making(on=NOW.date(), known_at=None, made_at=NOW, zone="Europe/Lisbon")
    content = pdf_of(document_of(status, making), paper=Paper.A4, made_at=NOW)
    pages = PdfReader(io.BytesIO(content)).pages
    return bare("\n".join(page.extract_text() for page in pages))


def after(text: str, words: str) -> str:
    """What follows some words, to look into one part of a print."""
    return text[text.index(bare(words)) :]


class TestRecordsToKeep:
    """14 CFR 91.417(a)(2): records containing the following information."""

    def test_i_total_time_in_service_of_the_airframe(self, text: str) -> None:
        assert bare("Airframe hours 2 140.0 h") in text

    def test_i_total_time_in_service_of_each_engine(self, text: str) -> None:
        assert bare("TSN 520.0 h") in text

    def test_ii_the_current_status_of_life_limited_parts(self, text: str) -> None:
        """Its time since new, and where its life ends: 900 h after 480 h."""
        [limits] = [
            part
            for part in after(text, "Airworthiness limitations").split("ALS-MX")
            if bare("Life of the fuel pump") in part
        ]
        assert bare("Fuel pump, P-8801, serial A-17") in limits
        assert bare("Within 1 000 h after the fuel pump was new") in limits
        assert bare("1 380.0 h") in limits
        assert bare("Fuel pump P-8801 A-17") in after(text, "Fitted parts")
        assert bare("140.0 h") in after(text, "Fitted parts")

    def test_iii_the_time_since_last_overhaul(self, text: str) -> None:
        assert bare("TSO 120.0 h") in text
        assert bare("60.0 h") in after(text, "Fitted parts")

    def test_iv_the_current_inspection_status_with_time_since_the_last(
        self, text: str
    ) -> None:
        inspections = after(text, "Scheduled inspections")
        assert bare("Annual inspection") in inspections
        assert bare("1 Jun 2026") in inspections
        assert bare("20.0 h and 176 days ago") in inspections
        assert bare("30 Jun 2027") in inspections

    def test_v_the_current_status_of_applicable_directives(self, text: str) -> None:
        """Method of compliance, number, revision date, and when next: time and date."""
        line = after(text, "Airworthiness directives")
        line = line[: line.index(bare("Airworthiness limitations"))]
        assert bare("2026-01-05 rev. R1, effective 10 Jan 2026") in line
        assert bare("Inspected") in line
        assert bare("600.0 h or 1 Jun 2027") in line
        assert bare("recurring") in line


def test_the_columns_of_the_suggested_form_are_there_and_filled(text: str) -> None:
    """AC 43-9, suggested directive compliance record; its columns are from memory."""
    for head in (
        *("document", "subject", "asks", "method", "done_on", "airframe"),
        *("component", "next", "signatory", "remarks"),
    ):
        assert bare(HEADS[head]) in text
    row = after(text, "Airworthiness directives")
    form = {
        "number and amendment": "2026-01-05 rev. R1, effective 10 Jan 2026",
        "date received": "received 12 Jan 2026",
        "subject": "Inspect the fuel pump",
        "compliance due": "Within 50 h after the effective date; then again within",
        "method of compliance": "Inspected",
        "date of compliance": "1 Jun 2026",
        "airframe total time at compliance": "2 120.0 h",
        "component total time at compliance": "500.0 h",
        "next due, hours and other": "600.0 h or 1 Jun 2027",
        "one-time or recurring": "recurring",
        "authorised signature, certificate type and number": (
            "Runa Tveit, inspection authorization, ZZ-4471"
        ),
        "remarks": "Next at the annual.",
    }
    at = 0
    for name, words in form.items():
        found = row.find(bare(words), at)
        assert found >= 0, name
        at = found


def test_the_heading_names_make_model_and_serial_and_the_aircraft(text: str) -> None:
    """AC 43-9, heading of the form: make, model, serial, registration; from memory."""
    for words in (
        "Maker Halvorsen Engines",
        "Type designation MX-4T",
        "Serial number 4731",
        "Fitted in TR-24 ZZ-RHO",
    ):
        assert bare(words) in text


def test_it_says_whom_it_was_made_for_and_when(text: str) -> None:
    assert bare("Computed on 24 November 2026 at 09:30 (Europe/Lisbon)") in text
    assert bare("3 of 3 current publications were evaluated") in text

"""What a record and a status must hold, by the rules of the United States.

Sources, as read in the electronic code: 14 CFR 91.417(a)(2)(v) as amended by Amdt
91-381 (90 FR 35222, 24 July 2025); 14 CFR 43.9(a)(1) to (4); 14 CFR 43.11(a)(2); 14 CFR
43.2(a)(2) as amended by Amdt 43-43 (74 FR 53394, 16 October 2009); 14 CFR 91.421. The columns of the authority's suggested form for directives (AC 43-9C, appendix
1) are from memory: the form itself was not seen, and no conformity is claimed.
"""

from __future__ import annotations

from datetime import date, datetime

import pytest

from notices.models import Provision
from tests.factories.compliance import APPROVAL, entry, past_entry
from tests.factories.fleet import EngineFactory
from tests.factories.notices import (
    ProvisionFactory,
    PublicationFactory,
    RevisionFactory,
)
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station
from tracker.compliance import changes
from tracker.compliance.ledger import RecordRefused
from tracker.compliance.models import Method, Record
from tracker.compliance.summary import Line, status_of
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine, Review

DONE_ON = date(2026, 6, 1)


@pytest.fixture
def engine(station: Station, technician: Viewer, now: datetime) -> Engine:
    """Built in 2020, with 480 h on 10 January and 520 h on 24 November 2026."""
    engine = EngineFactory(station=station, built=date(2020, 3, 1))
    changes.start_meter(
        technician,
        engine,
        kind="time in service",
        on=date(2026, 1, 10),
        shown=48_000,
        at=now,
    )
    changes.add_reading(technician, engine, on=now.date(), shown=52_000, at=now)
    changes.review(
        technician, engine, Review.HISTORY, "R", true_from=now.date(), at=now
    )
    return Engine.objects.get(pk=engine.pk)


def directive(station: Station, action: dict) -> Provision:
    publication = PublicationFactory(station=station, kind="AD", number="2026-01-05")
    revision = RevisionFactory(
        publication=publication,
        confirmed=True,
        label="R1",
        issued_on=date(2026, 1, 5),
        effective_on=date(2026, 1, 10),
    )
    return ProvisionFactory(
        revision=revision, title="Inspect the fuel pump", rule__action=action
    )


RECURRING = {
    "initial": {"hours": 50, "after": "effective"},
    "repeat": {
        "first_of": [
            {"hours": 100, "after": "last done"},
            {"months": 12, "after": "last done"},
        ]
    },
}


@pytest.fixture
def recorded(station, technician: Viewer, engine: Engine, now) -> Record:
    done = entry(
        DONE_ON,
        hours=50_000,
        airframe_hours=210_050,
        provision=directive(station, RECURRING),
        method=Method.INSPECTED,
        description="Fuel pump inspected, no wear found.",
        remarks="Next at the annual.",
    )
    return changes.record_work(technician, engine, done, at=now)


@pytest.fixture
def line(recorded: Record, now) -> Line:
    [line] = status_of(recorded.engine, on=now.date()).lines
    return line


class TestStatusOfDirectives:
    """14 CFR 91.417(a)(2)(v): the current status of applicable directives."""

    def test_the_method_of_compliance(self, line: Line) -> None:
        assert line.method == "inspected"

    def test_the_directive_number(self, line: Line) -> None:
        assert line.number == "2026-01-05"

    def test_the_revision_date(self, line: Line) -> None:
        assert line.revision_date == date(2026, 1, 10)
        assert line.revision.label == "R1"

    def test_if_recurring_time_and_date_of_the_next_action(self, line: Line) -> None:
        assert line.recurring
        assert (line.next_tsn, line.next_on) == (60_000, date(2027, 6, 1))
        assert line.next_note == ""

    def test_a_recurring_action_without_a_date_says_why_there_is_none(
        self, station, engine, technician, now
    ) -> None:
        """The rule asks for time and date; a directive may set no calendar limit."""
        action = {**RECURRING, "repeat": {"hours": 100, "after": "last done"}}
        provision = directive(station, action)
        done = entry(DONE_ON, hours=50_000, provision=provision)
        changes.record_work(technician, engine, done, at=now)
        [line] = status_of(engine, on=now.date()).lines
        assert (line.next_tsn, line.next_on) == (60_000, None)
        assert line.next_note == "no calendar limit"

    def test_date_and_hours_of_the_last_compliance_are_shown_too(
        self, line: Line
    ) -> None:
        """Not asked for by the paragraph; a printout without them is of little use."""
        assert (line.complied_on, line.complied_tsn) == (DONE_ON, 50_000)

    def test_a_status_without_record_is_not_defective_for_lacking_them(
        self, station, engine, now
    ) -> None:
        directive(station, RECURRING)
        [line] = status_of(engine, on=now.date()).lines
        assert (line.number, line.method) == ("2026-01-05", "")
        assert line.next_tsn == 53_000


class TestMaintenanceEntry:
    """14 CFR 43.9(a): what an entry of maintenance contains."""

    def test_1_a_description_of_the_work_or_reference_to_data(
        self, recorded: Record
    ) -> None:
        said = recorded.text
        assert said["work"] == "Fuel pump inspected, no wear found."
        assert said["document"]["number"] == "2026-01-05"
        assert said["document"]["revision"] == "R1"

    def test_2_the_date_of_completion(self, recorded: Record) -> None:
        assert recorded.text["on"] == "2026-06-01"

    def test_3_the_name_of_the_person_who_did_it(self, recorded: Record) -> None:
        assert recorded.text["done_by"] == "Jory Penhale"

    def test_4_who_approved_with_number_and_kind_of_certificate(
        self, recorded: Record
    ) -> None:
        assert recorded.text["approved_by"] == {
            "name": APPROVAL.name,
            "certificate_kind": APPROVAL.certificate_kind,
            "certificate_number": APPROVAL.certificate_number,
        }

    def test_total_time_in_service_of_the_aircraft_and_of_the_engine(
        self, recorded: Record
    ) -> None:
        """43.11(a)(2) asks for the aircraft's total time, also in an engine record."""
        assert recorded.text["airframe_hours"] == "2100.50"
        assert recorded.text["tsn"] == "500.00"


def test_the_columns_of_the_suggested_form_are_filled(line: Line) -> None:
    """AC 43-9, suggested directive compliance record; its columns are from memory."""
    form = {
        "number and amendment": (line.number, line.revision.label),
        "date received": line.revision.entered_at is not None,
        "subject": line.subject,
        "due, hours and other": (line.next_tsn, line.next_on, line.next_events),
        "method of compliance": line.method,
        "date of compliance": line.complied_on,
        "airframe total time at compliance": line.airframe_hours,
        "component total time at compliance": line.complied_tsn,
        "one-time or recurring": line.recurring,
        "authorised signature, certificate type and number": line.signatory,
        "remarks": line.remarks,
    }
    assert form == {
        "number and amendment": ("2026-01-05", "R1"),
        "date received": True,
        "subject": "Inspect the fuel pump",
        "due, hours and other": (60_000, date(2027, 6, 1), ()),
        "method of compliance": "inspected",
        "date of compliance": DONE_ON,
        "airframe total time at compliance": 210_050,
        "component total time at compliance": 50_000,
        "one-time or recurring": True,
        "authorised signature, certificate type and number": (
            "Runa Tveit, inspection authorization, ZZ-4471"
        ),
        "remarks": "Next at the annual.",
    }


class TestRebuildAndOverhaul:
    """14 CFR 91.421 and 43.2: only a maker's rebuild begins a new record of time."""

    def test_an_overhaul_leaves_total_time_and_sets_time_since_overhaul_to_zero(
        self, engine: Engine, technician: Viewer, now
    ) -> None:
        changes.add_overhaul(
            technician,
            engine,
            on=now.date(),
            hours=52_000,
            done_by="a shop",
            at=now,
            tested="to limits",
        )
        status = status_of(engine, on=now.date())
        assert (status.tsn, status.tso) == (52_000, 0)

    def test_a_rebuild_by_the_maker_begins_total_time_at_zero(
        self, engine: Engine, technician: Viewer, now
    ) -> None:
        changes.add_rebuild(technician, engine, on=now.date(), hours=52_000, at=now)
        status = status_of(engine, on=now.date())
        assert (status.tsn, status.hours) == (0, 52_000)


class TestOverhauledMeansTested:
    """14 CFR 43.2(a)(2): described as overhauled only what was, among others, tested."""

    WORK = "Engine overhauled to the maker's manual, revision 7."

    def test_work_that_says_overhauled_and_notes_no_test_is_refused(
        self, engine: Engine, technician: Viewer, now: datetime
    ) -> None:
        work = entry(now.date(), hours=52_000, description=self.WORK)
        with pytest.raises(RecordRefused, match="nothing of a test") as refused:
            changes.record_work(technician, engine, work, at=now)
        assert refused.value.field == "description"
        assert not Record.objects.exists()

    @pytest.mark.parametrize(
        "noted",
        [
            {"description": f"{WORK} Tested to its test sheet, chapter 9."},
            {"description": WORK, "remarks": "No test noted."},
            {"description": "Magneto fitted, next overhaul at 500 h."},
        ],
    )
    def test_with_its_test_or_marked_as_without_it_is_kept(
        self, engine: Engine, technician: Viewer, now: datetime, noted: dict[str, str]
    ) -> None:
        work = entry(now.date(), hours=52_000, **noted)
        record = changes.record_work(technician, engine, work, at=now)
        assert record.description == noted["description"]

    def test_a_log_is_transcribed_as_it_says(
        self, engine: Engine, technician: Viewer, now: datetime
    ) -> None:
        old = past_entry(date(2024, 3, 1), description=self.WORK)
        assert (
            changes.record_work(technician, engine, old, at=now).kind == "transcribed"
        )

    def test_an_overhaul_of_the_history_needs_its_test_too(
        self, engine: Engine, technician: Viewer, now: datetime
    ) -> None:
        with pytest.raises(Refused, match="tested") as refused:
            changes.add_overhaul(technician, engine, on=now.date(), at=now)
        assert refused.value.field == "tested"
        row = changes.add_overhaul(
            technician, engine, on=now.date(), transcribed=True, at=now
        )
        assert row.lacks_a_test

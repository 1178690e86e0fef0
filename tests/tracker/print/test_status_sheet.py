"""A status in words: what is known, what is not, and what was signed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests.factories.compliance import entry, past_entry
from tests.factories.fleet import OwnerFactory
from tracker.compliance import changes
from tracker.compliance.ledger import Alternative, Inspection
from tracker.compliance.models import Method
from tracker.compliance.summary import status_of
from tracker.fleet.parts import Fit, PartEntry
from tracker.fleet.register import FittingFacts, OperationFacts
from tracker.print.sheet import Item, Section, Sheet
from tracker.print.status_sheet import sheet_of

DONE = date(2026, 6, 1)
REPEATED = {
    "initial": {"hours": 50, "after": "effective"},
    "repeat": {"hours": 100, "after": "last done"},
}
BASE = {
    "id": "base",
    "kind": "base",
    "hours": 500,
    "years": 12,
    "since": "overhaul",
    "binding": ["commercial"],
}
LONGER = {"id": "longer", "kind": "extension", "hours": 700, "since": "overhaul"}
ONCE = {"initial": {"hours": 50, "after": "effective"}}


@pytest.fixture
def sheet(today, now):
    def make(engine, on: date | None = None) -> Sheet:
        status = status_of(engine, on=on or today)
        return sheet_of(status, made_at=now, zone="Europe/Lisbon")

    return make


def section(sheet: Sheet, key: str) -> Section:
    return next(each for each in sheet.sections if each.key == key)


def facts(sheet: Sheet) -> dict[str, str]:
    return {fact.name: fact.value for fact in sheet.facts}


def unknown(sheet: Sheet) -> set[str]:
    return {fact.name for fact in sheet.facts if not fact.known}


def only(sheet: Sheet) -> Item:
    [item] = sheet.items()
    return item


def test_what_is_known_of_an_engine_stands_in_its_facts(
    sheet, make_engine, station
) -> None:
    engine = make_engine(
        owner=OwnerFactory(station=station, name="L. Tamsin"),
        operation=OperationFacts(uses=("private", "commercial")),
        fitting=FittingFacts(
            aircraft_type="TR-24", registration="ZZ-RHO", position="left"
        ),
    )
    made = sheet(engine)
    assert facts(made) == {
        "Maker": "Halvorsen Engines",
        "Type designation": engine.engine_type.designation,
        "Serial number": engine.serial,
        "Date of manufacture": "1 Mar 2020",
        "Fitted in": "TR-24 ZZ-RHO, left",
        "Owner": "L. Tamsin",
        "Operation": "private, commercial",
        "Last reading": "24 Nov 2026, time in service",
        "TSN": "520.0\u00a0h",
        "TSO": "never overhauled",
        "Airframe hours": "not known",
        "History reviewed": "20 Nov 2026",
    }
    assert unknown(made) == {"Airframe hours"}
    assert made.running == (
        str(engine),
        "in TR-24 ZZ-RHO, left",
        "as of 24 Nov 2026",
        "TSN 520.0\u00a0h",
    )


def test_what_is_not_known_is_said_to_be_so(sheet, make_engine) -> None:
    made = sheet(make_engine(reviewed=False, built=None), on=date(2026, 1, 9))
    assert unknown(made) == {
        "Date of manufacture",
        "Fitted in",
        "Owner",
        "Operation",
        "Last reading",
        "TSN",
        "TSO",
        "Airframe hours",
        "History reviewed",
    }
    assert facts(made)["Last reading"] == "never read"
    assert facts(made)["TSN"] == "not known"
    assert made.running[-1] == "TSN not known"
    assert (made.head, made.chain) == ("none", "")
    assert made.chain_note == "No record is in the ledger."


def test_an_engine_out_of_an_aircraft_says_so(sheet, make_engine) -> None:
    made = sheet(make_engine(fitting=FittingFacts(fitted=False)))
    assert facts(made)["Fitted in"] == "no aircraft"
    assert len(made.running) == 3


def test_the_day_and_the_moment_of_making_are_said(sheet, engine, now) -> None:
    made = sheet(engine)
    known = "with all that is known on 24 November 2026"
    assert made.as_of == f"As of 24 November 2026, {known}."
    assert made.made == "Computed on 24 November 2026 at 09:30 (Europe/Lisbon)"
    status = status_of(engine, on=date(2026, 11, 22), known_at=now)
    then = sheet_of(status, made_at=now, zone="Asia/Tokyo")
    assert then.as_of.endswith("as it was known at the end of that day.")
    assert then.made == "Computed on 24 November 2026 at 18:30 (Asia/Tokyo)"


def test_states_are_counted_the_most_urgent_first(
    sheet, engine, make_provision
) -> None:
    make_provision(rule__action={"initial": {"date": "2026-02-01"}})
    make_provision(rule__condition={"ask": "Is the case stamped R?"})
    make_provision(rule__condition={"serial": ["1"]})
    make_provision(rule__condition={"serial": ["1"]})
    assert [mark.said for mark in sheet(engine).counts] == [
        "1 overdue",
        "1 undetermined",
        "2 do not apply, listed below",
    ]


def test_a_search_is_open_where_nobody_noted_it_or_long_ago(
    sheet, engine, technician, today, now
) -> None:
    changes.note_search(
        technician,
        engine,
        "bulletins",
        searched_to=today - timedelta(days=100),
        source="list of the maker",
        person="Runa Tveit",
        at=now,
    )
    made = sheet(engine)
    assert section(made, "undetermined").says == (
        "Nobody has noted how far the search for directives went.",
        "Bulletins were searched to 16 August 2026 (list of the maker, Runa Tveit). "
        "That is older than 45 days.",
    )
    table = section(made, "basis").table
    assert table is not None
    assert [row[2] for row in table.rows] == [
        "not noted: treat as open",
        "16 Aug 2026, old: treat as open",
    ]


def test_what_is_undetermined_names_the_fact_that_is_missing(
    sheet, engine, make_provision
) -> None:
    make_provision(rule__condition={"attribute": "drive", "in": ["geared"]})
    item = only(sheet(engine))
    assert item.mark.state == "undetermined"
    assert item.missing == "Missing: drive. Treat as open."


def test_an_item_that_was_done_says_how_and_when_next(
    sheet, engine, make_provision, technician, now
) -> None:
    provision = make_provision(kind="AD", rule__action=REPEATED)
    made = entry(
        DONE,
        hours=50_050,
        airframe_hours=212_345,
        provision=provision,
        method=Method.INSPECTED,
        remarks="Next at the annual.",
    )
    changes.record_work(technician, engine, made, at=now)
    item = only(sheet(engine))
    assert item.asks == (
        "Within 50\u00a0h after the effective date; "
        "then again within 100\u00a0h after it was last done"
    )
    assert (item.method, item.done_on) == ("Inspected", "1 Jun 2026")
    assert (item.component, item.airframe) == ("500.5\u00a0h", "2\u202f123.5\u00a0h")
    assert (item.next_hours, item.next_other) == ("600.5\u00a0h", "")
    assert (item.recurring, item.next_note) == ("recurring", "no calendar limit")
    assert item.signatory == "Runa Tveit, inspection authorization, ZZ-4471"
    assert (item.remarks, item.record) == ("Next at the annual.", "1")
    assert item.since == ""


def test_an_alternative_method_names_its_approval(
    sheet, engine, make_provision, technician, now
) -> None:
    """14 CFR 39.19: without an approval it is none."""
    provision = make_provision(kind="AD", rule__action=ONCE)
    made = entry(
        DONE,
        hours=50_000,
        provision=provision,
        method=Method.ALTERNATIVE,
        alternative=Alternative(reference="AMOC 26-14", approved_by="the authority"),
    )
    changes.record_work(technician, engine, made, at=now)
    printed = sheet(engine)
    said = "Alternative method: AMOC 26-14, approved by the authority"
    assert only(printed).method == said
    history = section(printed, "history").table
    assert history is not None
    assert history.rows[0][6] == said


def test_an_inspection_says_how_long_ago_and_what_came_of_it(
    sheet, engine, make_provision, technician, now
) -> None:
    """14 CFR 91.417(a)(2)(iv): time since the last inspection; 43.11: what was found."""
    annual = make_provision(
        kind="scheduled",
        title="Annual inspection",
        rule__action={
            "initial": {"months": 12, "after": "effective", "calendar": True},
            "repeat": {"months": 12, "after": "last done", "calendar": True},
        },
    )
    made = entry(
        DONE,
        hours=50_000,
        airframe_hours=90_000,
        provision=annual,
        method=Method.INSPECTED,
        inspection=Inspection(
            extent="annual inspection", airworthy=False, discrepancies=("Oil leak.",)
        ),
    )
    changes.record_work(technician, engine, made, at=now)
    printed = sheet(engine)
    item = only(printed)
    assert item.since == "20.0\u00a0h and 176\u00a0days ago"
    assert (item.next_hours, item.next_other) == ("", "30 Jun 2027")
    history = section(printed, "history").table
    assert history is not None
    assert history.rows[0][5] == (
        "Fuel pump inspected, no wear found. annual inspection. Found unairworthy. "
        "1 discrepancy."
    )


def test_what_counts_from_other_work_says_from_which(
    sheet, engine, make_provision, technician, now
) -> None:
    annual = make_provision(kind="scheduled", number="Annual inspection")
    each = {
        "initial": {"hours": 100, "after": "effective"},
        "counts": [annual.revision.publication.title],
        "repeat": {"hours": 100, "after": "last done"},
    }
    hundred = make_provision(
        kind="scheduled", number="100-hour inspection", rule__action=each
    )

    def grounds() -> str:
        [item] = [i for i in sheet(engine).items() if i.number == "100-hour inspection"]
        return item.grounds

    for provision, day, hours in ((hundred, 1, 49_000), (annual, 11, 50_030)):
        assert grounds() == ""
        made = entry(date(2026, 10, day), hours=hours, provision=provision)
        changes.record_work(technician, engine, made, at=now)
    assert grounds() == (
        f"Counted from the {annual.revision.publication.title} of 11 Oct 2026 at "
        "500.3\u00a0h."
    )


def test_a_part_stands_with_its_hours_in_item_and_list(
    sheet, engine, make_provision, technician, now
) -> None:
    part = changes.add_part(
        technician,
        engine,
        PartEntry(role="fuel pump", number="P-8801", serial="A-17", change="C"),
        Fit(engine_hours=48_000, hours_new=1_000),
        true_from=date(2026, 1, 10),
        at=now,
    )
    provision = make_provision(role="fuel pump", rule__action=ONCE)
    made = entry(DONE, hours=50_000, part_hours=3_000, provision=provision, part=part)
    changes.record_work(technician, engine, made, at=now)
    printed = sheet(engine)
    item = only(printed)
    assert item.part == "Fuel pump, P-8801, serial A-17"
    assert item.part_hours == "part 30.0\u00a0h"
    table = section(printed, "parts").table
    assert table is not None
    [row] = table.rows
    assert row == (
        "Fuel pump",
        "P-8801",
        "A-17",
        "C",
        "10 Jan 2026",
        "50.0\u00a0h",
        "",
        "40.0\u00a0h",
    )
    history = section(printed, "history").table
    assert history is not None
    assert history.rows[0][5].startswith("Fuel pump P-8801 A-17. ")


def test_history_lists_valid_records_the_newest_first(
    sheet, engine, technician, now
) -> None:
    """A void record and the one that voids it leave a gap; the head counts them all."""
    made = [
        past_entry(date(2026, month, 1), hours=48_000 + month * 100, page="4")
        for month in (2, 3)
    ]
    kept, voided = (
        changes.record_work(technician, engine, each, at=now) for each in made
    )
    changes.void_record(technician, voided, reason="Wrong engine.", at=now)
    printed = sheet(engine)
    history = section(printed, "history").table
    assert history is not None
    assert [row[0] for row in history.rows] == [str(kept.sequence)]
    assert history.rows[0][7:] == (
        "",
        "transcribed from logbook, page 4; signatory not seen",
    )
    assert printed.chain_note == "From 3 records. Head of the chain:"
    assert printed.chain == engine.records.latest("sequence").hash


def test_a_document_that_says_several_things_names_each_that_does_not_apply(
    sheet, engine, make_provision
) -> None:
    first = make_provision(
        number="SB-1", title="Inspect it", rule__condition={"serial": ["1"]}
    )
    make_provision(
        revision=first.revision, title="Replace it", rule__condition={"serial": ["2"]}
    )
    make_provision(number="SB-2", title="Grease it", rule__condition={"serial": ["3"]})
    reasons = section(sheet(engine), "not-applicable").reasons
    label = f"rev. {first.revision.label}"
    assert [one.about for one in reasons][:2] == [
        f"{label}, Inspect it",
        f"{label}, Replace it",
    ]
    assert "Grease it" not in reasons[2].about
    assert reasons[2].why == f"Serial number {engine.serial} is not 3."


def test_an_empty_library_leaves_nothing_unsaid(sheet, engine) -> None:
    printed = sheet(engine)
    for key in ("applies", "not-adopted", "not-applicable", "parts", "history"):
        assert section(printed, key).is_empty
        assert section(printed, key).empty
    assert "The library is empty." in section(printed, "basis").says[0]
    assert list(printed.items()) == []


def test_the_overhaul_interval_stands_with_source_remaining_and_whether_it_is_law(
    sheet, interval, evaluated
) -> None:
    base = interval(BASE)
    interval(LONGER, when={"embodied": "SB-24-011"}, beside=base)
    found = section(sheet(evaluated("commercial")), "overhaul")
    first, source, law, longer = (text.replace("\u00a0", " ") for text in found.says)
    assert first == (
        "This engine is 20.0 h past its overhaul interval of 500 h or 12 years since "
        "new, which ended at 500.0 h TSN."
    )
    assert source == f"It comes from “500 h” of SI-18-001 revision {label(base)}."
    assert law == "It is law in commercial operation."
    assert "700 h if you embody SB-24-011 (man-hours not known)" in longer
    [own, offer] = found.table.rows
    assert own[2:6] == (
        "applies",
        "500\u00a0h or 12 years",
        "500.0\u00a0h or 1 Mar 2032",
        "law",
    )
    assert offer[2] == "within reach"
    assert offer[6] == "Embody SB-24-011 (man-hours not known)"


def label(provision) -> str:
    return provision.revision.label


def test_past_a_recommended_interval_a_status_lists_nothing_as_overdue(
    sheet, interval, evaluated
) -> None:
    interval(BASE)
    made = sheet(evaluated("private"))
    assert [mark.said for mark in made.counts] == [
        "past the recommended overhaul interval since 500.0\u00a0h"
    ]
    [item] = made.items()
    assert item.mark.said == "past the recommended interval"
    assert (item.next_hours, item.next_other) == (
        "500.0\u00a0h",
        "or\u00a01\u00a0Mar\u00a02032",
    )
    found = section(made, "overhaul")
    assert "20.0\u00a0h past its recommended overhaul interval" in found.says[0]
    assert "recommendation, and nothing falls due" in found.says[2]


def test_past_an_interval_that_is_law_a_status_lists_it_as_overdue(
    sheet, interval, evaluated
) -> None:
    interval(BASE)
    item = only(sheet(evaluated("commercial")))
    assert item.mark.state == "overdue"
    assert item.asks.startswith("500\u00a0h or 12 years since overhaul")
    assert item.next_hours == "500.0\u00a0h"


def test_the_interval_is_told_as_it_was_on_a_past_day(
    sheet, interval, evaluated
) -> None:
    """Read on 2026-01-10 at 480 h and on 11-24; the history was reviewed on 11-20; the
    document held from 01-15 on.
    """
    interval(BASE)
    engine = evaluated("commercial")
    then = section(sheet(engine, on=date(2026, 11, 22)), "overhaul")
    assert "It ends at 500.0\u00a0h TSN, in 20.0\u00a0h" in then.says[0]
    unreviewed = section(sheet(engine, on=date(2026, 11, 19)), "overhaul")
    assert "where it ends cannot be said" in unreviewed.says[0]
    before = section(sheet(engine, on=date(2026, 1, 14)), "overhaul")
    assert before.is_empty
    assert before.empty.startswith("No document in force says anything")

"""What each kind of provision comes to, and what is known of the past."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest

from notices.rules.facts import UNKNOWN
from tests.factories.compliance import entry, past_entry
from tests.factories.fleet import EngineTypeFactory, OwnerFactory, PartRoleFactory
from tests.factories.notices import RevisionFactory
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.due import due_list
from tracker.compliance.facts import engine_files
from tracker.compliance.facts.rows import QUERIES
from tracker.compliance.ledger import Alternative, FreeDocument
from tracker.compliance.models import Closed, Finding, Method
from tracker.compliance.summary import status_of
from tracker.fleet.models import Engine
from tracker.fleet.parts import Fit, PartEntry
from tracker.fleet.register import FittingFacts, OperationFacts

DAY = date(2026, 11, 20)


def facts_of(engine: Engine, on: date = date(2026, 11, 24)):
    engine = Engine.objects.select_related("engine_type").get(pk=engine.pk)
    return engine_files([engine], on=on)[engine.pk].facts


# -- kinds of provision


def test_a_prohibition_stays_in_force_and_is_never_completed(
    technician: Viewer, engine, make_provision, today, now
) -> None:
    provision = make_provision(rule__action={})
    type(provision).objects.filter(pk=provision.pk).update(kind="prohibition")
    done = entry(DAY, hours=51_000, provision=provision)
    changes.record_work(technician, engine, done, at=now)
    [row] = due_list(technician, today).rows
    assert row.word == "outstanding"
    assert row.sentence == "In force: no record completes it."


@pytest.mark.parametrize("kind", ["information", "overhaul interval", "oils and fluids"])  # fmt: skip
def test_what_asks_for_nothing_has_nothing_due(
    engine, make_provision, today, now, kind
) -> None:
    provision = make_provision(rule__action={})
    type(provision).objects.filter(pk=provision.pk).update(kind=kind)
    changes.refresh_station(engine.station, today, at=now)
    assert Finding.objects.get().closed == Closed.NOTHING_DUE
    [line] = status_of(engine, on=today).lines
    assert line.state == "nothing due"
    assert line.sentence == "Nothing is to be done: it asks for no action."


def test_an_undetermined_action_is_computed_as_if_it_applied(
    technician: Viewer, engine, make_provision, today, now
) -> None:
    make_provision(
        rule__condition={"attribute": "drive", "in": ["geared"]},
        rule__action={"initial": {"date": "2026-02-01"}},
    )
    changes.refresh_station(engine.station, today, at=now)
    [row] = due_list(technician, today).rows
    assert (row.word, row.due_on) == ("undetermined", date(2026, 2, 1))
    assert row.due.if_it_applies is not None
    assert row.due.if_it_applies.value == "overdue"


def test_a_provision_keeps_an_effective_date_of_its_own(
    technician: Viewer, engine, make_provision, today, now
) -> None:
    make_provision(
        effective_on=date(2026, 11, 1),
        rule__action={"initial": {"days": 90, "after": "effective"}},
    )
    provision = make_provision(
        rule__action={"initial": {"days": 90, "after": "effective"}}
    )
    type(provision).objects.filter(pk=provision.pk).update(
        effective_on=date(2025, 6, 1)
    )
    changes.refresh_station(engine.station, today, at=now)
    days = {row.due_on for row in due_list(technician, today).rows}
    assert days == {date(2027, 1, 30), date(2025, 8, 30)}


# -- records and what they leave behind


def test_a_record_embodies_what_its_provision_names_until_it_is_void(
    technician: Viewer, engine, make_provision, now
) -> None:
    provision = make_provision(number="SB-1", embodies=["MOD-7"])
    done = entry(DAY, hours=51_000, provision=provision)
    record = changes.record_work(technician, engine, done, at=now)
    assert facts_of(engine).embodied == {"SB-1", "MOD-7"}
    changes.void_record(technician, record, reason="Wrong engine.", at=now)
    assert facts_of(engine).embodied == frozenset()


@pytest.mark.parametrize(
    "method", [Method.INSPECTED, Method.CONFIGURATION, Method.ALTERNATIVE]
)
def test_an_inspection_or_what_was_not_applicable_embodies_nothing(
    technician: Viewer, engine, make_provision, now, method
) -> None:
    provision = make_provision(number="SB-1", embodies=["MOD-7"])
    done = entry(
        DAY,
        hours=51_000,
        provision=provision,
        method=method,
        alternative=Alternative(reference="A 12", approved_by="The authority")
        if method is Method.ALTERNATIVE
        else None,
    )
    changes.record_work(technician, engine, done, at=now)
    assert facts_of(engine).embodied == frozenset()
    assert [one.number for one in facts_of(engine).complied] == ["SB-1"]


def test_what_was_taken_out_later_is_not_embodied(
    technician: Viewer, engine, make_provision, now
) -> None:
    provision = make_provision(number="SB-1", embodies=["MOD-7"])
    done = entry(date(2026, 10, 1), hours=50_000, provision=provision)
    changes.record_work(technician, engine, done, at=now)
    changes.not_embodied(technician, engine, "MOD-7", true_from=DAY, at=now)
    assert "MOD-7" in facts_of(engine).not_embodied
    assert "MOD-7" not in facts_of(engine).embodied


def test_a_record_under_an_earlier_revision_counts_for_the_next(
    technician: Viewer, engine, make_provision, today, now
) -> None:
    first = make_provision(order=1)
    done = entry(date(2026, 3, 1), hours=48_500, provision=first)
    changes.record_work(technician, engine, done, at=now)
    second = RevisionFactory(
        publication=first.revision.publication,
        label="2",
        sequence=10_000,
        confirmed=True,
        effective_on=date(2026, 2, 1),
    )
    make_provision(revision=second, order=1)
    make_provision(revision=second, order=2)
    changes.refresh_station(engine.station, today, at=now)
    closed = {row.provision.order: row.closed for row in Finding.objects.all()}
    assert closed == {1: Closed.COMPLIED, 2: Closed.OPEN}


def test_credit_is_given_for_another_document_only_where_it_is_named(
    technician: Viewer, engine, make_provision, today, now
) -> None:
    with_credit = make_provision(
        number="AD-1",
        rule__action={
            "initial": {"hours": 50, "after": "effective"},
            "credit": {"of": ["SL-77"]},
        },
    )
    without = make_provision(number="AD-2")
    past = past_entry(date(2024, 1, 1), document=FreeDocument(number="SL 77"))
    changes.record_work(technician, engine, past, at=now)
    closed = {row.provision: row.closed for row in Finding.objects.all()}
    assert closed == {with_credit: Closed.COMPLIED, without: Closed.OPEN}


def test_work_recorded_before_the_document_was_in_the_library_counts(
    technician: Viewer, engine, make_provision, today, now
) -> None:
    past = past_entry(date(2026, 3, 1), document=FreeDocument(number="SB-24-011"))
    changes.record_work(technician, engine, past, at=now)
    make_provision(number="SB-24-011")
    changes.refresh_station(engine.station, today, at=now)
    assert Finding.objects.get().closed == Closed.COMPLIED


def test_a_scheduled_inspection_on_record_is_an_event_for_others(
    technician: Viewer, engine, make_provision, station, now
) -> None:
    provision = make_provision(kind="scheduled", number="INS-1")
    publication = provision.revision.publication
    type(publication).objects.filter(pk=publication.pk).update(title="Annual inspection")  # fmt: skip
    fresh = type(provision).objects.select_related("revision__publication")
    done = entry(DAY, hours=51_000, provision=fresh.get(pk=provision.pk))
    changes.record_work(technician, engine, done, at=now)
    file = engine_files(
        [Engine.objects.select_related("engine_type").get()], on=now.date()
    )[engine.pk]
    assert [event.name for event in file.events] == ["Annual inspection"]


# -- known none and unknown


def test_what_nobody_has_reviewed_is_unknown_and_then_known_to_be_none(
    make_engine, technician: Viewer, now
) -> None:
    engine = make_engine(reviewed=False)
    before = facts_of(engine)
    assert (before.overhauls, before.rebuilt) == (UNKNOWN, UNKNOWN)
    assert before.hours.overhaul is UNKNOWN
    assert not before.history_reviewed
    changes.review(technician, engine, "history", "R", true_from=DAY, at=now)
    after = facts_of(engine)
    assert (after.overhauls, after.rebuilt) == ((), None)
    assert after.hours.overhaul == after.hours.new == 52_000
    assert after.history_reviewed


@pytest.mark.parametrize(
    "time", [{"hours": 200, "after": "overhaul"}, {"event": "overhaul"}]
)
def test_an_overhaul_that_nobody_recorded_is_not_taken_for_none(
    make_engine, make_provision, technician: Viewer, today, now, time: dict
) -> None:
    """Not recorded is not known until somebody has gone through the history."""
    make_provision(rule__action={"initial": time})
    engine = make_engine(reviewed=False)
    [unknown] = status_of(engine, on=today).undetermined
    assert [fact for fact in unknown.missing if "overhaul" in fact] != []
    changes.review(technician, engine, "history", "R", true_from=DAY, at=now)
    assert status_of(engine, on=today).undetermined == ()


def test_a_transfer_makes_what_is_not_recorded_unknown_again(
    make_engine, technician: Viewer, station, now
) -> None:
    engine = make_engine(owner=OwnerFactory(station=station))
    buyer = OwnerFactory(station=station)
    changes.change_owner(technician, engine, buyer, true_from=now.date(), at=now)
    assert not facts_of(engine).history_reviewed


def test_an_engine_known_to_be_in_no_aircraft_has_no_registry(
    engine, technician: Viewer, now
) -> None:
    assert facts_of(engine).registry is UNKNOWN
    changes.fit_in_aircraft(
        technician, engine, FittingFacts(fitted=False), true_from=DAY, at=now
    )
    assert facts_of(engine).registry is None


def test_shares_and_temperatures_stay_exact(engine, technician: Viewer, now) -> None:
    operation = OperationFacts(
        uses=("private",), leaded_share="2/5", oil_low="176", oil_high="212", oil_unit="F"
    )  # fmt: skip
    changes.change_operation(technician, engine, operation, true_from=DAY, at=now)
    file = engine_files([Engine.objects.get(pk=engine.pk)], on=now.date())[engine.pk]
    assert file.declared_share == Fraction(2, 5)
    found = file.facts
    assert found.oil_temperature.low == 80  # type: ignore[union-attr]  # known here
    assert found.oil_temperature.high == 100  # type: ignore[union-attr]  # known here


def test_a_part_fitted_after_the_review_brings_an_unknown_past(
    engine, technician: Viewer, make_provision, today, now
) -> None:
    make_provision(role="fuel pump")
    changes.review(technician, engine, "fuel pump", "R", true_from=DAY, at=now)
    changes.add_part(
        technician,
        engine,
        PartEntry(role="fuel pump", number="P-1"),
        Fit(),
        true_from=today,
        at=now,
    )
    [line] = status_of(engine, on=today).undetermined
    assert line.missing


def test_a_part_that_is_not_recorded_is_undetermined_beside_those_that_are(
    make_engine, station, technician: Viewer, make_provision, today, now
) -> None:
    engine_type = EngineTypeFactory(station=station)
    PartRoleFactory(engine_type=engine_type, role="magneto", count=2)
    engine = make_engine(engine_type=engine_type)
    make_provision(role="magneto")
    changes.add_part(
        technician,
        engine,
        PartEntry(role="magneto", number="P-1"),
        Fit(fitted_new=True, date_known=False),
        true_from=date(2025, 1, 1),
        at=now,
    )
    found = {(row.part_id is None, row.undetermined) for row in Finding.objects.all()}
    assert found == {(False, False), (True, True)}


@pytest.mark.parametrize("engines", [1, 20])
def test_files_take_the_same_queries_for_one_engine_and_for_twenty(
    make_engine, station, technician: Viewer, now, engines, django_assert_num_queries
) -> None:
    engine_type = EngineTypeFactory(station=station)
    for _ in range(engines):
        engine = make_engine(engine_type=engine_type)
        changes.add_part(
            technician,
            engine,
            PartEntry(role="magneto"),
            Fit(),
            true_from=DAY,
            at=now,
        )
    found = list(Engine.objects.select_related("engine_type"))
    with django_assert_num_queries(QUERIES):
        engine_files(found, on=now.date())

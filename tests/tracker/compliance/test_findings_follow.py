"""Whatever changes, stored findings equal those of a full, fresh evaluation."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from notices.library import ProvisionInput, ReferenceInput, RevisionInput
from tests.factories.compliance import entry
from tests.factories.fleet import EngineTypeFactory
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.facts import engine_files
from tracker.compliance.findings import kept_assessments, refresh, rules_in_force
from tracker.compliance.findings.columns import closed_columns
from tracker.compliance.findings.refreshing import finding_of
from tracker.compliance.models import Finding, Standing
from tracker.fleet.models import Engine, Review
from tracker.fleet.parts import Fit, PartEntry
from tracker.fleet.register import FittingFacts, IdentityFacts, OperationFacts

KEPT = ("undetermined", "closed", *closed_columns(), "point", "reasons", "missing")
DAY = date(2026, 11, 20)

REPEATED = {
    "initial": {"hours": 30, "after": "effective"},
    "repeat": {"hours": 100, "after": "last done"},
    "ends_with": ["SB-9"],
}


def said(finding: Finding) -> dict[str, Any]:
    return {name: getattr(finding, name) for name in KEPT}


def stored(engine: Engine) -> dict[tuple[int, int | None], dict[str, Any]]:
    rows = Finding.objects.filter(engine=engine)
    return {(row.provision_id, row.part_id): said(row) for row in rows}


def fresh(
    engine: Engine, on: date, at: datetime
) -> dict[tuple[int, int | None], dict[str, Any]]:
    engine = Engine.objects.select_related("engine_type", "station").get(pk=engine.pk)
    file = engine_files([engine], on=on)[engine.pk]
    rules = rules_in_force(engine.station, on)
    found = [
        finding_of(assessed, file, at=at)
        for assessed in kept_assessments(rules, file, on=on)
    ]
    return {(row.provision_id, row.part_id): said(row) for row in found}


@pytest.fixture
def library(make_provision) -> list:
    """Rules that hang on every kind of fact that can change."""
    return [
        make_provision(number="SB-1", rule__action=REPEATED, embodies=["MOD-1"]),
        make_provision(number="SB-2", rule__condition={"embodied": "MOD-1"}),
        make_provision(number="SB-3", rule__condition={"complied": "SB-1"}),
        make_provision(number="SB-4", rule__condition={"attribute": "drive", "in": ["geared"]}),
        make_provision(number="SB-5", rule__condition={"registry": ["NO"]}),
        make_provision(number="SB-6", rule__condition={"operation": ["commercial"]}),
        make_provision(number="SB-7", role="magneto", rule__condition={"this": {"number": ["P-77*"]}}),
        make_provision(number="SB-8", rule__condition={"ask": "Is the mark seen?"}),
        make_provision(number="SB-9", kind="SL", rule__condition={"overhauled": False}),
        make_provision(number="SB-10", rule__condition={"hours": {"since": "new", "over": 521}}),
        make_provision(number="SB-11", rule__action={"initial": {"hours": 10, "after": {"event": "propeller strike"}}}),
        make_provision(number="SB-12", rule__condition={"built": {"before": "2021-01-01"}}),
    ]  # fmt: skip


@pytest.fixture
def acts(
    technician: Viewer, inspector: Viewer, engine, library, now
) -> dict[str, Callable[[datetime, int], object]]:
    """Acts by name; each takes the moment and a number that makes it differ."""
    by_number = {p.revision.publication.number: p for p in library}
    changes.refresh_station(engine.station, now.date(), at=now)

    def record(number: str):
        def act(at: datetime, n: int) -> object:
            done = entry(DAY, hours=51_000 + n, provision=by_number[number])
            return changes.record_work(technician, engine, done, at=at)

        return act

    def void(at: datetime, n: int) -> object:
        valid = engine.records.valid().order_by("sequence")
        record = valid[n % max(valid.count(), 1)]
        return changes.void_record(technician, record, reason="Wrong.", at=at)

    def confirm(at: datetime, n: int) -> object:
        publication = by_number["SB-12"].revision.publication
        stated = RevisionInput(
            label=f"r{n}-{at.timestamp()}"[:20],
            issued_on=DAY,
            applicability={"always": True},
            provisions=[
                ProvisionInput(
                    title="Inspect",
                    condition={"built": {"from": "2020-01-01"}},
                    action={"initial": {"hours": n + 1, "after": "new"}},
                )
            ],
            references=[ReferenceInput(kind="supersedes", number="SB-5")][: n % 2],
        )
        draft = changes.add_draft(technician, publication, stated, at=at)
        return changes.confirm_revision(inspector, draft, version=draft.version, at=at)

    def cancel(at: datetime, n: int) -> object:
        revision = by_number["SB-6"].revision
        return changes.cancel_revision(inspector, revision, on=DAY, reason="No.", at=at)

    def change_rule(at: datetime, n: int) -> object:
        provision = by_number["SB-4"]
        return changes.change_rule(
            inspector,
            provision,
            number=provision.rules.get(current=True).number,
            reason="Misread.",
            condition={"attribute": "drive", "in": [["geared"], ["direct"]][n % 2]},
            at=at,
        )

    def identity(at: datetime, n: int) -> object:
        facts = IdentityFacts(
            engine_type=engine.engine_type,
            serial=engine.serial,
            built=date(2020 + n % 3, 3, 1),
        )
        return changes.change_identity(technician, engine, facts, at=at)

    def part(at: datetime, n: int) -> object:
        return changes.add_part(
            technician,
            engine,
            PartEntry(role="magneto", number=["P-7710", "Q-1"][n % 2]),
            Fit(place=f"place {n}"),
            true_from=DAY,
            at=at,
        )

    dated: dict[str, Any] = {"true_from": DAY}
    return {
        "record": record("SB-1"),
        "record another": record("SB-9"),
        "void": void,
        "confirm": confirm,
        "cancel": cancel,
        "change rule": change_rule,
        "identity": identity,
        "part": part,
        "remove part": lambda at, n: changes.remove_part(
            technician,
            engine,
            engine.part_fittings.filter(current=True, removed=False)[0].part,
            true_from=DAY,
            reason="Worn.",
            at=at,
        ),
        "embody": lambda at, n: changes.embody(
            technician, engine, "MOD-1", at=at, **dated
        ),
        "not embodied": lambda at, n: changes.not_embodied(
            technician, engine, "MOD-1", at=at, **dated
        ),
        "attribute": lambda at, n: changes.set_attribute(
            technician, engine, "drive", ["geared", "direct"][n % 2], at=at, **dated
        ),
        "aircraft": lambda at, n: changes.fit_in_aircraft(
            technician,
            engine,
            FittingFacts(aircraft_type="TR-20", registry=["NO", "US"][n % 2]),
            at=at,
            **dated,
        ),
        "operation": lambda at, n: changes.change_operation(
            technician,
            engine,
            OperationFacts(uses=[("private",), ("commercial",)][n % 2]),
            at=at,
            **dated,
        ),
        "review": lambda at, n: changes.review(
            technician, engine, [Review.HISTORY, "magneto"][n % 2], "R", at=at, **dated
        ),
        "lapse": lambda at, n: changes.lapse_reviews(
            technician, engine, reason="Work elsewhere.", true_from=at.date(), at=at
        ),
        "answer": lambda at, n: changes.answer(
            technician,
            engine,
            by_number["SB-8"].revision,
            "Is the mark seen?",
            [True, False, None][n % 3],
            at=at,
            **dated,
        ),
        "decline": lambda at, n: [changes.decline, changes.adopt][n % 2](
            technician,
            engine,
            by_number["SB-9"].revision.publication,
            person="Owner",
            reason="So wished.",
            at=at,
            **dated,
        ),
        "overhaul": lambda at, n: changes.add_overhaul(
            technician,
            engine,
            on=DAY,
            hours=51_000,
            done_by="maker",
            at=at,
            tested="to limits",
        ),
        "rebuild": lambda at, n: changes.add_rebuild(
            technician, engine, on=DAY, hours=51_000, at=at
        ),
        "event": lambda at, n: changes.add_event(
            technician, engine, "propeller strike", on=DAY, hours=51_000, at=at
        ),
        "withdraw": lambda at, n: changes.withdraw(
            technician, engine.events.filter(withdrawn_at=None)[0], reason="No.", at=at
        ),
        "correct reading": lambda at, n: changes.correct_reading(
            technician, engine.readings.valid()[0], shown=52_000 + n * 10, at=at
        ),
        "state": lambda at, n: changes.change_state(
            technician, engine, ["stored", "in service"][n % 2], at=at, **dated
        ),
    }


NAMES = [
    "record", "record another", "void", "confirm", "cancel", "change rule",
    "identity", "part", "remove part", "embody", "not embodied", "attribute",
    "aircraft", "operation", "review", "lapse", "answer", "decline", "overhaul",
    "rebuild", "event", "withdraw", "correct reading", "state",
]  # fmt: skip


def test_every_act_is_tried(acts) -> None:
    assert sorted(acts) == sorted(NAMES)


@settings(
    max_examples=6,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.lists(st.tuples(st.sampled_from(NAMES), st.integers(0, 5)), min_size=1, max_size=5))  # fmt: skip
def test_after_any_changes_findings_are_those_of_a_fresh_evaluation(
    data, acts, engine, now
) -> None:
    """Acts go on from example to example: the history only grows, as in life."""
    at = max(now, latest_moment(engine)) + timedelta(minutes=1)
    for step, (name, n) in enumerate(data):
        moment = at + timedelta(seconds=step)
        try:
            acts[name](moment, n)
        except (ValueError, IndexError):
            continue  # refused; the findings must be right all the same
        assert stored(engine) == fresh(engine, now.date(), moment), name
    assert stored(engine) == fresh(engine, now.date(), at)


def latest_moment(engine: Engine) -> datetime:
    return Standing.objects.get(engine=engine).evaluated_at


@pytest.mark.parametrize("name", NAMES)
def test_each_act_leaves_findings_right(name, acts, engine, now) -> None:
    if name == "void":
        acts["record"](now, 0)
    if name == "remove part":
        acts["part"](now, 0)
    if name == "withdraw":
        acts["event"](now, 0)
    acts[name](now + timedelta(minutes=1), 0)
    assert stored(engine) == fresh(engine, now.date(), now)


@pytest.mark.parametrize("engines", [1, 20])
def test_a_refresh_takes_the_same_queries_for_one_engine_and_for_twenty(
    make_engine, library, today, now, station, engines, django_assert_max_num_queries
) -> None:
    kept = EngineTypeFactory(station=station)
    for _ in range(engines):
        make_engine(engine_type=kept)
    Finding.objects.all().delete()
    found = Engine.objects.select_related("engine_type", "station")
    # rules, engines, facts, facts ahead, findings; findings and standing written
    with django_assert_max_num_queries(44):
        refresh(station, found, on=today, at=now)
    assert Finding.objects.count() >= engines


def test_a_second_refresh_writes_nothing(engine, library, today, now, station) -> None:
    changes.refresh_station(station, today, at=now)
    changed = changes.refresh_station(station, today, at=now + timedelta(hours=1))
    assert (changed.added, changed.changed, changed.removed) == (0, 0, 0)
    assert not Finding.objects.filter(changed_at__gt=now).exists()


def test_a_changed_finding_keeps_its_public_id(
    technician: Viewer, engine, make_provision, today, now, station
) -> None:
    provision = make_provision()
    changes.refresh_station(station, today, at=now)
    before = Finding.objects.get()
    done = entry(DAY, hours=51_000, provision=provision)
    changes.record_work(technician, engine, done, at=now)
    after = Finding.objects.get()
    assert (after.pk, after.public_id) == (before.pk, before.public_id)
    assert after.closed != before.closed

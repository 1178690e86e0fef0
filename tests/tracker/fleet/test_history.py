"""Dated facts: what held on a day, as far as was known at a moment."""

from __future__ import annotations

import random
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from tests.factories.accounts import UserFactory
from tests.factories.fleet import (
    ENTERED,
    EngineFactory,
    EngineTypeFactory,
    OwnerFactory,
)
from tracker.accounts.models import User
from tracker.fleet.errors import ChangedMeanwhile, Refused
from tracker.fleet.events import add_overhaul, withdraw
from tracker.fleet.history import as_of, lock_engine
from tracker.fleet.marks import embody, not_embodied
from tracker.fleet.meters import add_reading, correct_reading, readings_of, start_meter
from tracker.fleet.models import (
    Engine,
    Fitting,
    Identity,
    Modification,
    Overhaul,
    Ownership,
    ServiceState,
    State,
)
from tracker.fleet.parts import Fit, PartEntry, add_part, move_part, parts_fitted
from tracker.fleet.register import (
    FittingFacts,
    change_owner,
    change_state,
    fit_in_aircraft,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def by() -> User:
    return UserFactory()


def held(model, engine, on, known_at):
    return as_of(model, [engine], on=on, known_at=known_at).first()


def test_an_engine_repeats_its_first_identity() -> None:
    engine = EngineFactory(serial="K-612-62B")
    assert (engine.serial, engine.serial_key) == ("K-612-62B", "K612-62B")


def test_engines_sort_by_the_value_of_their_numbers(station) -> None:
    engine_type = EngineTypeFactory(station=station)
    for serial in ("10001", "4002", "0977"):
        EngineFactory(station=station, engine_type=engine_type, serial=serial)
    assert [e.serial for e in Engine.objects.all()] == ["0977", "4002", "10001"]


def test_a_change_leaves_what_held_before_in_place(by) -> None:
    engine = EngineFactory(at=ENTERED)
    later = ENTERED + timedelta(days=100)
    change_state(engine, State.STORED, true_from=date(2025, 4, 1), at=later, by=by)
    assert held(ServiceState, engine, date(2025, 3, 31), later).state == "in service"
    assert held(ServiceState, engine, date(2025, 4, 1), later).state == "stored"
    engine.refresh_from_db()
    assert engine.state == "stored"


def test_a_correction_shows_only_from_when_it_was_known(by) -> None:
    engine = EngineFactory(fitting=FittingFacts(registration="LV-ABC"), at=ENTERED)
    known = ENTERED + timedelta(days=9)
    first = Fitting.objects.get(engine=engine)
    fit_in_aircraft(
        engine,
        FittingFacts(registration="LV-ABD"),
        true_from=first.true_from,
        at=known,
        by=by,
    )
    on = date(2025, 6, 1)
    assert held(Fitting, engine, on, ENTERED).registration == "LV-ABC"
    assert held(Fitting, engine, on, known).registration == "LV-ABD"


def test_a_fact_entered_late_does_not_hide_a_newer_one(by) -> None:
    engine = EngineFactory(
        state=State.REMOVED,
        true_from=date(2025, 5, 1),
        at=ENTERED + timedelta(days=200),
    )
    change_state(
        engine,
        State.STORED,
        true_from=date(2025, 2, 1),
        at=ENTERED + timedelta(days=300),
        by=by,
    )
    engine.refresh_from_db()
    assert engine.state == "removed"
    assert ServiceState.objects.get(engine=engine, current=True).state == "removed"


def test_nothing_can_be_true_from_a_day_ahead_at_the_station(by) -> None:
    engine = EngineFactory()
    engine.station.time_zone = "Pacific/Auckland"
    at = datetime(2026, 5, 1, 13, 0, tzinfo=UTC)  # 2 May, 01:00 in Auckland
    change_state(engine, State.STORED, true_from=date(2026, 5, 2), at=at, by=by)
    with pytest.raises(Refused, match="2026-05-03 lies after today, 2026-05-02") as no:
        change_state(engine, State.REMOVED, true_from=date(2026, 5, 3), at=at, by=by)
    assert no.value.field == "true_from"


@pytest.mark.both
def test_the_database_holds_one_current_row_for_a_subject(by) -> None:
    engine = EngineFactory()
    row = Identity.objects.get(engine=engine)
    row.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()


def test_an_engine_changed_by_somebody_else_is_not_overwritten(by) -> None:
    engine = EngineFactory()
    seen = engine.version
    change_state(
        engine,
        State.STORED,
        true_from=date(2025, 2, 1),
        at=ENTERED + timedelta(days=60),
        by=by,
    )
    with transaction.atomic(), pytest.raises(ChangedMeanwhile, match="Somebody else"):
        lock_engine(engine, version=seen)
    with transaction.atomic():
        assert lock_engine(engine, version=seen + 1) == engine


@pytest.mark.both
def test_the_rows_that_held_take_one_query_for_many_engines(
    django_assert_num_queries, station
) -> None:
    engines = [EngineFactory(station=station) for _ in range(12)]
    with django_assert_num_queries(1):
        rows = list(as_of(Identity, engines, on=date(2026, 1, 1), known_at=ENTERED))
    assert {row.engine_id for row in rows} == {engine.pk for engine in engines}


def snapshot(engines, on, known_at):
    """All that can be asked of some engines, in a form that compares."""
    ownerships = as_of(Ownership, engines, on=on, known_at=known_at)
    states = as_of(ServiceState, engines, on=on, known_at=known_at)
    marks = as_of(Modification, engines, on=on, known_at=known_at)
    parts = parts_fitted(engines, on=on, known_at=known_at)
    readings = readings_of(engines, on=on, known_at=known_at)
    overhauls = Overhaul.objects.known_at(known_at).filter(
        engine__in=engines, on__lte=on
    )
    return (
        sorted((r.engine_id, r.owner_id) for r in ownerships),
        sorted((r.engine_id, r.state) for r in states),
        sorted((r.engine_id, r.designation_key, r.embodied) for r in marks),
        sorted((p.fitting.engine_id, p.part.pk, p.hours_new or -1) for p in parts),
        {key: [(r.on, r.hours) for r in rows] for key, rows in readings.items()},
        sorted((o.engine_id, o.on) for o in overhauls),
    )


class Drive:
    """A history of some engines driven at random; what does not fit is refused."""

    def __init__(self, seed: int, station, by: User) -> None:
        self.chance, self.station, self.by = random.Random(seed), station, by  # noqa: S311  # repeatable on purpose
        self.at = ENTERED
        self.owners = [OwnerFactory(station=station) for _ in range(3)]
        self.engines = [
            EngineFactory(station=station, owner=self.owners[0]) for _ in range(2)
        ]
        self.overhauls: list[Overhaul] = []
        for engine in self.engines:
            start_meter(
                engine,
                kind="time in service",
                on=self.day(0),
                shown=10000,
                at=self.at,
                by=by,
            )
        self.parts = [
            add_part(
                self.engines[0],
                PartEntry(role=f"role {n}"),
                Fit(hours_new=n * 1000),
                true_from=self.day(0),
                at=self.at,
                by=by,
            )
            for n in range(2)
        ]

    def day(self, back: int) -> date:
        return self.at.date() - timedelta(days=back)

    def step(self) -> None:
        self.at += timedelta(days=self.chance.randint(1, 20), minutes=1)
        engine = self.chance.choice(self.engines)
        act = self.chance.choice(
            [
                self.own,
                self.state,
                self.mark,
                self.read,
                self.read,
                self.correct,
                self.move,
                self.overhaul,
                self.undo,
            ]
        )
        when = self.day(self.chance.choice([0, 0, 3, 40]))
        act(engine, {"true_from": when, "at": self.at, "by": self.by})

    def own(self, engine, how) -> None:
        change_owner(engine, self.chance.choice(self.owners), **how)

    def state(self, engine, how) -> None:
        change_state(engine, self.chance.choice(State.values), **how)

    def mark(self, engine, how) -> None:
        self.chance.choice([embody, not_embodied])(engine, "SB-24-011", **how)

    def read(self, engine, how) -> None:
        engine.refresh_from_db()
        add_reading(
            engine,
            on=how["true_from"],
            shown=engine.hours_now + 500,
            at=self.at,
            by=self.by,
        )

    def correct(self, engine, how) -> None:
        wrong = engine.readings.filter(corrected_by=None).first()
        correct_reading(wrong, shown=max(0, wrong.shown - 100), at=self.at, by=self.by)

    def move(self, engine, how) -> None:
        move_part(self.chance.choice(self.parts), engine, Fit(), **how)

    def overhaul(self, engine, how) -> None:
        self.overhauls.append(
            add_overhaul(
                engine, on=how["true_from"], at=self.at, by=self.by, tested="to limits"
            )
        )

    def undo(self, engine, how) -> None:
        if self.overhauls:
            withdraw(self.chance.choice(self.overhauls), reason="mistake", at=self.at)


@pytest.mark.parametrize("seed", range(4))
def test_what_was_answered_at_each_step_is_answered_again_later(
    seed: int, station, by
) -> None:
    drive = Drive(seed, station, by)
    kept = []
    for _ in range(30):
        # Each step is one transaction, as in the service: a refusal leaves nothing.
        with suppress(Refused), transaction.atomic():
            drive.step()
        for on in (drive.day(0), drive.day(30)):
            kept.append((on, drive.at, snapshot(drive.engines, on, drive.at)))
    for on, known_at, answer in kept:
        assert snapshot(drive.engines, on, known_at) == answer
    assert len({str(answer) for *_, answer in kept}) > 10

"""The check of a new day leaves what a full evaluation for that day would leave."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from notices.models import Provision, Reference, Revision
from tests.factories.compliance import entry
from tests.factories.fleet import EngineFactory
from tests.factories.notices import (
    ProvisionFactory,
    PublicationFactory,
    RevisionFactory,
)
from tests.tracker.compliance.new_days import (
    Rows,
    checked,
    engines_of,
    kept,
    noon,
    walk,
)
from tracker.accounts.models import Station
from tracker.compliance.changes import Checked, refresh_station
from tracker.compliance.findings import refresh
from tracker.compliance.ledger import add_records
from tracker.compliance.models import Finding, Standing
from tracker.fleet.events import add_event
from tracker.fleet.fuel import FuelEntry, add_fuel
from tracker.fleet.marks import embody, set_attribute
from tracker.fleet.meters import add_reading
from tracker.fleet.models import Engine, FuelKind
from tracker.fleet.parts import Fit, PartEntry, add_part

TODAY = date(2026, 11, 24)
HUNDRED_HOURS = {"initial": {"hours": 50, "after": "effective"}, "repeat": {"hours": 100, "after": "last done"}}  # fmt: skip

BY_FUEL = {
    "initial": {
        "cases": [
            {"when": {"leaded_share": {"over": 0.5}}, "then": {"hours": 25, "after": "effective"}},
            {"else": {"hours": 100, "after": "effective"}},
        ]
    }
}  # fmt: skip
BASE = {"id": "base", "kind": "base", "hours": 500, "years": 12, "since": "overhaul"}
MOMENTS = (1, 4, 5, 6, 9, 10, 20, 30, 47, 48, 60)
"""Days ahead on which something of the library turns, and others."""


def walked(station: Station, days: Sequence[int]) -> list[Checked]:
    return walk(station, map(ahead, days))


def ahead(days: int) -> date:
    return TODAY + timedelta(days=days)


@pytest.fixture
def engine(make_engine) -> Engine:
    """Made so that the seven years in which one extension is entered end soon."""
    return make_engine(built=date(2019, 11, 29))


@pytest.fixture
def library(make_provision, interval) -> dict[str, Provision]:
    """Rules of each kind that the passing of days can move, and some that it cannot."""
    complied = {"complied": "SB-1", "when": {"before": str(ahead(9))}}
    rules = {
        "SB-1": make_provision(number="SB-1", rule__action=HUNDRED_HOURS, embodies=["MOD-1"]),
        "SB-2": make_provision(number="SB-2", rule__condition={"embodied": "MOD-2"}),
        "SB-3": make_provision(number="SB-3", rule__condition=complied),
        "SB-4": make_provision(number="SB-4", rule__condition={"attribute": "drive", "in": ["geared"]}),
        "SB-5": make_provision(number="SB-5", rule__action={"initial": {"hours": 10, "after": {"event": "oil change"}}}),
        "SB-6": make_provision(number="SB-6", role="magneto", rule__condition={"this": {"number": ["P-77*"]}}),
        "SB-7": make_provision(number="SB-7", rule__action={"initial": {"days": 20, "after": "effective"}}),
        "SB-8": make_provision(number="SB-8", rule__action=BY_FUEL),
        "SB-9": make_provision(number="SB-9", rule__action={"initial": {"date": str(ahead(6))}}),
    }  # fmt: skip
    base = interval(BASE)
    longer = {"id": "longer", "kind": "extension", "hours": 700, "since": "overhaul"}
    for number, years in (("early", 6), ("late", 7)):
        interval(
            {**longer, "id": number, "enter_by": {"years": years}},
            when={"all": [{"embodied": "MOD-1"}, complied]},
            beside=base,
        )
    return rules


def next_revision(of: Provision, day: date, **given: Any) -> Revision:
    """A further revision of a document, confirmed today, that takes over on a day."""
    revision = RevisionFactory(
        publication=of.revision.publication, confirmed=True, effective_on=day, **given
    )
    ProvisionFactory(revision=revision, order=of.order, rule__condition={"hours": {"since": "new", "over": 500}})  # fmt: skip
    return revision


def supersede(of: Provision, day: date) -> None:
    publication = PublicationFactory(station=of.station)
    revision = RevisionFactory(
        publication=publication, confirmed=True, effective_on=day
    )
    ProvisionFactory(revision=revision)
    other = of.revision.publication
    revision.references.create(
        kind=Reference.Kind.SUPERSEDES, number=other.number, publication=other
    )


def cancel(of: Provision, day: date) -> None:
    Revision.objects.filter(pk=of.revision_id).update(
        cancelled_on=day, cancelled_at=noon(TODAY)
    )


@pytest.fixture
def plans(
    engine: Engine, library: dict[str, Provision], technician
) -> dict[str, Callable[[date], object]]:
    """What is dated ahead, by name: rows of the engine, and of the library."""
    by = technician.user

    def known(day: date) -> dict[str, Any]:
        return {"at": noon(day), "by": by}

    return {
        "embodied": lambda day: embody(
            engine, "MOD-2", true_from=day, **known(day)
        ),
        "attribute": lambda day: set_attribute(
            engine, "drive", "geared", true_from=day, **known(day)
        ),
        "event": lambda day: add_event(
            engine, "oil change", on=day, hours=52_000, **known(day)
        ),
        "reading": lambda day: add_reading(
            engine, on=day, shown=53_000 + 10 * (day - TODAY).days, **known(day)
        ),
        "fuel": lambda day: add_fuel(
            engine, FuelEntry(on=day, kind=FuelKind.LEADED, quantity="80"), **known(day)
        ),
        "part": lambda day: add_part(
            engine,
            PartEntry(role="magneto", number="P-7710"),
            Fit(),
            true_from=day,
            **known(day),
        ),
        "record": lambda day: add_records(
            engine=engine,
            entries=[entry(day, hours=52_000, provision=library["SB-1"])],
            **known(day),
        ),
        "revision": lambda day: next_revision(library["SB-4"], day),
        "superseded": lambda day: supersede(library["SB-7"], day),
        "cancelled": lambda day: cancel(library["SB-9"], day),
        "interval": lambda day: next_revision(
            Provision.objects.filter(kind=Provision.Kind.INTERVAL)[0], day
        ),
    }  # fmt: skip


NAMES = (
    "embodied", "attribute", "event", "reading", "fuel", "part", "record",
    "revision", "superseded", "cancelled", "interval",
)  # fmt: skip


def evaluate(station: Station) -> None:
    refresh_station(station, TODAY, at=noon(TODAY))


@pytest.mark.parametrize("name", NAMES)
def test_what_is_dated_ahead_counts_from_its_day_on(
    name: str, plans: Any, station: Station
) -> None:
    plans[name](ahead(2))
    evaluate(station)
    walked(station, [1])
    before = without_day(station)
    walked(station, [2])
    assert without_day(station) != before
    walked(station, [3, 4])


def without_day(station: Station) -> tuple[Rows, Rows, Rows]:
    """Return what is stored, but for which day."""
    findings, standings, events = kept(station)
    for row in standings:
        del row["evaluated_for"]
    return findings, standings, events


def test_what_the_days_alone_cannot_change_is_not_evaluated_again(
    make_engine, make_provision, station: Station
) -> None:
    make_engine(built=date(2019, 11, 29))
    make_provision(rule__action=HUNDRED_HOURS)
    evaluate(station)
    last = date(2026, 1, 10) + timedelta(days=365)
    days = [1, 2, 3, (last - TODAY).days]
    assert [one.evaluated for one in walked(station, days)] == [0, 0, 0, 0]
    # The reading of 10 January leaves the year, and the utilisation with it.
    before = Standing.objects.get().rate
    [after] = walked(station, [days[-1] + 1])
    assert after.evaluated == 1
    assert before is not None
    assert Standing.objects.get().rate is None


def test_an_engine_that_was_never_evaluated_is(
    make_engine, make_provision, station: Station
) -> None:
    make_provision()
    EngineFactory(station=station)
    [first] = walked(station, [1])
    assert first.evaluated == 1
    assert Finding.objects.count() == 1


@settings(
    max_examples=12,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    planned=st.lists(
        st.tuples(st.sampled_from(NAMES), st.integers(1, 50)), max_size=6
    ),
    days=st.sets(st.one_of(st.sampled_from(MOMENTS), st.integers(1, 70)), min_size=2, max_size=8),
)  # fmt: skip
def test_day_after_day_it_leaves_what_a_full_evaluation_leaves(
    planned: list[tuple[str, int]], days: set[int], plans: Any, station: Station
) -> None:
    with transaction.atomic():
        for name, day in planned:
            with suppress(ValueError), transaction.atomic():
                plans[name](ahead(day))
        evaluate_inside(station)
        walked(station, sorted(days))
        transaction.set_rollback(True)


def evaluate_inside(station: Station) -> None:
    """Evaluate in the transaction of a test that is taken back."""
    refresh(station, engines_of(station), on=TODAY, at=noon(TODAY))


@pytest.mark.both
def test_a_part_takes_the_same_queries_for_two_engines_and_for_two_hundred(
    library: dict[str, Provision], station: Station, engine: Engine
) -> None:
    def queries(day: int) -> int:
        """SQLite takes a hundred rows or so in one INSERT; these are not counted."""
        with CaptureQueriesContext(connection) as counted:
            checked(station, ahead(day))
        return sum(not one["sql"].startswith("INSERT") for one in counted)

    found = []
    for engines, day in ((1, 1), (198, 3)):
        EngineFactory.create_batch(
            engines, station=station, engine_type=engine.engine_type
        )
        refresh_station(station, ahead(day - 1), at=noon(TODAY))
        quiet = queries(day)
        next_revision(library["SB-4"], ahead(day + 1))
        found.append((quiet, queries(day + 1)))
    assert found[0] == found[1]
    assert max(found[0]) <= 60

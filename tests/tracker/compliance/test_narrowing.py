"""A change in the library reads the files of few engines, and finds what a look at all finds."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from notices.library import ProvisionInput, RevisionInput
from notices.models import Provision, Revision
from notices.rules.columns import IdentityRow, columns_of
from notices.rules.conditions import parse_condition
from notices.rules.evaluate import Outcome
from notices.rules.facts import EngineFacts
from tests import strategies
from tests.factories.accounts import UserFactory
from tests.factories.fleet import EngineFactory, EngineTypeFactory
from tests.factories.notices import (
    WITHIN_50_HOURS,
    ProvisionFactory,
    PublicationFactory,
    RevisionFactory,
)
from tests.tracker.compliance.new_days import (
    checked,
    engines_of,
    evaluated_in_full,
    kept,
    noon,
    walk,
)
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station
from tracker.compliance.facts import engine_files, fleet_of
from tracker.compliance.findings import (
    CompiledRule,
    assessments,
    refresh,
    refresh_library,
)
from tracker.compliance.interval_trials import intervals_in_force, try_intervals
from tracker.compliance.models import Finding, Standing
from tracker.compliance.publications import AffectedCounts
from tracker.compliance.trials import rules_stated, try_rules
from tracker.fleet.errors import Refused
from tracker.fleet.events import add_overhaul, add_rebuild
from tracker.fleet.history import write_fact
from tracker.fleet.marks import review
from tracker.fleet.models import Engine, EngineType, Identity, Review

TODAY = date(2026, 11, 24)
INTERVALS = (
    {"id": "base", "kind": "base", "hours": 500, "years": 12, "since": "overhaul"},
    {"id": "longer", "kind": "extension", "hours": 700, "since": "overhaul"},
    {"id": "top", "kind": "extension", "hours": 900, "since": "overhaul", "builds_on": "longer"},
    {"id": "shorter", "kind": "restriction", "hours": 400, "since": "overhaul"},
)  # fmt: skip
PATTERNS = ("", "K-#", "", "L-#")
DAYS = st.sampled_from(strategies.DAYS)
A_DAY = st.none() | DAYS
IDENTITIES = st.fixed_dictionaries(
    {
        "engine_type": st.sampled_from(strategies.TYPES),
        "type_complete": st.booleans(),
        "serial": st.sampled_from((*strategies.SERIALS, "K-4001-62B", "4001")),
        "built": A_DAY,
        "shipped": A_DAY,
        "rebuilt": A_DAY,
        "rebuilt_undated": st.booleans(),
        "rebuilt_known": st.booleans(),
    }
)
PASTS = st.fixed_dictionaries(
    {},
    optional={
        "overhaul": DAYS,
        "rebuild": DAYS,
        "review": st.just(TODAY - timedelta(days=4)),
        "rebuild ahead": st.integers(1, 5),
        "identity ahead": st.tuples(st.integers(1, 5), IDENTITIES),
    },
)
FLEETS = st.lists(st.tuples(IDENTITIES, PASTS), min_size=1, max_size=4)
LEAVES = st.one_of(
    strategies.some_of(strategies.TYPE_PATTERNS).map(lambda v: {"type": v}),
    strategies.some_of((*strategies.SERIAL_RANGES, "4000..")).map(lambda v: {"serial": v}),
    strategies.periods().map(lambda p: {"built": p}),
    strategies.periods().map(lambda p: {"shipped": p}),
    st.one_of(strategies.periods(), st.booleans()).map(lambda p: {"rebuilt": p}),
    strategies.engine_leaves(),
)  # fmt: skip
CONDITIONS = strategies.trees(LEAVES, 4)
PROVISIONS = st.tuples(st.sampled_from([None, None, *INTERVALS]), CONDITIONS)
LIBRARIES = st.lists(
    st.lists(PROVISIONS, min_size=1, max_size=2), min_size=1, max_size=3
)
"""Of each document its provisions: an overhaul interval or an action, and when."""

Given = dict[str, Any]
Document = list[tuple[Given | None, Given]]


@contextmanager
def taken_back() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def types_of(station: Station) -> dict[str, EngineType]:
    return {
        name: EngineTypeFactory(
            station=station, designation=name, serial_pattern=pattern
        )
        for name, pattern in zip(strategies.TYPES, PATTERNS, strict=True)
    }


def enter(station: Station, types: dict[str, EngineType], one: Given, past: Given) -> Engine:  # fmt: skip
    """Enter an engine as it is found in old books: its dates need not go together."""
    engine = EngineFactory(station=station, engine_type=types[one["engine_type"]])
    by = UserFactory()

    def state(given: Given, day: date) -> None:
        values = {**given, "engine_type": types[given["engine_type"]]}
        write_fact(
            Identity,
            station=station,
            subject={"engine": engine},
            true_from=day,
            at=noon(max(day, TODAY)),
            by=by,
            **values,
        )

    known = {"at": noon(TODAY), "by": by}
    acts: dict[str, Callable[[Any], object]] = {
        "overhaul": lambda on: add_overhaul(engine, on=on, transcribed=True, **known),
        "rebuild": lambda on: add_rebuild(engine, on=on, **known),
        "review": lambda on: review(engine, Review.HISTORY, "Runa Tveit", true_from=on, **known),
        "rebuild ahead": lambda days: add_rebuild(
            engine, on=ahead(days), at=noon(ahead(days)), by=by
        ),
        "identity": lambda given: state(given, date(2025, 2, 1)),
        "identity ahead": lambda said: state(said[1], ahead(said[0])),
    }  # fmt: skip
    for what, said in (*past.items(), ("identity", one)):
        with suppress(Refused, IntegrityError), transaction.atomic():
            acts[what](said)
    return engine


def ahead(days: int) -> date:
    return TODAY + timedelta(days=days)


def publish(station: Station, number: int, provisions: Document, *, on: date) -> Revision:  # fmt: skip
    """A further revision of a document, or its first one."""
    publication = station.publications.filter(
        number=f"SB-{number}"
    ).first() or PublicationFactory(station=station, number=f"SB-{number}")
    revision = RevisionFactory(
        publication=publication, confirmed=True, effective_on=on, issued_on=on
    )
    for order, (interval, condition) in enumerate(provisions):
        kinds: Given = {}
        if interval is not None:
            kinds = {
                "kind": Provision.Kind.INTERVAL,
                "rule__action": {},
                "rule__interval": interval,
            }
        ProvisionFactory(
            revision=revision, order=order, rule__condition=condition, **kinds
        )
    return revision


def compared(station: Station, revisions: list[Revision]) -> None:
    about = {revision.publication_id for revision in revisions}
    full = evaluated_in_full(station, TODAY)
    refresh_library(about, station, on=TODAY, at=noon(TODAY))
    for one, other in zip(kept(station), full, strict=True):
        assert one == other


OLD_BOOKS = [
    (
        {**dict.fromkeys(("rebuilt", "shipped")), "engine_type": "MX-4", "type_complete": True,
         "serial": "K-4002", "built": date(2019, 1, 5), "rebuilt_undated": False, "rebuilt_known": False},
        {"overhaul": date(2019, 1, 1)},
    )
]  # fmt: skip
REBUILT_SOON = [(OLD_BOOKS[0][0], {"rebuild ahead": 2})]
SHIPPED_EARLIER: list[Document] = [[(None, {"shipped": {"before": "2019-01-02"}})]]
EVERYBODY: list[Document] = [[(None, {"always": True})]]
NOBODY: list[Document] = [[(None, {"serial": ["Z-9"]})]]
BASE_FOR_ALL: list[Document] = [[(INTERVALS[0], {"always": True})]]
BASE_FOR_NONE: list[Document] = [[(INTERVALS[0], {"serial": ["Z-9"]})]]


@settings(
    max_examples=12,
    suppress_health_check=[
        HealthCheck.function_scoped_fixture,
        HealthCheck.too_slow,
    ],
)
@given(
    fleet=FLEETS, library=LIBRARIES, later=LIBRARIES, days=st.sets(st.integers(1, 6))
)
@example(fleet=OLD_BOOKS, library=SHIPPED_EARLIER, later=EVERYBODY, days={1})
@example(fleet=OLD_BOOKS, library=EVERYBODY, later=NOBODY, days=set())
@example(fleet=OLD_BOOKS, library=BASE_FOR_ALL, later=BASE_FOR_NONE, days=set())
def test_it_finds_what_a_full_evaluation_finds_and_goes_on_so(
    fleet: list[tuple[Given, Given]],
    library: list[Document],
    later: list[Document],
    days: set[int],
    station: Station,
) -> None:
    with taken_back():
        types = types_of(station)
        for identity, past in fleet:
            enter(station, types, identity, past)
        refresh(station, engines_of(station), on=TODAY, at=noon(TODAY))
        first = [
            publish(station, at, one, on=date(2026, 1, 5))
            for at, one in enumerate(library)
        ]
        compared(station, first)
        compared(
            station,
            [
                publish(station, at, one, on=date(2026, 2, 5))
                for at, one in enumerate(later)
            ],
        )
        for at, one in enumerate(library):
            publish(station, at, one, on=ahead(3))
        walk(station, map(ahead, sorted(days)))


@settings(
    max_examples=12,
    suppress_health_check=[
        HealthCheck.function_scoped_fixture,
        HealthCheck.too_slow,
    ],
)
@given(fleet=FLEETS, rules=st.lists(CONDITIONS, min_size=1, max_size=5), days=st.integers(0, 6))  # fmt: skip
@example(fleet=REBUILT_SOON, rules=[{"rebuilt": True}], days=0)
@example(fleet=REBUILT_SOON, rules=[{"rebuilt": True}], days=3)
def test_columns_hold_what_files_say_of_that_day(
    fleet: list[tuple[Given, Given]],
    rules: list[Given],
    days: int,
    station: Station,
) -> None:
    """But for what a review says of rebuilds, which columns leave open."""
    with taken_back():
        types = types_of(station)
        for identity, past in fleet:
            enter(station, types, identity, past)
        on = ahead(days)
        found = fleet_of(engines_of(station), on=on)
        files = engine_files(list(engines_of(station)), on=on)
    assert list(found.keys) == list(files)
    by_files = columns_of(_row(file.facts) for file in files.values())
    reviewed = [file.reviewed_on is not None for file in files.values()]
    for rule in map(parse_condition, rules):
        both = zip(found.columns.value(rule), by_files.value(rule), strict=True)
        for (ours, theirs), may_differ in zip(both, reviewed, strict=True):
            assert ours == theirs or (may_differ and ours == -1)


@settings(
    max_examples=12,
    suppress_health_check=[
        HealthCheck.function_scoped_fixture,
        HealthCheck.too_slow,
    ],
)
@given(
    fleet=FLEETS,
    library=LIBRARIES,
    tried=st.lists(PROVISIONS, min_size=1, max_size=2, unique_by=repr),
)
def test_a_trial_tells_what_a_look_at_all_engines_tells(
    fleet: list[tuple[Given, Given]],
    library: list[Document],
    tried: Document,
    station: Station,
    technician: Viewer,
) -> None:
    def replaces(rule: CompiledRule) -> bool:
        return rule.publication.number == "SB-0"

    with taken_back():
        types = types_of(station)
        for identity, past in fleet:
            enter(station, types, identity, past)
        for at, one in enumerate(library):
            publish(station, at, one, on=date(2026, 1, 5))
        publication = station.publications.get(number="SB-0")
        rules = rules_stated(publication, as_entered(tried))
        trial = try_rules(technician, rules, TODAY, replaces=replaces)
        files = engine_files(list(engines_of(station)), on=TODAY).values()
        outcomes = [
            {one.outcome for one in assessments(rules, file, on=TODAY)}
            for file in files
        ]
        in_force = intervals_in_force(station, TODAY)
        changed = try_intervals(in_force, rules, files, TODAY, replaces)
    applies = sum(Outcome.APPLIES in found for found in outcomes)
    out = sum(found == {Outcome.DOES_NOT_APPLY} for found in outcomes)
    assert trial.counts == AffectedCounts(
        applies=applies,
        undetermined=len(outcomes) - applies - out,
        does_not_apply=out,
    )
    assert trial.untried == 0
    assert [one.engine for one in trial.intervals] == [one.engine for one in changed]


def as_entered(provisions: Document) -> RevisionInput:
    return RevisionInput(
        label="9",
        effective_on=TODAY,
        applicability={"always": True},
        provisions=[
            ProvisionInput(
                title="As stated", condition=condition, action=WITHIN_50_HOURS
            )
            if interval is None
            else ProvisionInput(
                kind=Provision.Kind.INTERVAL,
                title="As stated",
                condition=condition,
                interval=interval,
            )
            for interval, condition in provisions
        ],
    )


def _row(facts: EngineFacts) -> IdentityRow:
    return IdentityRow(*(getattr(facts, name) for name in IdentityRow._fields))


MX4 = {"type": ["MX-4"]}
LISTED = {"all": [MX4, {"serial": ["4001..4002"]}]}


@pytest.fixture
def grown(station: Station) -> Callable[[int], None]:
    """So many engines more, evaluated: of type MX-4, numbered on from 4001."""
    of_type = EngineTypeFactory(station=station, designation="MX-4")
    numbers = iter(range(4001, 6000))

    def grow(engines: int) -> None:
        for _ in range(engines):
            EngineFactory(
                station=station, engine_type=of_type, serial=str(next(numbers))
            )
        refresh(station, engines_of(station), on=TODAY, at=noon(TODAY))

    return grow


def queries_of(station: Station, revision: Revision) -> int:
    with CaptureQueriesContext(connection) as asked:
        refresh_library([revision.publication_id], station, on=TODAY, at=noon(TODAY))
    return len(asked)


@pytest.mark.both
def test_a_document_that_concerns_nobody_reads_no_file(
    grown: Callable[[int], None], station: Station
) -> None:
    """Size of the library, standings written; whether it is about intervals; rules;
    who had a finding; keys, identities and rebuilds of the fleet."""
    found = []
    for more in (1, 20):
        grown(more)
        nowhere = {"all": [MX4, {"serial": ["9001..9005"]}]}
        found.append(queries_of(station, publish(station, more, [(None, nowhere)], on=TODAY)))  # fmt: skip
    assert found == [8, 8]
    assert not Finding.objects.exists()


@pytest.mark.both
def test_a_document_for_few_takes_as_many_queries_in_a_large_fleet(
    grown: Callable[[int], None], station: Station
) -> None:
    found = []
    for more in (2, 20):
        grown(more)
        found.append(queries_of(station, publish(station, more, [(None, LISTED)], on=TODAY)))  # fmt: skip
    assert found[0] == found[1]
    serials = Finding.objects.values_list("engine__serial", flat=True)
    assert sorted(serials) == ["4001", "4001", "4002", "4002"]


@pytest.mark.both
def test_a_type_that_holds_from_tomorrow_on_counts_from_tomorrow_on(
    station: Station,
) -> None:
    """What `Engine` repeats of its newest row is not asked: that row may lie ahead."""
    types = types_of(station)
    engine = EngineFactory(station=station, engine_type=types["MX-4"], serial="4001")
    changed = {"engine_type": types["LMX-4"], "serial": "4001"}
    write_fact(Identity, station=station, subject={"engine": engine}, true_from=ahead(1), at=noon(ahead(1)), by=UserFactory(), **changed)  # fmt: skip
    refresh(station, engines_of(station), on=TODAY, at=noon(TODAY))
    assert Standing.objects.get().again_on == ahead(1)
    old, new = (
        publish(station, at, [(None, {"type": [name]})], on=TODAY)
        for at, name in enumerate(("MX-4", "LMX-4"))
    )
    for one in (old, new):
        refresh_library([one.publication_id], station, on=TODAY, at=noon(TODAY))
    assert Finding.objects.get().provision.revision == old
    checked(station, ahead(1))
    assert Finding.objects.get().provision.revision == new

"""Which oil suits an engine, from the tables in force and what is recorded of it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import Any

import pytest

from notices.models import Provision
from notices.rules.facts import UNKNOWN, TemperatureRange
from tests.factories.notices import (
    ProvisionFactory,
    PublicationFactory,
    RevisionFactory,
)
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station
from tracker.compliance import changes
from tracker.compliance.facts.rows import QUERIES
from tracker.compliance.fluids import EngineOils, oils_of
from tracker.fleet.fuel import FuelEntry, add_fuel
from tracker.fleet.models import Engine
from tracker.fleet.register import OperationFacts

pytestmark = pytest.mark.django_db

TEMPERATE = {"ambient_low": "-12", "ambient_high": "33"}


def row(name: str, **more: Any) -> dict[str, Any]:
    return {
        "id": name,
        "grade": name,
        "class": "semi-synthetic",
        "ambient": {"from": -20, "to": 40},
        "fuel": ["unleaded", "leaded"],
    } | more


UNLEADED_ONLY = row("10W-40", fuel=["unleaded"])
ANY_FUEL = row("15W-50")
WARM = row("20W-50", ambient={"from": 32, "to": 122, "unit": "F"})


@pytest.fixture
def table(station: Station) -> Callable[..., Provision]:
    """Return a table of oils of a service letter; confirmed and in force unless said."""

    def make(
        *rows: dict[str, Any],
        number: str = "SL-1",
        at: Station = station,
        confirmed: bool = True,
        effective_on: date = date(2026, 1, 10),
        **rule: Any,
    ) -> Provision:
        publication = PublicationFactory(station=at, kind="SL", number=number)
        revision = RevisionFactory(
            publication=publication, confirmed=confirmed, effective_on=effective_on
        )
        return ProvisionFactory(
            revision=revision,
            kind=Provision.Kind.FLUIDS,
            title="Grades of oil",
            rule__action={},
            rule__fluids=list(rows),
            **rule,
        )

    return make


def run(**more: str) -> OperationFacts:
    return OperationFacts(**{"uses": ("private",), **TEMPERATE, **more})


def told(oils: EngineOils) -> list[tuple[str, str]]:
    return [
        (one.row.id, one.verdict.value) for found in oils.tables for one in found.advice
    ]


def test_rows_are_judged_by_climate_and_declared_habit(
    table, make_engine, technician: Viewer, today: date
) -> None:
    table(UNLEADED_ONLY, ANY_FUEL, WARM)
    engine = make_engine(operation=run(leaded_share="0"))
    oils = oils_of(technician, engine.public_id, today)
    assert oils.climate == TemperatureRange(low=Fraction(-12), high=Fraction(33))
    assert (oils.mix.source, oils.fuel) == ("declared", {"unleaded"})
    assert told(oils) == [
        ("10W-40", "suited"),
        ("15W-50", "suited"),
        ("20W-50", "not suited"),
    ]
    assert list(map(str, oils.suited)) == [
        "10W-40 semi-synthetic",
        "15W-50 semi-synthetic",
    ]
    assert oils.gaps == ()


def test_fuel_of_the_last_year_says_which_kinds_are_in_use(
    table, make_engine, technician: Viewer, today: date, now: datetime
) -> None:
    table(UNLEADED_ONLY, ANY_FUEL)
    engine = make_engine(operation=run(leaded_share="1"))

    def taken(days_ago: int, kind: str) -> None:
        entry = FuelEntry(on=today - timedelta(days_ago), quantity="40", kind=kind)
        add_fuel(engine, entry, at=now, by=technician.user)

    taken(300, "unleaded")
    taken(366, "leaded")
    oils = oils_of(technician, engine.public_id, today)
    assert (oils.mix.source, oils.mix.count, oils.fuel) == ("records", 1, {"unleaded"})
    assert told(oils) == [("10W-40", "suited"), ("15W-50", "suited")]
    taken(365, "leaded")
    oils = oils_of(technician, engine.public_id, today)
    assert (oils.mix.share, oils.fuel) == (Fraction(1, 2), {"leaded", "unleaded"})
    assert told(oils) == [("15W-50", "suited"), ("10W-40", "not suited")]


def test_a_climate_in_fahrenheit_is_compared_exactly_and_said_in_its_unit(
    table, make_engine, technician: Viewer, today: date
) -> None:
    table(WARM, row("15W-50", ambient={"from": 0, "to": 50}))
    operation = run(
        leaded_share="1", ambient_low="32", ambient_high="122", ambient_unit="F"
    )
    oils = oils_of(technician, make_engine(operation=operation).public_id, today)
    assert told(oils) == [("15W-50", "suited"), ("20W-50", "suited")]
    assert {one.why for table in oils.tables for one in table.advice} == {
        "Covers the season from 32 °F to 122 °F and the fuel in use."
    }


def split(oils: EngineOils) -> tuple[list[str], list[str]]:
    return list(map(str, oils.suited)), list(map(str, oils.disputed))


def test_an_oil_suits_only_where_every_table_that_names_it_says_so(
    table, make_engine, technician: Viewer, today: date
) -> None:
    cold = row("10W-40", ambient={"from": -30, "to": 20})
    table(UNLEADED_ONLY, ANY_FUEL, row("30"), number="SL-1")
    table(cold, row("15W-50"), row("30", **{"class": "mineral"}), number="SL-2")
    engine = make_engine(operation=run(leaded_share="0"))
    suited, disputed = split(oils_of(technician, engine.public_id, today))
    assert suited == ["15W-50 semi-synthetic", "30 semi-synthetic", "30 mineral"]
    assert disputed == ["10W-40 semi-synthetic"]


def test_a_table_allows_an_oil_where_one_of_its_rows_does(
    table, make_engine, technician: Viewer, today: date
) -> None:
    leaded = row("leaded", grade="10W-40", fuel=["leaded"])
    table(leaded, UNLEADED_ONLY)
    engine = make_engine(operation=run(leaded_share="0"))
    oils = oils_of(technician, engine.public_id, today)
    assert split(oils) == (["10W-40 semi-synthetic"], [])


def test_a_table_that_may_count_leaves_open_what_another_calls_suited(
    table, make_engine, technician: Viewer, today: date
) -> None:
    table(ANY_FUEL, number="SL-1")
    table(ANY_FUEL, number="SL-2", rule__condition={"ask": "Is the sump deep?"})
    engine = make_engine(operation=run(leaded_share="0"))
    oils = oils_of(technician, engine.public_id, today)
    assert split(oils) == ([], ["15W-50 semi-synthetic"])
    assert [oil.suited for oil in oils.disputed] == [None]


def test_what_is_not_known_is_named_once_with_what_it_would_decide(
    table, make_engine, technician: Viewer, today: date
) -> None:
    table(UNLEADED_ONLY, ANY_FUEL, number="SL-1")
    table(UNLEADED_ONLY, number="SL-2")
    oils = oils_of(technician, make_engine().public_id, today)
    assert (oils.climate, oils.fuel, oils.suited) == (UNKNOWN, UNKNOWN, ())
    assert len(oils.undetermined) == 3
    assert [(gap.fact, gap.decides) for gap in oils.gaps] == [
        ("ambient temperatures of the coming season", ("SL-1", "SL-2")),
        ("kind of fuel in use", ("SL-1", "SL-2")),
    ]


def test_while_it_is_open_whether_a_table_counts_no_row_is_called_suited(
    table, make_engine, technician: Viewer, today: date, now: datetime
) -> None:
    asks = {"ask": "Is the sump the deep one?"}
    made = table(ANY_FUEL, WARM, rule__condition=asks)
    engine = make_engine(operation=run(leaded_share="0"))
    oils = oils_of(technician, engine.public_id, today)
    [found] = oils.tables
    assert told(oils) == [("15W-50", "undetermined"), ("20W-50", "not suited")]
    assert found.advice[0].missing == found.missing
    assert "the answer to the question: Is the sump the deep one?" in found.missing
    for yes, expected in ((True, ["suited", "not suited"]), (False, [])):
        changes.answer(
            technician,
            engine,
            made.revision,
            asks["ask"],
            yes,
            true_from=today,
            at=now,
        )
        oils = oils_of(technician, engine.public_id, today)
        assert [verdict for _, verdict in told(oils)] == expected
    assert oils.others == 1


def test_a_row_may_ask_of_the_engine_and_of_its_fuel(
    table, make_engine, technician: Viewer, today: date
) -> None:
    table(
        row("10W-40", when={"leaded_share": {"over": 0.3}}),
        row("15W-50", when={"serial": ["5000.."]}),
    )
    engine = make_engine(serial="4711", operation=run(leaded_share="2/5"))
    oils = oils_of(technician, engine.public_id, today)
    assert told(oils) == [("10W-40", "suited"), ("15W-50", "not suited")]
    assert oils.tables[0].advice[1].why == "Serial number 4711 is not 5000 or above."


def test_only_tables_in_force_of_the_same_station_count(
    table, make_engine, technician: Viewer, other_station: Station, today: date
) -> None:
    table(ANY_FUEL, number="SL-1")
    table(ANY_FUEL, number="SL-2", effective_on=today + timedelta(1))
    table(ANY_FUEL, number="SL-3", confirmed=False)
    table(ANY_FUEL, number="SL-4", at=other_station)
    engine = make_engine(operation=run(leaded_share="0"))
    oils = oils_of(technician, engine.public_id, today)
    assert [t.rule.publication.number for t in oils.tables] == ["SL-1"]


def test_another_stations_engine_is_not_there(
    make_engine, stranger: Viewer, today: date
) -> None:
    with pytest.raises(Engine.DoesNotExist):
        oils_of(stranger, make_engine().public_id, today)


@pytest.mark.parametrize("tables", [1, 6])
def test_the_number_of_queries_is_fixed(
    table, make_engine, technician: Viewer, today: date, tables: int,
    django_assert_num_queries,
) -> None:  # fmt: skip
    for number in range(tables):
        rows = [row(f"{n}W-50", grade="15W-50") for n in range(tables)]
        table(*rows, number=f"SL-{number}")
    engine = make_engine(operation=run(leaded_share="0"))
    # The engine; its file, less three about parts and types; the tables.
    with django_assert_num_queries(1 + QUERIES - 3 + 1):
        oils = oils_of(technician, engine.public_id, today)
        assert len(told(oils)) == tables**2

"""Names in a rule that the station does not know are told, those it knows are not."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from notices.models import Provision
from tests.factories.fleet import EngineTypeFactory, PartRoleFactory
from tracker.accounts.models import Station
from tracker.compliance.names import unknown_names
from tracker.compliance.rules import rules_of
from tracker.fleet.engine_entries import OperationFacts
from tracker.fleet.models import Engine
from tracker.fleet.register import FittingFacts

pytestmark = pytest.mark.django_db

WITHIN_50 = {"initial": {"hours": 50, "after": "effective"}}


@pytest.fixture
def known(station: Station, make_engine: Callable[..., Engine]) -> Engine:
    """An MX-4T that holds a fuel pump, flown commercially in ZZ."""
    mx4t = EngineTypeFactory(station=station, designation="MX-4T")
    PartRoleFactory(engine_type=mx4t, role="fuel pump")
    return make_engine(
        engine_type=mx4t,
        fitting=FittingFacts(
            aircraft_type="TR-20", registration="ZZ-ETA", registry="ZZ"
        ),
        operation=OperationFacts(uses=("commercial",)),
    )


@pytest.fixture
def told(
    station: Station, known: Engine, make_provision: Callable[..., Provision]
) -> Callable[..., list[str]]:
    def tell(condition: Any, action: Any = WITHIN_50, role: str = "") -> list[str]:
        provision = make_provision(
            rule__condition=condition, rule__action=action, role=role
        )
        return unknown_names(station, rules_of(provision.revision))

    return tell


@pytest.mark.both
@pytest.mark.parametrize(
    "condition",
    [
        {"type": ["mx 4t", "MX-4*", "MX*"]},
        {"registry": ["zz"]},
        {"operation": ["Commercial"]},
        {"part": {"role": "Fuel pump"}},
        {"always": True},
        # The value of a property is not a name, whatever the property is called.
        {"attribute": "registry", "in": ["XX"]},
    ],
)
def test_what_the_station_knows_is_not_told(told: Any, condition: Any) -> None:
    assert told(condition) == []


@pytest.mark.parametrize(
    ("condition", "sentence"),
    [
        ({"type": ["MX-4"]}, 'No engine type of the station is "MX-4".'),
        ({"type": ["MX-4T", "MX-9*"]}, 'No engine type of the station is "MX-9*".'),
        (
            {"not": {"registry": ["ZX"]}},
            'No aircraft of an engine in care is registered in "ZX".',
        ),
        ({"operation": ["comercial"]}, 'No engine in care is run as "comercial".'),
        (
            {"any": [{"always": True}, {"part": {"role": "magnet"}}]},
            'No engine type of the station holds a "magnet", and none is on record.',
        ),
    ],
)
def test_what_nobody_knows_is_told(told: Any, condition: Any, sentence: str) -> None:
    assert told(condition) == [sentence]


def test_the_times_and_the_role_of_a_provision_are_looked_at_too(told: Any) -> None:
    after = {"part": "hose", "since": "fitted"}
    cases = [{"when": {"type": ["LX-1"]}, "then": {"hours": 5, "after": after}}]
    said = told({"always": True}, {"initial": {"cases": cases}}, role="clamp")
    # PostgreSQL keeps the keys of an object in an order of its own.
    assert sorted(said) == [
        'No engine type of the station holds a "clamp", and none is on record.',
        'No engine type of the station holds a "hose", and none is on record.',
        'No engine type of the station is "LX-1".',
    ]


def test_intervals_and_rows_of_oils_are_looked_at_too(
    station: Station, known: Engine, make_provision: Callable[..., Provision]
) -> None:
    interval = {
        "id": "base",
        "kind": "base",
        "hours": 1500,
        "since": "overhaul",
        "binding": ["commercial", "comercial"],
    }
    row = {
        "id": "one",
        "grade": "15W-50",
        "class": "mineral",
        "ambient": {"to": 35},
        "fuel": ["leaded"],
        "when": {"type": ["MX-4T", "LX-1"]},
    }
    first = make_provision(rule__action={}, rule__interval=interval)
    make_provision(revision=first.revision, rule__action={}, rule__fluids=[row])
    assert unknown_names(station, rules_of(first.revision)) == [
        'No engine in care is run as "comercial".',
        'No engine type of the station is "LX-1".',
    ]


def test_a_name_is_told_once_for_a_whole_revision(
    station: Station, known: Engine, make_provision: Callable[..., Provision]
) -> None:
    first = make_provision(rule__condition={"type": ["LX-1"]})
    make_provision(revision=first.revision, rule__condition={"type": ["LX-1"]})
    assert len(unknown_names(station, rules_of(first.revision))) == 1


def test_another_station_knows_nothing_of_it(
    other_station: Station, known: Engine, make_provision: Callable[..., Provision]
) -> None:
    provision = make_provision(rule__condition={"type": ["MX-4T"]})
    assert unknown_names(other_station, rules_of(provision.revision)) == [
        'No engine type of the station is "MX-4T".'
    ]

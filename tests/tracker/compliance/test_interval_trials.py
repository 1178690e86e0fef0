"""What a draft would make of overhaul intervals, told before it is confirmed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from notices.library import ProvisionInput, RevisionInput
from notices.models import Provision, Publication
from tests.factories.fleet import EngineTypeFactory
from tests.factories.notices import PublicationFactory
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station
from tracker.compliance.trials import Trial, rules_stated, try_rules
from tracker.fleet.models import Engine

pytestmark = pytest.mark.django_db

NO_BREAK = "\u00a0"
BASE = {"id": "base", "kind": "base", "hours": 1500, "years": 12, "since": "overhaul"}
LONGER = {"id": "more", "kind": "extension", "hours": 2000, "since": "overhaul"}
SHORTER = {"id": "tow", "kind": "restriction", "hours": 1200, "since": "overhaul"}
Trying = Callable[..., list[tuple[str, str, str, bool]]]


@pytest.fixture
def base(make_provision: Callable[..., Provision]) -> Publication:
    provision = make_provision(number="SI-18-001", rule__action={}, rule__interval=BASE)
    provision.kind = Provision.Kind.INTERVAL
    provision.save()
    return provision.revision.publication


@pytest.fixture
def tried(station: Station, technician: Viewer, today: date) -> Callable[..., Trial]:
    """Try a revision with one interval, of a new publication or of one in force."""

    def make(
        interval: dict[str, Any],
        of: Publication | None = None,
        applicability: dict[str, Any] | None = None,
    ) -> Trial:
        publication = of or PublicationFactory(station=station, number="SB-2")
        stated = RevisionInput(
            label="9",
            effective_on=today,
            applicability=applicability or {"always": True},
            provisions=[
                ProvisionInput(
                    kind="overhaul interval", title="Interval", interval=interval
                )
            ],
        )
        return try_rules(
            technician,
            rules_stated(publication, stated),
            today,
            replaces=lambda rule: rule.publication == publication,
        )

    return make


@pytest.fixture
def trying(tried: Callable[..., Trial]) -> Trying:
    def make(*given: Any, **named: Any) -> list[tuple[str, str, str, bool]]:
        changed = tried(*given, **named).intervals
        return [
            (
                one.engine.serial,
                one.before.replace(NO_BREAK, " "),
                one.after.replace(NO_BREAK, " "),
                one.shortens,
            )
            for one in changed
        ]

    return make


def test_a_longer_interval_is_told_for_each_engine_that_it_reaches(
    trying: Trying,
    base: Publication,
    station: Station,
    make_engine: Callable[..., Engine],
) -> None:
    mx4t = EngineTypeFactory(station=station, designation="MX-4T")
    make_engine(engine_type=mx4t, serial="4001")
    make_engine(serial="4002")
    assert trying(LONGER, applicability={"type": ["MX-4T"]}) == [
        ("4001", "1 500 h or 12 years", "2 000 h or 12 years", False)
    ]


def test_a_shorter_interval_is_marked_and_stands_first(
    trying: Trying, base: Publication, make_engine: Callable[..., Engine]
) -> None:
    make_engine(serial="4001")
    assert trying(SHORTER) == [
        ("4001", "1 500 h or 12 years", "1 200 h or 12 years", True)
    ]


def test_a_new_revision_takes_the_place_of_the_one_in_force(
    trying: Trying, base: Publication, make_engine: Callable[..., Engine]
) -> None:
    make_engine(serial="4001")
    assert trying({**BASE, "hours": 1400}, base) == [
        ("4001", "1 500 h or 12 years", "1 400 h or 12 years", True)
    ]
    assert trying(BASE, base) == []


def test_the_first_interval_that_is_known_shortens_what_had_no_end(
    trying: Trying, make_engine: Callable[..., Engine]
) -> None:
    make_engine(serial="4001")
    assert trying(BASE) == [("4001", "none known", "1 500 h or 12 years", True)]


def test_an_engine_that_is_not_reached_is_not_told(
    trying: Trying, base: Publication, make_engine: Callable[..., Engine]
) -> None:
    make_engine(serial="4001")
    assert trying(LONGER, applicability={"serial": ["5500.."]}) == []


def test_an_interval_is_tried_by_its_outcome_alone(
    tried: Callable[..., Trial], make_engine: Callable[..., Engine]
) -> None:
    make_engine(serial="4001")
    [row] = tried(BASE).sample
    assert (row.outcome, row.state) == ("applies", "applies")


def test_trying_takes_as_many_queries_for_one_engine_as_for_many(
    tried: Callable[..., Trial], base: Publication, make_engine: Callable[..., Engine]
) -> None:
    queries = []
    for more in (1, 11):
        for _ in range(more):
            make_engine()
        with CaptureQueriesContext(connection) as context:
            changed = tried(LONGER, base).changed
        queries.append(len(context))
    assert changed == 12
    assert queries[0] == queries[1]

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
                one.before.length.replace(NO_BREAK, " "),
                one.after.length.replace(NO_BREAK, " "),
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


def spaced(text: str) -> str:
    return text.replace(NO_BREAK, " ").replace("\u202f", " ")


@pytest.mark.parametrize(
    ("binding", "past"),
    [
        (True, "past by law"),
        (["commercial"], "past, not known whether by law"),
        ([], "past what is recommended"),
    ],
)
def test_an_engine_that_would_be_past_says_by_how_much_and_by_what(
    tried: Callable[..., Trial],
    base: Publication,
    evaluated: Callable[..., Engine],
    binding: bool | list[str],
    past: str,
) -> None:
    """181 days after its eight years, on 24 November 2026."""
    evaluated(serial="4001", built=date(2018, 5, 27), hours=(0, 50_000))
    [one] = tried({**BASE, "years": 8, "binding": binding}, base).intervals
    assert (one.before.past, one.after.past) == ("", past)
    assert "on 27 May 2030, 1 280 days left." in spaced(one.before.end)
    assert "on 27 May 2026, 181 days past." in spaced(one.after.end)


def test_hours_that_are_left_are_told_now_and_then(
    tried: Callable[..., Trial], base: Publication, evaluated: Callable[..., Engine]
) -> None:
    evaluated("private", serial="4001", built=date(2018, 5, 27), hours=(0, 130_000))
    [one] = tried(SHORTER).intervals
    assert spaced(one.before.end).startswith("Ends at 1 500.0 h TSN, 200.0 h left;")
    assert spaced(one.after.end).startswith("Ends at 1 200.0 h TSN, 100.0 h past;")


def test_those_past_by_law_stand_first_then_other_past_ones_then_the_rest(
    tried: Callable[..., Trial], base: Publication, evaluated: Callable[..., Engine]
) -> None:
    for use, serial, shown in (
        ("private", "4001", 10_000),
        ("private", "4002", 130_000),
        ("commercial", "4003", 130_000),
    ):
        built = date(2018, 5, 27)
        evaluated(use, serial=serial, built=built, hours=(0, shown))
    told = tried({**SHORTER, "binding": ["commercial"]}).intervals
    assert [one.engine.serial for one in told] == ["4003", "4002", "4001"]


def test_an_end_that_is_not_known_is_told_as_such(
    tried: Callable[..., Trial], base: Publication, make_engine: Callable[..., Engine]
) -> None:
    make_engine(serial="4001", built=None)
    [one] = tried(SHORTER).intervals
    assert "by date: not known" in one.after.end


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


def test_an_engine_whose_interval_a_new_revision_ends_is_told(
    trying: Trying, base: Publication, make_engine: Callable[..., Engine]
) -> None:
    """No rule of the revision concerns it, by its serial."""
    make_engine(serial="4001")
    assert trying(BASE, base, {"serial": ["5500.."]}) == [
        ("4001", "1 500 h or 12 years", "none known", False)
    ]


def test_a_revision_that_says_nothing_of_intervals_any_more_is_told(
    base: Publication,
    technician: Viewer,
    today: date,
    make_engine: Callable[..., Engine],
) -> None:
    make_engine(serial="4001")
    stated = RevisionInput(
        label="9",
        effective_on=today,
        applicability={"always": True},
        provisions=[ProvisionInput(kind="information", title="Read it")],
    )
    trial = try_rules(
        technician,
        rules_stated(base, stated),
        today,
        replaces=lambda rule: rule.publication == base,
    )
    [change] = trial.intervals
    assert change.after.length == "none known"


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


def test_only_those_whom_it_may_concern_count_towards_the_most_that_are_tried(
    tried: Callable[..., Trial],
    station: Station,
    make_engine: Callable[..., Engine],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    other = PublicationFactory(station=station)
    monkeypatch.setattr("tracker.compliance.trials.MOST_TRIED", 2)
    for serial in ("4001", "4002", "4003", "5501", "5502"):
        make_engine(serial=serial)
    few = tried(BASE, other, {"serial": ["5500.."]})
    assert (few.counts.applies, few.counts.does_not_apply, few.untried) == (2, 3, 0)
    many = tried(BASE, other, {"serial": ["..5000"]})
    assert (many.counts.applies, many.counts.does_not_apply, many.untried) == (2, 2, 1)
    assert many.engines == 4

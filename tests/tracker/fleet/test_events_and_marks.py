"""Overhauls, rebuilds, events, modifications, properties, reviews, searches."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from django.db import IntegrityError, transaction

from tests.factories.accounts import UserFactory
from tests.factories.fleet import EngineFactory
from tracker.accounts.models import User
from tracker.fleet.errors import Refused
from tracker.fleet.events import add_event, add_overhaul, add_rebuild, withdraw
from tracker.fleet.history import as_of
from tracker.fleet.marks import (
    embody,
    lapse_reviews,
    not_embodied,
    note_search,
    review,
    set_attribute,
)
from tracker.fleet.meters import start_meter
from tracker.fleet.models import (
    Attribute,
    Engine,
    Modification,
    NamedEvent,
    Overhaul,
    Part,
    Review,
    Search,
)
from tracker.fleet.parts import Fit, PartEntry, add_part

pytestmark = pytest.mark.django_db

AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
TODAY = date(2026, 11, 24)


@pytest.fixture
def by(db: None) -> User:
    return UserFactory()


@pytest.fixture
def engine(by: User) -> Engine:
    made = EngineFactory(built=date(2015, 1, 1))
    start_meter(made, kind="time in service", on=TODAY, shown=200000, at=AT, by=by)
    return made


@pytest.fixture
def part(engine: Engine, by: User) -> Part:
    entry = PartEntry(role="fuel pump", built=date(2016, 1, 1))
    return add_part(engine, entry, Fit(), true_from=TODAY, at=AT, by=by)


def test_a_rebuild_by_the_maker_makes_the_engine_new_again(engine, by) -> None:
    """14 CFR 91.421(c): a zero-time record without previous operating history."""
    rebuild = add_rebuild(engine, on=date(2025, 1, 1), hours=150000, at=AT, by=by)
    engine.refresh_from_db()
    assert (engine.hours_now, engine.tsn) == (200000, 50000)
    withdraw(rebuild, reason="was an overhaul", at=AT)
    engine.refresh_from_db()
    assert engine.tsn == 200000


def test_after_a_rebuild_at_hours_not_known_tsn_is_not_known(engine, by) -> None:
    add_rebuild(engine, on=date(2025, 1, 1), at=AT, by=by)
    engine.refresh_from_db()
    assert engine.tsn is None


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"on": date(2026, 11, 25)}, "on"),
        ({"on": date(2014, 12, 31)}, "on"),
        ({"on": date(2020, 1, 1), "hours": 200001}, "hours"),
        ({"on": date(2020, 1, 1), "hours": -1}, "hours"),
        ({"on": date(2020, 1, 1), "part_hours": 5}, "part_hours"),
        ({"on": date(2021, 4, 3), "hours": 40000}, "on"),
        ({"on": date(2022, 4, 3), "hours": 39999}, "hours"),
        ({"on": date(2022, 4, 3), "done_by": "x" * 121}, "by"),
    ],
)
def test_an_overhaul_that_cannot_be_is_refused(engine, by, given, field) -> None:
    add_overhaul(
        engine, on=date(2021, 4, 3), hours=40000, at=AT, by=by, tested="to limits"
    )
    with pytest.raises(Refused) as no:
        add_overhaul(engine, at=AT, by=by, **given, tested="to limits")
    assert no.value.field == field
    assert Overhaul.objects.count() == 1


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"on": date(2015, 12, 31)}, "on"),
        ({"on": date(2026, 11, 25)}, "on"),
        ({"on": date(2020, 1, 1), "part_hours": 40001}, "part_hours"),
        ({"on": date(2022, 1, 1), "part_hours": 39999}, "part_hours"),
    ],
)
def test_an_overhaul_of_a_part_that_cannot_be_is_refused(
    part, by, given, field
) -> None:
    add_overhaul(
        part, on=date(2021, 4, 3), part_hours=40000, at=AT, by=by, tested="to limits"
    )
    with pytest.raises(Refused) as no:
        add_overhaul(part, at=AT, by=by, **given, tested="to limits")
    assert no.value.field == field


def test_what_was_not_tested_is_called_overhauled_only_as_a_log_says_it(
    engine, by
) -> None:
    """14 CFR 43.2(a)(2), Amdt 43-43: overhauled is what was also tested."""
    with pytest.raises(Refused, match=r"43\.2\(a\)\(2\)") as refused:
        add_overhaul(engine, on=date(2021, 4, 3), at=AT, by=by, tested=" ")
    assert refused.value.field == "tested"
    assert not Overhaul.objects.exists()
    old = add_overhaul(engine, on=date(2021, 4, 3), at=AT, by=by, transcribed=True)
    new = add_overhaul(engine, on=date(2024, 4, 3), at=AT, by=by, tested="test sheet 7")
    assert (old.tested, old.lacks_a_test) == ("", True)
    assert (new.tested, new.lacks_a_test) == ("test sheet 7", False)
    rebuilt = add_rebuild(engine, on=date(2025, 1, 1), at=AT, by=by)
    assert not rebuilt.lacks_a_test, "it is not called overhauled"


@pytest.mark.both
def test_the_database_keeps_an_overhaul_of_an_engine_or_a_part(
    engine, part, by
) -> None:
    row = add_overhaul(engine, on=date(2021, 4, 3), at=AT, by=by, tested="to limits")
    row.part = part
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()


def test_a_withdrawn_entry_stays_and_no_longer_counts(engine, by) -> None:
    event = add_event(engine, "Oil  Change", on=TODAY, hours=200000, at=AT, by=by)
    assert event.name == "oil change"
    withdraw(event, reason="another engine", at=AT)
    assert not NamedEvent.objects.valid().exists()
    assert NamedEvent.objects.get().withdrawn_reason == "another engine"
    with pytest.raises(Refused, match="is withdrawn already"):
        withdraw(event, reason="again", at=AT)


def test_a_withdrawal_needs_a_reason(engine, by) -> None:
    event = add_event(engine, "oil change", on=TODAY, at=AT, by=by)
    with pytest.raises(Refused, match="withdrawn reason is missing"):
        withdraw(event, reason=" ", at=AT)


def test_an_overhaul_is_not_entered_as_a_named_event(engine, by) -> None:
    with pytest.raises(Refused, match="as an overhaul"):
        add_event(engine, "Overhaul", on=TODAY, at=AT, by=by)


def test_an_event_before_the_engine_was_made_is_refused(engine, by) -> None:
    with pytest.raises(Refused, match="before the engine was made"):
        add_event(engine, "oil change", on=date(2014, 1, 1), at=AT, by=by)


def test_one_modification_has_one_standing_however_written(engine, by) -> None:
    early = date(2026, 1, 1)
    embody(engine, "SB-24-011", source="page 12", true_from=early, at=AT, by=by)
    not_embodied(engine, "sb 24 011", true_from=TODAY, at=AT, by=by)
    row = Modification.objects.get(current=True)
    assert (row.designation, row.embodied) == ("sb 24 011", False)
    [before] = as_of(Modification, [engine], on=early, known_at=AT)
    assert (before.designation, before.embodied) == ("SB-24-011", True)


@pytest.mark.parametrize("name", ["", "--", "SB-1; SB-2", "x" * 81])
def test_what_names_no_single_modification_is_refused(engine, by, name) -> None:
    with pytest.raises(Refused) as no:
        embody(engine, name, true_from=TODAY, at=AT, by=by)
    assert no.value.field == "designation"


def test_properties_of_engine_and_part_are_kept_apart(engine, part, by) -> None:
    how = {"at": AT, "by": by}
    set_attribute(engine, "Drive", "direct", true_from=date(2026, 1, 1), **how)
    set_attribute(engine, "drive", "geared", true_from=TODAY, **how)
    set_attribute(part, "drive", "splined", true_from=TODAY, **how)
    [held] = as_of(Attribute, [engine], on=TODAY, known_at=AT)
    assert held.value == "geared"
    [held] = as_of(Attribute, [part], on=TODAY, known_at=AT, of="part")
    assert held.value == "splined"


def test_an_empty_property_is_refused(engine, by) -> None:
    with pytest.raises(Refused, match="value is missing"):
        set_attribute(engine, "drive", " ", true_from=TODAY, at=AT, by=by)


def test_a_lapsed_review_can_be_made_again(engine, by) -> None:
    how = {"at": AT, "by": by}
    review(engine, "Fuel Pump", "Ida Moe", true_from=date(2026, 1, 1), **how)
    [lapsed] = lapse_reviews(
        engine, reason="work elsewhere", true_from=date(2026, 2, 1), **how
    )
    assert (lapsed.scope, lapsed.valid, lapsed.person) == (
        "fuel pump",
        False,
        "Ida Moe",
    )
    review(engine, "fuel pump", "Ida Moe", true_from=TODAY, **how)
    assert Review.objects.get(current=True).valid
    assert (
        lapse_reviews(engine, reason="late news", true_from=date(2026, 2, 1), **how)
        == []
    )


def test_a_search_of_the_engine_and_one_of_an_accessory_stand_side_by_side(
    engine, part, by
) -> None:
    for searched_to, about in ((date(2026, 1, 1), None), (TODAY, None), (TODAY, part)):
        note_search(
            engine,
            "directives",
            searched_to=searched_to,
            source="authority's list",
            person="Ida Moe",
            at=AT,
            by=by,
            part=about,
        )
    rows = Search.objects.filter(current=True)
    assert {(row.part, row.true_from) for row in rows} == {
        (None, TODAY),
        (part, TODAY),
    }


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"kind": "rumours"}, "kind"),
        ({"source": ""}, "source"),
        ({"person": ""}, "person"),
        ({"searched_to": date(2026, 11, 25)}, "true_from"),
    ],
)
def test_a_search_without_its_circumstances_is_refused(
    engine, by, given, field
) -> None:
    whole = {
        "kind": "bulletins",
        "searched_to": TODAY,
        "source": "maker's list",
        "person": "Ida Moe",
        **given,
    }
    with pytest.raises(Refused) as no:
        note_search(engine, at=AT, by=by, **whole)
    assert no.value.field == field

"""The register: who may see what, what is found, what is refused."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from django.db import IntegrityError, transaction

from tests.factories.accounts import UserFactory
from tests.factories.fleet import (
    ENTERED,
    IN_CARE_FROM,
    EngineFactory,
    EngineTypeFactory,
    OwnerFactory,
)
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role, Station, User
from tracker.fleet.engine_entries import checked_operation
from tracker.fleet.errors import Refused
from tracker.fleet.history import as_of
from tracker.fleet.marks import review
from tracker.fleet.models import (
    Engine,
    EngineType,
    Identity,
    Operation,
    Owner,
    Part,
    PartRole,
    Review,
)
from tracker.fleet.parts import Fit, PartEntry, add_part, remove_part
from tracker.fleet.register import (
    FirstPast,
    FirstReading,
    FittingFacts,
    HistoryReview,
    IdentityFacts,
    LastOverhaul,
    NewEngine,
    OperationFacts,
    OwnerFacts,
    TypeFacts,
    add_engine,
    add_engine_type,
    add_engines,
    add_owner,
    change_engine_type,
    change_identity,
    change_operation,
    change_owner,
    change_owner_entry,
    change_state,
    fit_in_aircraft,
    give_login,
)

pytestmark = pytest.mark.django_db

AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
TODAY = date(2026, 11, 24)


@pytest.fixture
def by(db: None) -> User:
    return UserFactory()


@pytest.fixture
def mx4(station: Station) -> EngineType:
    return EngineTypeFactory(
        station=station, designation="MX-4", serial_pattern="K-#-#"
    )


def test_an_owner_sees_the_engines_and_parts_of_their_own_only(
    station, viewer_as, by
) -> None:
    mine, other = OwnerFactory(station=station), OwnerFactory(station=station)
    engines = [EngineFactory(station=station, owner=o) for o in (mine, other, None)]
    for engine in engines:
        add_part(engine, PartEntry(role="pump"), Fit(), true_from=TODAY, at=AT, by=by)
    viewer: Viewer = viewer_as(Role.OWNER)
    give_login(mine, viewer.user, ENTERED)
    give_login(mine, viewer.user, ENTERED)
    assert list(Engine.objects.visible_to(viewer)) == [engines[0]]
    assert list(Owner.objects.visible_to(viewer)) == [mine]
    part = Part.objects.visible_to(viewer).get()
    assert part.fittings.get().engine == engines[0]
    remove_part(part, true_from=TODAY, reason="sold", at=AT, by=by)
    assert not Part.objects.visible_to(viewer).exists()


def test_an_owner_no_longer_sees_what_was_sold(station, viewer_as, by) -> None:
    mine, buyer = OwnerFactory(station=station), OwnerFactory(station=station)
    engine = EngineFactory(station=station, owner=mine)
    viewer: Viewer = viewer_as(Role.OWNER)
    give_login(mine, viewer.user, ENTERED)
    assert Engine.objects.visible_to(viewer).exists()
    change_owner(engine, buyer, true_from=TODAY, at=AT, by=by)
    assert not Engine.objects.visible_to(viewer).exists()


def test_staff_see_all_of_their_station_and_nothing_of_another(
    station, technician, stranger
) -> None:
    engine = EngineFactory(station=station)
    assert list(Engine.objects.visible_to(technician)) == [engine]
    assert list(EngineType.objects.visible_to(technician)) == [engine.engine_type]
    assert not Engine.objects.visible_to(stranger).exists()
    assert not EngineType.objects.visible_to(stranger).exists()


@pytest.mark.parametrize(
    "text",
    ["K-612", "k612", "612 62", "lv-ab", "LVAB", "mx4", "mx 4", "fjord", "TR-20", " "],
)
def test_an_engine_is_found_however_it_is_written(station, mx4, text) -> None:
    engine = EngineFactory(
        station=station,
        engine_type=mx4,
        serial="K-612-62",
        owner=OwnerFactory(station=station, name="Fjord Flying Club"),
        fitting=FittingFacts(registration="LV-ABC", aircraft_type="TR-20"),
    )
    assert list(Engine.objects.all().matching(text)) == [engine]


@pytest.mark.parametrize("text", ["K-613", "LV-X", "MX-6", "%", "_", "nobody", "--"])
def test_what_is_not_there_is_not_found(station, mx4, text) -> None:
    EngineFactory(station=station, engine_type=mx4, serial="K-612-62")
    assert not Engine.objects.all().matching(text).exists()


@pytest.mark.parametrize("engines", [1, 20])
def test_a_list_of_engines_is_one_query(
    station, technician, engines, django_assert_num_queries
) -> None:
    for _ in range(engines):
        EngineFactory(station=station, owner=OwnerFactory(station=station))
    with django_assert_num_queries(1):
        listed = Engine.objects.visible_to(technician).for_list().matching("MX")
        assert len([(str(e), str(e.owner)) for e in listed]) == engines


@pytest.mark.both
@pytest.mark.parametrize("engines", [1, 30])
def test_many_engines_are_entered_in_as_many_queries_as_one(
    station, by, engines, django_assert_num_queries
) -> None:
    engine_type = EngineTypeFactory(station=station)
    owner = OwnerFactory(station=station)
    entries = [
        NewEngine(
            identity=IdentityFacts(engine_type=engine_type, serial=str(n)),
            owner=owner,
            fitting=FittingFacts(registration="LV-ABC"),
            operation=OperationFacts(uses=("private",)),
            past=FirstPast(
                reading=FirstReading(on=TODAY, shown=51230),
                overhaul=LastOverhaul(on=date(2021, 4, 3), hours=40000),
                embodied=("SB-24-011",),
                review=HistoryReview(on=TODAY, person="Ida Moe"),
            ),
        )
        for n in range(1, engines + 1)
    ]
    # serials that are kept; engines; identities, states, owners, fittings, operations;
    # meters, readings, overhauls, modifications, reviews
    with django_assert_num_queries(12):
        made = add_engines(station, entries, true_from=TODAY, at=AT, by=by)
    assert {e.pk for e in made} == set(
        Identity.objects.values_list("engine", flat=True)
    )
    for engine in Engine.objects.all():
        assert (engine.owner, engine.hours_now, engine.tsn) == (owner, 51230, 51230)
        assert engine.readings.get().meter == engine.meters.get()
        assert engine.reviews.get().valid


@pytest.mark.parametrize(
    ("past", "field", "said"),
    [
        (
            FirstPast(reading=FirstReading(on=date(2026, 11, 25), shown=1)),
            "on",
            "lies after today",
        ),
        (
            FirstPast(overhaul=LastOverhaul(on=date(2018, 12, 31))),
            "on",
            "before the engine was made",
        ),
        (
            FirstPast(
                reading=FirstReading(on=TODAY, shown=39999),
                overhaul=LastOverhaul(on=date(2021, 4, 3), hours=40000),
            ),
            "shown",
            r"before it 400\.0 h on 2021-04-03",
        ),
        (
            FirstPast(reading=FirstReading(on=TODAY, shown=-1)),
            "shown",
            "cannot be -0.01 h",
        ),
        (
            FirstPast(reading=FirstReading(on=TODAY, shown=1, kind="sundial")),
            "kind",
            "not a kind of meter",
        ),
        (FirstPast(embodied=("SB-1", "--")), "designation", "does not name one"),
        (
            FirstPast(review=HistoryReview(on=TODAY, person="")),
            "person",
            "person is missing",
        ),
    ],
)
def test_a_past_that_cannot_be_is_refused(station, mx4, by, past, field, said) -> None:
    identity = IdentityFacts(engine_type=mx4, serial="K-1-1", built=date(2019, 1, 1))
    entry = NewEngine(identity=identity, past=past)
    with pytest.raises(Refused, match=said) as no:
        add_engine(station, entry, true_from=TODAY, at=AT, by=by)
    assert no.value.field == field
    assert not Engine.objects.exists()


@pytest.mark.parametrize("serial", ["K-612-62", "K612-62", "k 612 62", "K-0612-62"])
def test_the_same_serial_written_otherwise_is_refused(station, mx4, by, serial) -> None:
    EngineFactory(station=station, engine_type=mx4, serial="K-612-62")
    with pytest.raises(Refused, match="already keeps a MX-4 with the serial") as no:
        EngineFactory(station=station, engine_type=mx4, serial=serial)
    assert no.value.field == "serial"
    EngineFactory(station=station, serial=serial)


def test_a_serial_of_another_shape_is_kept_as_stamped_and_noted(station, mx4) -> None:
    """A range leaves it undetermined: `tests/notices/rules/test_serials.py`."""
    odd = EngineFactory(station=station, engine_type=mx4, serial="K-612-62B")
    assert (odd.serial, odd.identities.get().serial) == ("K-612-62B", "K-612-62B")
    assert '"K-#-#"' in odd.serial_note
    fits = EngineFactory(station=station, engine_type=mx4, serial="K-612-62")
    assert fits.serial_note == ""
    assert EngineFactory(station=station, serial="K-612-62B").serial_note == ""


@pytest.mark.both
def test_the_database_keeps_one_engine_of_a_type_and_serial(station, mx4) -> None:
    engine = EngineFactory(station=station, engine_type=mx4, serial="K-612-62")
    engine.pk, engine.public_id = None, "00000000-0000-4000-8000-000000000000"
    with pytest.raises(IntegrityError), transaction.atomic():
        engine.save()


@pytest.mark.parametrize(
    ("given", "field", "said"),
    [
        ({"serial": " "}, "serial", "serial number is missing"),
        ({"serial": "--"}, "serial", "holds no serial number"),
        ({"serial": "K-1-1\x00"}, "serial", "control character U\\+0000"),
        ({"serial": "K-1-" + "1" * 60}, "serial", "at most 60 are kept"),
        ({"built": date(2026, 11, 25)}, "built", "lies after today, 2026-11-24"),
        ({"built": date(1899, 1, 1)}, "built", "before any engine kept here"),
        (
            {"built": date(2020, 1, 2), "shipped": date(2020, 1, 1)},
            "shipped",
            "before the date of manufacture",
        ),
        (
            {"built": date(2020, 1, 2), "rebuilt": date(2020, 1, 1)},
            "rebuilt",
            "before the date of manufacture",
        ),
        (
            {"rebuilt": date(2020, 1, 1), "rebuilt_undated": True},
            "rebuilt",
            "not both",
        ),
        ({"hours_at_new": -1}, "hours_at_new", "cannot be -0.01 h"),
    ],
)
def test_an_identity_that_cannot_be_is_refused(
    station, mx4, by, given, field, said
) -> None:
    identity = IdentityFacts(**{"engine_type": mx4, "serial": "K-1-1", **given})
    with pytest.raises(Refused, match=said) as no:
        add_engine(station, NewEngine(identity=identity), true_from=TODAY, at=AT, by=by)
    assert no.value.field == field
    assert not Engine.objects.exists()


def test_a_serial_of_another_shape_is_taken_for_a_type_known_in_part(
    station, mx4
) -> None:
    engine = EngineFactory(
        station=station, engine_type=mx4, serial="612", type_complete=False
    )
    assert not engine.type_complete


@pytest.mark.parametrize(
    ("facts", "field", "said"),
    [
        (FittingFacts(registry="N1"), "registry", "is not a state of registry"),
        (FittingFacts(registry="NOR"), "registry", "is not a state of registry"),
        (
            FittingFacts(fitted=False, registration="LV-A"),
            "fitted",
            "not fitted has no aircraft",
        ),
        (FittingFacts(position="x" * 21), "position", "at most 20 are kept"),
        (FittingFacts(airframe_hours=-5), "airframe_hours", "cannot be"),
    ],
)
def test_a_fitting_that_cannot_be_is_refused(by, facts, field, said) -> None:
    with pytest.raises(Refused, match=said) as no:
        fit_in_aircraft(EngineFactory(), facts, true_from=TODAY, at=AT, by=by)
    assert no.value.field == field


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        (OperationFacts(leaded_share="1.1"), "leaded_share"),
        (OperationFacts(leaded_share="3/2"), "leaded_share"),
        (OperationFacts(leaded_share="140 %"), "leaded_share"),
        (OperationFacts(leaded_share="1/0"), "leaded_share"),
        (OperationFacts(oil_low="85"), "oil_high"),
        (OperationFacts(oil_high="85"), "oil_low"),
        (OperationFacts(oil_low="warm", oil_high="85"), "oil_low"),
        (OperationFacts(oil_low="90", oil_high="85"), "oil_low"),
        (OperationFacts(oil_unit="K"), "oil_unit"),
        (OperationFacts(ambient_low="-15"), "ambient_high"),
        (OperationFacts(ambient_high="30"), "ambient_low"),
        (OperationFacts(ambient_low="cold", ambient_high="30"), "ambient_low"),
        (OperationFacts(ambient_low="31", ambient_high="30"), "ambient_low"),
        (OperationFacts(ambient_unit="K"), "ambient_unit"),
        (OperationFacts(ambient_low="20", ambient_high="86"), "ambient_high"),
        (OperationFacts(ambient_low="-90.1", ambient_high="0"), "ambient_low"),
        (
            OperationFacts(ambient_low="0", ambient_high="140.1", ambient_unit="F"),
            "ambient_high",
        ),
        (OperationFacts(uses=("a\x07b",)), "uses"),
        (OperationFacts(uses=("x" * 41,)), "uses"),
    ],
)
def test_an_operation_that_cannot_be_is_refused(by, facts, field) -> None:
    with pytest.raises(Refused) as no:
        change_operation(EngineFactory(), facts, true_from=TODAY, at=AT, by=by)
    assert no.value.field == field
    assert not Operation.objects.exists()


def test_shares_and_temperatures_are_kept_as_entered(by) -> None:
    facts = OperationFacts(
        uses=("Private", " private ", "School"),
        leaded_share=" 2/5 ",
        oil_low="-10.50",
        oil_high="200",
        oil_unit="F",
        ambient_low=" -12.5",
        ambient_high="-12.5",
    )
    row = change_operation(EngineFactory(), facts, true_from=TODAY, at=AT, by=by)
    assert (row.uses, row.leaded_share) == (["private", "school"], "2/5")
    assert (row.oil_low, row.oil_high, row.oil_unit) == ("-10.50", "200", "F")
    assert (row.ambient_low, row.ambient_high, row.ambient_unit) == ("-12.5",) * 2 + (
        "C",
    )


def test_fahrenheit_is_taken_at_its_exact_worth() -> None:
    """Both ends of the range of air, -90 and 60 degrees Celsius, are still in it."""
    facts = OperationFacts(ambient_low="-130", ambient_high="140", ambient_unit="F")
    assert checked_operation(facts) == facts


def test_an_unknown_state_is_refused(by) -> None:
    with pytest.raises(Refused, match="Write one of: in service, stored, removed"):
        change_state(EngineFactory(), "flying", true_from=TODAY, at=AT, by=by)


def test_a_date_of_manufacture_learnt_later_was_always_so(by) -> None:
    engine = EngineFactory(serial="7")
    facts = IdentityFacts(
        engine_type=engine.engine_type, serial="7", built=date(2019, 1, 1)
    )
    change_identity(engine, facts, at=AT, by=by)
    [then] = as_of(Identity, [engine], on=date(2020, 1, 1), known_at=AT)
    assert then.built == date(2019, 1, 1)
    [before] = as_of(Identity, [engine], on=date(2020, 1, 1), known_at=ENTERED)
    assert before.built is None


def test_a_converted_engine_has_its_new_designation_from_that_day(station, by) -> None:
    engine = EngineFactory(station=station, serial="7")
    was = engine.engine_type
    converted = EngineTypeFactory(station=station)
    facts = IdentityFacts(engine_type=converted, serial="7")
    change_identity(engine, facts, true_from=date(2026, 3, 1), at=AT, by=by)
    engine.refresh_from_db()
    assert engine.engine_type == converted
    for on, expected in ((date(2026, 2, 28), was), (date(2026, 3, 1), converted)):
        [row] = as_of(Identity, [engine], on=on, known_at=AT)
        assert row.engine_type == expected


def test_an_identity_of_another_engine_is_refused(station, mx4, by) -> None:
    EngineFactory(station=station, engine_type=mx4, serial="K-1-1")
    engine = EngineFactory(station=station, engine_type=mx4, serial="K-1-2")
    facts = IdentityFacts(engine_type=mx4, serial="K 1 1")
    with pytest.raises(Refused, match="already keeps"):
        change_identity(engine, facts, at=AT, by=by)


def test_reviews_lapse_with_a_transfer_and_not_with_a_first_owner(station, by) -> None:
    engine = EngineFactory(station=station)
    for scope in (Review.HISTORY, "fuel pump"):
        review(engine, scope, "Ida Moe", true_from=IN_CARE_FROM, at=AT, by=by)
    first, second = OwnerFactory(station=station), OwnerFactory(station=station)
    change_owner(engine, first, true_from=TODAY, at=AT, by=by)
    assert Review.objects.filter(current=True, valid=True).count() == 2
    change_owner(engine, second, true_from=TODAY, at=AT, by=by)
    lapsed = Review.objects.filter(current=True)
    assert [row.valid for row in lapsed] == [False, False]
    assert {row.remark for row in lapsed} == {f"transferred to {second}"}


def test_nothing_of_another_station_can_be_named(station, other_station, by) -> None:
    foreign_type = EngineTypeFactory(station=other_station)
    foreign_owner = OwnerFactory(station=other_station)
    identity = IdentityFacts(engine_type=foreign_type, serial="1")
    with pytest.raises(Refused, match="not known at this station"):
        add_engine(station, NewEngine(identity=identity), true_from=TODAY, at=AT, by=by)
    with pytest.raises(Refused, match="not known at this station"):
        EngineFactory(station=station, owner=foreign_owner)
    with pytest.raises(Refused, match="not known at this station"):
        change_owner(
            EngineFactory(station=station), foreign_owner, true_from=TODAY, at=AT, by=by
        )


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        (OwnerFacts(name=" "), "name"),
        (OwnerFacts(name="FJORD club"), "name"),
        (OwnerFacts(name="A", kind="friend"), "kind"),
        (OwnerFacts(name="A", time_zone="Mars/Olympus"), "time_zone"),
        (OwnerFacts(name="A", email="not an address"), "email"),
    ],
)
def test_an_owner_that_cannot_be_is_refused(station, facts, field) -> None:
    add_owner(station, OwnerFacts(name="Fjord Club"))
    with pytest.raises(Refused) as no:
        add_owner(station, facts)
    assert no.value.field == field


def test_an_owners_entry_may_be_changed_to_what_is_free(station) -> None:
    owner = add_owner(station, OwnerFacts(name="Fjord Club"))
    add_owner(station, OwnerFacts(name="Nora Lie"))
    change_owner_entry(owner, OwnerFacts(name="Fjord club", kind="club"))
    assert (owner.name, owner.kind) == ("Fjord club", "club")
    with pytest.raises(Refused, match="already has an owner"):
        change_owner_entry(owner, OwnerFacts(name="nora lie"))


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        (TypeFacts(designation="mx4", maker="M"), "designation"),
        (TypeFacts(designation="--", maker="M"), "designation"),
        (TypeFacts(designation="MX-6", maker=""), "maker"),
        (TypeFacts(designation="MX-6", maker="M", parts={"pump": 0}), "parts"),
        (TypeFacts(designation="MX-6", maker="M", parts={" ": 1}), "role"),
        (
            TypeFacts(designation="MX-6", maker="M", serial_pattern="#", serial_run=2),
            "serial_run",
        ),
    ],
)
def test_a_type_that_cannot_be_is_refused(station, mx4, facts, field) -> None:
    with pytest.raises(Refused) as no:
        add_engine_type(station, facts)
    assert no.value.field == field


def test_a_type_may_hold_other_parts_later(station) -> None:
    facts = TypeFacts(designation="MX-6", maker="M", parts={"Magneto": 2, "pump": 1})
    made = add_engine_type(station, facts)
    assert {(r.role, r.count) for r in PartRole.objects.all()} == {
        ("magneto", 2),
        ("pump", 1),
    }
    change_engine_type(
        made, TypeFacts(designation="MX-6T", maker="M", parts={"pump": 2})
    )
    assert (made.designation, made.designation_key) == ("MX-6T", "MX6T")
    assert [(r.role, r.count) for r in PartRole.objects.all()] == [("pump", 2)]

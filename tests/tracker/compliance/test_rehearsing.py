"""An act rehearsed tells what it would cause, and leaves not one row behind."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from notices.models import Provision
from tests.tracker.compliance.test_findings_follow import NAMES, acts, library
from tests.tracker.walk import undone
from tracker.accounts.access import Forbidden, Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.compliance.causes import Caused, Effect, caused_by, moments_of
from tracker.compliance.findings import refresh
from tracker.compliance.models import Finding, Standing
from tracker.compliance.rehearsing import rehearsing
from tracker.fleet.errors import ChangedMeanwhile, Refused
from tracker.fleet.models import Engine, Overhaul, Part
from tracker.fleet.parts import Fit, PartEntry
from tracker.fleet.register import OperationFacts

__all__ = ["acts", "library"]

DAY = date(2026, 11, 20)
OF_THE_LIBRARY = {"confirm", "cancel", "change rule"}
REHEARSED = [name for name in NAMES if name not in OF_THE_LIBRARY]
AFTER_ANOTHER = {"void": "record", "remove part": "part", "withdraw": "event"}
Acts = dict[str, Callable[[datetime, int], object]]
Library = list[Provision]


def dump() -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table, as the database holds it."""
    rows = {}
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            named = connection.ops.quote_name(table)
            cursor.execute(f"SELECT * FROM {named}")  # noqa: S608  # names of our own tables
            rows[table] = sorted(cursor.fetchall(), key=repr)
    return rows


def really(engine: Engine, viewer: Viewer, act: Callable[[], object]) -> Caused:
    """What is different after the act was carried out for good."""
    on = date(2026, 11, 24)
    before = moments_of(viewer, [engine.pk], on)
    act()
    return caused_by(before, moments_of(viewer, [engine.pk], on), on)


def numbers(effects: tuple[Effect, ...]) -> list[str]:
    return [effect.row.publication.number for effect in effects]


@pytest.mark.both
@pytest.mark.django_db(transaction=True)
def test_a_rehearsal_in_a_transaction_of_its_own_leaves_no_row(
    acts: Acts, engine: Engine, technician: Viewer, now: datetime
) -> None:
    """As in service, where no transaction of a test stands around it."""
    for name in ("part", "operation", "answer", "record", "rebuild"):
        before = dump()
        with rehearsing() as rehearsal:
            acts[name](now, 0)
        assert dump() == before
        assert not connection.in_atomic_block
        done = really(engine, technician, lambda: acts[name](now, 0))  # noqa: B023  # called at once
        assert rehearsal.caused.digest == done.digest


@pytest.mark.both
@pytest.mark.django_db
@pytest.mark.parametrize("name", REHEARSED)
def test_a_rehearsed_act_writes_nothing_and_causes_what_the_act_does(
    name: str, acts: Acts, engine: Engine, technician: Viewer, now: datetime
) -> None:
    if name in AFTER_ANOTHER:
        acts[AFTER_ANOTHER[name]](now, 0)
    before = dump()
    moment = now + timedelta(minutes=1)
    with rehearsing() as rehearsal:
        acts[name](moment, 0)
    assert dump() == before
    done = really(engine, technician, lambda: acts[name](moment, 0))
    assert dump() != before
    assert rehearsal.caused.digest == done.digest


@pytest.mark.both
@pytest.mark.django_db
@settings(
    max_examples=int(os.environ.get("REHEARSALS", "8")),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.lists(st.tuples(st.sampled_from(REHEARSED), st.integers(0, 5)), min_size=1, max_size=5))  # fmt: skip
def test_any_history_can_be_rehearsed_one_act_ahead(
    data: list[tuple[str, int]],
    acts: Acts,
    engine: Engine,
    technician: Viewer,
    now: datetime,
) -> None:
    """Each act is rehearsed, then done, on what the acts before it have left."""
    with undone():
        for step, (name, n) in enumerate(data):
            moment = now + timedelta(minutes=1 + step)
            before, refusal = dump(), ""
            try:
                with rehearsing() as rehearsal:
                    acts[name](moment, n)
            except (ValueError, IndexError) as error:
                refusal = f"{type(error).__name__}: {error}"
            assert dump() == before, name
            if refusal:
                with pytest.raises((ValueError, IndexError)) as raised:
                    acts[name](moment, n)
                assert f"{type(raised.value).__name__}: {raised.value}" == refusal
                continue
            done = really(engine, technician, lambda: acts[name](moment, n))  # noqa: B023  # called at once
            assert rehearsal.caused.digest == done.digest, name


@pytest.mark.both
@pytest.mark.django_db(transaction=True)
def test_an_act_is_kept_where_the_rehearsal_is(
    acts: Acts, engine: Engine, technician: Viewer, now: datetime
) -> None:
    ran: list[str] = []
    with rehearsing() as rehearsal:
        acts["overhaul"](now, 0)
        transaction.on_commit(lambda: ran.append("kept"))
        rehearsal.keep()
        assert ran == []
    assert ran == ["kept"]
    assert Overhaul.objects.get().engine == engine
    assert numbers(rehearsal.caused.ended) == ["SB-9"]
    assert not Finding.objects.filter(provision__title="SB-9").exists()


@pytest.mark.both
@pytest.mark.django_db(transaction=True)
def test_what_waits_for_the_commit_never_runs(acts: Acts, now: datetime) -> None:
    ran: list[str] = []
    with rehearsing():
        acts["overhaul"](now, 0)
        transaction.on_commit(lambda: ran.append("sent"))
    assert ran == []
    acts["event"](now, 0)
    assert ran == []


@pytest.mark.both
@pytest.mark.django_db(transaction=True)
def test_a_refusal_comes_through_as_it_is(
    engine: Engine,
    technician: Viewer,
    viewer_as: Callable[..., Viewer],
    stranger: Viewer,
    now: datetime,
) -> None:
    facts = OperationFacts(uses=("commercial",))

    def run(viewer: Viewer, on: date, version: int | None = None) -> None:
        with rehearsing():
            changes.change_operation(
                viewer, engine, facts, true_from=on, version=version, at=now
            )

    owner = viewer_as(Role.OWNER)
    before = dump()
    with pytest.raises(Refused, match="lies after today, 2026-11-24") as refused:
        run(technician, date(2026, 11, 25))
    assert refused.value.field == "true_from"
    with pytest.raises(ChangedMeanwhile):
        run(technician, DAY, version=engine.version + 7)
    with pytest.raises(Forbidden):
        run(owner, DAY)
    with pytest.raises(Engine.DoesNotExist):
        run(stranger, DAY)
    assert dump() == before
    assert not connection.in_atomic_block


@pytest.mark.both
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("name", sorted(OF_THE_LIBRARY))
def test_an_act_that_cannot_be_rehearsed_writes_nothing(
    name: str, acts: Acts, now: datetime
) -> None:
    before = dump()
    with pytest.raises(RuntimeError, match="durable"), rehearsing():
        acts[name](now, 0)
    assert dump() == before


def test_a_rehearsal_without_an_act_says_so(db: None) -> None:
    with rehearsing() as rehearsal:
        pass
    with pytest.raises(RuntimeError, match="No act that can be rehearsed"):
        rehearsal.caused  # noqa: B018  # it raises


@pytest.mark.both
@pytest.mark.django_db(transaction=True)
def test_rehearsals_leave_no_trace_in_the_next_act(
    acts: Acts, engine: Engine, now: datetime
) -> None:
    """Also one that was refused: the act after it is an act again."""
    with pytest.raises(Refused), rehearsing():
        acts["withdraw"](now, 0) if engine.events.exists() else _refuse()
    acts["overhaul"](now, 0)
    assert Overhaul.objects.count() == 1


def _refuse() -> None:
    raise Refused("on", "No.")


@pytest.mark.both
@pytest.mark.django_db(transaction=True)
def test_an_engine_is_free_again_after_a_rehearsal(
    acts: Acts, engine: Engine, now: datetime
) -> None:
    """Asked from another thread, which has a connection of its own."""
    with rehearsing():
        acts["overhaul"](now, 0)
    said: list[object] = []

    def write() -> None:
        try:
            with transaction.atomic():
                said.append(Engine.objects.filter(pk=engine.pk).update(position="left"))
        except DatabaseError as error:
            said.append(error)
        finally:
            connection.close()

    thread = threading.Thread(target=write)
    thread.start()
    thread.join(timeout=20)
    assert said == [1]


@pytest.fixture
def pump(engine: Engine, technician: Viewer, now: datetime) -> Part:
    entry = PartEntry(role="fuel pump", number="P-8801", serial="A-17")
    fit = Fit(hours_new=0, engine_hours=48_000)
    on = date(2026, 1, 10)
    return changes.add_part(technician, engine, entry, fit, true_from=on, at=now)


def of_pumps(number: str, hours: int) -> dict[str, Any]:
    return {
        "role": "fuel pump",
        "rule__condition": {"this": {"number": [number]}},
        "rule__action": {
            "initial": {
                "hours": hours,
                "after": {"part": "fuel pump", "since": "fitted"},
            }
        },
    }


def replaced(
    viewer: Viewer, engine: Engine, part: Part, number: str, at: datetime
) -> Caused:
    entry = PartEntry(role="fuel pump", number=number, serial="B-2")
    with rehearsing() as rehearsal:
        changes.replace_part(
            viewer,
            engine,
            part,
            entry,
            Fit(fitted_new=True),
            true_from=date(2026, 11, 24),
            reason="worn",
            at=at,
        )
    return rehearsal.caused


@pytest.mark.django_db
def test_a_part_in_the_place_of_another_moves_the_finding_it_is_about(
    engine: Engine, pump: Part, technician: Viewer, make_provision, now: datetime
) -> None:
    make_provision(number="SB-1", **of_pumps("P-88*", 100))
    changes.refresh_station(engine.station, now.date(), at=now)
    caused = replaced(technician, engine, pump, "P-8802", now)
    [moved] = caused.moved
    assert moved.before is not None
    assert moved.after is not None
    assert (moved.before.due_hours, moved.after.due_hours) == (58_000, 62_000)
    assert (moved.before.part, moved.after.part) == (
        "fuel pump, P-8801, serial A-17",
        "fuel pump, P-8802, serial B-2",
    )
    assert (caused.new, caused.ended) == ((), ())
    assert not caused.gives_pause


@pytest.mark.django_db
def test_a_part_that_leaves_all_as_it_was_causes_nothing(
    engine: Engine, pump: Part, technician: Viewer, make_provision, now: datetime
) -> None:
    """Another row, another serial, the same duty."""
    by = {"initial": {"date": "2027-03-01"}}
    about_pumps = of_pumps("P-88*", 1) | {"rule__action": by}
    make_provision(number="SB-1", **about_pumps)
    changes.refresh_station(engine.station, now.date(), at=now)
    caused = replaced(technician, engine, pump, "P-8802", now)
    assert caused.is_nothing
    assert not caused.gives_pause


@pytest.mark.django_db
def test_a_finding_that_ends_says_why(
    engine: Engine, pump: Part, technician: Viewer, make_provision, now: datetime
) -> None:
    make_provision(number="SB-1", **of_pumps("P-8801", 100))
    make_provision(number="SB-2", **of_pumps("P-9*", 10))
    make_provision(
        number="SB-3",
        rule__condition={
            "part": {"role": "fuel pump", "where": {"number": ["P-8801"]}}
        },
    )
    changes.review(technician, engine, "fuel pump", "R", true_from=DAY, at=now)
    caused = replaced(technician, engine, pump, "P-9000", now)
    assert numbers(caused.effects) == ["SB-2", "SB-3", "SB-1"]
    assert numbers(caused.new) == ["SB-2"]
    assert caused.gives_pause
    for ended in caused.ended:
        assert "P-9000" in " ".join(ended.reasons)


@pytest.mark.django_db
def test_a_finding_about_a_part_that_is_taken_off_ends(
    engine: Engine, pump: Part, technician: Viewer, make_provision, now: datetime
) -> None:
    make_provision(number="SB-1", **of_pumps("P-88*", 100))
    changes.review(technician, engine, "fuel pump", "R", true_from=DAY, at=now)
    with rehearsing() as rehearsal:
        changes.remove_part(
            technician, engine, pump, true_from=now.date(), reason="worn", at=now
        )
    [ended] = rehearsal.caused.ended
    assert ended.reasons == ("No fuel pump is fitted.",)


@pytest.mark.django_db
def test_a_moved_part_is_told_for_both_engines(
    make_engine, technician: Viewer, make_provision, now: datetime
) -> None:
    make_provision(
        number="SB-1",
        rule__condition={
            "part": {"role": "fuel pump", "where": {"number": ["P-8801"]}}
        },
    )
    first, second = make_engine(), make_engine()
    entry = PartEntry(role="fuel pump", number="P-8801", serial="A-17")
    on = date(2026, 1, 10)
    for one in (first, second):
        changes.review(technician, one, "fuel pump", "R", true_from=DAY, at=now)
    part = changes.add_part(technician, first, entry, Fit(), true_from=on, at=now)
    before = dump()
    with rehearsing() as rehearsal:
        changes.move_part(
            technician, first, part, second, Fit(), true_from=now.date(), at=now
        )
    assert dump() == before
    told = {one.engine.pk: one for one in rehearsal.caused.engines}
    assert [e.after for e in told[first.pk].effects] == [None]
    assert [e.before for e in told[second.pk].effects] == [None]


@pytest.mark.django_db
def test_facts_come_and_go(
    engine: Engine, technician: Viewer, make_provision, now: datetime
) -> None:
    """With use known, one document is settled, and asks for what it did not need."""
    both = [{"operation": ["commercial"]}, {"attribute": "drive", "in": ["geared"]}]
    make_provision(number="SB-1", rule__condition={"all": both})
    make_provision(number="SB-2", rule__condition={"operation": ["commercial"]})
    changes.refresh_station(engine.station, now.date(), at=now)
    facts = OperationFacts(uses=("commercial",))
    with rehearsing() as rehearsal:
        changes.change_operation(technician, engine, facts, true_from=DAY, at=now)
    [told] = rehearsal.caused.engines
    assert [gap.fact for gap in told.settled] == ["kind of operation"]
    assert told.missing == ()
    [moved] = told.effects
    assert moved.before is not None
    assert moved.after is not None
    assert (moved.before.word, moved.after.word) == ("undetermined", "coming due")


@pytest.mark.django_db
def test_days_that_passed_are_not_put_down_to_the_act(
    engine: Engine, technician: Viewer, make_provision, now: datetime
) -> None:
    """A document that takes over on the day of the act, before anybody evaluated it."""
    late = now + timedelta(days=3)
    make_provision(number="SB-1", effective_on=late.date())
    with rehearsing() as rehearsal:
        changes.set_attribute(
            technician, engine, "drive", "geared", true_from=DAY, at=late
        )
    assert rehearsal.caused.is_nothing
    assert not Finding.objects.exists()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("before", "after", "pause"),
    [
        ({"overhaul_hours": 150_000}, {"overhaul_hours": 120_000}, True),
        ({"overhaul_hours": 150_000}, {"overhaul_hours": 200_000}, False),
        ({"overhaul_hours": 150_000}, {}, True),
        ({}, {"overhaul_hours": 150_000}, False),
        (
            {"overhaul_hours": 150_000, "overhaul_on": date(2031, 3, 1)},
            {"overhaul_hours": 200_000, "overhaul_on": date(2030, 3, 1)},
            True,
        ),
    ],
)
def test_an_interval_that_ends_earlier_gives_pause(
    engine: Engine,
    technician: Viewer,
    before: dict[str, Any],
    after: dict[str, Any],
    pause: bool,
    now: datetime,
) -> None:
    standings = Standing.objects.filter(engine=engine)
    empty = {"overhaul_hours": None, "overhaul_on": None}
    standings.update(**(empty | before))
    was = moments_of(technician, [engine.pk], now.date())
    standings.update(**(empty | after))
    caused = caused_by(was, moments_of(technician, [engine.pk], now.date()), now.date())
    assert caused.gives_pause is pause
    [told] = caused.engines
    assert told.interval is not None


@pytest.mark.both
@pytest.mark.django_db
def test_an_extension_that_is_lost_and_won_moves_the_interval(
    interval, evaluated, technician: Viewer, now: datetime
) -> None:
    base = interval({"id": "base", "kind": "base", "hours": 500, "since": "overhaul"})
    interval(
        {"id": "longer", "kind": "extension", "hours": 700, "since": "overhaul"},
        when={"embodied": "SB-24-011"},
        beside=base,
    )
    engine = evaluated("private")

    def ends(act: Callable[..., object]) -> tuple[list[int | None], bool]:
        with rehearsing() as rehearsal:
            act(technician, engine, "SB-24-011", true_from=DAY, at=now)
        [told] = rehearsal.caused.engines
        assert told.interval is not None
        tsn = [one.tsn if one else None for one in told.interval]
        return tsn, rehearsal.caused.gives_pause

    assert ends(changes.embody) == ([50_000, 70_000], False)
    changes.embody(technician, engine, "SB-24-011", true_from=DAY, at=now)
    assert ends(changes.not_embodied) == ([70_000, 50_000], True)


@pytest.mark.django_db
@pytest.mark.parametrize("findings", [1, 12])
def test_a_moment_takes_the_same_queries_however_much_is_found(
    engine: Engine,
    technician: Viewer,
    make_provision,
    findings: int,
    now: datetime,
    django_assert_num_queries,
) -> None:
    for _ in range(findings):
        make_provision()
    found = Engine.objects.select_related("engine_type").filter(pk=engine.pk)
    refresh(engine.station, found, on=now.date(), at=now)
    # engines with type and standing; findings
    with django_assert_num_queries(2):
        moments_of(technician, [engine.pk], now.date())

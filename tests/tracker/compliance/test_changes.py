"""Who may do which act, on what, and what becomes of two who do the same at once."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.core.exceptions import ObjectDoesNotExist
from django.db import connection, connections, transaction

from notices.library import ProvisionInput, ReferenceInput, RevisionInput
from notices.models import Publication, Revision
from tests.factories.compliance import entry
from tests.factories.fleet import OwnerFactory
from tests.factories.notices import RevisionFactory
from tracker.accounts.access import Forbidden, Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.compliance.ledger import Taken, verify_chain
from tracker.compliance.models import Answer, Closed, Declined, Finding, Record
from tracker.fleet.errors import ChangedMeanwhile, Refused
from tracker.fleet.models import Engine, Reading
from tracker.fleet.parts import Fit, PartEntry
from tracker.fleet.register import (
    FittingFacts,
    IdentityFacts,
    OperationFacts,
    give_login,
)

DAY = date(2026, 11, 20)
Act = Callable[[Viewer], object]


@pytest.fixture
def acts(engine, make_provision, station, technician, now) -> dict[str, Act]:
    """One call of every act on an engine, and of those on a publication."""
    provision = make_provision()
    publication = provision.revision.publication
    record = changes.record_work(
        technician,
        engine,
        entry(DAY, hours=51_000, description="Oil changed."),
        at=now,
    )
    part = changes.add_part(
        technician,
        engine,
        PartEntry(role="magneto"),
        Fit(),
        true_from=DAY,
        at=now,
    )
    event = changes.add_event(technician, engine, "oil change", on=DAY, at=now)
    reading = Reading.objects.latest("on")
    owner = OwnerFactory(station=station)
    draft = RevisionFactory(publication=publication, label="d", sequence=10_000)
    dated: dict[str, Any] = {"true_from": DAY, "at": now}
    stated = RevisionInput(label="x")
    identity = IdentityFacts(engine_type=engine.engine_type, serial=engine.serial)
    done = entry(DAY, hours=51_000, provision=provision)
    return {
        "change_identity": lambda v: changes.change_identity(
            v, engine, identity, at=now
        ),
        "change_owner": lambda v: changes.change_owner(v, engine, owner, **dated),
        "fit_in_aircraft": lambda v: changes.fit_in_aircraft(
            v, engine, FittingFacts(fitted=False), **dated
        ),
        "change_state": lambda v: changes.change_state(v, engine, "stored", **dated),
        "change_operation": lambda v: changes.change_operation(
            v, engine, OperationFacts(), **dated
        ),
        "change_meter": lambda v: changes.change_meter(
            v, engine, kind="tachometer", on=now.date(), shown=0, reason="Worn.", at=now
        ),
        "correct_reading": lambda v: changes.correct_reading(
            v, reading, shown=52_000, at=now
        ),
        "add_part": lambda v: changes.add_part(
            v, engine, PartEntry(role="magneto"), Fit(), **dated
        ),
        "describe_part": lambda v: changes.describe_part(
            v, engine, part, PartEntry(role="magneto"), at=now
        ),
        "correct_fitting": lambda v: changes.correct_fitting(
            v, engine, part, Fit(place="left"), at=now
        ),
        "remove_part": lambda v: changes.remove_part(
            v, engine, part, reason="Worn.", **dated
        ),
        "add_overhaul": lambda v: changes.add_overhaul(
            v, engine, on=DAY, at=now, tested="to limits"
        ),
        "add_rebuild": lambda v: changes.add_rebuild(v, engine, on=DAY, at=now),
        "add_event": lambda v: changes.add_event(
            v, engine, "oil change", on=DAY, at=now
        ),
        "withdraw": lambda v: changes.withdraw(v, event, reason="No.", at=now),
        "embody": lambda v: changes.embody(v, engine, "MOD-1", **dated),
        "not_embodied": lambda v: changes.not_embodied(v, engine, "MOD-1", **dated),
        "set_attribute": lambda v: changes.set_attribute(
            v, engine, "drive", "geared", **dated
        ),
        "review": lambda v: changes.review(v, engine, "history", "R", **dated),
        "lapse_reviews": lambda v: changes.lapse_reviews(
            v, engine, reason="Work elsewhere.", **dated
        ),
        "note_search": lambda v: changes.note_search(
            v,
            engine,
            "directives",
            searched_to=DAY,
            source="list",
            person="R",
            at=now,
        ),
        "answer": lambda v: changes.answer(
            v, engine, provision.revision, "Seen?", True, **dated
        ),
        "decline": lambda v: changes.decline(
            v, engine, publication, person="O", reason="So.", **dated
        ),
        "adopt": lambda v: changes.adopt(
            v, engine, publication, person="O", reason="So.", **dated
        ),
        "record_work": lambda v: changes.record_work(v, engine, done, at=now),
        "void_record": lambda v: changes.void_record(v, record, reason="No.", at=now),
        "change_publication": lambda v: changes.change_publication(
            v, publication, kind="SB", number="SB-X", issuer="M", title="T", at=now
        ),
        "add_draft": lambda v: changes.add_draft(v, publication, stated, at=now),
        "change_draft": lambda v: changes.change_draft(
            v, draft, stated, version=1, at=now
        ),
        "discard_draft": lambda v: changes.discard_draft(v, draft, version=1, at=now),
        "cancel_revision": lambda v: changes.cancel_revision(
            v, provision.revision, on=DAY, reason="No.", at=now
        ),
        "change_rule": lambda v: changes.change_rule(
            v, provision, number=1, reason="R", condition={"always": True}, at=now
        ),
    }


ACTS = [
    "change_identity", "change_owner", "fit_in_aircraft", "change_state",
    "change_operation", "change_meter", "correct_reading", "add_part",
    "describe_part", "correct_fitting", "remove_part", "add_overhaul", "add_rebuild", "add_event",
    "withdraw", "embody", "not_embodied", "set_attribute", "review",
    "lapse_reviews", "note_search", "answer", "decline", "adopt", "record_work",
    "void_record", "change_publication", "add_draft", "change_draft",
    "discard_draft", "cancel_revision", "change_rule",
]  # fmt: skip


def test_an_administrator_of_another_station_finds_none_of_it(
    acts, stranger: Viewer
) -> None:
    assert sorted(acts) == sorted(ACTS)
    for name, act in acts.items():
        with pytest.raises(ObjectDoesNotExist):
            act(stranger)
        assert Record.objects.count() == 1, name


def test_an_owner_of_the_engine_may_do_none_of_it(
    acts, viewer_as, engine, technician, now
) -> None:
    viewer = viewer_as(Role.OWNER)
    owner = OwnerFactory(station=engine.station)
    give_login(owner, viewer.user, now)
    changes.change_owner(technician, engine, owner, true_from=DAY, at=now)
    for act in acts.values():
        with pytest.raises(Forbidden):
            act(viewer)


@pytest.mark.parametrize("name", ACTS)
def test_an_administrator_may_do_each(name, acts, administrator: Viewer) -> None:
    acts[name](administrator)


def test_an_owner_reads_the_meter_of_their_own_engine_only(
    viewer_as, make_engine, station, technician, now
) -> None:
    viewer = viewer_as(Role.OWNER)
    owner = OwnerFactory(station=station)
    give_login(owner, viewer.user, now)
    mine, other = make_engine(owner=owner), make_engine()
    on = now.date()
    changes.add_reading(viewer, mine, on=on, shown=52_010, at=now)
    assert Engine.objects.get(pk=mine.pk).hours_now == 52_010
    with pytest.raises(Engine.DoesNotExist):
        changes.add_reading(viewer, other, on=on, shown=52_010, at=now)


def test_a_technician_may_enter_but_not_confirm(
    technician: Viewer, make_provision, now
) -> None:
    publication = make_provision().revision.publication
    draft = changes.add_draft(technician, publication, RevisionInput(label="2"), at=now)
    with pytest.raises(Forbidden, match="confirm or cancel a revision"):
        changes.confirm_revision(technician, draft, version=1, at=now)
    assert Revision.objects.get(pk=draft.pk).is_draft


def test_a_refused_act_leaves_nothing_behind(
    technician: Viewer, engine, make_provision, now, today
) -> None:
    make_provision()
    changes.refresh_station(engine.station, today, at=now)
    before = Finding.objects.get()
    with pytest.raises(Refused):
        changes.add_reading(technician, engine, on=DAY, shown=1, at=now)
    assert Engine.objects.get(pk=engine.pk).version == engine.version
    assert Finding.objects.get().changed_at == before.changed_at


def test_who_saw_an_older_state_of_the_engine_is_told(
    technician: Viewer, engine, now
) -> None:
    changes.change_state(
        technician, engine, "stored", true_from=DAY, at=now, version=engine.version
    )
    with pytest.raises(ChangedMeanwhile, match="Somebody else has changed"):
        changes.change_state(
            technician, engine, "removed", true_from=DAY, at=now, version=engine.version
        )


@pytest.mark.parametrize("kind", ["AD", "SD", "ALS"])
def test_what_binds_cannot_be_left_unadopted(
    technician: Viewer, engine, make_provision, now, kind
) -> None:
    publication = make_provision(kind=kind).revision.publication
    with pytest.raises(Refused, match="is binding"):
        changes.decline(
            technician,
            engine,
            publication,
            person="Owner",
            reason="So wished.",
            true_from=DAY,
            at=now,
        )
    assert not Declined.objects.exists()


def test_not_adopting_needs_a_person_and_a_reason(
    technician: Viewer, engine, make_provision, now
) -> None:
    publication = make_provision().revision.publication
    for person, reason in (("", "So wished."), ("Owner", "  ")):
        with pytest.raises(Refused):
            changes.decline(
                technician,
                engine,
                publication,
                person=person,
                reason=reason,
                true_from=DAY,
                at=now,
            )


def test_an_answer_holds_for_the_revision_it_was_given_under(
    technician: Viewer, engine, make_provision, now, today
) -> None:
    ask = {"ask": "Is the mark seen?"}
    first = make_provision(rule__condition=ask)
    changes.answer(
        technician,
        engine,
        first.revision,
        "Is the mark  seen?",
        False,
        true_from=DAY,
        at=now,
    )
    assert not Finding.objects.exists()
    second = RevisionFactory(
        publication=first.revision.publication,
        label="2",
        sequence=10_000,
        confirmed=True,
        effective_on=date(2026, 2, 1),
    )
    make_provision(revision=second, rule__condition=ask)
    changes.refresh_station(engine.station, today, at=now)
    assert Finding.objects.get().undetermined
    assert Answer.objects.get().question == "Is the mark seen?"


def test_a_confirmed_revision_finds_at_once_and_ends_what_it_supersedes(
    technician: Viewer, inspector: Viewer, engine, make_provision, now, today
) -> None:
    old = make_provision(number="SB-OLD")
    changes.refresh_station(engine.station, today, at=now)
    publication = changes.add_publication(
        technician, kind="SB", number="SB-NEW", issuer="M", title="Pump", at=now
    )
    stated = RevisionInput(
        label="1",
        issued_on=DAY,
        applicability={"always": True},
        provisions=[
            ProvisionInput(title="Replace", action={"initial": {"date": "2027-01-01"}})
        ],
        references=[ReferenceInput(kind="supersedes", number="SB-OLD")],
    )
    draft = changes.add_draft(technician, publication, stated, at=now)
    assert Finding.objects.get().provision == old
    changes.confirm_revision(inspector, draft, version=draft.version, at=now)
    assert Finding.objects.get().provision.revision == draft


def test_a_part_of_another_engine_is_refused(
    technician: Viewer, make_engine, now
) -> None:
    one, other = make_engine(), make_engine()
    part = changes.add_part(
        technician, one, PartEntry(role="magneto"), Fit(), true_from=DAY, at=now
    )
    with pytest.raises(Refused, match="not fitted to"):
        changes.set_attribute(
            technician, other, "signal", "5 V", part=part, true_from=DAY, at=now
        )


def test_a_part_that_moves_is_evaluated_on_both_engines(
    technician: Viewer, make_engine, make_provision, now
) -> None:
    make_provision(role="magneto")
    one, other = make_engine(), make_engine()
    for each in (one, other):
        changes.review(technician, each, "magneto", "R", true_from=DAY, at=now)
    part = changes.add_part(
        technician,
        one,
        PartEntry(role="magneto", number="P-7710"),
        Fit(),
        true_from=date(2026, 2, 1),
        at=now,
    )
    assert Finding.objects.get().engine == one
    changes.move_part(technician, one, part, other, Fit(), true_from=DAY, at=now)
    assert Finding.objects.get().engine == other


@pytest.mark.both
@pytest.mark.django_db(transaction=True)
def test_of_two_who_record_the_same_at_once_one_is_told_of_the_other(
    technician: Viewer, inspector: Viewer, engine, make_provision, now
) -> None:
    provision = make_provision()
    outcomes: list[str] = []
    start = threading.Barrier(2)

    def record(viewer: Viewer) -> None:
        start.wait()
        try:
            done = entry(DAY, hours=51_000, provision=provision)
            changes.record_work(viewer, engine, done, at=now)
            outcomes.append("recorded")
        except Taken as taken:
            outcomes.append(taken.first.recorded_by.name)
        finally:
            connections.close_all()

    people = (technician, inspector)
    threads = [threading.Thread(target=record, args=[who]) for who in people]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    names = {viewer.user.name for viewer in people}
    assert "recorded" in outcomes
    assert len(set(outcomes) & names) == 1
    assert Record.objects.count() == 1
    assert verify_chain(engine) is None
    assert Finding.objects.get().closed == Closed.COMPLIED


@pytest.mark.django_db(transaction=True)
def test_an_act_is_a_transaction_of_its_own(technician: Viewer, engine, now) -> None:
    with transaction.atomic(), pytest.raises(RuntimeError, match="durable"):
        changes.change_state(technician, engine, "stored", true_from=DAY, at=now)
    assert not connection.in_atomic_block


def test_a_publication_of_another_station_is_not_declined(
    technician: Viewer, engine, other_station, now
) -> None:
    foreign = RevisionFactory(publication__station=other_station).publication
    with pytest.raises(Publication.DoesNotExist):
        changes.decline(
            technician,
            engine,
            foreign,
            person="Owner",
            reason="So wished.",
            true_from=DAY,
            at=now,
        )

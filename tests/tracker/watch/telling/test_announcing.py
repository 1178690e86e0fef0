"""All owners whom a current document concerns are told of it, each once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from notices.models import Revision
from tests.factories.fleet import OwnerFactory
from tests.tracker.watch.telling.conftest import moment
from tracker.accounts.access import Forbidden, Viewer
from tracker.accounts.models import Role, Station
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine, Owner, Preference
from tracker.watch.models import HoursLink, Message
from tracker.watch.telling import announce, preview_of_announcement
from tracker.watch.telling.announcing import LONGEST_NOTE

pytestmark = [pytest.mark.django_db, pytest.mark.both]
NOW = date(2026, 11, 24)
AT = moment(NOW, 10)
NOTE = "We have the parts.\n\nCall us for a slot."
DUE: dict[str, Any] = {"initial": {"date": "2027-03-01"}}


@pytest.fixture
def other(station: Station) -> Owner:
    return OwnerFactory(station=station, name="A. Other", email="other@post.example")


@pytest.fixture
def revision(
    engine: Engine,
    other: Owner,
    make_engine: Callable[..., Engine],
    make_provision: Callable[..., Any],
    evaluate: Callable[..., None],
) -> Revision:
    """It applies to one engine of each of two owners, and may to a second of one."""
    make_engine(owner=other, serial="4022")
    asked = {"any": [{"serial": ["..4022"]}, {"ask": "Is the mark seen?"}]}
    make_engine(owner=other, serial="4023")
    made = make_provision(
        number="SB-24-011", rule__condition=asked, rule__action=DUE
    ).revision
    evaluate(NOW)
    return made


def test_each_owner_gets_one_message_about_all_their_engines(
    technician: Viewer, revision: Revision, other: Owner, engine: Engine
) -> None:
    to_other, to_first = announce(technician, revision, NOTE, at=AT)
    assert (to_first.owner, to_first.engine, to_first.kind) == (
        engine.owner,
        engine,
        "notice",
    )
    named = f"SB-24-011 revision {revision.label}"
    designation = engine.engine_type.designation
    assert to_first.subject == f"{named}: your {designation} · 4021"
    assert to_other.subject == f"{named}: 2 of your engines"
    assert to_other.mandatory
    said = " ".join(to_other.text.split())
    assert "Tarn Engine Shop writes: We have the parts. Call us for a slot." in said
    assert (
        f"{named} applies to one of your engines and may apply to one of your engines, "
        "for which a fact is missing." in said
    )
    assert "the answer to the question: Is the mark seen?" in said
    assert "4021" not in said
    assert HoursLink.objects.count() == 3


def test_the_same_note_goes_once_and_another_one_again(
    technician: Viewer, revision: Revision
) -> None:
    assert len(announce(technician, revision, NOTE, at=AT)) == 2
    assert announce(technician, revision, NOTE, at=AT) == []
    assert len(announce(technician, revision, "More.", at=AT)) == 2
    assert Message.objects.count() == 4


def test_a_look_at_it_counts_shows_one_and_writes_nothing(
    technician: Viewer, revision: Revision, django_assert_num_queries: Any
) -> None:
    # counts, first owner, findings, owner with station and preference
    with django_assert_num_queries(4):
        owners, engines, sample = preview_of_announcement(technician, revision, NOTE)
    assert (owners, engines) == (2, 3)
    assert sample is not None
    assert sample.address == "other@post.example"
    assert "We have the parts." in sample.text
    assert "/hours/" not in sample.text + sample.html
    assert not Message.objects.exists()
    assert not HoursLink.objects.exists()


@pytest.mark.parametrize(
    "change",
    [
        {"optional": False},
        {"refused_address": "other@post.example"},
        {
            "silenced_at": AT,
            "silenced_reason": "The estate is being settled.",
        },
    ],
)
def test_who_is_not_written_to(
    change: dict[str, Any],
    technician: Viewer,
    engine: Engine,
    other: Owner,
    make_engine: Callable[..., Engine],
    make_provision: Callable[..., Any],
    evaluate: Callable[..., None],
) -> None:
    make_engine(owner=other, serial="4022")
    make_engine(owner=OwnerFactory(station=other.station, email=""), serial="4023")
    provision = make_provision(rule__action=DUE, category="recommended")
    evaluate(NOW)
    Preference.objects.create(owner=other, **change)
    revision = provision.revision
    assert preview_of_announcement(technician, revision, "")[:2] == (1, 1)
    [message] = announce(technician, revision, "", at=AT)
    assert (message.owner, message.mandatory) == (engine.owner, False)


def test_what_binds_is_told_to_who_left_out_the_rest(
    technician: Viewer, engine: Engine, make_provision: Any, evaluate: Any
) -> None:
    provision = make_provision(kind="AD", rule__action=DUE, category="recommended")
    evaluate(NOW)
    assert engine.owner is not None
    Preference.objects.create(owner=engine.owner, optional=False)
    [message] = announce(technician, provision.revision, "", at=AT)
    assert message.mandatory
    assert "unsubscribe" not in message.text


def test_what_concerns_nobody_is_told_to_nobody(
    technician: Viewer, engine: Engine, make_provision: Any, evaluate: Any
) -> None:
    provision = make_provision(rule__condition={"serial": ["9000.."]})
    evaluate(NOW)
    found = preview_of_announcement(technician, provision.revision, NOTE)
    assert found == (0, 0, None)
    assert announce(technician, provision.revision, NOTE, at=AT) == []


def test_a_stranger_reaches_nobody_and_an_owner_may_not(
    stranger: Viewer, revision: Revision, viewer_as: Callable[..., Viewer]
) -> None:
    assert announce(stranger, revision, NOTE, at=AT) == []
    assert preview_of_announcement(stranger, revision, NOTE) == (0, 0, None)
    with pytest.raises(Forbidden):
        announce(viewer_as(Role.OWNER), revision, NOTE, at=AT)
    assert not Message.objects.exists()


def test_a_note_has_an_end(technician: Viewer, revision: Revision) -> None:
    with pytest.raises(Refused, match="The note has 4001 characters"):
        announce(technician, revision, "x" * (LONGEST_NOTE + 1), at=AT)
    assert not Message.objects.exists()


def test_each_more_owner_costs_the_same_few_queries(
    technician: Viewer,
    revision: Revision,
    station: Station,
    make_engine: Callable[..., Engine],
    evaluate: Callable[..., None],
    django_assert_max_num_queries: Any,
) -> None:
    asked = []
    for number in range(3):
        with django_assert_max_num_queries(200) as queries:
            assert len(announce(technician, revision, f"{number}", at=AT)) == 2 + number
        asked.append(len(queries))
        owner = OwnerFactory(station=station, email=f"o{number}@post.example")
        make_engine(owner=owner, serial=f"{1000 + number}")
        evaluate(NOW)
    assert asked[2] - asked[1] <= 14

"""Who works at a station: entered, changed, left; the first administrator."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command

from tests.factories.accounts import MembershipFactory, UserFactory
from tests.factories.fleet import OwnerFactory
from tracker.accounts import people
from tracker.accounts.access import Forbidden, Viewer
from tracker.accounts.models import Membership, Role, Station, User
from tracker.accounts.people import PeopleRefused
from tracker.fleet import logins
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine, OwnerLogin

AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
LATER = AT + timedelta(days=1)


def held(viewer: Viewer) -> Membership:
    return Membership.objects.of(viewer.station).get(user=viewer.user)


@pytest.fixture
def helper(station: Station) -> Membership:
    return MembershipFactory(station=station, role=Role.TECHNICIAN, joined_at=AT)


def test_somebody_new_gets_a_password_that_only_opens_the_page_to_change_it(
    administrator: Viewer,
) -> None:
    membership, made = people.add_person(
        administrator, email="New@Post.example", name="New", role=Role.OWNER, at=AT
    )
    assert made is not None
    assert len(made) >= 15
    assert membership.user.email == "new@post.example"
    assert membership.user.check_password(made)
    assert membership.user.initial_password
    assert membership.entered_by == administrator.user


def test_somebody_who_signs_in_already_keeps_password_and_name(
    administrator: Viewer,
) -> None:
    known = UserFactory(email="known@post.example", name="Known")
    before = known.password
    membership, made = people.add_person(
        administrator, email="KNOWN@post.example", name="X", role=Role.OWNER, at=AT
    )
    known.refresh_from_db()
    assert made is None
    assert membership.user == known
    assert (known.name, known.password) == ("Known", before)
    assert not known.initial_password


def test_nobody_is_entered_twice(administrator: Viewer, helper: Membership) -> None:
    with pytest.raises(PeopleRefused, match="belongs to this station already"):
        people.add_person(
            administrator,
            email=helper.user.email.upper(),
            name="X",
            role=Role.OWNER,
            at=AT,
        )
    assert Membership.objects.of(administrator.station).count() == 2


def test_a_changed_role_leaves_the_old_one_as_history(
    administrator: Viewer, helper: Membership
) -> None:
    people.change_role(administrator, helper, role=Role.INSPECTOR, at=LATER)
    rows = Membership.objects.filter(user=helper.user).order_by("pk")
    assert [(row.role, row.left_at, row.ended_by) for row in rows] == [
        (Role.TECHNICIAN, LATER, administrator.user),
        (Role.INSPECTOR, None, None),
    ]


def test_the_last_administrator_stays(administrator: Viewer) -> None:
    mine = held(administrator)
    with pytest.raises(PeopleRefused, match="last administrator"):
        people.end_membership(administrator, mine, at=LATER)
    with pytest.raises(PeopleRefused, match="last administrator"):
        people.change_role(administrator, mine, role=Role.TECHNICIAN, at=LATER)
    assert held(administrator).role == Role.ADMINISTRATOR
    MembershipFactory(station=administrator.station, role=Role.ADMINISTRATOR)
    people.end_membership(administrator, mine, at=LATER)
    assert Membership.objects.of(administrator.station).count() == 1


def test_a_role_that_has_ended_meanwhile_is_not_ended_again(
    administrator: Viewer, helper: Membership
) -> None:
    people.end_membership(administrator, helper, at=LATER)
    with pytest.raises(PeopleRefused, match="ended already"):
        people.change_role(administrator, helper, role=Role.INSPECTOR, at=LATER)
    assert not Membership.objects.of(administrator.station).filter(user=helper.user)


def test_only_an_administrator_changes_people(
    technician: Viewer, inspector: Viewer, helper: Membership
) -> None:
    for viewer in (technician, inspector):
        with pytest.raises(Forbidden):
            people.change_role(viewer, helper, role=Role.ADMINISTRATOR, at=AT)
        with pytest.raises(Forbidden):
            people.change_settings(viewer, {"name": "Mine"})
        with pytest.raises(Forbidden):
            logins.leave_station(viewer, helper, at=AT)


def test_a_membership_of_another_station_cannot_be_ended(
    stranger: Viewer, helper: Membership
) -> None:
    with pytest.raises(PeopleRefused):
        people.end_membership(stranger, helper, at=LATER)
    helper.refresh_from_db()
    assert helper.left_at is None


def test_the_time_zone_of_a_station_is_one(administrator: Viewer) -> None:
    with pytest.raises(ValidationError, match="is not a time zone"):
        people.change_settings(administrator, {"time_zone": "Nowhere/Here"})
    kept = people.change_settings(administrator, {"lead_hours": 1250})
    assert Station.objects.get(pk=kept.pk).lead_hours == 1250


def test_an_owner_sees_what_they_sign_in_for_until_it_ends(
    administrator: Viewer, viewer_as: Any, engine_of: Any
) -> None:
    owner = viewer_as(Role.OWNER)
    mine, other = (OwnerFactory(station=administrator.station) for _ in range(2))
    engine, _ = engine_of(mine), engine_of(other)
    assert list(Engine.objects.visible_to(owner)) == []
    login = logins.link_login(administrator, owner=mine, membership=held(owner), at=AT)
    assert list(Engine.objects.visible_to(owner)) == [engine]
    logins.unlink_login(administrator, login, at=LATER)
    assert list(Engine.objects.visible_to(owner)) == []


@pytest.fixture
def engine_of() -> Any:
    from tests.factories.fleet import EngineFactory

    return lambda owner: EngineFactory(station=owner.station, owner=owner)


def test_staff_do_not_sign_in_for_an_owner(
    administrator: Viewer, helper: Membership
) -> None:
    owner = OwnerFactory(station=administrator.station)
    with pytest.raises(Refused, match="not entered as an owner"):
        logins.link_login(administrator, owner=owner, membership=helper, at=AT)


def test_whoever_leaves_signs_in_for_nobody(
    administrator: Viewer, viewer_as: Any
) -> None:
    owner = viewer_as(Role.OWNER)
    mine = OwnerFactory(station=administrator.station)
    logins.link_login(administrator, owner=mine, membership=held(owner), at=AT)
    logins.leave_station(administrator, held(owner), at=LATER)
    assert OwnerLogin.objects.get().left_at == LATER


def add_station(*given: str) -> None:
    call_command("add_station", *given)


def test_the_command_sets_a_station_up_and_shows_the_password_once(
    db: None, capsys: pytest.CaptureFixture[str]
) -> None:
    add_station(
        "Hangar 7 engines", "--administrator", "a@hangar.example", "--name", "Ada Thorn"
    )
    said = capsys.readouterr().out
    user = User.objects.get(email="a@hangar.example")
    [membership] = Membership.objects.held_by(user)
    assert membership.role == Role.ADMINISTRATOR
    assert membership.station.name == "Hangar 7 engines"
    assert user.check_password(said.split()[-1])
    assert user.initial_password


def test_the_command_asks_for_a_password_if_wished(
    db: None, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = iter(["four words of my own", "four words of my own"])
    monkeypatch.setattr("getpass.getpass", lambda prompt: next(typed))
    add_station(
        "A", "--administrator", "a@b.example", "--name", "Ada", "--ask-password"
    )
    user = User.objects.get()
    assert user.check_password("four words of my own")
    assert not user.initial_password
    assert "four words" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        (["one of them is this", "the other is that"], "differ"),
        (["short", "short"], "too short"),
    ],
)
def test_the_command_refuses_a_password_that_will_not_do(
    db: None, monkeypatch: pytest.MonkeyPatch, typed: list[str], message: str
) -> None:
    answers = iter(typed)
    monkeypatch.setattr("getpass.getpass", lambda prompt: next(answers))
    with pytest.raises(CommandError, match=message):
        add_station(
            "A", "--administrator", "a@b.example", "--name", "Ada", "--ask-password"
        )
    assert not Station.objects.exists()


def test_the_command_refuses_a_second_station_of_that_name_and_a_wrong_address(
    db: None,
) -> None:
    add_station("A", "--administrator", "a@b.example", "--name", "Ada")
    with pytest.raises(CommandError, match='There is a station "a" already'):
        add_station("a", "--administrator", "c@b.example", "--name", "Cy")
    with pytest.raises(CommandError, match="valid email"):
        add_station("B", "--administrator", "nobody", "--name", "Cy")
    assert Station.objects.count() == 1

"""Who works at a station: enter a person, change or end their role, set the station up.

Every function opens one transaction. A person who signs in already, at whatever
station, keeps their password; for a new one a password is made and shown once.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from datetime import datetime

from django.db import IntegrityError, transaction

from tracker.accounts.access import Right, Viewer
from tracker.accounts.models import Membership, Role, Station, User, is_time_zone

SETTINGS = frozenset(
    {
        "name",
        "time_zone",
        "lead_hours",
        "lead_days",
        "reading_age_days",
        "second_person_confirms",
        "check_is_open",
        "check_address",
    }
)


class PeopleRefused(ValueError):  # noqa: N818  # said so in every sentence of the house
    """The change would leave the station wrong; the message says how and what to do."""


def add_station(
    *, name: str, email: str, person: str, at: datetime, password: str | None = None
) -> tuple[Station, str | None]:
    """Set a station up with its first administrator.

    Returns the station and the password that was made, None where one was given or
    the person signs in already.
    """
    with transaction.atomic():
        if Station.objects.filter(name__iexact=name).exists():
            raise PeopleRefused(f'There is a station "{name}" already.')
        station = Station.objects.create(name=name)
        user, made = _user(email=email, name=person, password=password)
        Membership.objects.create(
            station=station, user=user, role=Role.ADMINISTRATOR, joined_at=at
        )
    return station, made


def add_person(
    viewer: Viewer, *, email: str, name: str, role: Role, at: datetime
) -> tuple[Membership, str | None]:
    """Give a person a role at the viewer's station.

    Returns the membership and the password that was made, None for a person who signs
    in already. Raises Forbidden and PeopleRefused.
    """
    viewer.require(Right.MANAGE_STATION)
    with transaction.atomic():
        _lock(viewer.station)
        if Membership.objects.of(viewer.station).filter(user__email__iexact=email):
            raise PeopleRefused(
                f"{email} belongs to this station already. Change their role instead."
            )
        user, made = _user(email=email, name=name, password=None)
        membership = Membership.objects.create(
            station=viewer.station,
            user=user,
            role=role,
            joined_at=at,
            entered_by=viewer.user,
        )
    return membership, made


def change_role(
    viewer: Viewer, membership: Membership, *, role: Role, at: datetime
) -> Membership:
    """End a person's role and begin another; the old row stays as history."""
    viewer.require(Right.MANAGE_STATION)
    with transaction.atomic():
        _lock(viewer.station)
        _end(viewer, membership, at=at, then=role)
        return Membership.objects.create(
            station=viewer.station,
            user=membership.user,
            role=role,
            joined_at=at,
            entered_by=viewer.user,
        )


def end_membership(viewer: Viewer, membership: Membership, *, at: datetime) -> None:
    """End a person's role. Opens no page of this station from the next request on."""
    viewer.require(Right.MANAGE_STATION)
    with transaction.atomic():
        _lock(viewer.station)
        _end(viewer, membership, at=at, then=None)


def change_settings(viewer: Viewer, values: Mapping[str, object]) -> Station:
    """Change what the station sets for itself; `values` by name, hours in hundredths.

    Raises PeopleRefused where the open check page has no address of its own.
    """
    viewer.require(Right.MANAGE_STATION)
    assert set(values) <= SETTINGS, "not a setting of a station"
    with transaction.atomic():
        station = Station.objects.select_for_update().get(pk=viewer.station.pk)
        for name, value in values.items():
            setattr(station, name, value)
        is_time_zone(station.time_zone)
        station.check_address = station.check_address or None
        if station.check_is_open and station.check_address is None:
            raise PeopleRefused("An open check page needs an address.")
        _save_settings(station, list(values))
    return station


def _save_settings(station: Station, names: list[str]) -> None:
    """Another station may take the same address at the same moment."""
    try:
        with transaction.atomic():
            station.save(update_fields=names)
    except IntegrityError:
        others = Station.objects.exclude(pk=station.pk)
        if not others.filter(check_address=station.check_address).exists():
            raise
        raise PeopleRefused(
            f'The address "{station.check_address}" is taken. Choose another one.'
        ) from None


def _lock(station: Station) -> None:
    """Two people who change roles at once could otherwise leave no administrator."""
    Station.objects.select_for_update().get(pk=station.pk)


def _end(
    viewer: Viewer, membership: Membership, *, at: datetime, then: Role | None
) -> None:
    others = (
        Membership.objects.of(viewer.station)
        .filter(role=Role.ADMINISTRATOR)
        .exclude(pk=membership.pk)
    )
    last = membership.role == Role.ADMINISTRATOR and not others.exists()
    if last and then is not Role.ADMINISTRATOR:
        raise PeopleRefused(
            "This is the last administrator. Make somebody else one first."
        )
    ended = (
        Membership.objects.of(viewer.station)
        .filter(pk=membership.pk)
        .update(left_at=at, ended_by=viewer.user)
    )
    if not ended:
        raise PeopleRefused("This role has ended already. Look at the list again.")


def _user(*, email: str, name: str, password: str | None) -> tuple[User, str | None]:
    known = User.objects.filter(email__iexact=email).first()
    if known:
        return known, None
    made = None if password else secrets.token_urlsafe(15)
    user = User.objects.create_user(
        email, password or made or "", name=name, initial_password=password is None
    )
    return user, made

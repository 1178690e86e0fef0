"""The station of the scenario and its people, who all sign in with one password."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime

from tracker.accounts.access import Viewer
from tracker.accounts.models import Membership, Role, Station, User
from tracker.accounts.people import add_person, add_station, change_settings
from tracker.compliance.scenario.files import Row

PASSWORD = "oil-feed-and-valve-guides"  # noqa: S105 - printed by the command; a demo only


@dataclass(frozen=True, slots=True, kw_only=True)
class Team:
    """Who acts in the scenario. `since`: when they began."""

    administrator: Viewer
    technician: Viewer
    inspector: Viewer
    owners: dict[str, Membership]
    since: date

    @property
    def station(self) -> Station:
        return self.administrator.station


def found(setting: Row, at: datetime) -> Team:
    """Set the station up with everybody who works there or signs in as an owner."""
    chief, *others = setting["people"]
    station, _ = add_station(
        name=setting["station"]["name"],
        email=chief["email"],
        person=chief["name"],
        password=PASSWORD,
        at=at,
    )
    founder = _viewer(Membership.objects.get(station=station))
    changed = change_settings(founder, _settings(setting["station"]))
    administrator = replace(founder, station=changed)
    people = {row["email"]: row for row in others}
    hired = [_hire(administrator, row, at) for row in others]
    first = {membership.role: _viewer(membership) for membership in reversed(hired)}
    return Team(
        administrator=administrator,
        technician=first[Role.TECHNICIAN],
        inspector=first[Role.INSPECTOR],
        owners={
            people[membership.user.email]["owner"]: membership
            for membership in hired
            if membership.role == Role.OWNER
        },
        since=at.date(),
    )


def _settings(row: Row) -> dict[str, object]:
    return {**row, "lead_hours": row["lead_hours"] * 100}


def _hire(administrator: Viewer, row: Row, at: datetime) -> Membership:
    """Give a role to somebody who signs in already, with the password of all."""
    User.objects.create(
        email=row["email"],
        name=row["name"],
        password=administrator.user.password,
        joined_at=at,
    )
    membership, _ = add_person(
        administrator,
        email=row["email"],
        name=row["name"],
        role=Role(row["role"]),
        at=at,
    )
    return membership


def _viewer(membership: Membership) -> Viewer:
    return Viewer(
        user=membership.user,
        station=membership.station,
        role=Role(membership.role),
    )

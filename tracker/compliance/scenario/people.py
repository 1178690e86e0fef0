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
    owners: dict[str, User]
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
    viewers = [_hire(administrator, row, at) for row in others]
    first = {viewer.role: viewer for viewer in reversed(viewers)}
    return Team(
        administrator=administrator,
        technician=first[Role.TECHNICIAN],
        inspector=first[Role.INSPECTOR],
        owners={
            people[viewer.user.email]["owner"]: viewer.user
            for viewer in viewers
            if viewer.is_owner
        },
        since=at.date(),
    )


def _settings(row: Row) -> dict[str, object]:
    return {**row, "lead_hours": row["lead_hours"] * 100}


def _hire(administrator: Viewer, row: Row, at: datetime) -> Viewer:
    membership, _ = add_person(
        administrator,
        email=row["email"],
        name=row["name"],
        role=Role(row["role"]),
        at=at,
    )
    user = membership.user
    user.set_password(PASSWORD)
    user.initial_password = False
    user.save(update_fields=["password", "initial_password"])
    return _viewer(membership)


def _viewer(membership: Membership) -> Viewer:
    return Viewer(
        user=membership.user,
        station=membership.station,
        role=Role(membership.role),
    )

"""What the acts of the scenario share: the day, who acts, and what is there already."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from typing import Any

from notices.models import Publication
from notices.rules.months import plus_months
from tracker.compliance.scenario.files import Row
from tracker.compliance.scenario.life import Life
from tracker.compliance.scenario.people import Team
from tracker.fleet.models import Engine, EngineType, Owner, Part

MORNING = time(9, tzinfo=UTC)
WATCHED_MONTHS = 24
"""For so long the station has looked after these engines and read their meters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One engine of the scenario, as stored, with its row and its life."""

    engine: Engine
    row: Row
    life: Life | None
    built: date

    def hours_on(self, on: date) -> int | None:
        return self.life.hours_on(on) if self.life else None

    def hours_ago(self, hours: float) -> int:
        """Return the hours that the engine showed so many hours ago."""
        assert self.life is not None, "only of an engine with readings"
        return self.life.hours_now - round(hours * 100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """`now`: the moment of loading, before which everything is entered."""

    team: Team
    now: datetime
    today: date
    owners: dict[str, Owner] = field(default_factory=dict)
    types: dict[str, EngineType] = field(default_factory=dict)
    members: dict[str, Member] = field(default_factory=dict)
    parts: dict[tuple[str, str, str], Part] = field(default_factory=dict)
    publications: dict[str, Publication] = field(default_factory=dict)

    @property
    def watched_since(self) -> date:
        return plus_months(self.today, -WATCHED_MONTHS)

    def at(self, on: date) -> datetime:
        """Return when something of that day was entered, not before the station was."""
        entered = datetime.combine(max(on, self.team.since), MORNING)
        return min(entered, self.now)

    def entered(self, on: date) -> dict[str, Any]:
        """Return by whom and when something of that day was entered."""
        return {"at": self.at(on), "by": self.team.technician.user}

    def part(self, engine: str, about: Row) -> Part:
        return self.parts[engine, about["role"], about.get("place", "")]


def iso(text: str) -> date:
    return date.fromisoformat(text)


def iso_or_none(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None

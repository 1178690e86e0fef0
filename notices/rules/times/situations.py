"""One engine with its past, as limits are placed on it, and places in that past."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from math import floor

from notices.rules.applicability.subjects import EngineSubject, prepare
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, Hours, Unknown
from notices.rules.times.history import Done, History, hours_in
from notices.rules.times.limits import Anchor


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One place in time. `estimated`: the hours are, between `lowest` and `highest`.

    `missing_on`, `missing_hours`: what is lacking where the one or the other is unknown.
    """

    on: date | Unknown = UNKNOWN
    hours: Hours | Unknown = UNKNOWN
    estimated: bool = False
    lowest: Hours | None = None
    highest: Hours | None = None
    missing_on: str = ""
    missing_hours: str = ""

    @property
    def is_nowhere(self) -> bool:
        return isinstance(self.on, Unknown) and isinstance(self.hours, Unknown)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """The anchor is an event that has not happened."""

    event: str


@dataclass(frozen=True, kw_only=True)
class Situation:
    """One engine with its past, and the record from which the next interval runs.

    No slots, so that what is worked out once is kept with it.

    `last`: None where there is none, UNKNOWN where nobody has said.
    `default_after`: what an event limit without `after` counts from.
    """

    facts: EngineFacts
    asked: Asked
    history: History
    last: Done | Unknown | None = None
    default_after: Anchor = "effective"

    @cached_property
    def subject(self) -> EngineSubject:
        """The engine ready to be asked by conditions."""
        return prepare(self.facts, self.asked)

    def after_record(self, record: Done) -> Situation:
        """Return the situation in which the interval after `record` runs."""
        return Situation(
            facts=self.facts,
            asked=replace(self.asked, result=record.result),
            history=self.history,
            last=record,
            default_after="last done",
        )


def filled(place: Place, now: Situation, missing_hours: str) -> Place:
    """Return the place with hours from the readings, where it has a date only."""
    if not isinstance(place.hours, Unknown):
        return place
    found = None
    if not isinstance(place.on, Unknown):
        found = hours_in(now.history.in_order, place.on)
    if found is None:
        return Place(
            on=place.on, missing_on=place.missing_on, missing_hours=missing_hours
        )
    return Place(
        on=place.on,
        hours=Hours(floor(found.hours)),
        estimated=not found.is_read,
        lowest=None if found.is_read else found.lowest,
        highest=None if found.is_read else found.highest,
        missing_on=place.missing_on,
    )


def is_later(built: date | Unknown, on: date | Unknown) -> bool:
    known = not isinstance(built, Unknown) and not isinstance(on, Unknown)
    return known and built > on  # type: ignore[operator]  # both are dates here

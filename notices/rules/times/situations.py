"""One engine with its past, as limits are placed on it, and places in that past."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from math import floor

from notices.rules.applicability.subjects import EngineSubject, prepare
from notices.rules.facts import (
    UNKNOWN,
    Asked,
    EngineFacts,
    Hours,
    PartFacts,
    Unknown,
)
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
    `is_past`: it is that of an interval which has ended with a later record.
    """

    facts: EngineFacts
    asked: Asked
    history: History
    last: Done | Unknown | None = None
    default_after: Anchor = "effective"
    is_past: bool = False

    @cached_property
    def subject(self) -> EngineSubject:
        """The engine ready to be asked by conditions."""
        return prepare(self.facts, self.asked)

    @cached_property
    def subject_of_cases(self) -> EngineSubject:
        """The engine as it is asked which case holds.

        Of an interval that has ended nobody knows which held: the mix of the fuel, the
        operation and what is fitted may have been others. Only what is stamped on the
        thing stays, and what was found at the record from which the interval ran.
        """
        if not self.is_past:
            return self.subject
        facts, part = self.facts, self.asked.part
        stamped = EngineFacts(
            type=facts.type,
            type_complete=facts.type_complete,
            serial=facts.serial,
            serial_pattern=facts.serial_pattern,
            serial_run=facts.serial_run,
            built=facts.built,
            shipped=facts.shipped,
        )
        if part is not None:
            part = PartFacts(
                role=part.role,
                key=part.key,
                number=part.number,
                serial=part.serial,
                built=part.built,
                shipped=part.shipped,
            )
        return prepare(stamped, Asked(part=part, result=self.asked.result))

    def after_record(self, record: Done) -> Situation:
        """Return the situation in which the interval after `record` runs."""
        return Situation(
            facts=self.facts,
            asked=replace(self.asked, result=record.result),
            history=self.history,
            last=record,
            default_after="last done",
            is_past=self.is_past,
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

"""What somebody without an account tells of an engine, as the file that rules ask.

Nothing of it is stored and no row of anybody's engine is read: the file holds only what
was told, and what was not told is not known.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from typing import Any, Literal

from notices.rules.designations import designation
from notices.rules.facts import (
    UNKNOWN,
    Axis,
    Compliance,
    EngineFacts,
    Hours,
    HoursKept,
    Overhaul,
    PartFacts,
    TemperatureRange,
    Unknown,
)
from notices.rules.temperatures import Unit
from notices.rules.times.history import Done, Event
from notices.rules.times.history import Reading as CoreReading
from notices.rules.times.limits import event_key
from tracker.accounts.models import Station
from tracker.compliance.facts import OVERHAUL, EngineFile, PartFile, Subject
from tracker.compliance.open_check.facts import Fact, Happened, Kind, Of, Told
from tracker.compliance.open_check.library import OpenLibrary
from tracker.fleet.fitted_parts import FittedPart
from tracker.fleet.models import (
    Engine,
    EngineType,
    Part,
    PartDescription,
    PartFitting,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """An engine as it was told. Hours are TSN; what is empty is not known.

    `overhauls`: `()` is never. `climate`: the lowest and highest ambient temperature of
    the coming season, told in `climate_unit`. `told`: the single facts beyond these.
    """

    type: str
    serial: str = ""
    built: date | None = None
    hours: Hours | None = None
    overhauls: tuple[Overhaul, ...] | Unknown = UNKNOWN
    uses: frozenset[str] | Unknown = UNKNOWN
    leaded_share: Fraction | Unknown = UNKNOWN
    oil_temperature: TemperatureRange | Unknown = UNKNOWN
    climate: TemperatureRange | Unknown = UNKNOWN
    climate_unit: Unit = "C"
    told: Mapping[Fact, Told] = field(default_factory=dict)

    def of(self, kind: Kind) -> dict[str, Any]:
        """Return what was told of a kind, by name."""
        return {f.name: told for f, told in self.told.items() if f.kind is kind}

    def single(self, kind: Kind) -> Any:
        """Return the one fact of a kind, None where it was not told."""
        return next((told for f, told in self.told.items() if f.kind is kind), None)

    @property
    def works(self) -> dict[str, Happened]:
        """What was told of documents and modifications, by key of the number."""
        return {designation(n): told for n, told in self.of(Kind.WORK).items()}

    @property
    def parts(self) -> tuple[PartFacts, ...]:
        """The parts of which anything was told."""
        found: dict[tuple[str, str], dict[Fact, Told]] = {}
        for fact, told in self.told.items():
            if fact.kind is Kind.PART and fact.of is not Of.NONE:
                found.setdefault((fact.role, fact.place), {})[fact] = told
        return tuple(_part(role, place, told) for (role, place), told in found.items())

    @property
    def roles_without(self) -> frozenset[str]:
        """The roles of which none is fitted."""
        return frozenset(
            fact.role
            for fact, told in self.told.items()
            if fact.of is Of.NONE and told is True
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class DescribedFile(EngineFile):
    """A file without rows: the past is what was told of it."""

    described: Described

    library: OpenLibrary

    @property
    def declared_share(self) -> Fraction | Unknown:
        """The share of leaded fuel as it was told."""
        return self.described.leaded_share

    def _done(
        self, subject: Subject, part: PartFile | None
    ) -> tuple[Done, ...] | Unknown:
        """One answer stands for every part of a role: it is asked for the oldest work."""
        own = self.library.done_by(subject)
        told = {f.key: (f, one) for f, one in self.described.told.items()}
        done = tuple(
            _as_done(fact.name, one)
            for key, (fact, one) in told.items()
            if (key == own or _credits(fact, subject))
            and isinstance(one, Happened)
            and one.ever
        )
        return done if done or own in told else UNKNOWN

    def _events(self, subject: Subject) -> tuple[Event, ...] | Unknown:
        told = self._told_events()
        asked = subject.events
        if not isinstance(self.facts.overhauls, Unknown):
            asked -= {OVERHAUL}
        if not asked <= told.keys():
            return UNKNOWN
        return tuple(
            Event(name=name, on=_known(one.on), hours=_known(one.hours))
            for name, one in told.items()
            if one.ever
        )

    def _told_events(self) -> dict[str, Happened]:
        """Events by their key, and scheduled inspections, which are events too."""
        works = self.described.works
        named = self.library.around.inspections.items()
        return {
            **{event: works[n] for event, n in _keyed(named) if n in works},
            **{event_key(n): one for n, one in self.described.of(Kind.EVENT).items()},
        }


def _keyed(named: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    return [(event, designation(number)) for event, number in named]


def _credits(fact: Fact, subject: Subject) -> bool:
    """Whether work under another document may count."""
    is_work = fact.kind in {Kind.WORK, Kind.DONE}
    key = designation(fact.name) if is_work else ""
    return key in subject.credited and key != subject.number_key


def file_of(
    described: Described, station: Station, library: OpenLibrary, *, on: date
) -> DescribedFile:
    """Return the file of a described engine on a day. No query."""
    facts = _facts(described, library)
    return DescribedFile(
        described=described,
        library=library,
        engine=Engine(
            station=station,
            engine_type=EngineType(designation=described.type),
            serial=described.serial or "not known",
        ),
        tsn_zero=None if described.hours is None else 0,
        hours=described.hours,
        reading=None,
        facts=facts,
        readings=_readings(described, on),
        events=(),
        reviewed_on=None,
        parts=tuple(map(_part_file, facts.parts)),
        records=(),
        declined={},
        alternatives=(),
        searches=(),
        fitting=None,
        fuel=(),
        operation=None,
    )


def _facts(described: Described, library: OpenLibrary) -> EngineFacts:
    of_type, works = library.of_type, described.of(Kind.WORK)
    done, embodied = _done_and_embodied(described, library)
    return EngineFacts(
        type=described.type,
        serial=described.serial or UNKNOWN,
        serial_pattern=of_type.serial_pattern,
        serial_run=of_type.serial_run,
        built=_known(described.built),
        shipped=_known(described.single(Kind.SHIPPED)),
        rebuilt=_rebuilt(described.single(Kind.REBUILT)),
        aircraft=_known(described.single(Kind.AIRCRAFT)),
        registry=_known(described.single(Kind.REGISTRY)),
        operation=described.uses,
        hours=_hours(described),
        overhauls=described.overhauls,
        embodied=embodied,
        not_embodied=frozenset(n for n, work in works.items() if not work.ever),
        complied=tuple(_compliance(n, work) for n, work in done.items()),
        attributes=described.of(Kind.ATTRIBUTE),
        answers=_answers(
            {("", text): yes for text, yes in described.of(Kind.QUESTION).items()},
            library.scopes,
        ),
        parts=tuple(
            replace(part, answers=_answers(part.answers, library.scopes))
            for part in described.parts
        ),
        roles_reviewed=described.roles_without,
        role_counts=of_type.counts,
        oil_temperature=described.oil_temperature,
        axis=Axis(
            now=_known(described.hours),
            new=UNKNOWN if described.hours is None else Hours(0),
        ),
    )


def _known(value: Any) -> Any:
    return UNKNOWN if value is None else value


def _done_and_embodied(
    described: Described, library: OpenLibrary
) -> tuple[dict[str, Happened], frozenset[str]]:
    """Return what was done, by number, and what is embodied by it or by itself.

    What was said of a modification itself comes before what follows from an action.
    """
    told = described.works
    done = {n: work for n, work in described.of(Kind.WORK).items() if work.ever}
    embodied = {n for n in done if designation(n) not in library.repeated}
    for fact, work in described.told.items():
        if fact.kind is Kind.DONE and isinstance(work, Happened) and work.ever:
            done.setdefault(fact.name, work)
            names = library.embodied_by(fact)
            embodied |= {n for n in names if designation(n) not in told}
    return done, frozenset(embodied)


def _rebuilt(told: Happened | None) -> date | Literal[True] | Unknown | None:
    if told is None:
        return UNKNOWN
    return (told.on or True) if told.ever else None


def _hours(described: Described) -> HoursKept:
    """TSO follows from the last overhaul, where its hours are told."""
    now, overhauls = described.hours, described.overhauls
    if now is None:
        return HoursKept()
    since: Hours | Unknown = UNKNOWN
    if overhauls == ():
        since = now
    elif not isinstance(overhauls, Unknown):
        last = overhauls[-1].hours
        since = UNKNOWN if isinstance(last, Unknown) else Hours(max(0, now - last))
    return HoursKept(new=now, overhaul=since)


def _readings(described: Described, on: date) -> tuple[CoreReading, ...]:
    """The hours now, and those told of other days."""
    told = {f.on: hours for f, hours in described.told.items() if f.on is not None}
    if described.hours is not None:
        told[on] = described.hours
    return tuple(CoreReading(on=day, hours=told[day]) for day in sorted(told))  # type: ignore[arg-type]  # what is told of a day is hours


def _compliance(number: str, work: Happened) -> Compliance:
    return Compliance(
        number=number,
        revision=work.revision or UNKNOWN,
        on=_known(work.on),
        hours=_known(work.hours),
    )


def _as_done(number: str, work: Happened) -> Done:
    return Done(
        on=_known(work.on),
        hours=_known(work.hours),
        number=number,
        revision=work.revision or UNKNOWN,
    )


def _answers(
    told: Mapping[tuple[str, str], bool], scopes: Mapping[str, frozenset[str]]
) -> dict[tuple[str, str], bool]:
    """Return answers that were told once as answers to every revision that asks."""
    return {
        (scope, question): yes
        for (_, question), yes in told.items()
        for scope in scopes.get(question, ())
    }


def _part(role: str, place: str, told: Mapping[Fact, Told]) -> PartFacts:
    said: dict[Of | None, Any] = {
        fact.of: value
        for fact, value in told.items()
        if fact.of not in {Of.ATTRIBUTE, Of.QUESTION}
    }
    return PartFacts(
        role=role,
        place=place,
        number=said.get(Of.NUMBER, UNKNOWN),
        serial=said.get(Of.SERIAL, UNKNOWN),
        change=said.get(Of.CHANGE, UNKNOWN),
        built=said.get(Of.BUILT, UNKNOWN),
        shipped=said.get(Of.SHIPPED, UNKNOWN),
        fitted=said.get(Of.FITTED, UNKNOWN),
        hours=HoursKept(
            new=said.get(Of.NEW_HOURS, UNKNOWN),
            overhaul=said.get(Of.OVERHAUL_HOURS, UNKNOWN),
            fitted=said.get(Of.FITTED_HOURS, UNKNOWN),
        ),
        attributes={
            f.name: str(value) for f, value in told.items() if f.of is Of.ATTRIBUTE
        },
        answers={
            ("", f.name): value is True
            for f, value in told.items()
            if f.of is Of.QUESTION
        },
    )


def _part_file(facts: PartFacts) -> PartFile:
    """A part that has no row, named as a fitted one is."""
    described = PartDescription(
        role=facts.role,
        number="" if isinstance(facts.number, Unknown) else facts.number,
        serial="" if isinstance(facts.serial, Unknown) else facts.serial,
    )
    fitted = FittedPart(
        part=Part(),
        fitting=PartFitting(place=facts.place),
        description=described,
        overhauls=(),
        hours_new=None,
        hours_overhaul=None,
        hours_fitted=None,
    )
    return PartFile(fitted=fitted, facts=facts, records=(), reviewed=False)

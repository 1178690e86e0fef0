"""An engine in care, described by its owner: both are told the same, or less is said.

The engine's own page is the oracle: whatever the check page settles from what an owner
tells of five engines of the scenario, the station's own evaluation settles likewise.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from fractions import Fraction
from typing import Any

import pytest
from django.test import override_settings

from notices.models import Provision
from notices.rules.designations import designation
from notices.rules.evaluate import Outcome
from notices.rules.facts import (
    UNKNOWN,
    Axis,
    Compliance,
    Hours,
    HoursKept,
    Unknown,
)
from notices.rules.times.history import Reading, hours_on
from notices.rules.times.limits import event_key
from tests.tracker.walk import undone
from tracker.compliance.facts import EngineFile, engine_files
from tracker.compliance.findings import Assessment, assess
from tracker.compliance.open_check import (
    Described,
    Fact,
    Happened,
    Kind,
    Of,
    OpenAnswer,
    OpenLibrary,
    Told,
    answer_for,
    open_library,
)
from tracker.compliance.overhauls import Overhaul, interval_library
from tracker.compliance.rules import CompiledRule
from tracker.compliance.scenario import files
from tracker.compliance.scenario.load import load
from tracker.compliance.summary.lines import Line, line_of
from tracker.fleet.models import Engine

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 11, 24, 10, 0, tzinfo=UTC)
TODAY = NOW.date()
KEPT = ("RHO", "THETA", "ETA", "TAU", "ZETA")
NOT_LISTED = {Provision.Kind.INTERVAL, Provision.Kind.FLUIDS}


@pytest.fixture(scope="module")
def engines(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: Any
) -> Iterator[list[Engine]]:
    """Five engines of the scenario, with the whole of its library, loaded once."""
    whole = files.rows

    def rows(name: str, today: date) -> list[dict[str, Any]]:
        read = whole(name, today)
        return [row for row in read if row.get("engine", row.get("id", "RHO")) in KEPT]

    folder = override_settings(DOCUMENT_DIR=tmp_path_factory.mktemp("documents"))
    with (
        django_db_blocker.unblock(),
        folder,
        undone(),
        pytest.MonkeyPatch.context() as patch,
    ):
        patch.setattr(files, "rows", rows)
        load(NOW)
        named = ("engine_type", "station")
        yield list(Engine.objects.select_related(*named).order_by("pk"))


def test_five_engines_are_told_what_their_own_pages_say(engines: list[Engine]) -> None:
    settled = 0
    for engine, file in zip(engines, files_of(engines), strict=True):
        answer, library = answered(engine, file)
        for rule in library.rules:
            if rule.provision.kind not in NOT_LISTED:
                settled += agreed(rule, file, answer)
    # of some 150 provisions: what is not settled hangs on what a form does not ask, or
    # on the serial of TAU, which has not the shape of its type's
    assert settled > 115


def test_five_engines_are_told_the_interval_of_their_own_pages(
    engines: list[Engine],
) -> None:
    for engine, file in zip(engines, files_of(engines), strict=True):
        answer, _ = answered(engine, file)
        own = interval_library(engine.station, TODAY).overhaul_of(file, on=TODAY)
        told = answer.overhaul
        assert own is not None, engine
        assert told is not None, engine
        assert told.found.point.hours == own.found.point.hours, engine
        assert told.found.point.years == own.found.point.years, engine
        assert told.found.longer == own.found.longer, engine
        assert told.due.word == own.due.word, engine
        assert told.due.due.remaining_hours == own.due.due.remaining_hours, engine
        assert [o.holding for o in told.offers] == [o.holding for o in own.offers]


@pytest.mark.parametrize(
    ("then", "holding"),
    [
        (None, "undetermined"),  # done, and not told when
        (149_000, "applies"),
        (150_000, "applies"),  # reaching the bound exactly is still in time
        (150_010, "does not apply"),
    ],
)
def test_past_the_bound_an_owner_tells_when_the_oil_feed_was_modified(
    engines: list[Engine], then: int | None, holding: str
) -> None:
    """ETA as it will be at 1,600 h, had its oil feed been modified at these hours."""
    engine = next(one for one in engines if one.serial == "4118")
    hours = UNKNOWN if then is None else Hours(then)
    [file] = files_of([engine])
    file = later(file, Compliance(number="SB-24-011", hours=hours))
    own = interval_library(engine.station, TODAY).overhaul_of(file, on=TODAY)
    assert own is not None
    assert oil_feed(own) == holding
    library = open_library(engine.station, engine.engine_type.designation, TODAY)
    work = Fact(kind=Kind.WORK, name="SB-24-011")
    assert work.key in library.dated
    described = Described(
        type=engine.engine_type.designation,
        serial=engine.serial,
        built=engine.built,
        hours=Hours(160_000),
        overhauls=(),
        uses=file.facts.operation,
        told={work: Happened(ever=True, hours=None if then is None else Hours(then))},
    )
    answer = answer_for(described, engine.station, library, TODAY)
    assert answer.overhaul is not None
    assert oil_feed(answer.overhaul) == holding
    if then is None:
        asked = [w.fact for m in answer.interval_missing for w in m.wanted]
        assert work in asked


def later(file: EngineFile, done: Compliance) -> EngineFile:
    """Return a file of an engine that was never overhauled, as it is at 1,600 h."""
    now = Hours(160_000)
    facts = replace(
        file.facts,
        hours=HoursKept(new=now, overhaul=now),
        axis=Axis(now=now, new=Hours(0)),
        embodied=file.facts.embodied | {done.number},
        not_embodied=frozenset(),
        complied=(done,),
    )
    readings = (*file.readings, Reading(on=TODAY, hours=now))
    return replace(file, hours=now, facts=facts, readings=readings)


def oil_feed(overhaul: Overhaul) -> str:
    return next(
        str(one.holding.value)
        for one in overhaul.offers
        if "oil feed" in one.rule.provision.title
    )


@pytest.mark.parametrize("left_out", range(6))
def test_who_tells_less_is_never_told_otherwise(
    engines: list[Engine], left_out: int
) -> None:
    """Each sixth fact left out: an answer stays, or it is undetermined."""
    for engine, file in zip(engines, files_of(engines), strict=True):
        answer, library = answered(engine, file, every=6, but=left_out)
        for rule in library.rules:
            if rule.provision.kind not in NOT_LISTED:
                agreed(rule, file, answer)


def files_of(engines: list[Engine]) -> list[EngineFile]:
    found = engine_files(engines, on=TODAY)
    return [found[engine.pk] for engine in engines]


def answered(
    engine: Engine, file: EngineFile, *, every: int = 0, but: int = 0
) -> tuple[OpenAnswer, OpenLibrary]:
    """Return what is said of an engine of which its owner tells all that is asked."""
    library = open_library(engine.station, engine.engine_type.designation, TODAY)
    told = dict(told_of(file, library))
    if every:
        told = {f: v for n, (f, v) in enumerate(told.items()) if n % every != but}
    facts = file.facts
    described = Described(
        type=engine.engine_type.designation,
        serial=engine.serial,
        built=engine.built,
        hours=file.core_hours,
        overhauls=facts.overhauls,
        uses=facts.operation,
        leaded_share=habit(file),
        oil_temperature=facts.oil_temperature,
        told=told,
    )
    return answer_for(described, engine.station, library, TODAY), library


def habit(file: EngineFile) -> Fraction | Unknown:
    """An owner tells the share of all that was taken on, or the habit."""
    if not file.fuel:
        return file.declared_share
    whole = sum((one.litres for one in file.fuel), Fraction())
    return sum((one.leaded * one.litres for one in file.fuel), Fraction()) / whole


def told_of(file: EngineFile, library: OpenLibrary) -> Iterator[tuple[Fact, Told]]:
    for wanted in library.facts.values():
        value = value_of(wanted.fact, file, library)
        if value is not None:
            yield wanted.fact, value


def value_of(fact: Fact, file: EngineFile, library: OpenLibrary) -> Told | None:
    facts = file.facts
    match fact.kind:
        case Kind.WORK | Kind.DONE:
            return work_of(fact, file, library)
        case Kind.ATTRIBUTE:
            return facts.attributes.get(fact.name)
        case Kind.QUESTION:
            return next(
                (a for (_, q), a in facts.answers.items() if q == fact.name), None
            )
        case Kind.EVENT:
            return event_of(fact.name, file)
        case Kind.HOURS_ON:
            assert fact.on is not None
            read = hours_on(file.readings, fact.on)
            return read.lowest if read is not None and read.is_read else None
        case Kind.REGISTRY:
            return facts.registry if isinstance(facts.registry, str) else None
        case Kind.AIRCRAFT:
            return facts.aircraft if isinstance(facts.aircraft, str) else None
        case Kind.SHIPPED:
            return facts.shipped if isinstance(facts.shipped, date) else None
        case Kind.REBUILT:
            return Happened(ever=False) if facts.rebuilt is None else None
        case Kind.PART:
            return of_part(fact, file)


def work_of(fact: Fact, file: EngineFile, library: OpenLibrary) -> Happened | None:
    own = [
        r for r in library.rules if r.action and library.done_by(r.subject) == fact.key
    ]
    for rule in own:
        parts = file.parts_of(rule.provision.role) if rule.provision.role else (None,)
        last = [file.records_of(rule.subject, part)[-1:] for part in parts]
        if last and all(last):
            record = min((some[0] for some in last), key=lambda one: one.on)
            hours = None if record.hours is None else record.hours - file.zero
            return Happened(
                ever=True,
                on=record.on,
                hours=hours,  # type: ignore[arg-type]  # hundredths
                revision=record.document_revision,
            )
        if any(last):
            return None  # done on one of several parts: a form cannot say that
    if fact.kind is Kind.DONE:
        return Happened(ever=False) if file.facts.history_reviewed else None
    key = designation(fact.name)
    if key in map(designation, file.facts.embodied):
        return Happened(ever=True)
    if key in map(designation, file.facts.not_embodied):
        return Happened(ever=False)
    complied = [one for one in file.facts.complied if designation(one.number) == key]
    if complied:
        one = complied[-1]
        on = one.on if isinstance(one.on, date) else None
        revision = one.revision if isinstance(one.revision, str) else ""
        return Happened(ever=True, on=on, revision=revision)
    return Happened(ever=False) if file.facts.history_reviewed else None


def event_of(name: str, file: EngineFile) -> Happened | None:
    known = [one for one in file.events if event_key(one.name) == event_key(name)]
    if known:
        on = known[-1].on if isinstance(known[-1].on, date) else None
        hours = None if isinstance(known[-1].hours, Unknown) else known[-1].hours
        return Happened(ever=True, on=on, hours=hours)
    return Happened(ever=False) if file.facts.history_reviewed else None


def of_part(fact: Fact, file: EngineFile) -> Told | None:
    fitted = file.parts_of(fact.role)
    if fact.of is Of.NONE:
        reviewed = {role.casefold() for role in file.facts.roles_reviewed}
        return True if not fitted and fact.role.casefold() in reviewed else None
    at = int(fact.place.removeprefix("no. ") or 1) - 1
    if at >= len(fitted):
        return None
    part = fitted[at].facts
    values: dict[Of | None, Any] = {
        Of.NUMBER: part.number,
        Of.SERIAL: part.serial,
        Of.CHANGE: part.change,
        Of.BUILT: part.built,
        Of.SHIPPED: part.shipped,
        Of.FITTED: part.fitted if isinstance(part.fitted, date) else None,
        Of.NEW_HOURS: part.hours.new,
        Of.OVERHAUL_HOURS: part.hours.overhaul,
        Of.FITTED_HOURS: part.hours.fitted,
        Of.ATTRIBUTE: part.attributes.get(fact.name),
        Of.QUESTION: next(
            (a for (_, q), a in part.answers.items() if q == fact.name), None
        ),
    }
    value = values[fact.of]
    return None if isinstance(value, Unknown) or value == "" else value


def agreed(rule: CompiledRule, file: EngineFile, answer: OpenAnswer) -> int:
    """Return how many answers about a rule are settled, all of them as on the page."""
    own = assess(rule, file, on=TODAY)
    about = rule.provision.pk
    lines = [
        found.line
        for found in (*answer.applies, *answer.undetermined)
        if found.line.provision.pk == about
    ]
    none = [row for row in answer.not_applicable if row.provision.pk == about]
    applying = [each for each in own if each.outcome is Outcome.APPLIES]
    certain = [line for line in lines if line.outcome == "applies"]
    said = f"{rule.publication.number}, {rule.provision.title}, for {file.engine}"
    assert len(certain) <= len(applying), said
    against = [each for each in own if each.outcome is Outcome.DOES_NOT_APPLY]
    assert len(none) <= len(against), said
    if len(own) == 1 and certain:
        same_time(certain[0], own[0], file, said)
    return len(certain) + len(none)


def same_time(told: Line, own: Assessment, file: EngineFile, said: str) -> None:
    """A due point that is not open is the engine's own; so is its state."""
    line = line_of(own, file, on=TODAY, rate=None)
    planned = own.rule.action is not None and own.rule.action.restart == "planned"
    if told.is_undetermined or line.is_undetermined or own.declined:
        return
    if planned:
        return  # a grid counts from all its records, and only the last one was told
    here = None if line.next_hours is None else line.next_hours - file.zero
    assert (told.next_hours, told.next_on) == (here, line.next_on), said
    assert told.state == line.state, said

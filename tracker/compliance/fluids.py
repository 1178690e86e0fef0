"""Which oil suits one engine: the tables in force, against its climate, fuel and type."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final
from uuid import UUID

from notices.models import Provision
from notices.rules.applicability.wording import sentence
from notices.rules.evaluate import Outcome
from notices.rules.facts import TemperatureRange, Unknown
from notices.rules.fluids import Advice, Verdict, advise, fuels_of
from notices.rules.operating import Mix, mix_since
from notices.rules.temperatures import Unit
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station
from tracker.compliance.asking import circumstances, history_asked
from tracker.compliance.facts import EngineFile, PartFile, engine_files, temperatures
from tracker.compliance.findings.assessing import Assessment, assess
from tracker.compliance.models import Declined
from tracker.compliance.overview import Gap, PartNow
from tracker.compliance.rules import CompiledRule, compiled
from tracker.fleet.models import Engine, Operation

YEAR: Final = timedelta(days=365)
"""Fuel of a year says which kinds are in use: every season is in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OilTable:
    """One table in force, row by row, for one engine.

    `missing`: the facts on which it hangs whether the table is about this engine; where
    there are any, no row of it is called suited. `declined`: the owner has not adopted
    the document.
    """

    rule: CompiledRule
    advice: tuple[Advice, ...]
    reasons: tuple[str, ...]
    missing: tuple[str, ...]
    declined: Declined | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Oil:
    """One grade and class, with what each table that names it says of it.

    `said`: of each such table the row that goes furthest, since a table allows an oil
    where one of its rows does.
    """

    said: tuple[tuple[OilTable, Advice], ...]

    def __str__(self) -> str:
        row = self.said[0][1].row
        return f"{row.grade} {row.kind}"

    @property
    def suited(self) -> bool | None:
        """Whether every table that names it calls it suited; None while that is open."""
        answers = {advice.suited for _, advice in self.said}
        return False if False in answers else None if None in answers else True

    @property
    def is_disputed(self) -> bool:
        """Whether a table calls it suited which another does not call so."""
        return self.suited is not True and any(one.suited for _, one in self.said)


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineOils:
    """What the tables in force say for an engine. `others`: that are not about it.

    `climate`: of the coming season, in degrees Celsius. `unit`: in which it was entered,
    None where it was not. `mix`: of the fuel taken on within a year.
    """

    engine: Engine
    operation: Operation | None
    climate: TemperatureRange | Unknown
    unit: Unit | None
    mix: Mix
    fuel: frozenset[str] | Unknown
    tables: tuple[OilTable, ...]
    others: int
    parts: tuple[PartNow, ...]

    @property
    def suited(self) -> tuple[Oil, ...]:
        """What every table calls suited that names it."""
        return tuple(oil for oil in self._oils if oil.suited)

    @property
    def disputed(self) -> tuple[Oil, ...]:
        return tuple(oil for oil in self._oils if oil.is_disputed)

    @property
    def undetermined(self) -> tuple[Advice, ...]:
        return tuple(one for one in self._rows if one.suited is None)

    @property
    def _oils(self) -> tuple[Oil, ...]:
        """Each grade and class that a table names, as the tables name them."""
        found: dict[object, dict[int, tuple[OilTable, Advice]]] = defaultdict(dict)
        for place, table in enumerate(self.tables):
            for one in table.advice:
                grade = one.row.viscosity or one.row.grade.casefold()
                found[grade, one.row.kind].setdefault(place, (table, one))
        return tuple(Oil(said=tuple(said.values())) for said in found.values())

    @property
    def _rows(self) -> Iterator[Advice]:
        return (one for table in self.tables for one in table.advice)

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """Each fact without which a row cannot be judged, once."""
        decides: dict[str, dict[str, None]] = defaultdict(dict)
        for table in self.tables:
            for one in table.advice:
                for fact in one.missing:
                    decides[fact][table.rule.publication.number] = None
        return tuple(
            Gap(fact=fact, decides=tuple(numbers)) for fact, numbers in decides.items()
        )


def oils_of(viewer: Viewer, public_id: UUID, on: date) -> EngineOils:
    """Return the advice; Engine.DoesNotExist where the viewer does not see the engine.

    One query more than the file of an engine and the engine itself, however many tables
    and rows there are.
    """
    engines = Engine.objects.visible_to(viewer).for_list().select_related("station")
    engine = engines.get(public_id=public_id)
    file = engine_files([engine], on=on)[engine.pk]
    climate = temperatures(file.operation, "ambient")
    return oils_for(
        file,
        _tables_in_force(engine.station, on),
        climate=climate,
        unit=None if isinstance(climate, Unknown) else _unit_of(file.operation),
        on=on,
    )


def oils_for(
    file: EngineFile,
    rules: Sequence[CompiledRule],
    *,
    climate: TemperatureRange | Unknown,
    unit: Unit | None,
    on: date,
) -> EngineOils:
    """Return what these rules, each with a table, say for an engine. No query."""
    mix = mix_since(file.fuel, since=on - YEAR, on=on, declared=file.declared_share)
    tables = tuple(
        _table(found, file, climate, unit, mix, on=on)
        for rule in rules
        for found in assess(rule, file, on=on)
        if found.is_kept
    )
    return EngineOils(
        engine=file.engine,
        operation=file.operation,
        climate=climate,
        unit=unit,
        mix=mix,
        fuel=fuels_of(mix.share),
        tables=tables,
        others=len(rules) - len(tables),
        parts=tuple(map(_part_now, file.parts)),
    )


def _unit_of(operation: Operation | None) -> Unit:
    is_fahrenheit = operation is not None and operation.ambient_unit == "F"
    return "F" if is_fahrenheit else "C"


def _tables_in_force(station: Station, on: date) -> tuple[CompiledRule, ...]:
    provisions = Provision.objects.for_station(station).in_force(on)
    return compiled(provisions.filter(kind=Provision.Kind.FLUIDS))


def _table(
    found: Assessment,
    file: EngineFile,
    climate: TemperatureRange | Unknown,
    unit: Unit | None,
    mix: Mix,
    *,
    on: date,
) -> OilTable:
    rule = found.rule
    past = history_asked(rule, file)
    asked = circumstances(rule, file, past, on=on)
    advice = advise(
        rule.fluids,
        file.facts,
        replace(asked, leaded_share=mix.share),
        ambient=climate,
        fuel=fuels_of(mix.share),
        unit=unit,
    )
    missing = found.missing if found.outcome is Outcome.UNDETERMINED else ()
    return OilTable(
        rule=rule,
        advice=tuple(_if_about(one, missing) for one in advice),
        reasons=found.reasons,
        missing=missing,
        declined=found.declined,
    )


def _if_about(one: Advice, missing: tuple[str, ...]) -> Advice:
    """Return the advice as it stands while it is open whether the table counts here."""
    if not missing or one.suited is False:
        return one
    lacking = tuple(dict.fromkeys((*missing, *one.missing)))
    return replace(
        one,
        verdict=Verdict.UNDETERMINED,
        why=sentence(f"Not known: {', '.join(lacking)}"),
        missing=lacking,
    )


def _part_now(part: PartFile) -> PartNow:
    fitted = part.fitted
    fitting = fitted.fitting
    on = fitting.fitted_on or (fitting.true_from if fitting.date_known else None)
    return PartNow(
        description=fitted.description,
        place=fitting.place,
        fitted_on=on,
        hours_fitted=fitted.hours_fitted,
        hours_new=fitted.hours_new,
    )

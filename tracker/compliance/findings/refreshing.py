"""Stored findings brought in line with rules and facts: only differences are written."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from math import ceil

from notices.rules.compliance_time import utilisation
from notices.rules.designations import designation
from notices.rules.evaluate import Outcome
from notices.rules.times.history import Rate
from tracker.accounts.models import Station
from tracker.compliance.facts import EngineFile, engine_files
from tracker.compliance.findings.assessing import Assessment, kept_assessments
from tracker.compliance.findings.columns import closed_columns, point_columns
from tracker.compliance.in_force import batches, library_in_force, size_in_force
from tracker.compliance.models import Closed, Finding, Standing
from tracker.compliance.rules import CompiledRule, rules_in_force
from tracker.fleet.models import Engine
from tracker.fleet.models import State as ServiceState

AT_ONCE = 1000
_COMPARED = (
    "rule_id",
    "undetermined",
    "closed",
    *closed_columns(),
    "point",
    "reasons",
    "missing",
)
_STANDING = (
    "evaluated_at",
    "evaluated_for",
    "publications",
    "provisions",
    "zero",
    "meter",
    "rate",
    "hours_a_day",
    "read_on_day",
)
Key = tuple[int, int, int | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """How many findings were added, changed and removed."""

    added: int = 0
    changed: int = 0
    removed: int = 0

    def __add__(self, other: Changed) -> Changed:
        return Changed(
            added=self.added + other.added,
            changed=self.changed + other.changed,
            removed=self.removed + other.removed,
        )


def refresh(
    station: Station,
    engines: Iterable[Engine],
    *,
    on: date,
    at: datetime,
    publications: Collection[int] | None = None,
) -> Changed:
    """Evaluate these engines of a station and write what is different.

    `publications`: only rules of these, after a change in the library; else all rules.
    For every thousand engines as many queries as for one.
    """
    if publications is not None:
        return _refresh_for(publications, station, engines, on=on, at=at)
    library = library_in_force(station, on)
    counts = (library.publications, library.provisions)
    changed = Changed()
    for some in batches(engines, AT_ONCE):
        files = engine_files(some, on=on)
        rules = library.for_engines(file.facts for file in files.values())
        wanted = _wanted(rules, files.values(), on=on, at=at)
        changed += _write_differences(wanted, _stored(some))
        _write_standing(files.values(), on=on, at=at, counts=counts)
    return changed


def _refresh_for(
    publications: Collection[int],
    station: Station,
    engines: Iterable[Engine],
    *,
    on: date,
    at: datetime,
) -> Changed:
    """Evaluate the rules of some publications only, and of the engines only those whose
    type may be concerned, or for whom something was found before.
    """
    standings = Standing.objects.filter(station=station)
    of_library = size_in_force(station, on)
    standings.update(publications=of_library[0], provisions=of_library[1])
    rules = rules_in_force(station, on, publications=publications)
    before = Finding.objects.filter(station=station).filter(
        provision__revision__publication__in=publications
    )
    found = set(before.values_list("engine", flat=True))
    concerned = (
        engine
        for engine in engines
        if engine.pk in found or any(_may_concern(rule, engine) for rule in rules)
    )
    changed = Changed()
    for some in batches(concerned, AT_ONCE):
        files = engine_files(some, on=on)
        wanted = _wanted(rules, files.values(), on=on, at=at)
        changed += _write_differences(wanted, _stored(some, publications))
    return changed


def _may_concern(rule: CompiledRule, engine: Engine) -> bool:
    if rule.types is None or not engine.type_complete:
        return True
    return rule.types.covers(designation(engine.engine_type.designation))


def _wanted(
    rules: Sequence[CompiledRule],
    files: Iterable[EngineFile],
    *,
    on: date,
    at: datetime,
) -> dict[Key, Finding]:
    found: dict[Key, Finding] = {}
    of_type: dict[tuple[object, bool], list[CompiledRule]] = {}
    for file in files:
        facts = file.facts
        kind = (facts.type, facts.type_complete)
        if kind not in of_type:
            of_type[kind] = [rule for rule in rules if rule.may_concern(facts)]
        for assessed in kept_assessments(of_type[kind], file, on=on):
            finding = finding_of(assessed, file, at=at)
            found[_key(finding)] = finding
    return found


def _key(finding: Finding) -> Key:
    return (finding.engine_id, finding.provision_id, finding.part_id)


def finding_of(assessed: Assessment, file: EngineFile, *, at: datetime) -> Finding:
    """Return the row, not saved. Its hours stand on the engine's axis."""
    point = assessed.point
    is_open = assessed.closed == Closed.OPEN
    return Finding(
        station_id=file.engine.station_id,
        engine_id=file.engine.pk,
        part_id=assessed.part.key if assessed.part else None,
        provision_id=assessed.rule.provision.pk,
        rule_id=assessed.rule.version.pk,
        undetermined=assessed.outcome is Outcome.UNDETERMINED,
        closed=assessed.closed,
        point=point.to_json(),
        reasons=list(assessed.reasons),
        missing=list(assessed.missing),
        changed_at=at,
        **(point_columns(point, zero=file.zero) if is_open else closed_columns()),
    )


def _stored(
    engines: Sequence[Engine], publications: Collection[int] | None = None
) -> dict[Key, Finding]:
    rows = Finding.objects.filter(engine__in=[engine.pk for engine in engines])
    if publications is not None:
        rows = rows.filter(provision__revision__publication__in=publications)
    return {_key(row): row for row in rows}


def _write_differences(
    wanted: dict[Key, Finding], stored: dict[Key, Finding]
) -> Changed:
    added = [row for key, row in wanted.items() if key not in stored]
    changed = []
    for key, row in wanted.items():
        old = stored.get(key)
        if old is not None and _differs(old, row):
            row.pk, row.public_id = old.pk, old.public_id
            changed.append(row)
    removed = [row.pk for key, row in stored.items() if key not in wanted]
    if removed:
        Finding.objects.filter(pk__in=removed).delete()
    Finding.objects.bulk_create(added, batch_size=AT_ONCE)
    Finding.objects.bulk_create(
        changed,
        batch_size=AT_ONCE,
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=[*_COMPARED, "changed_at"],
    )
    return Changed(added=len(added), changed=len(changed), removed=len(removed))


def _differs(old: Finding, new: Finding) -> bool:
    return any(getattr(old, name) != getattr(new, name) for name in _COMPARED)


def _write_standing(
    files: Iterable[EngineFile],
    *,
    on: date,
    at: datetime,
    counts: tuple[int, int],
) -> None:
    Standing.objects.bulk_create(
        [standing_of(file, on=on, at=at, counts=counts) for file in files],
        batch_size=AT_ONCE,
        update_conflicts=True,
        unique_fields=["engine"],
        update_fields=list(_STANDING),
    )


def standing_of(
    file: EngineFile, *, on: date, at: datetime, counts: tuple[int, int]
) -> Standing:
    """Return the row, not saved."""
    rate = rate_of(file, on=on)
    publications, provisions = counts
    return Standing(
        engine=file.engine,
        station_id=file.engine.station_id,
        evaluated_at=at,
        evaluated_for=on,
        publications=publications,
        provisions=provisions,
        zero=file.zero,
        meter=file.reading.meter.kind if file.reading else "",
        rate=_rate_to_json(rate),
        hours_a_day=None if rate is None else int(rate.high),
        read_on_day=file.reading.on.toordinal() if file.reading else None,
    )


def rate_of(file: EngineFile, *, on: date) -> Rate | None:
    """Return the utilisation, its upper end in whole hundredths; None out of service.

    Whole hundredths, rounded up, so that SQL and the exact answer agree.
    """
    if file.engine.state != ServiceState.IN_SERVICE:
        return None
    rate = utilisation(file.readings, on)
    if rate is None:
        return None
    return Rate(a_day=rate.a_day, low=rate.low, high=Fraction(ceil(rate.high)))


def _rate_to_json(rate: Rate | None) -> dict[str, str] | None:
    if rate is None:
        return None
    return {"a_day": str(rate.a_day), "low": str(rate.low), "high": str(rate.high)}

"""Stored findings brought in line with rules and facts: only differences are written."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from math import ceil

from notices.rules.compliance_time import utilisation
from notices.rules.designations import designation
from notices.rules.evaluate import Outcome
from notices.rules.times.history import Rate
from tracker.accounts.models import Station
from tracker.compliance.events import note_endings, note_events
from tracker.compliance.facts import EngineFile, engine_files
from tracker.compliance.findings.assessing import Assessment, kept_assessments
from tracker.compliance.findings.columns import closed_columns, point_columns
from tracker.compliance.in_force import (
    batches,
    interval_publications,
    library_in_force,
    size_in_force,
    speak_of_intervals,
)
from tracker.compliance.intervals import (
    INTERVAL_COLUMNS,
    EngineInterval,
    IntervalRules,
    interval_columns,
    interval_rules,
)
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
    *INTERVAL_COLUMNS,
)
Intervals = Mapping[int, EngineInterval | None]
"""By engine; None where no interval provision concerns it."""

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
        intervals = _intervals(interval_rules(rules), files.values(), on=on)
        wanted = _wanted(rules, files.values(), intervals, on=on, at=at)
        changed += _write_differences(wanted, _stored(some), on=on, at=at)
        _write_standing(files.values(), intervals, on=on, at=at, counts=counts)
        note_events(station, list(files), on=on, at=at)
    return changed


def _intervals(
    rules: IntervalRules, files: Iterable[EngineFile], *, on: date
) -> Intervals:
    return {file.engine.pk: rules.of(file, on=on) for file in files}


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

    What one document says of an overhaul interval may move what hangs on all of them:
    then all interval provisions are evaluated for every engine they may concern.
    """
    about_intervals = speak_of_intervals(publications)
    if about_intervals:
        publications = {*publications, *interval_publications(station, on)}
    standings = Standing.objects.filter(station=station)
    of_library = size_in_force(station, on)
    standings.update(publications=of_library[0], provisions=of_library[1])
    rules = rules_in_force(station, on, publications=publications)
    before = Finding.objects.filter(station=station).filter(
        provision__revision__publication__in=publications
    )
    found = set(before.values_list("engine", flat=True))
    if about_intervals:
        found.update(standings.told_an_interval().values_list("engine", flat=True))
    concerned = (
        engine
        for engine in engines
        if engine.pk in found or any(_may_concern(rule, engine) for rule in rules)
    )
    changed = Changed()
    for some in batches(concerned, AT_ONCE):
        files = engine_files(some, on=on)
        intervals = _intervals(interval_rules(rules), files.values(), on=on)
        wanted = _wanted(rules, files.values(), intervals, on=on, at=at)
        stored = _stored(some, publications)
        changed += _write_differences(wanted, stored, on=on, at=at)
        if about_intervals:
            _write_intervals(files.values(), intervals)
        note_events(station, list(files), on=on, at=at)
    return changed


def _may_concern(rule: CompiledRule, engine: Engine) -> bool:
    if rule.types is None or not engine.type_complete:
        return True
    return rule.types.covers(designation(engine.engine_type.designation))


def _wanted(
    rules: Sequence[CompiledRule],
    files: Iterable[EngineFile],
    intervals: Intervals,
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
        interval = intervals.get(file.engine.pk)
        of_file = kept_assessments(of_type[kind], file, on=on, interval=interval)
        for assessed in of_file:
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
    wanted: dict[Key, Finding],
    stored: dict[Key, Finding],
    *,
    on: date,
    at: datetime,
) -> Changed:
    added = [row for key, row in wanted.items() if key not in stored]
    changed = []
    for key, row in wanted.items():
        old = stored.get(key)
        if old is not None and _differs(old, row):
            row.pk, row.public_id = old.pk, old.public_id
            changed.append(row)
    removed = [row for key, row in stored.items() if key not in wanted]
    if removed:
        note_endings(removed, added, on=on, at=at)
        Finding.objects.filter(pk__in=[row.pk for row in removed]).delete()
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
    intervals: Intervals,
    *,
    on: date,
    at: datetime,
    counts: tuple[int, int],
) -> None:
    Standing.objects.bulk_create(
        [
            standing_of(
                file, intervals.get(file.engine.pk), on=on, at=at, counts=counts
            )
            for file in files
        ],
        batch_size=AT_ONCE,
        update_conflicts=True,
        unique_fields=["engine"],
        update_fields=list(_STANDING),
    )


def _write_intervals(files: Iterable[EngineFile], intervals: Intervals) -> None:
    """Write what is said of the interval alone, of engines that were evaluated before."""
    rows = [
        Standing(
            engine=file.engine,
            **interval_columns(intervals.get(file.engine.pk), zero=file.zero),
        )
        for file in files
    ]
    Standing.objects.bulk_update(rows, INTERVAL_COLUMNS, batch_size=AT_ONCE)


def standing_of(
    file: EngineFile,
    interval: EngineInterval | None,
    *,
    on: date,
    at: datetime,
    counts: tuple[int, int],
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
        **interval_columns(interval, zero=file.zero),
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

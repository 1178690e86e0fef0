"""Stored findings brought in line with rules and facts: only differences are written."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import QuerySet

from notices.rules.evaluate import Outcome
from tracker.accounts.models import Station
from tracker.compliance.events import note_endings, note_events
from tracker.compliance.facts import EngineFile, engine_files, fleet_of
from tracker.compliance.findings.assessing import Assessment, kept_assessments
from tracker.compliance.findings.columns import closed_columns, point_columns
from tracker.compliance.findings.standings import (
    Days,
    Intervals,
    again_on,
    bring_forward,
    standing_of,
    write_intervals,
    write_standings,
)
from tracker.compliance.findings.watched_day import WatchedDay
from tracker.compliance.in_force import (
    batches,
    interval_publications,
    library_in_force,
    size_in_force,
    speak_of_intervals,
)
from tracker.compliance.intervals import IntervalRules, interval_rules
from tracker.compliance.models import Closed, Finding, Standing
from tracker.compliance.rules import CompiledRule, rules_in_force
from tracker.fleet.models import Engine

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
    station: Station, engines: Iterable[Engine], *, on: date, at: datetime
) -> Changed:
    """Evaluate all rules for these engines of a station and write what is different.

    For every thousand engines as many queries as for one.
    """
    library = library_in_force(station, on)
    counts = (library.publications, library.provisions)
    changed = Changed()
    for some in batches(engines, AT_ONCE):
        files = engine_files(some, on=on)
        days = {key: WatchedDay(on) for key in files}
        rules = library.for_engines(file.facts for file in files.values())
        intervals = _intervals(interval_rules(rules), files.values(), days)
        wanted = _wanted(rules, files.values(), intervals, days, at=at)
        changed += _write_differences(wanted, _stored(list(files)), on=on, at=at)
        again = again_on(files, days, on=on)
        standings = [
            standing_of(
                file,
                intervals.get(key),
                on=on,
                at=at,
                counts=counts,
                again_on=again[key],
            )
            for key, file in files.items()
        ]
        write_standings(standings)
        note_events(station, list(files), on=on, at=at)
    return changed


def _intervals(
    rules: IntervalRules, files: Iterable[EngineFile], days: Days
) -> Intervals:
    return {file.engine.pk: rules.of(file, on=days[file.engine.pk]) for file in files}


def refresh_library(
    publications: Collection[int], station: Station, *, on: date, at: datetime
) -> Changed:
    """After a change in these publications, evaluate them for the whole station."""
    of_library = size_in_force(station, on)
    Standing.objects.filter(station=station).update(
        publications=of_library[0], provisions=of_library[1]
    )
    engines = Engine.objects.filter(station=station)
    return refresh_for(publications, station, engines, on=on, at=at)


def refresh_for(
    publications: Collection[int],
    station: Station,
    engines: QuerySet[Engine],
    *,
    on: date,
    at: datetime,
) -> Changed:
    """Evaluate the rules of some publications only, and of the engines only those that
    no column rules out, or for whom something was found before.

    What one document says of an overhaul interval may move what hangs on all of them:
    then all interval provisions are evaluated for every engine they may concern. An
    engine to which none of them applies has no interval, whatever else is so of it.
    """
    about_intervals = speak_of_intervals(publications)
    if about_intervals:
        publications = {*publications, *interval_publications(station, on)}
    standings = Standing.objects.filter(station=station)
    rules = rules_in_force(station, on, publications=publications)
    before = Finding.objects.filter(station=station).filter(
        provision__revision__publication__in=publications
    )
    found = set(before.values_list("engine", flat=True))
    if about_intervals:
        found.update(standings.told_an_interval().values_list("engine", flat=True))
    fleet = fleet_of(engines, on=on)
    found.update(fleet.concerned_by(rule.condition.condition for rule in rules))
    changed = Changed()
    for keys in batches((key for key in fleet.keys if key in found), AT_ONCE):
        some = Engine.objects.filter(pk__in=keys).select_related("engine_type")
        files = engine_files(list(some.order_by("pk")), on=on)
        days = {key: WatchedDay(on) for key in files}
        intervals = _intervals(interval_rules(rules), files.values(), days)
        wanted = _wanted(rules, files.values(), intervals, days, at=at)
        stored = _stored(keys, publications)
        changed += _write_differences(wanted, stored, on=on, at=at)
        if about_intervals:
            write_intervals(files.values(), intervals)
        bring_forward(days)
        note_events(station, keys, on=on, at=at)
    return changed


def _wanted(
    rules: Sequence[CompiledRule],
    files: Iterable[EngineFile],
    intervals: Intervals,
    days: Days,
    *,
    at: datetime,
) -> dict[Key, Finding]:
    found: dict[Key, Finding] = {}
    of_type: dict[tuple[object, bool], list[CompiledRule]] = {}
    for file in files:
        facts = file.facts
        kind = (facts.type, facts.type_complete)
        if kind not in of_type:
            of_type[kind] = [rule for rule in rules if rule.may_concern(facts)]
        interval, on = intervals.get(file.engine.pk), days[file.engine.pk]
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
    engines: Sequence[int], publications: Collection[int] | None = None
) -> dict[Key, Finding]:
    rows = Finding.objects.filter(engine__in=engines)
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

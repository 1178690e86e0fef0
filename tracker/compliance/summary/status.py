"""The compliance status of one engine on a day, as it was known at a moment."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Max

from notices.models import Revision
from notices.rules.compliance_time import State
from notices.rules.facts import Unknown
from notices.rules.intervals.wording import PAST_RECOMMENDED
from notices.rules.phrases import date_words
from tracker.accounts.models import Station
from tracker.compliance.facts import EngineFile, PartFile, engine_files
from tracker.compliance.facts.rows import ALL_THAT_IS_KNOWN
from tracker.compliance.findings import CompiledRule, assessments, rules_in_force
from tracker.compliance.findings.standings import rate_of
from tracker.compliance.models import Closed, Record
from tracker.compliance.overhauls import (
    HOURS,
    YEARS,
    IntervalLibrary,
    Overhaul,
    interval_library_among,
)
from tracker.compliance.summary.lines import (
    Line,
    NotApplicable,
    line_of,
    not_applicable,
    sort_key,
)
from tracker.fleet.history import as_of
from tracker.fleet.models import (
    Engine,
    Fitting,
    Owner,
    Ownership,
    Search,
    SearchKind,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchStatus:
    """How far the search for one kind of document went, for the engine or a part.

    `searched_to` None: nobody has said. `is_old`: longer ago than the station allows.
    """

    kind: str
    part: str
    searched_to: date | None
    source: str
    person: str
    is_old: bool

    @property
    def is_open(self) -> bool:
        """Whether it is to be treated as an undetermined item."""
        return self.searched_to is None or self.is_old

    def __str__(self) -> str:
        about = f" for the {self.part}" if self.part else ""
        if self.searched_to is None:
            return f"Nobody has noted how far the search for {self.kind}{about} went."
        told = f"{self.kind.capitalize()}{about} searched to {self.searched_to}"
        return f"{told} ({self.source}, {self.person})."


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusOfEngine:
    """Everything that a status shows. Hours are hundredths.

    `known_at` None: with all that is known now. `hours` on the engine's axis, `tsn` and
    `tso` by it. `undetermined` and `open_searches` stand on top. `current`: how many
    publications are current in the library, `evaluated` how many of them were
    evaluated here; the two are the same unless something went wrong. `records`: the
    valid ones of the engine's own ledger up to that day, in its order. `owner`: on
    that day; `uses`: how it was operated then, empty where that is not known.
    """

    engine: Engine
    on: date
    known_at: datetime | None
    not_yet: str
    fitting: Fitting | None
    owner: Owner | None
    uses: tuple[str, ...]
    hours: int | None
    tsn: int | None
    tso: int | None
    never_overhauled: bool
    airframe_hours: int | None
    reading_on: date | None
    meter: str
    reviewed_on: date | None
    searches: tuple[SearchStatus, ...]
    evaluated: int
    current: int
    library_on: date | None
    lines: tuple[Line, ...]
    undetermined: tuple[Line, ...]
    not_adopted: tuple[Line, ...]
    not_applicable: tuple[NotApplicable, ...]
    overhaul: Overhaul | None
    parts: tuple[PartFile, ...]
    records: tuple[Record, ...]
    head: Record | None

    @property
    def open_searches(self) -> tuple[SearchStatus, ...]:
        return tuple(search for search in self.searches if search.is_open)

    @property
    def listed(self) -> int:
        """How many provisions stand in the status, in one section or another."""
        sections = (self.lines, self.undetermined, self.not_adopted)
        return sum(map(len, sections)) + len(self.not_applicable)


def end_of_day(station: Station, on: date) -> datetime:
    """Return the moment at which a day ends in the station's time zone."""
    midnight = datetime.combine(on + timedelta(days=1), time())
    return midnight.replace(tzinfo=ZoneInfo(station.time_zone))


def status_of(
    engine: Engine, *, on: date, known_at: datetime | None = None
) -> StatusOfEngine:
    """Return the status of one engine; see `statuses_of`."""
    [status] = statuses_of([engine], on=on, known_at=known_at)
    return status


def statuses_of(
    engines: Sequence[Engine], *, on: date, known_at: datetime | None = None
) -> tuple[StatusOfEngine, ...]:
    """Return the status of each, over every publication that is current that day.

    The engines are of one station, which is at hand with each of them. `known_at`: as
    it was known then; `end_of_day` gives the moment that belongs to a day. The number
    of queries is fixed, however many engines there are.
    """
    if not engines:
        return ()
    station = engines[0].station
    rules = rules_in_force(station, on, known_at)
    library = _Library(
        rules=rules,
        intervals=interval_library_among(rules),
        taken_over=_taken_over(station, on, known_at),
    )
    files = engine_files(engines, on=on, known_at=known_at)
    heads = _heads(engines, known_at)
    owners = _owners(engines, on, known_at)
    return tuple(
        _status(
            files[engine.pk],
            library,
            owner=owners.get(engine.pk),
            head=heads.get(engine.pk),
            on=on,
            known_at=known_at,
        )
        for engine in engines
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Library:
    """What every engine is evaluated over. `taken_over`: a day for each publication."""

    rules: Sequence[CompiledRule]
    intervals: IntervalLibrary
    taken_over: Sequence[date]


def _status(
    file: EngineFile,
    library: _Library,
    *,
    owner: Owner | None,
    head: Record | None,
    on: date,
    known_at: datetime | None,
) -> StatusOfEngine:
    rate = rate_of(file, on=on)
    overhaul = library.intervals.overhaul_of(file, on=on)
    interval = None if overhaul is None else overhaul.found
    assessed = list(assessments(library.rules, file, on=on, interval=interval))
    past = _past_recommended(overhaul)
    kept = [
        _past_or(line_of(each, file, on=on, rate=rate), overhaul, each.rule in past)
        for each in assessed
        if each.is_kept
    ]
    adopted = [line for line in kept if line.state != Closed.NOT_ADOPTED]
    reading = file.reading
    return StatusOfEngine(
        engine=file.engine,
        on=on,
        known_at=known_at,
        not_yet=_not_yet(file, on, known_at),
        fitting=file.fitting,
        owner=owner,
        uses=tuple(file.operation.uses) if file.operation else (),
        hours=file.hours,
        tsn=file.tsn_at(file.hours),
        tso=_tso(file),
        never_overhauled=file.facts.overhauls == (),
        airframe_hours=_airframe_hours(file),
        reading_on=reading.on if reading else None,
        meter=reading.meter.kind if reading else "",
        reviewed_on=file.reviewed_on,
        searches=_searches(file, on),
        evaluated=len({each.rule.publication.pk for each in assessed}),
        lines=_sorted(line for line in adopted if not line.is_undetermined),
        undetermined=_sorted(line for line in adopted if line.is_undetermined),
        not_adopted=_sorted(line for line in kept if line.state == Closed.NOT_ADOPTED),
        not_applicable=tuple(
            sorted(
                (not_applicable(each) for each in assessed if not each.is_kept),
                key=sort_key,
            )
        ),
        overhaul=overhaul,
        parts=file.parts,
        records=_own_records(file),
        head=head,
        current=len(library.taken_over),
        library_on=max(library.taken_over, default=None),
    )


def _past_recommended(overhaul: Overhaul | None) -> tuple[CompiledRule, ...]:
    """The provisions past which the engine is, where they are only recommended."""
    if overhaul is None or overhaul.word != PAST_RECOMMENDED:
        return ()
    point = overhaul.found.point
    ended = {HOURS: point.from_hours, YEARS: point.from_years}
    by_id = overhaul.found.by_id
    return tuple(by_id[name] for of in overhaul.ended if (name := ended[of]))


def _past_or(line: Line, overhaul: Overhaul | None, is_past: bool) -> Line:
    """Return the line, with where the interval ended if the engine is past it.

    Nothing falls due by what is only recommended, but a reader is to see it passed.
    """
    if overhaul is None or not is_past or line.state != State.NOTHING_DUE.value:
        return line
    due = overhaul.due.due
    return replace(line, state=overhaul.word, due=due, sentence=due.sentence)


def _not_yet(file: EngineFile, on: date, known_at: datetime | None) -> str:
    built, day = file.engine.built, date_words(on)
    if built is not None and on < built:
        return (
            f"There was no such engine on {day}: it was made on {date_words(built)}. "
            "Ask for a later day."
        )
    if known_at is not None and isinstance(file.facts.type, Unknown):
        return (
            f"Nothing was known of this engine at the end of {day}: it had not been "
            "entered yet. Ask for that day with what is known today, or for a later day."
        )
    return ""


def _sorted(lines: Iterable[Line]) -> tuple[Line, ...]:
    return tuple(sorted(lines, key=sort_key))


def _tso(file: EngineFile) -> int | None:
    since = file.facts.hours.overhaul
    return since if isinstance(since, int) else None


def _airframe_hours(file: EngineFile) -> int | None:
    """Hours of the airframe now, if the engine was read on the day it was fitted."""
    fitting = file.fitting
    if fitting is None or fitting.airframe_hours is None or file.hours is None:
        return None
    then = [r.hours for r in file.readings if r.on == fitting.true_from]
    return fitting.airframe_hours + file.hours - file.zero - then[-1] if then else None


def _searches(file: EngineFile, on: date) -> tuple[SearchStatus, ...]:
    """Both kinds for the engine itself, and what is noted for its parts."""
    oldest = on - timedelta(days=file.engine.station.reading_age_days)
    parts = {part.key: str(part) for part in file.parts}
    of_engine = {row.kind: row for row in file.searches if row.part_id is None}
    found = [
        _search(kind.value, "", of_engine.get(kind.value), oldest)
        for kind in SearchKind
    ]
    found += [
        _search(row.kind, parts[row.part_id], row, oldest)
        for row in file.searches
        if row.part_id in parts
    ]
    return tuple(found)


def _search(kind: str, part: str, row: Search | None, oldest: date) -> SearchStatus:
    return SearchStatus(
        kind=kind,
        part=part,
        searched_to=row.true_from if row else None,
        source=row.source if row else "",
        person=row.person if row else "",
        is_old=row is not None and row.true_from < oldest,
    )


def _taken_over(station: Station, on: date, known_at: datetime | None) -> list[date]:
    """Return the days on which the current revisions took over."""
    current = Revision.objects.for_station(station).current(on, known_at)
    days = current.values_list("takes_over_on", flat=True)
    return [day for day in days if day is not None]


def _heads(engines: Sequence[Engine], known_at: datetime | None) -> dict[int, Record]:
    """Return the last record of each chain, by engine. Records are only ever added."""
    records = Record.objects.filter(engine__in=engines)
    if known_at is not None:
        records = records.filter(recorded_at__lte=known_at)
    last = records.order_by().values("engine").annotate(last=Max("pk")).values("last")
    return {record.engine_id: record for record in Record.objects.filter(pk__in=last)}


def _owners(
    engines: Sequence[Engine], on: date, known_at: datetime | None
) -> dict[int, Owner]:
    known = known_at or ALL_THAT_IS_KNOWN
    rows = as_of(Ownership, engines, on=on, known_at=known).select_related("owner")
    return {row.engine_id: row.owner for row in rows}


def _own_records(file: EngineFile) -> tuple[Record, ...]:
    """The valid records of the engine's own ledger, in its order."""
    own = (record for record in file.records if record.engine_id == file.engine.pk)
    return tuple(sorted(own, key=lambda record: record.sequence))

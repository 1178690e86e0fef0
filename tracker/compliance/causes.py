"""What an act causes: how an engine stood before it and stands after, and what differs.

Compared is what a person would see (provision, state, due point), never keys: a part
that is fitted in the place of another is another row and may leave all as it was.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import zip_longest
from math import inf
from typing import Final

from notices.models import Provision
from notices.rules.evaluate import Outcome
from tracker.accounts.access import Viewer
from tracker.compliance.conflicts import Conflict, conflicts_of
from tracker.compliance.due import DueRow, due_rows
from tracker.compliance.facts import engine_files
from tracker.compliance.findings.assessing import assess
from tracker.compliance.in_force import library_in_force
from tracker.compliance.intervals import interval_of
from tracker.compliance.models import Closed, Finding, Standing
from tracker.compliance.overview import Gap, gaps_of, parts_now
from tracker.compliance.rules import compiled
from tracker.compliance.states import WORDS
from tracker.fleet.models import Engine

PART_GONE: Final = "It is about a part that is then no longer fitted."
_COLUMNS: Final = (
    "undetermined",
    "doubtful",
    "closed",
    "further_flight",
    "earliest_hours",
    "earliest_date",
    "overdue_hours",
    "overdue_date",
    "latest_hours",
    "latest_date",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """An overhaul interval at one moment; hours in hundredths, on the engine's axis.

    `hours`, `on`: the last inside it, None where it says nothing of the kind or it
    cannot be said; `zero`: what the axis showed at TSN 0; `binds`: it is law in the
    engine's operation, or may be; `missing`: the facts that it hangs on; `longer`: the best
    outcome among extensions, empty without any.
    """

    hours: int | None
    zero: int
    on: date | None
    binds: bool
    missing: tuple[str, ...]
    longer: str

    @property
    def tsn(self) -> int | None:
        return None if self.hours is None else self.hours - self.zero

    def is_shorter_than(self, other: Interval) -> bool:
        """Whether it ends earlier, or can no longer be said, by hours or by date."""
        by_hours = other.hours is not None and (
            self.hours is None or self.hours < other.hours
        )
        by_date = other.on is not None and (self.on is None or self.on < other.on)
        return by_hours or by_date


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """How one engine stands at a moment, kept apart from the rows of the database."""

    engine: Engine
    rows: tuple[DueRow, ...]
    interval: Interval | None

    @property
    def gaps(self) -> dict[str, Gap]:
        return {gap.fact: gap for gap in gaps_of(self.rows)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """One finding before and after; None where there is none.

    `reasons`: why there is none any more. `conflict`: with the parts that it means,
    where parts would be fitted that do not, or may not, go together.
    """

    before: DueRow | None
    after: DueRow | None
    reasons: tuple[str, ...] = ()
    conflict: Conflict | None = None

    @property
    def row(self) -> DueRow:
        """The finding as it would be, or as it was where it ends."""
        found = self.after or self.before
        assert found is not None
        return found

    @property
    def settles(self) -> bool:
        """Whether it may apply before, and applies for certain after."""
        if self.before is None or self.after is None:
            return False
        return self.before.finding.undetermined and not self.after.finding.undetermined

    @property
    def presses(self) -> bool:
        """Whether something becomes open by it, certain, more urgent, or due earlier."""
        before, after = self.before, self.after
        if after is None or not _is_open(after):
            return False
        if before is None or self.settles:
            return True
        if _rank(before) != _rank(after):
            return _rank(after) < _rank(before)
        return _is_earlier(after.due_hours, before.due_hours) or _is_earlier(
            _ordinal(after.due_on), _ordinal(before.due_on)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineCaused:
    """What an act causes for one engine: what presses first, conflicts on top.

    `settled`: facts that are no longer missing; `missing`: those that would be.
    `interval`: before and after, None where it stays as it is.
    """

    engine: Engine
    effects: tuple[Effect, ...]
    settled: tuple[Gap, ...]
    missing: tuple[Gap, ...]
    interval: tuple[Interval | None, Interval | None] | None

    @property
    def is_nothing(self) -> bool:
        return not (self.effects or self.settled or self.missing or self.interval)

    @property
    def shortens(self) -> bool:
        """Whether the overhaul interval ends earlier by it, or can no longer be said."""
        if self.interval is None:
            return False
        before, after = self.interval
        return before is not None and (after is None or after.is_shorter_than(before))


@dataclass(frozen=True, slots=True, kw_only=True)
class Caused:
    """What an act causes, for each engine that it touches."""

    engines: tuple[EngineCaused, ...]

    @property
    def effects(self) -> tuple[Effect, ...]:
        return tuple(effect for one in self.engines for effect in one.effects)

    @property
    def new(self) -> tuple[Effect, ...]:
        return tuple(one for one in self.effects if one.before is None)

    @property
    def ended(self) -> tuple[Effect, ...]:
        return tuple(one for one in self.effects if one.after is None)

    @property
    def moved(self) -> tuple[Effect, ...]:
        return tuple(one for one in self.effects if one.before and one.after)

    @property
    def is_nothing(self) -> bool:
        return all(one.is_nothing for one in self.engines)

    @property
    def gives_pause(self) -> bool:
        """Whether a person should see it before the act is kept."""
        return any(
            one.shortens or any(effect.presses for effect in one.effects)
            for one in self.engines
        )

    @property
    def digest(self) -> str:
        """The same for as long as the same would be shown."""
        return hashlib.sha256(repr(list(map(_told, self.engines))).encode()).hexdigest()


def moments_of(viewer: Viewer, engines: Collection[int], on: date) -> dict[int, Moment]:
    """Return how engines stand on a day by their stored findings. Four queries."""
    found = {
        engine.pk: engine
        for engine in Engine.objects.filter(pk__in=engines)
        .select_related("engine_type", "standing", "station")
        .order_by("pk")
    }
    findings = Finding.objects.filter(engine__in=engines).for_list()
    joined = findings.select_related("engine__standing", "rule")
    ordered = joined.order_by("provision", "pk")
    rows = due_rows(list(ordered), viewer, on)
    return {
        key: Moment(
            engine=engine,
            rows=tuple(row for row in rows if row.finding.engine_id == key),
            interval=_interval(getattr(engine, "standing", None)),
        )
        for key, engine in found.items()
    }


def caused_by(
    before: Mapping[int, Moment], after: Mapping[int, Moment], on: date
) -> Caused:
    """Compare the same engines at two moments; asked while `after` still holds."""
    return Caused(
        engines=tuple(_compared(before[key], after[key], on) for key in sorted(after))
    )


def _compared(before: Moment, after: Moment, on: date) -> EngineCaused:
    pairs = list(_pairs(before.rows, after.rows))
    changed = [pair for pair in pairs if _content(pair[0]) != _content(pair[1])]
    ended = [old for old, new in changed if old is not None and new is None]
    why = _why_not(after.engine, ended, on) if ended else {}
    effects = [
        Effect(
            before=old,
            after=new,
            reasons=why[old.provision.pk] if old is not None and new is None else (),
        )
        for old, new in changed
    ]
    effects = _with_parts(effects, after.engine)
    was, will = before.gaps, after.gaps
    same = before.interval == after.interval
    return EngineCaused(
        engine=after.engine,
        effects=tuple(sorted(effects, key=_order)),
        settled=tuple(gap for fact, gap in was.items() if fact not in will),
        missing=tuple(gap for fact, gap in will.items() if fact not in was),
        interval=None if same else (before.interval, after.interval),
    )


def _with_parts(effects: Sequence[Effect], engine: Engine) -> list[Effect]:
    """Name the parts in each conflict that comes up. One query, none without one."""
    pressing = [one.row for one in effects if one.presses]
    if not any(row.provision.kind == Provision.Kind.TOGETHER for row in pressing):
        return list(effects)
    found = conflicts_of(pressing, tuple(parts_now(engine).values()))
    by_row = {id(conflict.row): conflict for conflict in found}
    return [replace(one, conflict=by_row.get(id(one.row))) for one in effects]


def _pairs(
    before: Sequence[DueRow], after: Sequence[DueRow]
) -> Iterable[tuple[DueRow | None, DueRow | None]]:
    """Yield each finding beside what it becomes: that of the same part, or else that
    of another part under the same provision, which has taken its place.
    """
    provisions = dict.fromkeys(row.provision.pk for row in (*before, *after))
    for provision in provisions:
        old = {r.finding.part_id: r for r in before if r.provision.pk == provision}
        new = {r.finding.part_id: r for r in after if r.provision.pk == provision}
        for part in old.keys() & new.keys():
            yield old.pop(part), new.pop(part)
        yield from zip_longest(_alike_first(old, new), _alike_first(new, old))


def _alike_first(
    rows: Mapping[int | None, DueRow], others: Mapping[int | None, DueRow]
) -> list[DueRow]:
    """Those first of which there is one with the same content among the others."""
    contents = [_content(row) for row in others.values()]
    return sorted(
        rows.values(), key=lambda r: (_content(r) not in contents, str(_content(r)))
    )


def _content(row: DueRow | None) -> tuple[object, ...] | None:
    """What a person sees of a finding; its hours stand on the engine's axis."""
    if row is None:
        return None
    kept = tuple(getattr(row.finding, name) for name in _COLUMNS)
    due = row.due
    point = (row.due_hours, due.on, due.events, due.which, due.inside_tolerance)
    return (row.word, *kept, *point)


def _why_not(
    engine: Engine, ended: Sequence[DueRow], on: date
) -> dict[int, tuple[str, ...]]:
    """Return by provision why it does not apply any more."""
    provisions = Provision.objects.filter(pk__in={row.provision.pk for row in ended})
    file = engine_files([engine], on=on)[engine.pk]
    interval = None
    if any(row.provision.kind == Provision.Kind.INTERVAL for row in ended):
        in_force = library_in_force(engine.station, on).for_engines([file.facts])
        interval = interval_of(in_force, file, on=on)
    why = {}
    for rule in compiled(provisions):
        found = [
            assessed.reasons
            for assessed in assess(rule, file, on=on, interval=interval)
            if assessed.outcome is Outcome.DOES_NOT_APPLY
        ]
        why[rule.provision.pk] = found[0] if found else (PART_GONE,)
    return why


def _interval(standing: Standing | None) -> Interval | None:
    """The interval as it was evaluated, None where no provision gives one."""
    if standing is None:
        return None
    hours, on = standing.overhaul_hours, standing.overhaul_on
    missing = tuple(standing.overhaul_missing)
    if hours is None and on is None and not (missing or standing.longer_interval):
        return None
    return Interval(
        hours=hours,
        zero=standing.zero,
        on=on,
        binds=standing.overhaul_binds,
        missing=missing,
        longer=standing.longer_interval,
    )


def _order(effect: Effect) -> tuple[object, ...]:
    row, ends = effect.row, effect.after is None
    return (
        effect.conflict is None,
        not effect.presses,
        ends,
        _rank(row),
        row.finding.overdue_date or date.max,
        inf if row.finding.overdue_hours is None else row.finding.overdue_hours,
        row.publication.number_key,
        row.provision.order,
        row.part,
    )


def _is_open(row: DueRow) -> bool:
    return _rank(row) < len(WORDS)


def _rank(row: DueRow) -> int:
    """Where its state stands in a due list; behind all others where nothing is open."""
    if row.finding.closed == Closed.NOT_ADOPTED or row.word not in WORDS:
        return len(WORDS)
    return WORDS.index(row.word)


def _is_earlier(after: int | None, before: int | None) -> bool:
    """Whether a point comes sooner, or has come to be known."""
    return after is not None and (before is None or after < before)


def _ordinal(on: date | None) -> int | None:
    return None if on is None else on.toordinal()


def _told(caused: EngineCaused) -> tuple[object, ...]:
    effects = [
        (
            effect.row.provision.public_id,
            *(
                (row.part, _content(row)) if row else None
                for row in (effect.before, effect.after)
            ),
        )
        for effect in caused.effects
    ]
    facts = [[gap.fact for gap in gaps] for gaps in (caused.settled, caused.missing)]
    # By its name: one that is entered has another id each time that it is tried.
    return (str(caused.engine), effects, facts, caused.interval)

"""The overhaul interval of engines as pages, prints and the API show it, on any day."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cached_property
from typing import Any, Final
from uuid import UUID

from django.db.models import Q

from notices.models import Provision
from notices.rules.compliance_time import State
from notices.rules.conditions import Complied, Embodied, leaves_of
from notices.rules.designations import designation, plain_text
from notices.rules.facts import UNKNOWN, Hours, Unknown
from notices.rules.intervals.falling import Fall
from notices.rules.overhaul import Holding, Judged, Offer, OverhaulDue, overhaul_at
from notices.rules.times.limits import HoursLimit
from notices.rules.times.points import Leaf, PointKind, leaves
from notices.rules.times.standing import Moment
from tracker.accounts.models import Station
from tracker.compliance.facts import EngineFile, engine_files
from tracker.compliance.findings.standings import rate_of
from tracker.compliance.intervals import (
    EngineInterval,
    IntervalRules,
    interval_rules,
)
from tracker.compliance.intervals.ends import Gain
from tracker.compliance.models import Declined
from tracker.compliance.rules import CompiledRule, compiled
from tracker.compliance.states import lead_of
from tracker.fleet.models import Engine


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A provision by which something is embodied or complied with.

    `man_hours`: whole hundredths, None where they are not known.
    """

    publication: UUID
    number: str
    provision: UUID
    title: str
    man_hours: int | None


@dataclass(frozen=True, slots=True)
class Lacking:
    """An end that is not known: `of`, hours or years, and the facts that would tell it."""

    of: str
    facts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """Where hours and years end, as the core counts; the provisions they come from.

    `lacking`: of each that ends where nobody knows, the facts that would tell it.
    """

    hours: Hours | None = None
    on: date | None = None
    lacking: tuple[Lacking, ...] = ()
    sources: frozenset[str] = frozenset()


NO_ENDING: Final = Ending()
HOURS: Final = "hours"
YEARS: Final = "years"


@dataclass(frozen=True, slots=True, kw_only=True)
class Provided:
    """One provision as it stands to an engine.

    `ending`: where its own limits fall. Of an extension: `with_it`, where the interval
    would end if it held beside those that do; `gain`, whether hours and years would end
    later by it, None where that is not known; `in_vain`, which of the two has ended
    all the same.
    """

    rule: CompiledRule
    said: Judged | Offer
    ending: Ending
    with_it: Ending = NO_ENDING
    gain: Gain = (False, False)
    in_vain: tuple[str, ...] = ()

    @property
    def lengthens(self) -> bool:
        """Whether the interval is longer by it for certain, or would be."""
        return True in self.gain

    @property
    def holding(self) -> Holding:
        return self.said.holding


@dataclass(frozen=True, kw_only=True)
class Overhaul:
    """The interval of one engine on a day.

    `word`: how the engine stands to it; undetermined where it is past only by what is
    not known to hold. `works`: by the key of what a step embodies or complies with.
    No slots, so that what is worked out once is kept with it.
    """

    file: EngineFile
    on: date
    found: EngineInterval
    due: OverhaulDue
    word: str
    works: Mapping[str, Work]

    @property
    def engine(self) -> Engine:
        return self.file.engine

    @property
    def bases(self) -> tuple[Provided, ...]:
        return self._own(self.found.point.bases)

    @property
    def restrictions(self) -> tuple[Provided, ...]:
        return self._own(self.found.point.restrictions)

    @cached_property
    def offers(self) -> tuple[Provided, ...]:
        """The extensions, the best outcome first.

        Among those that take work the one that takes the fewest man-hours stands first,
        unknown last; among others the longest.
        """
        order = list(Holding)
        found = [self._offered(offer) for offer in self.found.point.offers]
        return tuple(
            sorted(
                found,
                key=lambda one: (
                    order.index(one.holding),
                    *_effort(one.said),
                    -(one.said.hours or 0),
                ),
            )
        )

    @property
    def plain(self) -> Ending:
        """Where the interval would end without any extension."""
        return self._ending(())

    @property
    def now(self) -> Ending:
        """Where the interval ends."""
        ending = self._ending(self.found.ends.held)
        return replace(ending, lacking=self.ends_unknown)

    @property
    def ended(self) -> tuple[str, ...]:
        """Which of hours and years have ended, whatever it is that is not known."""
        return self._ended_with(())

    @property
    def ends_unknown(self) -> tuple[Lacking, ...]:
        """The ends that nobody knows and that may come first."""
        tree = self.found.point.point.tree
        assert tree is not None
        return _lacking(leaves(tree))

    @property
    def law_in(self) -> frozenset[str] | None:
        """The operations of the engine in which its interval is law; None for every one."""
        uses = self.file.facts.operation
        named: set[str] = set()
        for name in self._that_bind:
            interval = self.found.by_id[name].interval
            assert interval is not None
            if interval.binding is True:
                return None
            named.update(map(plain_text, interval.binding))
        known = frozenset() if isinstance(uses, Unknown) else uses
        return frozenset(use for use in known if plain_text(use) in named)

    @property
    def _that_bind(self) -> Iterator[str]:
        """The provisions that may make the interval law: an extension by its base."""
        yield from self.found.sources
        if any(offer.id in self.found.sources for offer in self.found.point.offers):
            for one in self.found.point.bases:
                if one.holding is not Holding.DOES_NOT_HOLD:
                    yield one.id

    @property
    def declined(self) -> tuple[tuple[CompiledRule, Declined], ...]:
        """Provisions that the operator has not adopted, with who said so and why."""
        return tuple(
            (rule, self.file.declined[rule.publication.pk])
            for rule in self.found.by_id.values()
            if rule.publication.pk in self.file.declined and not rule.publication.binds
        )

    def is_law(self, name: str) -> bool | None:
        """Whether a provision is law in the engine's operation, None where not known.

        An extension of what is law there is the law at its later point, whether it is
        the one that counts now or not.
        """
        binds = self.found.ends.binding_of(name)
        if True in binds:
            return True
        return None if UNKNOWN in binds else False

    def _offered(self, offer: Offer) -> Provided:
        ends = self.found.ends
        held = dict.fromkeys((*ends.held, offer.id))
        gain = ends.gain(offer.id)
        if offer.id in ends.held:
            decides = offer.id in self.found.sources or ends.lengthens(offer.id)
            gain = ends.gained if decides else (False, False)
        return Provided(
            rule=self.found.by_id[offer.id],
            said=offer,
            ending=_ending(*self.found.falls[offer.id]),
            with_it=self._ending(held),
            gain=gain,
            in_vain=self._ended_with((offer.id,)),
        )

    def _ended_with(self, names: tuple[str, ...]) -> tuple[str, ...]:
        """Which of hours and years have ended, if these extensions held, too."""
        hours = self.due.due.hours_now
        moment = Moment(on=self.on, hours=UNKNOWN if hours is None else hours)
        held = dict.fromkeys((*self.found.ends.held, *names))
        past = self.found.ends.past(moment, held)
        return tuple(
            of for of, ended in zip((HOURS, YEARS), past, strict=True) if ended
        )

    def _own(self, several: Iterable[Judged]) -> tuple[Provided, ...]:
        return tuple(
            Provided(
                rule=self.found.by_id[one.id],
                said=one,
                ending=_ending(*self.found.falls[one.id]),
            )
            for one in several
        )

    def _ending(self, extensions: Iterable[str]) -> Ending:
        return _ending(*self.found.ends.with_extensions(tuple(extensions)))


def _effort(said: Judged | Offer) -> tuple[bool, int]:
    """The man-hours of the cheapest way to an extension, unknown last."""
    if not isinstance(said, Offer) or said.holding is Holding.HOLDS or not said.reach:
        return (True, 0)
    cheapest = said.reach[0].man_hours
    return (cheapest is None, cheapest or 0)


def _lacking(several: Iterable[Leaf]) -> tuple[Lacking, ...]:
    facts: dict[str, dict[str, None]] = {}
    for leaf in several:
        if leaf.kind is PointKind.UNKNOWN and leaf.limit is not None:
            of = HOURS if isinstance(leaf.limit, HoursLimit) else YEARS
            facts.setdefault(of, {}).update(dict.fromkeys(leaf.missing))
    return tuple(Lacking(of, tuple(missing)) for of, missing in facts.items())


def _ending(hours: Fall | None, years: Fall | None) -> Ending:
    both = [one for one in (hours, years) if one is not None]
    return Ending(
        lacking=_lacking(one.leaf for one in both),
        hours=None if hours is None else hours.leaf.earliest_hours,
        on=None if years is None else years.leaf.on,
        sources=frozenset(one.id for one in both),
    )


def overhauls_of(
    engines: Sequence[Engine], *, on: date, known_at: datetime | None = None
) -> dict[int, Overhaul]:
    """Return the interval of each engine that one concerns, by the engine's key.

    The engines are of one station, which is at hand with each of them. `known_at`: as
    it was known then. As many queries for many engines as for one.
    """
    if not engines:
        return {}
    station = engines[0].station
    library = interval_library(station, on, known_at)
    files = engine_files(engines, on=on, known_at=known_at)
    found = (library.overhaul_of(file, on=on) for file in files.values())
    return {one.engine.pk: one for one in found if one is not None}


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalLibrary:
    """What a station's documents say of overhaul intervals, and what leads to them."""

    rules: IntervalRules
    works: Mapping[str, Work]

    def overhaul_of(self, file: EngineFile, *, on: date) -> Overhaul | None:
        """Return the interval of an engine; None if no provision concerns it."""
        costs = {
            key: Hours(work.man_hours)
            for key, work in self.works.items()
            if work.man_hours is not None
        }
        found = self.rules.of(file, on=on, costs=costs)
        if found is None:
            return None
        due = overhaul_due(found, file, on=on)
        return Overhaul(
            file=file,
            on=on,
            found=found,
            due=due,
            word=_word(found, due),
            works=self.works,
        )


def overhaul_due(found: EngineInterval, file: EngineFile, *, on: date) -> OverhaulDue:
    """Return how an engine stands to its interval on a day, by the file's reading."""
    hours, reading = file.core_hours, file.reading
    return overhaul_at(
        found.point,
        on=on,
        hours=UNKNOWN if hours is None else hours,
        lead=lead_of(file.engine.station),
        rate=rate_of(file, on=on),
        reading_on=reading.on if reading else None,
        meter=reading.meter.kind if reading else None,
    )


def _word(found: EngineInterval, due: OverhaulDue) -> str:
    hours = due.due.hours_now
    moment = Moment(on=due.due.asked_on, hours=UNKNOWN if hours is None else hours)
    by_law = due.due.state is State.OVERDUE
    if due.is_past and not found.ends.is_past(moment, by_law=by_law):
        return State.UNDETERMINED.value
    return due.word


def interval_library(
    station: Station, on: date, known_at: datetime | None = None
) -> IntervalLibrary:
    """Return the interval provisions in force, with the works they name. Two queries."""
    in_force = Provision.objects.for_station(station).in_force(on, known_at)
    rules = interval_rules(
        compiled(in_force.filter(kind=Provision.Kind.INTERVAL), known_at)
    )
    keys = _named(rules)
    return IntervalLibrary(rules=rules, works=_works(_doing(in_force, keys), keys))


def interval_library_among(rules: Sequence[CompiledRule]) -> IntervalLibrary:
    """Return the same from all rules in force, which are at hand. No query."""
    intervals = interval_rules(rules)
    actions = (rule.provision for rule in rules)
    doing = (one for one in actions if one.kind == Provision.Kind.ACTION)
    return IntervalLibrary(rules=intervals, works=_works(doing, _named(intervals)))


def _doing(in_force: Any, keys: frozenset[str]) -> Iterable[Provision]:
    """Return the actions by which something may be embodied or complied with."""
    rows: Iterable[Provision] = (
        in_force.filter(kind=Provision.Kind.ACTION)
        .filter(Q(revision__publication__number_key__in=keys) | ~Q(embodies=[]))
        .select_related("revision__publication")
        .order_by("revision__publication__number_key", "order")
    )
    return rows


def _named(rules: IntervalRules) -> frozenset[str]:
    """Return the keys of what intervals ask to be embodied or complied with."""
    return frozenset(
        designation(leaf.number)
        for one in rules.intervals
        if one.when is not None
        for leaf in leaves_of(one.when)
        if isinstance(leaf, Embodied | Complied)
    )


def _works(rows: Iterable[Provision], keys: frozenset[str]) -> dict[str, Work]:
    """Return what each key is embodied or complied with by.

    A provision that says it embodies something does so by itself, the cheapest of
    several; a document is complied with by its other actions together, or by those
    where it has no others.
    """
    embodying: dict[str, Work] = {}
    whole: dict[str, Work] = {}
    apart: dict[str, Work] = {}
    for row in rows:
        own = _work(row)
        key = row.revision.publication.number_key
        names = keys & set(map(designation, row.embodies))
        if key in keys:
            several = apart if names - {key} else whole
            several[key] = _both(several[key], own) if key in several else own
        for name in names:
            embodying[name] = _cheaper(embodying.get(name), own)
    return {**apart, **whole, **embodying}


def _work(row: Provision) -> Work:
    publication = row.revision.publication
    return Work(
        publication=publication.public_id,
        number=publication.number,
        provision=row.public_id,
        title=row.title,
        man_hours=row.man_hours,
    )


def _both(first: Work, other: Work) -> Work:
    known = (first.man_hours, other.man_hours)
    total = None if None in known else sum(hours or 0 for hours in known)
    return Work(
        publication=first.publication,
        number=first.number,
        provision=first.provision,
        title=first.title,
        man_hours=total,
    )


def _cheaper(first: Work | None, other: Work) -> Work:
    if first is None or first.man_hours is None:
        return other
    if other.man_hours is None or first.man_hours <= other.man_hours:
        return first
    return other

"""The current documents of a station, as far as they may concern one type of engine."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property, lru_cache

from notices.models import Kind as PublicationKind
from notices.models import Revision
from notices.rules.conditions import parse_condition
from notices.rules.designations import Pattern, designation, pattern_set
from notices.rules.evaluate import Outcome, compile_condition
from notices.rules.facts import Asked, EngineFacts, PartFacts
from notices.rules.overhaul import Interval
from notices.rules.times.limits import event_key
from tracker.accounts.models import Station
from tracker.compliance.facts import Subject
from tracker.compliance.in_force import library_in_force
from tracker.compliance.open_check.facts import Fact, Kind
from tracker.compliance.open_check.wanted import (
    Around,
    Wanted,
    own_fact,
    properties_asked,
    questions_asked,
    wanted_by,
    works_asked_for,
)
from tracker.compliance.overhauls import IntervalLibrary, interval_library
from tracker.compliance.rules import CompiledRule
from tracker.fleet.models import EngineType


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownType:
    """What a station has recorded of an engine type; nothing, if it does not know it."""

    designation: str
    serial_pattern: str | None = None
    serial_run: int | None = None
    counts: Mapping[str, int]


@dataclass(frozen=True, kw_only=True)
class OpenLibrary:
    """Confirmed, current rules that may concern a type. No draft is among them.

    `publications`, `provisions`: how many the whole library has.
    """

    of_type: KnownType
    rules: tuple[CompiledRule, ...]
    intervals: IntervalLibrary
    publications: int
    provisions: int

    @cached_property
    def works(self) -> tuple[Fact, ...]:
        """The modifications and documents that conditions ask about.

        Only of what may apply to an engine of the type, whatever else is told of it.
        """
        return works_asked_for(self._open_to_type(self.rules))

    @cached_property
    def dated(self) -> frozenset[str]:
        """Keys of the works that must be done by some point for a longer interval."""
        rules, found = self.intervals.rules, set[str]()
        by_id = {one.id: one for one in rules.intervals}
        for one in rules.intervals:
            chain = list(_chain(one, by_id))
            is_bound = any(member.enter_by is not None for member in chain)
            if is_bound and self._open_to_type([rules.by_id[one.id]]):
                asked = works_asked_for(rules.by_id[member.id] for member in chain)
                found |= {fact.key for fact in asked}
        return frozenset(found)

    @cached_property
    def often(self) -> tuple[Fact, ...]:
        """The properties of the engine on which several provisions hang."""
        asked = Counter(
            name
            for rule in self._open_to_type(self.rules)
            for name in properties_asked(rule)
        )
        often = [name for name, many in asked.items() if many > 1]
        return tuple(Fact(kind=Kind.ATTRIBUTE, name=name) for name in often)

    def _open_to_type(self, rules: Iterable[CompiledRule]) -> list[CompiledRule]:
        facts = EngineFacts(type=self.of_type.designation)
        no = Outcome.DOES_NOT_APPLY
        return [r for r in rules if r.condition.outcome(facts, Asked()) is not no]

    @cached_property
    def titles(self) -> dict[str, str]:
        """What a document, or one of its actions, is about, by key of the fact."""
        found = {self._own(rule): rule.provision.title for rule in self._actions}
        for rule in self.rules:
            whole = Fact(kind=Kind.WORK, name=rule.publication.number)
            found[whole.key] = rule.publication.title
        return found

    @cached_property
    def around(self) -> Around:
        """What decides which facts a rule asks for, before anything is told."""
        actions = Counter(rule.publication.number_key for rule in self._actions)
        return Around(
            counts=self.of_type.counts,
            alone=frozenset(key for key, many in actions.items() if many == 1),
            inspections={
                event_key(rule.publication.title): rule.publication.number
                for rule in self._actions
                if rule.publication.kind == PublicationKind.SCHEDULED
                and actions[rule.publication.number_key] == 1
            },
        )

    @property
    def _actions(self) -> list[CompiledRule]:
        return [rule for rule in self.rules if rule.action is not None]

    def _own(self, rule: CompiledRule) -> str:
        return own_fact(rule, self.around.alone).key

    @cached_property
    def scopes(self) -> dict[str, frozenset[str]]:
        """By question, the revisions that ask it."""
        found: dict[str, set[str]] = {}
        for rule in self.rules:
            for question in questions_asked(rule):
                found.setdefault(question, set()).add(rule.scope)
        return {question: frozenset(asking) for question, asking in found.items()}

    @cached_property
    def repeated(self) -> frozenset[str]:
        """Keys of documents whose work comes again, and so embodies nothing."""
        return frozenset(
            rule.publication.number_key
            for rule in self.rules
            if rule.action is not None and rule.action.repeat is not None
        )

    def done_by(self, subject: Subject) -> str | None:
        """Return the key of the fact that says whether what a rule asks was done."""
        return next((self._own(r) for r in self._actions if r.subject == subject), None)

    def embodied_by(self, fact: Fact) -> frozenset[str]:
        """Return what one of several actions of a document embodies."""
        return frozenset(
            name
            for rule in self._actions
            if self._own(rule) == fact.key
            for name in rule.provision.embodies
        )

    def wanted_by(
        self, rule: CompiledRule, parts: Iterable[PartFacts]
    ) -> tuple[Wanted, ...]:
        """Return what a rule may ask for; `parts`: those that were told."""
        told = {(part.role.casefold(), part.place): part for part in parts}
        return wanted_by(rule, replace(self.around, parts=told))

    @cached_property
    def facts(self) -> dict[str, Wanted]:
        """Every fact that one of the rules may ask for, by its key."""
        found = {fact.key: Wanted(fact=fact, words=frozenset()) for fact in self.works}
        for rule in self.rules:
            for one in self.wanted_by(rule, ()):
                known = found.get(one.fact.key)
                found[one.fact.key] = one if known is None else known.joined(one)
        return found


def _chain(one: Interval, by_id: Mapping[str, Interval]) -> Iterator[Interval]:
    """Yield a provision about the interval, and those that it builds on."""
    yield one
    below = None if one.builds_on is None else by_id.get(one.builds_on)
    if below is not None:
        yield from _chain(below, by_id)


def open_library(station: Station, name: str, on: date) -> OpenLibrary:
    """Return what is current for a type on a day.

    Six queries, and one for each further thousand rules that may concern the type.
    """
    library, facts = library_in_force(station, on), EngineFacts(type=name)
    rules = library.for_engines([facts])  # and perhaps some that concern others
    return OpenLibrary(
        of_type=_known_type(station, name),
        rules=tuple(rule for rule in rules if rule.may_concern(facts)),
        intervals=interval_library(station, on),
        publications=library.publications,
        provisions=library.provisions,
    )


def _known_type(station: Station, name: str) -> KnownType:
    rows = EngineType.objects.filter(station=station, designation_key=designation(name))
    row = rows.prefetch_related("part_roles").first()
    if row is None:
        return KnownType(designation=name, counts={})
    return KnownType(
        designation=row.designation,
        serial_pattern=row.serial_pattern or None,
        serial_run=row.serial_run,
        counts={one.role.casefold(): one.count for one in row.part_roles.all()},
    )


def types_spoken_of(station: Station, on: date) -> list[str]:
    """Return the station's engine types that a current document names. Two queries."""
    current = Revision.objects.for_station(station).current(on)
    stated = current.values_list("applicability", flat=True)
    named = {one for raw in stated for one in _named(json.dumps(raw, sort_keys=True))}
    covering = pattern_set(named)
    types = EngineType.objects.filter(station=station).order_by("designation")
    return [
        name
        for name in types.values_list("designation", flat=True)
        if covering.covers(designation(name))
    ]


@lru_cache(maxsize=20_000)
def _named(applicability: str) -> tuple[Pattern, ...]:
    """Return the types that an applicability names; none where it is for any type."""
    condition = parse_condition(json.loads(applicability))
    return compile_condition(condition).needs or ()

"""The rules in force at a station, read and compiled once and kept while they last."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from notices.models import Provision, Publication, Revision, RuleVersion
from notices.rules.compliance_time import Action, parse_action
from notices.rules.conditions import Condition, parse_condition
from notices.rules.designations import PatternSet, designation, pattern_set
from notices.rules.evaluate import CompiledCondition, compile_condition
from notices.rules.facts import EngineFacts, Unknown
from notices.rules.fluids import FluidRow, parse_rows
from notices.rules.operating import Threshold, thresholds
from notices.rules.overhaul import Interval, parse_interval
from notices.rules.times.limits import FURTHER_FLIGHT, event_key
from tracker.accounts.models import Station
from tracker.compliance.facts import OVERHAUL, Subject

ALWAYS = {"always": True}
_ITS_OWN: Mapping[str, Any] = {}
_KEPT_APART = frozenset({event_key(FURTHER_FLIGHT), "rebuild"})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Compiled:
    """What depends on the text of a rule alone."""

    condition: CompiledCondition
    types: PatternSet | None
    action: Action | None
    interval: Interval | None
    fluids: tuple[FluidRow, ...]
    credited: frozenset[str]
    events: frozenset[str]
    thresholds: tuple[Threshold, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CompiledRule:
    """One rule with what it asks of the past.

    `types`: designations of which one must fit, None for any. `interval`: of an
    overhaul interval, with the whole condition as its `when`. `scope`: whose answers
    count. `thresholds`: shares of leaded fuel at which it may answer otherwise.
    """

    version: RuleVersion
    condition: CompiledCondition
    types: PatternSet | None
    action: Action | None
    interval: Interval | None
    fluids: tuple[FluidRow, ...]
    subject: Subject
    scope: str
    thresholds: tuple[Threshold, ...]

    def may_concern(self, facts: EngineFacts) -> bool:
        """Whether the type alone does not rule it out; asked before anything else."""
        if self.types is None or isinstance(facts.type, Unknown):
            return True
        return not facts.type_complete or self.types.covers(designation(facts.type))

    @property
    def provision(self) -> Provision:
        return self.version.provision

    @property
    def revision(self) -> Revision:
        return self.version.provision.revision

    @property
    def publication(self) -> Publication:
        return self.version.provision.revision.publication


def rules_in_force(
    station: Station,
    on: date,
    known_at: datetime | None = None,
    *,
    publications: Collection[int] | None = None,
) -> tuple[CompiledRule, ...]:
    """Return the rules of all current revisions, by document and order. One query."""
    provisions = Provision.objects.for_station(station).in_force(on, known_at)
    if publications is not None:
        provisions = provisions.filter(revision__publication__in=publications)
    return compiled(provisions, known_at)


def rules_of(revision: Revision) -> tuple[CompiledRule, ...]:
    """Return the rules of one revision, current or not, as they stand now. One query."""
    versions = RuleVersion.objects.filter(provision__revision=revision, current=True)
    return tuple(map(compiled_rule, _ordered(versions)))


def compiled(
    provisions: Any, known_at: datetime | None = None
) -> tuple[CompiledRule, ...]:
    """Return the valid rule of each of these provisions."""
    versions = RuleVersion.objects.valid(known_at).filter(provision__in=provisions)
    return tuple(map(compiled_rule, _ordered(versions)))


def _ordered(versions: Any) -> Iterator[RuleVersion]:
    ordered: Iterator[RuleVersion] = versions.select_related(
        "provision__revision__publication"
    ).order_by(
        "provision__revision__publication__kind",
        "provision__revision__publication__number_key",
        "provision__order",
    )
    return ordered


def compiled_rule(
    version: RuleVersion, *, times: Mapping[str, Any] = _ITS_OWN
) -> CompiledRule:
    """Return the rule of a version, saved or not; its rows are at hand. No query.

    A draft that does not say yet whom it is about is read as being about every engine,
    so that it can be shown; nothing is found by it. `times`: what takes the place of
    the times of its action, as `notices.rules` reads other times.
    """
    provision = version.provision
    revision = provision.revision
    parts = (
        version.applicability,
        version.condition,
        {**version.action, **times},
        version.interval,
        version.fluids,
    )
    read = _compile(*(json.dumps(part, sort_keys=True) for part in parts))
    return CompiledRule(
        version=version,
        condition=read.condition,
        types=read.types,
        action=read.action,
        interval=read.interval,
        fluids=read.fluids,
        scope=str(revision.pk),
        thresholds=read.thresholds,
        subject=Subject(
            publication=revision.publication_id,
            number_key=revision.publication.number_key,
            order=provision.order,
            effective_on=provision.effective_on or revision.effective_on,
            credited=read.credited,
            events=read.events,
        ),
    )


@lru_cache(maxsize=20_000)
def _compile(
    applicability: str, condition: str, action: str, interval: str, fluids: str
) -> _Compiled:
    """Keyed by the text itself: a rule that is read again costs a look-up."""
    whole = {"all": [json.loads(applicability) or ALWAYS, json.loads(condition)]}
    raw, raw_interval, rows = map(json.loads, (action, interval, fluids))
    read = parse_action(raw) if raw else None
    condition_read = compile_condition(parse_condition(whole))
    needs = condition_read.needs
    return _Compiled(
        condition=condition_read,
        types=None if needs is None else pattern_set(needs),
        action=read,
        interval=parse_interval({**raw_interval, "when": whole})
        if raw_interval
        else None,
        fluids=parse_rows(rows) if rows else (),
        credited=_credited(read),
        events=frozenset(event_key(name) for name in _events_in(raw)) - _KEPT_APART,
        thresholds=_thresholds(condition_read.condition, read),
    )


def _thresholds(condition: Condition, action: Action | None) -> tuple[Threshold, ...]:
    found = {*thresholds(condition), *(thresholds(action) if action else ())}
    return tuple(sorted(found, key=lambda one: (one.share, not one.inclusive)))


def _credited(action: Action | None) -> frozenset[str]:
    if action is None or action.credit is None or action.credit.of is None:
        return frozenset()
    return frozenset(designation(document.number) for document in action.credit.of)


def _events_in(raw: object) -> Iterator[str]:
    """Yield the names of events that the times of an action hang on."""
    if isinstance(raw, Mapping):
        if isinstance(raw.get("event"), str):
            yield raw["event"]
        if raw.get("after") == OVERHAUL:
            yield OVERHAUL
        for key, value in raw.items():
            if key == "counts":
                yield from value
            else:
                yield from _events_in(value)
    elif isinstance(raw, list):
        for value in raw:
            yield from _events_in(value)

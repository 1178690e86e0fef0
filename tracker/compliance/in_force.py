"""The rules in force on a day, read only as far as they may concern an engine.

An edit of one engine must not read a library of thousands of rules. Which types a rule
is about is worked out once and kept in the process: a frozen rule never changes, and
its provision's public id is its own in every database.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from itertools import islice
from typing import Any, Final, TypeVar
from uuid import UUID

from django.db.models import Count

from notices.models import Provision, RuleVersion
from notices.rules.designations import Designation, PatternSet, designation
from notices.rules.facts import EngineFacts, Unknown
from tracker.accounts.models import Station
from tracker.compliance.rules import CompiledRule, compiled_rule

READ_AT_ONCE: Final = 1000
MOST_KEPT: Final = 200_000
Item = TypeVar("Item")

_types: dict[tuple[UUID, int], PatternSet | None] = {}
"""By public id of the provision and number of the version; None for any type."""


@dataclass(slots=True, kw_only=True)
class InForce:
    """The library of a station on a day. Rules are read when an engine asks for them.

    `publications`, `provisions`: how many there are in all.
    """

    publications: int
    provisions: int
    _keys: dict[int, tuple[UUID, int]]
    _read: dict[int, CompiledRule] = field(default_factory=dict)

    def for_engines(self, engines: Iterable[EngineFacts]) -> list[CompiledRule]:
        """Return the rules that may concern one of these engines, and perhaps others.

        One query for every thousand rules that have not been read yet.
        """
        kinds = {_kind(facts) for facts in engines}
        wanted = [pk for pk, key in self._keys.items() if _may_concern(key, kinds)]
        missing = [pk for pk in wanted if pk not in self._read]
        for some in batches(missing, READ_AT_ONCE):
            self._read.update(_rules(some))
        for pk in missing:
            _keep(self._keys[pk], self._read[pk].types)
        return [self._read[pk] for pk in wanted]


def _kind(facts: EngineFacts) -> Designation | None:
    """Return what an engine goes by, None where not all of it is known."""
    if isinstance(facts.type, Unknown) or not facts.type_complete:
        return None
    return designation(facts.type)


def _may_concern(key: tuple[UUID, int], kinds: Collection[Designation | None]) -> bool:
    types = _types.get(key)
    if types is None:
        return True
    return any(kind is None or types.covers(kind) for kind in kinds)


def _keep(key: tuple[UUID, int], types: PatternSet | None) -> None:
    if len(_types) >= MOST_KEPT:
        _types.clear()
    _types[key] = types


def _rules(versions: Collection[int]) -> dict[int, CompiledRule]:
    rows = RuleVersion.objects.filter(pk__in=versions).select_related(
        "provision__revision__publication"
    )
    return {row.pk: compiled_rule(row) for row in rows}


def size_in_force(station: Station, on: date) -> tuple[int, int]:
    """Return how many publications and provisions are in force. One query."""
    found = _versions(station, on).aggregate(
        publications=Count("provision__revision__publication", distinct=True),
        provisions=Count("pk"),
    )
    return found["publications"], found["provisions"]


def library_in_force(station: Station, on: date) -> InForce:
    """Return the library of a station on a day. One query, without the rules."""
    found = list(
        _versions(station, on).values_list(
            "pk", "provision__public_id", "number", "provision__revision__publication"
        )
    )
    return InForce(
        publications=len({publication for *_, publication in found}),
        provisions=len(found),
        _keys={pk: (provision, number) for pk, provision, number, _ in found},
    )


def _versions(station: Station, on: date) -> Any:
    provisions = Provision.objects.for_station(station).in_force(on)
    return RuleVersion.objects.valid().filter(provision__in=provisions)


def speak_of_intervals(publications: Collection[int]) -> bool:
    """Whether any revision of these says something of an overhaul interval. One query."""
    return Provision.objects.filter(
        revision__publication__in=publications, kind=Provision.Kind.INTERVAL
    ).exists()


def interval_publications(station: Station, on: date) -> set[int]:
    """Return the publications in force that speak of an overhaul interval. One query."""
    provisions = Provision.objects.for_station(station).in_force(on)
    spoken = provisions.filter(kind=Provision.Kind.INTERVAL).order_by()
    return set(spoken.values_list("revision__publication", flat=True).distinct())


def batches(items: Iterable[Item], size: int) -> Iterator[list[Item]]:
    """Yield the items in lists of at most `size`."""
    iterator = iter(items)
    while batch := list(islice(iterator, size)):
        yield batch

"""Names in a rule that nothing at the station bears: misspelt, or not met yet.

A rule about a type, a registry, a kind of operation or a role of part that nobody
knows concerns no engine, or leaves engines undetermined, without being wrong in form.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from notices.rules.designations import (
    Designation,
    designation,
    parse_pattern,
    pattern_set,
    plain_text,
)
from tracker.accounts.models import Station
from tracker.compliance.rules import CompiledRule
from tracker.fleet.models import (
    EngineType,
    Fitting,
    Operation,
    PartDescription,
    PartRole,
)

Named = tuple[str, str]
"""What a name is of, a key of `_SENTENCES`, and the name as written."""

_SENTENCES: Final = {
    "type": 'No engine type of the station is "{}".',
    "registry": 'No aircraft of an engine in care is registered in "{}".',
    "operation": 'No engine in care is run as "{}".',
    "part": 'No engine type of the station holds a "{}", and none is on record.',
}
_LISTS: Final = {
    "type": "type",
    "registry": "registry",
    "operation": "operation",
    "binding": "operation",
}
"""Keys under which a list of names stands, with what they are names of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What the station knows, ready to compare."""

    types: frozenset[str]
    registries: frozenset[Designation]
    uses: frozenset[str]
    roles: frozenset[str]

    def knows(self, of: str, name: str) -> bool:
        match of:
            case "type":
                covers = pattern_set([parse_pattern(name)]).covers
                return any(covers(designation(known)) for known in self.types)
            case "registry":
                return designation(name) in self.registries
            case "operation":
                return plain_text(name) in self.uses
        return plain_text(name) in self.roles


def unknown_names(station: Station, rules: Iterable[CompiledRule]) -> list[str]:
    """Return a sentence for each name that the station does not know. Five queries."""
    named = dict.fromkeys(name for rule in rules for name in _named(rule))
    if not named:
        return []
    known = _known_at(station)
    return [
        _SENTENCES[of].format(name) for of, name in named if not known.knows(of, name)
    ]


def _named(rule: CompiledRule) -> Iterator[Named]:
    rules = rule.version
    conditions = (rules.applicability, rules.condition)
    for stored in (*conditions, rules.action, rules.interval, rules.fluids):
        yield from _names_in(stored)
    if rule.provision.role:
        yield "part", rule.provision.role


def _names_in(raw: Any) -> Iterator[Named]:
    """Yield what a stored rule names. An anchor names its part as a test does."""
    if isinstance(raw, list):
        for value in raw:
            yield from _names_in(value)
    elif isinstance(raw, Mapping):
        for key, value in raw.items():
            if key in _LISTS and isinstance(value, list):
                yield from ((_LISTS[key], name) for name in value)
            elif key == "part":
                yield "part", value["role"] if isinstance(value, Mapping) else value
            if isinstance(value, Mapping | list):
                yield from _names_in(value)


def _known_at(station: Station) -> _Known:
    types = EngineType.objects.filter(station=station)
    fittings = Fitting.objects.filter(engine__station=station, current=True)
    operations = Operation.objects.filter(engine__station=station, current=True)
    roles = PartRole.objects.filter(engine_type__station=station)
    recorded = PartDescription.objects.filter(part__station=station, current=True)
    uses = operations.order_by().values_list("uses", flat=True).distinct()
    states = fittings.order_by().values_list("registry", flat=True).distinct()
    return _Known(
        types=frozenset(types.values_list("designation", flat=True)),
        registries=frozenset(designation(state) for state in states),
        uses=_plain(use for row in uses for use in row),
        roles=_plain(roles.order_by().values_list("role", flat=True).distinct())
        | _plain(recorded.order_by().values_list("role", flat=True).distinct()),
    )


def _plain(names: Iterable[str]) -> frozenset[str]:
    return frozenset(plain_text(name) for name in names)

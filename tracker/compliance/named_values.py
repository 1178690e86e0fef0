"""Which values of a property, and which kinds of operation, the rules in force name.

A value compares as text: written otherwise than a rule writes it, it is another value,
and what the rule says of its own does not hold for it. So whoever enters one is shown
those that are named, and asked once more before another is kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from notices.rules.designations import plain_text
from notices.rules.facts import EngineFacts
from notices.rules.phrases import listed
from tracker.accounts.models import Station
from tracker.compliance.in_force import library_in_force
from tracker.compliance.rule_nodes import Node, nodes_of
from tracker.compliance.rules import CompiledRule, rules_in_force
from tracker.fleet.models import Engine

USUAL: Final = ("private", "commercial")
"""Offered whether or not a rule names them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Property:
    """A property that rules ask for. `role`: of which part, "" of the engine itself.

    `values`: those that are named, as they are written; `documents`: where.
    """

    role: str
    name: str
    values: tuple[str, ...]
    documents: tuple[str, ...]

    def is_of(self, role: str, name: str) -> bool:
        return (plain_text(role), plain_text(name)) == _key(self)

    def joined(self, other: Property) -> Property:
        """Return the same property as two tests ask for it."""
        values = {plain_text(v): v for v in (*other.values, *self.values)}
        documents = dict.fromkeys((*self.documents, *other.documents))
        return replace(
            self, values=tuple(sorted(values.values())), documents=tuple(documents)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """What rules name. `uses`: kinds of operation, as they compare; `uses_in`: where."""

    properties: tuple[Property, ...]
    uses: tuple[str, ...]
    uses_in: tuple[str, ...]

    def of(self, role: str) -> tuple[Property, ...]:
        """Return what rules ask of the parts of a role, of the engine itself for ""."""
        return tuple(p for p in self.properties if plain_text(role) == _key(p)[0])

    def find(self, role: str, name: str) -> Property | None:
        return next((p for p in self.properties if p.is_of(role, name)), None)

    @property
    def offered_uses(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*USUAL, *self.uses)))

    def doubt_about_value(self, role: str, name: str, value: str) -> str:
        """Return why a value of a property is in question, empty where it is not."""
        asked = self.find(role, name)
        if asked is None:
            return self._doubt_about_name(role, name)
        if plain_text(value) in map(plain_text, asked.values):
            return ""
        return (
            f'No document in force names the value "{value}" for {_title(asked)}. '
            f"Named {_are(asked.values)}. Kept so, it is another value than these, and "
            f"what {_and(asked.documents)} {_says(asked.documents)} of them does not "
            "hold for it."
        )

    def _doubt_about_name(self, role: str, name: str) -> str:
        others = self.of(role)
        elsewhere = [
            p for p in self.properties if plain_text(p.name) == plain_text(name)
        ]
        if not (others or elsewhere):
            return ""
        about = f"of the {role}" if role else "of the engine itself"
        said = f'No document in force asks for a property "{name}" {about}.'
        if others:
            said += f" Asked for {_are(p.name for p in others)}."
        for asked in elsewhere:
            said += f" It is asked for as {_title(asked)}."
        return f"{said} Kept so, it decides nothing that they ask."

    def doubt_about_uses(self, uses: Iterable[str]) -> str:
        """Return why kinds of operation are in question, empty where they are not."""
        strange = [use for use in uses if plain_text(use) not in self.offered_uses]
        if not strange:
            return ""
        quoted = _and([f'"{use}"' for use in strange])
        said = (
            f"No document in force names the operation {quoted}. It is offered: "
            f"{_and(self.offered_uses)}. Kept so, it counts as none of these"
        )
        if not self.uses_in:
            return f"{said}."
        documents = _and(self.uses_in)
        return f"{said}, and what {documents} {_says(self.uses_in)} of them does not hold for it."


def named_for(engine: Engine, on: date) -> Named:
    """Return what the rules name that may concern an engine. Two queries.

    `engine`: with its station and type.
    """
    kind = engine.engine_type.designation
    facts = EngineFacts(type=kind, type_complete=engine.type_complete)
    library = library_in_force(engine.station, on)
    rules = library.for_engines([facts])
    return named_by(rule for rule in rules if rule.may_concern(facts))


def named_at(station: Station, on: date) -> Named:
    """Return what any rule in force at a station names. One query."""
    return named_by(rules_in_force(station, on))


def named_by(rules: Iterable[CompiledRule]) -> Named:
    properties: dict[tuple[str, str], Property] = {}
    uses: set[str] = set()
    uses_in: dict[str, None] = {}
    for rule in rules:
        number = rule.publication.number
        for node in nodes_of(rule):
            if node.key == "attribute":
                asked = _asked(node, number)
                known = properties.get(_key(asked))
                properties[_key(asked)] = known.joined(asked) if known else asked
        named = _uses_of(rule)
        if named:
            uses |= named
            uses_in[number] = None
    return Named(
        properties=tuple(properties[key] for key in sorted(properties)),
        uses=tuple(sorted(uses)),
        uses_in=tuple(uses_in),
    )


def _asked(node: Node, number: str) -> Property:
    return Property(
        role=node.role,
        name=node.value,
        values=tuple(sorted(node.beside["in"])),
        documents=(number,),
    )


def _uses_of(rule: CompiledRule) -> set[str]:
    named = [
        use for node in nodes_of(rule) if node.key == "operation" for use in node.value
    ]
    binding = rule.interval.binding if rule.interval else ()
    return {
        plain_text(use) for use in (*named, *(binding if binding is not True else ()))
    }


def _key(asked: Property) -> tuple[str, str]:
    return plain_text(asked.role), plain_text(asked.name)


def _title(asked: Property) -> str:
    return f"{asked.name} of the {asked.role}" if asked.role else asked.name


def _are(values: Iterable[str]) -> str:
    quoted = [f'"{value}"' for value in values]
    return f"{'is' if len(quoted) == 1 else 'are'} {_and(quoted)}"


def _and(words: Sequence[str]) -> str:
    return listed(words, "and")


def _says(documents: tuple[str, ...]) -> str:
    return "says" if len(documents) == 1 else "say"

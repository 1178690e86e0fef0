"""Which facts the rules ask for that somebody without an account may know.

What stands in the form from the first (serial, dates, hours, operation) is not among
these; `first_field` says which of its fields takes a fact that is missing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Final

from notices.rules.applicability.subjects import part_label
from notices.rules.facts import PartFacts
from notices.rules.fluids import CLIMATE, FUEL_IN_USE
from notices.rules.phrases import date_words
from notices.rules.times.limits import FURTHER_FLIGHT, event_key
from tracker.compliance.open_check.facts import Fact, Kind, Of
from tracker.compliance.rule_nodes import Node, nodes_of, texts_in
from tracker.compliance.rules import CompiledRule

_FIRST: Final = (
    (r"(complete )?serial number( of this type)?", "serial"),
    (r"date of manufacture", "built"),
    (r"time since new( of the engine)?", "hours"),
    (r".*\boverhaul( \d+)?|overhaul history", "overhauled"),
    (r"kind of operation", "uses"),
    (r"share of leaded fuel.*", "fuel"),
    (r"oil temperature", "oil_low"),
    (re.escape(CLIMATE), "ambient_low"),
    (re.escape(FUEL_IN_USE), "fuel"),
)
_DATED: Final = re.compile(r" of \d+ [A-Z][a-z]+ \d{4}$")
_RECORDED: Final = r"( \(recorded as .*\))?"
_NO_EVENT_OF_ITS_OWN: Final = {event_key(FURTHER_FLIGHT), "overhaul", "rebuild"}
_OF_EACH_PART: Final = tuple(of for of in Of if of not in {Of.ATTRIBUTE, Of.QUESTION})


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A fact that rules ask for. `values`: those that they name; others may be told.

    `words`: all by which the core names the fact where it is missing.
    """

    fact: Fact
    words: frozenset[str]
    values: tuple[str, ...] = ()

    def settles(self, missing: str) -> bool:
        """Whether this is the fact that the core misses; a record is named by day."""
        return missing in self.words or _DATED.sub("", missing) in self.words

    def joined(self, other: Wanted) -> Wanted:
        """Return the same fact as two rules ask for it."""
        values = dict.fromkeys(self.values + other.values)
        return replace(self, words=self.words | other.words, values=tuple(values))


def first_field(words: str) -> str:
    """Return which field of the form takes a missing fact, "" where none does."""
    for pattern, name in _FIRST:
        if re.fullmatch(pattern + _RECORDED, words):
            return name
    return ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What else decides which facts a rule asks for.

    `counts`: how many parts of a role the engine holds, one where nothing is said.
    `alone`: keys of documents that ask for one action only. `inspections`: numbers of
    scheduled inspections by the key of the event that one is. `parts`: those that were
    told, by role and place; the core names them in full.
    """

    counts: Mapping[str, int]
    alone: frozenset[str]
    inspections: Mapping[str, str]
    parts: Mapping[tuple[str, str], PartFacts] = field(default_factory=dict)


def wanted_by(rule: CompiledRule, around: Around) -> tuple[Wanted, ...]:
    """Return what a rule may ask for, each fact once."""
    found: dict[str, Wanted] = {}
    for one in _all_wanted(rule, around):
        known = found.get(one.fact.key)
        found[one.fact.key] = one if known is None else known.joined(one)
    return tuple(found.values())


def works_asked_for(rules: Iterable[CompiledRule]) -> tuple[Fact, ...]:
    """Return what conditions and endings ask about, whether it was done or embodied."""
    found = {
        fact.key: fact
        for rule in rules
        for node in nodes_of(rule)
        if node.key in ("embodied", "complied", "ends_with")
        for number in texts_in(node.value)
        for fact in [Fact(kind=Kind.WORK, name=number)]
    }
    return tuple(sorted(found.values(), key=lambda fact: fact.name))


def properties_asked(rule: CompiledRule) -> set[str]:
    """Return the properties of the engine itself that a rule goes by."""
    nodes = (node for node in nodes_of(rule) if node.key == "attribute")
    return {str(node.value) for node in nodes if not node.role}


def questions_asked(rule: CompiledRule) -> set[str]:
    """Return the questions of a rule, about the engine and about its parts."""
    return {str(node.value) for node in nodes_of(rule) if node.key == "ask"}


def _all_wanted(rule: CompiledRule, around: Around) -> Iterator[Wanted]:
    yield from _of_every_rule(rule)
    if rule.action is not None:
        yield _own_work(rule, around)
    roles = {rule.provision.role.casefold(): rule.provision.role}
    for node in nodes_of(rule):
        if node.key == "role" or (node.key == "part" and isinstance(node.value, str)):
            roles.setdefault(node.value.casefold(), node.value)
        yield from _of_node(node, around)
    for role in filter(None, roles.values()):
        for part in _parts_of(role, around):
            for of in _OF_EACH_PART:
                yield _of_part(part, of)


def _of_every_rule(rule: CompiledRule) -> Iterator[Wanted]:
    """What any rule may ask for; its words say whether it does."""
    yield _wanted(Fact(kind=Kind.REGISTRY), "state of registry")
    yield _wanted(Fact(kind=Kind.AIRCRAFT), "aircraft it is fitted in")
    yield _wanted(Fact(kind=Kind.SHIPPED), "shipping date")
    rebuilt = ("whether and when it was rebuilt", "date of rebuild")
    yield _wanted(Fact(kind=Kind.REBUILT), *rebuilt)
    effective = rule.subject.effective_on
    if effective is not None:
        words = ("hours at the effective date", "time since new on the effective date")
        yield _wanted(Fact(kind=Kind.HOURS_ON, on=effective), *words)


def _own_work(rule: CompiledRule, around: Around) -> Wanted:
    """Return whether and when the very thing was done that the rule asks for."""
    number = rule.publication.number
    fact = own_fact(rule, around.alone)
    words = (
        "whether and when it was done",
        "when it was last done",
        "date of the record",
        "hours at the record",
        "by which document it was done",
        "whether the record lies before the effective date",
        f"by which revision of {number} it was done",
    )
    if fact.kind is Kind.WORK:
        return _work(number, *words)
    return _wanted(fact, *words)


def own_fact(rule: CompiledRule, alone: frozenset[str]) -> Fact:
    """Return the fact that says whether a rule's action was done.

    The number of a document says it only where the document asks for one action.
    """
    document = rule.publication
    if document.number_key in alone:
        return Fact(kind=Kind.WORK, name=document.number)
    return Fact(kind=Kind.DONE, name=document.number, order=rule.provision.order)


def _of_node(node: Node, around: Around) -> Iterator[Wanted]:
    key, value = node.key, node.value
    if key in ("embodied", "complied", "ends_with"):
        for number in texts_in(value):
            yield _work(number, f"whether {number} was done on this {node.this}")
    elif key in ("event", "counts"):
        named = [n for n in texts_in(value) if event_key(n) not in _NO_EVENT_OF_ITS_OWN]
        yield from (_event(name, around) for name in named)
    elif key == "date" and isinstance(value, str):
        day = date.fromisoformat(value)
        yield _wanted(Fact(kind=Kind.HOURS_ON, on=day), f"hours on {date_words(day)}")
    elif key == "registry":
        fact = Fact(kind=Kind.REGISTRY)
        yield _wanted(fact, "state of registry", values=tuple(value))
    elif key in ("attribute", "ask"):
        yield from _named(node, around)


def _named(node: Node, around: Around) -> Iterator[Wanted]:
    """Return a property or a question, of the engine or of each part of a role."""
    name, values = node.value, tuple(node.beside.get("in", ()))
    is_question = node.key == "ask"
    if not node.role:
        kind = Kind.QUESTION if is_question else Kind.ATTRIBUTE
        words = f"the answer to the question: {name}" if is_question else name
        yield _wanted(Fact(kind=kind, name=name), words, values=values)
        return
    of = Of.QUESTION if is_question else Of.ATTRIBUTE
    for part in _parts_of(node.role, around):
        yield replace(_of_part(part, of, name), values=values)


def _parts_of(role: str, around: Around) -> list[PartFacts]:
    """Return the parts of a role, as told or with nothing but their place."""
    many = around.counts.get(role.casefold(), 1)
    places = [f"no. {number}" for number in range(1, many + 1)] if many > 1 else [""]
    blank = (PartFacts(role=role, place=place) for place in places)
    return [around.parts.get((role.casefold(), one.place), one) for one in blank]


def _wanted(fact: Fact, *words: str, values: tuple[str, ...] = ()) -> Wanted:
    return Wanted(fact=fact, words=frozenset(words), values=values)


def _work(number: str, *words: str) -> Wanted:
    record = f"record 1 of compliance with {number}"
    fact = Fact(kind=Kind.WORK, name=number)
    return _wanted(
        fact,
        f"whether {number} is embodied",
        f"whether {number} was complied with",
        f"revision in {record}",
        f"date of {record}",
        f"when {number} was embodied",
        f"when {number} was complied with",
        f"hours at the record for {number}",
        *words,
    )


def _event(name: str, around: Around) -> Wanted:
    """An inspection that the library schedules is told as work, not once more."""
    words = (
        f"whether and when there was: {name}",
        f"date of the event: {name}",
        f"hours at the event: {name}",
    )
    inspection = around.inspections.get(event_key(name))
    if inspection is not None:
        return _work(inspection, *words)
    return _wanted(Fact(kind=Kind.EVENT, name=name), *words)


def _of_part(part: PartFacts, of: Of, name: str = "") -> Wanted:
    place = "" if of is Of.NONE else part.place
    fact = Fact(kind=Kind.PART, role=part.role, place=place, of=of, name=name)
    label, role = part_label(part), part.role
    # Where nothing is recorded of any part, the core speaks of the role alone.
    labels = {label, role}
    words = {f"{_ASKED.get(of, of.value)} of {each}" for each in labels}
    if of in (Of.ATTRIBUTE, Of.QUESTION):
        said = name if of is Of.ATTRIBUTE else "the answer to the question"
        ending = f": {name}" if of is Of.QUESTION else ""
        words = {f"{said} of {each}{ending}" for each in labels}
    words |= {pattern.format(role=role) for pattern in _ALSO.get(of, ())}
    return Wanted(fact=fact, words=frozenset(words))


_ASKED: Final = {
    Of.NEW_HOURS: "time since new",
    Of.OVERHAUL_HOURS: "time since overhaul",
    Of.FITTED_HOURS: "time since fitting",
}
_FITTED: Final = ("{role} fitted", "which parts are fitted as {role}")
_ALSO: Final = {
    Of.NONE: _FITTED,
    Of.NUMBER: (*_FITTED, "the part that the provision is about"),
    Of.BUILT: ("date of manufacture of the {role}",),
    Of.FITTED: ("when the {role} was fitted",),
    Of.NEW_HOURS: ("hours since new of the {role}",),
    Of.OVERHAUL_HOURS: (
        "hours since overhaul of the {role}",
        "date of the last overhaul of the {role}",
    ),
    Of.FITTED_HOURS: ("hours since the {role} was fitted",),
}
"""Further words for a fact of a part, as times name it."""

"""What a revision says, in plain sentences, for its page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from notices.models import Provision, Revision
from notices.rules.applicability.wording import condition_sentence
from notices.rules.conditions import Complied, Embodied, leaves_of, parse_condition
from notices.rules.designations import designation
from notices.rules.fluids import FluidRow
from notices.rules.fluids_wording import ambient_words
from notices.rules.overhaul_wording import interval_sentences
from notices.rules.times.wording import action_words
from tracker.compliance.rules import CompiledRule

ALWAYS = {"always": True}


@dataclass(frozen=True, slots=True, kw_only=True)
class Oil:
    """One row of a table of oils in words. `narrowed`: where it holds only."""

    grade: str
    kind: str
    ambient: str
    fuel: str
    narrowed: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One provision in words. Empty where it narrows nothing, or has no time.

    `time`: by when, or what an overhaul interval comes to.
    """

    provision: Provision
    narrowed: str
    time: str
    oils: tuple[Oil, ...]
    rule_number: int


def said_by(rules: Iterable[CompiledRule]) -> list[Said]:
    return [
        Said(
            provision=rule.provision,
            narrowed=_narrowed(rule),
            time=_time(rule),
            oils=tuple(map(_oil, rule.fluids)),
            rule_number=rule.version.number,
        )
        for rule in rules
    ]


def _time(rule: CompiledRule) -> str:
    if rule.action is not None:
        return action_words(rule.action)
    return interval_sentences(rule.interval) if rule.interval is not None else ""


def _oil(row: FluidRow) -> Oil:
    return Oil(
        grade=row.grade,
        kind=row.kind,
        ambient=ambient_words(row.ambient),
        fuel=", ".join(row.fuel),
        narrowed="" if row.when is None else condition_sentence(row.when),
        note=row.note,
    )


def numbers_named(rules: Iterable[CompiledRule]) -> list[str]:
    """Return the numbers of documents and modifications that rules ask for, in order.

    Of one that is written in two ways, the first.
    """
    named: dict[str, str] = {}
    for rule in rules:
        conditions = [rule.condition.condition]
        action = rule.action
        if action is not None:
            conditions += [one.condition for one in action.compiled_ends]
        for leaf in (leaf for one in conditions for leaf in leaves_of(one)):
            if isinstance(leaf, Complied | Embodied):
                named.setdefault(designation(leaf.number), leaf.number)
        credited = action.credit.of if action is not None and action.credit else None
        for document in credited or ():
            named.setdefault(designation(document.number), document.number)
    return list(named.values())


def applicability_words(revision: Revision) -> str:
    """Return whom a revision is about; empty for a draft that does not say so yet."""
    if not revision.applicability:
        return ""
    return condition_sentence(parse_condition(revision.applicability))


def _narrowed(rule: CompiledRule) -> str:
    condition = rule.version.condition
    return "" if condition == ALWAYS else condition_sentence(parse_condition(condition))

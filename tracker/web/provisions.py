"""What a revision says, in plain sentences, for its page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from notices.models import Provision, Revision
from notices.rules.applicability.wording import condition_sentence
from notices.rules.conditions import parse_condition
from notices.rules.times.wording import action_words
from tracker.compliance.rules import CompiledRule

ALWAYS = {"always": True}


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One provision in words. Empty where it narrows nothing, or has no time."""

    provision: Provision
    narrowed: str
    time: str
    rule_number: int


def said_by(rules: Iterable[CompiledRule]) -> list[Said]:
    return [
        Said(
            provision=rule.provision,
            narrowed=_narrowed(rule),
            time=action_words(rule.action) if rule.action is not None else "",
            rule_number=rule.version.number,
        )
        for rule in rules
    ]


def applicability_words(revision: Revision) -> str:
    """Return whom a revision is about; empty for a draft that does not say so yet."""
    if not revision.applicability:
        return ""
    return condition_sentence(parse_condition(revision.applicability))


def _narrowed(rule: CompiledRule) -> str:
    condition = rule.version.condition
    return "" if condition == ALWAYS else condition_sentence(parse_condition(condition))

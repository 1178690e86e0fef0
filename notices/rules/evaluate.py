"""A condition and the facts of one engine: does it apply, why, and what is missing.

Every test is true, false or unknown. The outcome is exact: undetermined only if two
possible completions of the unknown facts give different answers. At most 64 completions
of facts that several tests share are tried; beyond that the plain three-valued outcome
stands, which is never wrong, only less sharp, and the answer says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import cached_property
from typing import Final

from notices.rules.applicability.analysis import analyse
from notices.rules.applicability.deciding import exact_value, tree_of
from notices.rules.applicability.leaf_tests import NO, OPEN, YES, Value
from notices.rules.applicability.nodes import AllOf, AnyOf, Condition, TypeIn
from notices.rules.applicability.reasons import reasons_for
from notices.rules.applicability.subjects import EngineSubject, prepare
from notices.rules.designations import Pattern
from notices.rules.facts import Asked, EngineFacts

__all__ = [
    "Answer",
    "CompiledCondition",
    "Outcome",
    "compile_condition",
    "evaluate",
    "prepare",
]


class Outcome(Enum):
    """What a condition says of an engine; it refuses to be a boolean."""

    APPLIES = "applies"
    DOES_NOT_APPLY = "does not apply"
    UNDETERMINED = "undetermined"

    def __bool__(self) -> bool:
        raise TypeError("An outcome is neither true nor false; compare with `is`.")


_OUTCOMES: Final = {
    YES: Outcome.APPLIES,
    NO: Outcome.DOES_NOT_APPLY,
    OPEN: Outcome.UNDETERMINED,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The outcome of a condition for one engine.

    `reasons`: the tests that decided it, each as a sentence with the engine's own value.
    `missing`: the facts on which an undetermined outcome really depends, in words.
    `sharp`: False where there were more completions than are tried; `missing` may then
    name a fact that would not help.
    """

    outcome: Outcome
    reasons: tuple[str, ...]
    missing: tuple[str, ...]
    sharp: bool


class CompiledCondition:
    """A condition made ready to be asked often; it can be kept as long as wished."""

    def __init__(self, condition: Condition) -> None:
        self.condition = condition
        self.tree = tree_of(condition)

    @cached_property
    def needs(self) -> tuple[Pattern, ...] | None:
        """Type designations of which one must fit for it to apply; None for any type."""
        return _types_needed(self.condition)

    def outcome(self, facts: EngineFacts, asked: Asked) -> Outcome:
        """Return the exact outcome, without reasons."""
        return self.outcome_of(prepare(facts, asked))

    def outcome_of(self, subject: EngineSubject) -> Outcome:
        """Return the exact outcome for an engine prepared once for many conditions."""
        return _OUTCOMES[exact_value(self.tree, subject)]

    def missing_of(self, subject: EngineSubject) -> tuple[str, ...]:
        """Return the facts on which an undetermined outcome depends, in words."""
        return analyse(self.tree, subject).missing

    def answer_of(self, subject: EngineSubject) -> Answer:
        """Return outcome, reasons and missing facts for an engine prepared once."""
        analysis = analyse(self.tree, subject)
        return Answer(
            outcome=outcome_of_value(analysis.value),
            reasons=reasons_for(self.tree, subject, analysis),
            missing=analysis.missing,
            sharp=analysis.sharp,
        )


def compile_condition(condition: Condition) -> CompiledCondition:
    """Return the condition ready to be asked of any number of engines."""
    return CompiledCondition(condition)


def evaluate(
    condition: Condition | CompiledCondition, facts: EngineFacts, asked: Asked
) -> Answer:
    """Return outcome, reasons and missing facts of one condition for one engine."""
    if not isinstance(condition, CompiledCondition):
        condition = compile_condition(condition)
    return condition.answer_of(prepare(facts, asked))


def outcome_of_value(value: Value) -> Outcome:
    """Return the outcome that a three-valued answer means."""
    return _OUTCOMES[value]


def _types_needed(condition: Condition) -> tuple[Pattern, ...] | None:
    match condition:
        case TypeIn():
            return condition.designations
        case AllOf():
            for member in condition.members:
                found = _types_needed(member)
                if found is not None:
                    return found
        case AnyOf():
            needed: list[Pattern] = []
            for member in condition.members:
                found = _types_needed(member)
                if found is None:
                    return None
                needed += found
            return tuple(dict.fromkeys(needed))
    return None

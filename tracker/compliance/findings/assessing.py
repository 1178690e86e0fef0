"""One rule and one engine's file -> outcome, reasons, what is missing, due point."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from notices.models import Provision
from notices.rules.applicability.subjects import EngineSubject
from notices.rules.compliance_time import DuePoint, due_point
from notices.rules.evaluate import Outcome, evaluate, prepare
from notices.rules.facts import Asked, EngineFacts, PartFacts
from notices.rules.times.history import History
from tracker.compliance.alternatives import approved_for, by_approval
from tracker.compliance.asking import circumstances_by_fuel, history_asked
from tracker.compliance.facts import EngineFile, PartFile
from tracker.compliance.intervals import EngineInterval
from tracker.compliance.mixes import RuleMix
from tracker.compliance.models import Closed, Declined
from tracker.compliance.rules import CompiledRule
from tracker.compliance.states import IN_FORCE

NEVER_COMPLETED: Final = {Provision.Kind.PROHIBITION, Provision.Kind.TOGETHER}
"""Under these no record counts: they end when their condition no longer holds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """The outcome of one rule for one engine, or for one fitted part of it.

    `point` counts hours as the core does; `closed` is why nothing is open under it.
    `missing`: all facts that are lacking; `unsettled`: those of them on which it hangs
    whether it applies. `mix`: the fuel that it goes by, None where it asks for no leaded
    share.
    """

    rule: CompiledRule
    part: PartFile | None
    outcome: Outcome
    reasons: tuple[str, ...]
    missing: tuple[str, ...]
    point: DuePoint
    closed: Closed
    declined: Declined | None = None
    unsettled: tuple[str, ...] = ()
    mix: RuleMix | None = None

    @property
    def is_kept(self) -> bool:
        """Whether it is stored as a finding: it applies, or may."""
        return self.outcome is not Outcome.DOES_NOT_APPLY


def assessments(
    rules: Iterable[CompiledRule],
    file: EngineFile,
    *,
    on: date,
    interval: EngineInterval | None = None,
) -> Iterator[Assessment]:
    """Yield the assessment of every rule, those that do not apply included.

    `interval`: of this engine; it decides what becomes of interval provisions.
    """
    for rule in rules:
        yield from assess(rule, file, on=on, interval=interval)


def kept_assessments(
    rules: Iterable[CompiledRule],
    file: EngineFile,
    *,
    on: date,
    interval: EngineInterval | None = None,
) -> Iterator[Assessment]:
    """Yield what applies or may apply. Of the rest no reasons are worked out."""
    subject = prepare(file.facts, Asked(on=on))
    done_on_parts = _has_records_of_parts(file)
    for rule in rules:
        if not rule.may_concern(file.facts):
            continue
        differs = bool(rule.provision.role) and done_on_parts
        if differs or _may_apply(rule, subject):
            for assessed in assess(rule, file, on=on, interval=interval):
                if assessed.is_kept:
                    yield assessed


def _has_records_of_parts(file: EngineFile) -> bool:
    """Whether a rule about a part is asked with other facts than one about the engine."""
    return any(record.part_id is not None for record in file.records) or any(
        part.records for part in file.parts
    )


def _may_apply(rule: CompiledRule, subject: EngineSubject) -> bool:
    """Whether it can apply, told before anything is known of its own past or part.

    To know more never makes of "does not apply" anything else.
    """
    return rule.condition.outcome_of(subject) is not Outcome.DOES_NOT_APPLY


def assess(
    rule: CompiledRule,
    file: EngineFile,
    *,
    on: date,
    interval: EngineInterval | None = None,
) -> list[Assessment]:
    """Return one assessment for the engine, or one for each part of the rule's role.

    Where fewer parts are recorded than there are, one more stands for the rest.
    """
    role = rule.provision.role
    if not role:
        one = _assess(rule, file, None, on=on)
        return [one if interval is None else _under(interval, one)]
    fitted = file.parts_of(role)
    found = [_assess(rule, file, part, on=on) for part in fitted]
    if _may_hold_more(file.facts, role, len(fitted)):
        found.append(_assess_unrecorded(rule, file, role, on=on))
    if not found:
        found.append(_none_fitted(rule, role))
    return found


def _under(interval: EngineInterval, found: Assessment) -> Assessment:
    """Return what becomes of an interval provision; of another rule nothing else.

    It falls due only where it is law, and what is law cannot be declined.
    """
    said = interval.provision_of(found.rule)
    if said is None:
        return found
    point = said.point
    is_unsure = said.outcome is Outcome.UNDETERMINED
    if said.outcome is Outcome.DOES_NOT_APPLY:
        point = DuePoint(closed="does not apply")
    elif is_unsure:
        point = replace(point, undetermined=True)
    declined = None if said.is_law else found.declined
    reasons = found.reasons if said.outcome is found.outcome else said.reasons
    missing = said.missing if is_unsure else ()
    return replace(
        found,
        outcome=said.outcome,
        reasons=tuple(dict.fromkeys((*reasons, *point.reasons))),
        missing=tuple(dict.fromkeys((*missing, *point.all_missing))),
        point=point,
        closed=_closed(point, declined),
        declined=declined,
        unsettled=missing,
    )


def _may_hold_more(facts: EngineFacts, role: str, recorded: int) -> bool:
    key = role.casefold()
    if key in {scope.casefold() for scope in facts.roles_reviewed}:
        return False
    counts = {name.casefold(): count for name, count in facts.role_counts.items()}
    return recorded < counts.get(key, 1)


def _none_fitted(rule: CompiledRule, role: str) -> Assessment:
    return Assessment(
        rule=rule,
        part=None,
        outcome=Outcome.DOES_NOT_APPLY,
        reasons=(f"No {role} is fitted.",),
        missing=(),
        point=DuePoint(closed="does not apply"),
        closed=Closed.OPEN,
    )


def _assess_unrecorded(
    rule: CompiledRule, file: EngineFile, role: str, *, on: date
) -> Assessment:
    """Assess a part of which nothing is known but that there must be one."""
    found = _judged(rule, file, file.facts, PartFacts(role=role), on=on)
    if found.outcome is Outcome.DOES_NOT_APPLY:
        return found
    fitted = f"{role} fitted"
    return replace(
        found,
        outcome=Outcome.UNDETERMINED,
        missing=tuple(dict.fromkeys((fitted, *found.missing))),
        unsettled=tuple(dict.fromkeys((fitted, *found.unsettled))),
        point=replace(found.point, undetermined=True),
    )


def _assess(
    rule: CompiledRule, file: EngineFile, part: PartFile | None, *, on: date
) -> Assessment:
    facts = file.facts_for(part)
    found = _judged(rule, file, facts, part.facts if part else None, on=on, of=part)
    return replace(found, part=part)


def _judged(
    rule: CompiledRule,
    file: EngineFile,
    facts: EngineFacts,
    part: PartFacts | None,
    *,
    on: date,
    of: PartFile | None = None,
) -> Assessment:
    approved = approved_for(rule, file, on=on)
    rule = by_approval(rule, approved)
    past = history_asked(rule, file, part, of)
    asked, mix = circumstances_by_fuel(rule, file, past, facts=facts, on=on, part=part)
    answer = evaluate(rule.condition, facts, asked)
    outcome = answer.outcome
    point = DuePoint(closed="does not apply")
    if outcome is not Outcome.DOES_NOT_APPLY:
        point = replace(_point(rule, facts, asked, past), approval=approved.approval)
        if point.closed == "does not apply":
            outcome = Outcome.DOES_NOT_APPLY
    reasons = (*answer.reasons, *point.reasons)
    if approved.ended:
        reasons += (approved.ended,)
    if mix is not None:
        reasons += mix.reasons(point)
        point = replace(point, grounds=mix.grounds(point))
    missing: tuple[str, ...] = ()
    if outcome is Outcome.UNDETERMINED:
        missing = tuple(answer.missing)
        point = replace(point, undetermined=True)
    declined = None
    if not rule.publication.binds:
        declined = file.declined.get(rule.publication.pk)
    return Assessment(
        rule=rule,
        part=None,
        outcome=outcome,
        reasons=tuple(dict.fromkeys(reasons)),
        missing=tuple(dict.fromkeys((*missing, *point.all_missing))),
        point=point,
        closed=_closed(point, declined),
        declined=declined,
        unsettled=missing,
        mix=mix,
    )


def _point(
    rule: CompiledRule, facts: EngineFacts, asked: Asked, past: History
) -> DuePoint:
    kind = rule.provision.kind
    if rule.action is None:
        prohibits = kind == Provision.Kind.PROHIBITION
        return IN_FORCE if prohibits else DuePoint(closed="nothing due")
    if kind in NEVER_COMPLETED:
        past = replace(past, done=())
    return due_point(rule.action, facts, asked, past)


def _closed(point: DuePoint, declined: Declined | None) -> Closed:
    if declined is not None:
        return Closed.NOT_ADOPTED
    if point.undetermined or point.closed in (None, "does not apply"):
        return Closed.OPEN
    return Closed(point.closed)

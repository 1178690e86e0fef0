"""What one rule asks of one engine: the past it looks at, and the circumstances."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from notices.rules.facts import UNKNOWN, Asked, EngineFacts, PartFacts
from notices.rules.times.history import History, hours_on
from tracker.compliance.facts import EngineFile, PartFile
from tracker.compliance.mixes import RuleMix, mix_of
from tracker.compliance.rules import CompiledRule


def history_asked(
    rule: CompiledRule,
    file: EngineFile,
    part: PartFacts | None = None,
    of: PartFile | None = None,
) -> History:
    """Return the past. `part` without `of`: a part of which nothing is recorded."""
    if part is not None and of is None:
        return replace(file.history_for(rule.subject, None), done=UNKNOWN)
    return file.history_for(rule.subject, of)


def circumstances(
    rule: CompiledRule,
    file: EngineFile,
    past: History,
    *,
    on: date,
    part: PartFacts | None = None,
) -> Asked:
    """Return the circumstances, the leaded share since it was last done among them."""
    return circumstances_by_fuel(rule, file, past, facts=file.facts, on=on, part=part)[
        0
    ]


def circumstances_by_fuel(
    rule: CompiledRule,
    file: EngineFile,
    past: History,
    *,
    facts: EngineFacts,
    on: date,
    part: PartFacts | None = None,
) -> tuple[Asked, RuleMix | None]:
    """Return the circumstances, and the mix of fuel where the rule asks for one."""
    asked = _asked(rule, file, past, on=on, part=part)
    if not rule.thresholds:
        return asked, None
    declared = file.declared_share
    mix = mix_of(rule, facts, asked, past, fuel=file.fuel, declared=declared)
    return replace(asked, leaded_share=mix.share), mix


def _asked(
    rule: CompiledRule,
    file: EngineFile,
    past: History,
    *,
    on: date,
    part: PartFacts | None,
) -> Asked:
    """Hours at the effective date come from exact readings."""
    effective = past.effective_on
    read = None
    if isinstance(effective, date):
        read = hours_on(file.readings, effective)
    return Asked(
        on=on,
        scope=rule.scope,
        effective_on=UNKNOWN if effective is None else effective,
        effective_hours=read.lowest if read is not None and read.is_read else UNKNOWN,
        part=part,
    )

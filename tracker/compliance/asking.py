"""What one rule asks of one engine: the past it looks at, and the circumstances."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from notices.rules.facts import UNKNOWN, Asked, PartFacts
from notices.rules.times.history import History, hours_on
from tracker.compliance.facts import EngineFile, PartFile
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
    """Return the circumstances. Hours at the effective date come from exact readings."""
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

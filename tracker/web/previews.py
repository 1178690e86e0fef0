"""What a revision would say and whom it would concern, shown before it is kept."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from notices.library import (
    Placed,
    condition_warnings,
    fluid_warnings,
    interval_warnings,
    placed,
    warnings_of,
)
from notices.library.contents import NEEDED
from tracker.accounts.access import Viewer
from tracker.compliance.interval_trials import Replaces
from tracker.compliance.names import unknown_names
from tracker.compliance.rules import CompiledRule
from tracker.compliance.trials import Trial, try_rules
from tracker.fleet.models import EngineType
from tracker.web.provisions import Said, said_by

NO_DATES = (
    "Neither a date of issue nor an effective date is given. One of them is needed "
    "before it is confirmed."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """`applicability`: in words. `warnings`: what to look at twice, with its place."""

    applicability: str
    said: Sequence[Said]
    warnings: Sequence[str]
    trial: Trial


def preview_of(
    viewer: Viewer,
    rules: Sequence[CompiledRule],
    applicability: str,
    on: date,
    *,
    beside: Callable[[], Sequence[Placed]],
    replaces: Replaces,
    dated: bool = True,
) -> Preview:
    """`beside`: gives the overhaul intervals that hold beside these rules, if asked.

    `replaces`: whether a rule in force would not be any more.
    `dated`: whether the revision gives a date from which it can hold.
    """
    warnings = [] if dated else [NO_DATES]
    warnings += unknown_names(viewer.station, rules)
    types = EngineType.objects.visible_to(viewer).patterns()
    own = [placed(rule.version) for rule in rules if rule.interval is not None]
    if own:
        warnings += interval_warnings(own, beside(), types)
    for rule in rules:
        place = f"Provision {rule.provision.order}"
        told = [*condition_warnings(rule.condition, types), *_warnings(rule)]
        warnings += [f"{place}: {words}" for words in told]
    return Preview(
        applicability=applicability,
        said=said_by(rules),
        warnings=warnings,
        trial=try_rules(viewer, rules if applicability else (), on, replaces=replaces),
    )


def _warnings(rule: CompiledRule) -> Sequence[str]:
    if rule.action is not None:
        has_date = rule.subject.effective_on is not None
        return warnings_of(rule.action, has_effective_date=has_date)
    if rule.fluids:
        return list(fluid_warnings(rule.fluids))
    if rule.interval is not None:
        return []
    needed = NEEDED.get(rule.provision.kind)
    return [] if needed is None else [f"{needed} It is needed before it is confirmed."]

"""What rules would come to for the engines of a station, tried out and not kept.

For a revision that is not in force: a draft as stored, or as it stands in a form.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

from notices.library import RevisionInput
from notices.models import Provision, Publication, Revision, RuleVersion
from notices.rules.evaluate import Outcome
from tracker.accounts.access import Right, Viewer
from tracker.compliance.facts import EngineFile, engine_files, fleet_of
from tracker.compliance.findings import Assessment, assessments
from tracker.compliance.findings.standings import rate_of
from tracker.compliance.interval_trials import (
    IntervalChange,
    Replaces,
    intervals_in_force,
    try_intervals,
)
from tracker.compliance.publications import AffectedCounts, TriedRow
from tracker.compliance.rules import CompiledRule, compiled_rule
from tracker.compliance.states import word_of
from tracker.compliance.summary.lines import state_of
from tracker.fleet.models import Engine

MOST_TRIED: Final = 1000
SAMPLE: Final = 12
ALWAYS: Final = {"always": True}


FindingKey = tuple[int, int, int | None]
"""A finding by the order of its provision, its engine and its part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """How many engines the rules concern, and the first of them with the reasons.

    `untried`: engines that they may concern beyond the first thousand, which were not
    looked at. `sample`: findings that would be made, undetermined ones first.
    `kept`: all of them, by the order of the provision, engine and part. `changed`: how
    many overhaul intervals would be others, `intervals` the first of them.
    """

    counts: AffectedCounts
    untried: int
    sample: tuple[TriedRow, ...]
    kept: tuple[FindingKey, ...]
    changed: int = 0
    intervals: tuple[IntervalChange, ...] = ()

    @property
    def engines(self) -> int:
        """How many engines the counts speak of."""
        counts = self.counts
        return counts.applies + counts.undetermined + counts.does_not_apply


def rules_stated(
    publication: Publication, stated: RevisionInput, revision: Revision | None = None
) -> tuple[CompiledRule, ...]:
    """Return the rules that a checked entry states; nothing of it needs to be stored.

    `revision`: the draft that is being changed. Without applicability there are none.
    """
    if stated.applicability is None:
        return ()
    of = Revision(
        pk=revision.pk if revision else None,
        publication=publication,
        station_id=publication.station_id,
        label=stated.label,
        issued_on=stated.issued_on,
        effective_on=stated.effective_on,
    )
    return tuple(
        compiled_rule(
            RuleVersion(
                provision=Provision(
                    revision=of,
                    order=order,
                    kind=given.kind,
                    title=given.title,
                    description=given.description,
                    category=given.category,
                    role=given.role,
                    effective_on=given.effective_on,
                    ferry=given.ferry,
                    report_to=given.report_to,
                    man_hours=given.man_hours,
                    parts_needed=given.parts_needed,
                    embodies=list(given.embodies),
                ),
                applicability=stated.applicability,
                condition=given.condition or ALWAYS,
                action=given.action or {},
                interval=given.interval or {},
                fluids=given.fluids or [],
            )
        )
        for order, given in enumerate(stated.provisions, start=1)
    )


def try_rules(
    viewer: Viewer,
    rules: Sequence[CompiledRule],
    on: date,
    *,
    replaces: Replaces = lambda _: False,
) -> Trial:
    """Return what the rules come to, without keeping it.

    `replaces`: which rules in force would not be any more. What these say of overhaul
    intervals is told, too, for engines that only they concern.

    Columns leave out whom no rule concerns. Of the others a thousand are evaluated at
    most; as many queries for a thousand as for one.
    """
    viewer.require(Right.SEE_NOTICES)
    everyone = Engine.objects.visible_to(viewer)
    in_force = intervals_in_force(viewer.station, on) if rules else ()
    ending = [rule for rule in in_force if replaces(rule)]
    fleet = fleet_of(everyone, on=on)
    left = fleet.concerned_by(one.condition.condition for one in (*rules, *ending))
    some = everyone.filter(pk__in=left[:MOST_TRIED]).for_list()
    chosen = list(some.select_related("station").order_by("pk"))
    found: list[TriedRow] = []
    kept: list[FindingKey] = []
    words: dict[int, set[str]] = {engine.pk: set() for engine in chosen}
    files = engine_files(chosen, on=on)
    for file in files.values():
        for part, row in _tried(rules, file, on):
            words[file.engine.pk].add(row.outcome)
            found.append(row)
            kept.append((row.provision.order, file.engine.pk, part))
    applies = sum(Outcome.APPLIES.value in said for said in words.values())
    concerned = sum(bool(said) for said in words.values())
    counts = AffectedCounts(
        applies=applies,
        undetermined=concerned - applies,
        does_not_apply=len(fleet.keys) - len(left) + len(chosen) - concerned,
    )
    found.sort(key=lambda row: row.outcome != Outcome.UNDETERMINED.value)
    intervals: list[IntervalChange] = []
    if ending or any(rule.interval is not None for rule in rules):
        intervals = try_intervals(in_force, rules, files.values(), on, replaces)
    return Trial(
        counts=counts,
        untried=len(left) - len(chosen),
        sample=tuple(found[:SAMPLE]),
        kept=tuple(kept),
        changed=len(intervals),
        intervals=tuple(intervals[:SAMPLE]),
    )


def _tried(
    rules: Sequence[CompiledRule], file: EngineFile, on: date
) -> Iterator[tuple[int | None, TriedRow]]:
    """Yield what is found, each with the key of the part that it is about."""
    rate = rate_of(file, on=on)
    concerning = [rule for rule in rules if rule.may_concern(file.facts)]
    for assessed in assessments(concerning, file, on=on):
        if assessed.is_kept:
            due = state_of(assessed, file, on=on, rate=rate)
            part = assessed.part.key if assessed.part else None
            yield part, _row(assessed, file, word_of(due))


def _row(assessed: Assessment, file: EngineFile, word: str) -> TriedRow:
    is_open = assessed.outcome is Outcome.UNDETERMINED
    return TriedRow(
        engine=file.engine,
        provision=assessed.rule.provision,
        part=str(assessed.part) if assessed.part else "",
        outcome=assessed.outcome.value,
        state=assessed.outcome.value if is_open or _asks_nothing(assessed) else word,
        reasons=assessed.reasons,
        missing=assessed.missing,
    )


def _asks_nothing(assessed: Assessment) -> bool:
    """Whether it gives an interval or oils, of which only the outcome is to be told."""
    rule = assessed.rule
    return rule.interval is not None or bool(rule.fluids)

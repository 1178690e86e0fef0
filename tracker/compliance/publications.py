"""Who is affected by a revision: whom it concerns, may concern, and does not concern.

A current revision is answered from stored findings; a draft, or one that takes over
later, is tried out on the engines live.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, F, Q

from notices.models import Provision, Revision
from tracker.accounts.access import Right, Viewer
from tracker.compliance.due import DueRow, due_rows
from tracker.compliance.facts import engine_files
from tracker.compliance.findings import assessments
from tracker.compliance.findings.standings import rate_of
from tracker.compliance.models import Finding, FindingQuerySet
from tracker.compliance.rules import CompiledRule, rules_of
from tracker.compliance.states import word_of
from tracker.compliance.summary.lines import state_of
from tracker.fleet.models import Engine
from tracker.fleet.models.engines import EngineQuerySet

PAGE_SIZE = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class AffectedCounts:
    """How many engines there are of each outcome; the three add up to all."""

    applies: int
    undetermined: int
    does_not_apply: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AffectedPage:
    """One page of findings under a revision, undetermined ones first."""

    rows: tuple[DueRow, ...]
    total: int
    number: int
    pages: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedRow:
    """What a provision comes to for one engine or part, worked out live."""

    engine: Engine
    provision: Provision
    part: str
    outcome: str
    state: str
    reasons: tuple[str, ...]
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedPage:
    rows: tuple[TriedRow, ...]
    engines: int
    number: int
    pages: int


def affected_engines(
    viewer: Viewer, revision: Revision, on: date, *, page: int = 1
) -> AffectedPage:
    """Return a page of the findings of a current revision. Four queries."""
    findings = _findings(viewer, revision)
    total = findings.count()
    number, pages = _page(page, total)
    chosen = findings.select_related("engine__standing", "rule").order_by(
        F("undetermined").desc(), "closed", "engine", "provision__order", "pk"
    )
    rows = list(chosen[(number - 1) * PAGE_SIZE : number * PAGE_SIZE])
    return AffectedPage(
        rows=due_rows(rows, viewer, on), total=total, number=number, pages=pages
    )


def affected_counts(viewer: Viewer, revision: Revision) -> AffectedCounts:
    """Return how many engines a current revision concerns. Two queries.

    An engine for which one provision applies counts as such, whatever the others.
    """
    applies = Count("engine", distinct=True, filter=Q(undetermined=False))
    found = _findings(viewer, revision).aggregate(
        applies=applies, kept=Count("engine", distinct=True)
    )
    everyone = Engine.objects.visible_to(viewer).count()
    return AffectedCounts(
        applies=found["applies"],
        undetermined=found["kept"] - found["applies"],
        does_not_apply=everyone - found["kept"],
    )


def unaffected_engines(
    viewer: Viewer, revision: Revision, on: date, *, page: int = 1
) -> TriedPage:
    """Return engines whom a current revision does not concern, with the reasons."""
    concerned = _findings(viewer, revision).values("engine")
    engines = Engine.objects.visible_to(viewer).exclude(pk__in=concerned)
    return _tried(viewer, rules_of(revision), engines, on, page)


def tried_on_engines(
    viewer: Viewer, revision: Revision, on: date, *, page: int = 1
) -> TriedPage:
    """Return what a draft, or a revision still to come, would say of each engine."""
    engines = Engine.objects.visible_to(viewer)
    return _tried(viewer, rules_of(revision), engines, on, page)


def _findings(viewer: Viewer, revision: Revision) -> FindingQuerySet:
    viewer.require(Right.SEE_NOTICES)
    findings = Finding.objects.visible_to(viewer).for_list()
    return findings.filter(provision__revision=revision)


def _page(wanted: int, total: int) -> tuple[int, int]:
    pages = max(1, -(-total // PAGE_SIZE))
    return min(max(wanted, 1), pages), pages


def _tried(
    viewer: Viewer,
    rules: Iterable[CompiledRule],
    engines: EngineQuerySet,
    on: date,
    page: int,
) -> TriedPage:
    total = engines.count()
    number, pages = _page(page, total)
    ordered = engines.for_list().select_related("station").order_by("pk")
    chosen = list(ordered[(number - 1) * PAGE_SIZE : number * PAGE_SIZE])
    files = engine_files(chosen, on=on)
    rules = tuple(rules)
    rows = []
    for file in files.values():
        rate = rate_of(file, on=on)
        for assessed in assessments(rules, file, on=on):
            due = state_of(assessed, file, on=on, rate=rate)
            rows.append(
                TriedRow(
                    engine=file.engine,
                    provision=assessed.rule.provision,
                    part=str(assessed.part) if assessed.part else "",
                    outcome=assessed.outcome.value,
                    state=word_of(due),
                    reasons=assessed.reasons,
                    missing=assessed.missing,
                )
            )
    return TriedPage(rows=tuple(rows), engines=total, number=number, pages=pages)

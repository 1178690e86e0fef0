"""What is due at a station or for an owner, most urgent first."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, F

from notices.models import Provision, Publication, Revision
from notices.rules.compliance_time import Due, Forecast, Lead
from tracker.accounts.access import Viewer
from tracker.compliance.many_keys import among
from tracker.compliance.models import Finding, FindingQuerySet
from tracker.compliance.states import (
    COUNTED,
    FURTHER_FLIGHT,
    IF_IT_APPLIES,
    WORDS,
    counted_as,
    due_of,
    lead_of,
    rank_in_sql,
    ranks_by_point,
    still_open,
    told_by_point,
    word_of,
)
from tracker.fleet.models import Engine, Owner, PartDescription, PartFitting
from tracker.fleet.parts import named

PAGE_SIZE = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class DueRow:
    """One finding with its state on a day. Hours are hundredths on the engine's axis.

    `word`: the state as it is listed, "before further flight" among them.
    """

    finding: Finding
    due: Due
    word: str
    part: str

    @property
    def engine(self) -> Engine:
        return self.finding.engine

    @property
    def provision(self) -> Provision:
        return self.finding.provision

    @property
    def revision(self) -> Revision:
        return self.finding.provision.revision

    @property
    def publication(self) -> Publication:
        return self.finding.provision.revision.publication

    @property
    def due_hours(self) -> int | None:
        standing = getattr(self.finding.engine, "standing", None)
        zero = standing.zero if standing is not None else 0
        return None if self.due.hours is None else self.due.hours + zero

    @property
    def due_on(self) -> date | None:
        return self.due.on

    @property
    def events(self) -> tuple[str, ...]:
        return self.due.events

    @property
    def remaining_hours(self) -> int | None:
        return self.due.left[0]

    @property
    def remaining_days(self) -> int | None:
        return self.due.left[1]

    @property
    def forecast(self) -> Forecast | None:
        return self.due.forecast

    @property
    def sentence(self) -> str:
        return self.due.sentence

    @property
    def reasons(self) -> list[str]:
        return list(self.finding.reasons)

    @property
    def missing(self) -> list[str]:
        return list(dict.fromkeys([*self.finding.missing, *self.due.missing]))

    @property
    def may_be_overdue(self) -> bool:
        return self.due.may_be_overdue


@dataclass(frozen=True, slots=True, kw_only=True)
class DuePage:
    """One page of a due list. `counts`: how many there are in all, by `COUNTED`."""

    rows: tuple[DueRow, ...]
    counts: dict[str, int]
    total: int
    number: int
    pages: int


def due_list(
    viewer: Viewer,
    on: date,
    *,
    states: Collection[str] | None = None,
    engine: Engine | None = None,
    owner: Owner | None = None,
    publication: Publication | None = None,
    page: int = 1,
    size: int = PAGE_SIZE,
) -> DuePage:
    """Return a page of what is open, most urgent first.

    Three queries, two more where parts are named, however many engines there are.

    `states`: words of `WORDS`, None for all. A page beyond the last is the last.
    """
    findings = _open(viewer, engine=engine, owner=owner, publication=publication)
    ranked = with_rank(findings, lead_of(viewer.station), on)
    counts = _counts(ranked)
    wanted = [r for r, word in enumerate(WORDS) if states is None or word in states]
    total = sum(listed(counts, WORDS[rank]) for rank in wanted)
    pages = max(1, -(-total // size))
    number = min(max(page, 1), pages)
    chosen = (
        ranked.filter(rank__in=wanted)
        .select_related("engine__standing", "rule")
        .order_by(
            "rank",
            F("overdue_date").asc(nulls_last=True),
            F("overdue_hours").asc(nulls_last=True),
            "engine",
            "pk",
        )
    )
    found = list(chosen[(number - 1) * size : number * size])
    return DuePage(
        rows=due_rows(found, viewer, on),
        counts=counts,
        total=total,
        number=number,
        pages=pages,
    )


def due_rows(
    findings: Collection[Finding], viewer: Viewer, on: date
) -> tuple[DueRow, ...]:
    """Return rows for findings that were read with engine, standing and provision."""
    parts = named_parts(row.part_id for row in findings)
    lead = lead_of(viewer.station)
    return tuple(due_row(row, parts, on=on, lead=lead) for row in findings)


def due_row(
    finding: Finding, parts: Mapping[int, str], *, on: date, lead: Lead
) -> DueRow:
    """Return how a finding stands on a day. `parts`: what parts are called, by key."""
    due = due_of(finding, on=on, lead=lead)
    part = parts.get(finding.part_id or 0, "")
    return DueRow(finding=finding, due=due, word=word_of(due), part=part)


def counts(viewer: Viewer, on: date, *, engine: Engine | None = None) -> dict[str, int]:
    """Return how many open findings of each state there are. Two queries."""
    findings = _open(viewer, engine=engine)
    return _counts(with_rank(findings, lead_of(viewer.station), on))


def _open(
    viewer: Viewer,
    *,
    engine: Engine | None = None,
    owner: Owner | None = None,
    publication: Publication | None = None,
) -> FindingQuerySet:
    findings = still_open(Finding.objects.visible_to(viewer)).for_list()
    if engine is not None:
        findings = findings.filter(engine=engine)
    if owner is not None:
        findings = findings.filter(engine__owner=owner)
    if publication is not None:
        findings = findings.filter(provision__revision__publication=publication)
    return findings


def with_rank(findings: FindingQuerySet, lead: Lead, on: date) -> Any:
    """Return the findings with their rank, those without a place in the list left out."""
    decided: dict[int, list[int]] = {}
    without: list[int] = []
    unclear = findings.filter(told_by_point(on, lead))
    for key, rank in ranks_by_point(unclear, on=on, lead=lead):
        (without if rank is None else decided.setdefault(rank, [])).append(key)
    ranked = findings.exclude(pk__in=among(without)) if without else findings
    return ranked.annotate(rank=rank_in_sql(on, lead, decided))


def _counts(ranked: Any) -> dict[str, int]:
    found = dict.fromkeys(COUNTED, 0)
    for word, number in counted(ranked):
        found[word] += number
    return found


def listed(counts: Mapping[str, int], word: str) -> int:
    """Return how many a list of that state holds, with those that may not apply."""
    may = counts[IF_IT_APPLIES] if word == FURTHER_FLIGHT else 0
    return counts[word] + may


def counted(ranked: Any) -> Iterator[tuple[str, int]]:
    """Yield a word of `COUNTED` and how many are under it. One query."""
    rows = ranked.order_by().values("rank", "fixed").annotate(found=Count("pk"))
    for row in rows:
        yield counted_as(WORDS[row["rank"]], may_apply=row["fixed"]), row["found"]


def named_parts(parts: Iterable[int | None]) -> dict[int, str]:
    """Return what each part is called. Two queries, none where there are no parts."""
    keys = {key for key in parts if key is not None}
    if not keys:
        return {}
    fittings = PartFitting.objects.filter(part__in=keys, current=True)
    places = {row.part_id: row.place for row in fittings if not row.removed}
    described = PartDescription.objects.filter(part__in=keys, current=True)
    return {row.part_id: named(row, places.get(row.part_id, "")) for row in described}

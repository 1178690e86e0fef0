"""Which engines are past their overhaul interval or near it, or could have a longer one."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

from django.db.models import Case, CharField, Count, F, Q, Value, When
from django.db.models.functions import Coalesce, Greatest

from notices.models import Provision
from notices.rules.compliance_time import State
from notices.rules.intervals.wording import PAST_RECOMMENDED
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station
from tracker.compliance.due import DueRow, due_rows
from tracker.compliance.intervals.ends import OPERATION
from tracker.compliance.models import Closed, Finding, LongerInterval
from tracker.compliance.models.findings import Standing
from tracker.compliance.states import WORDS
from tracker.fleet.models import Engine
from tracker.fleet.models.engines import EngineQuerySet

PAST: Final = "past"
COMING: Final = "coming"
GROUPS: Final = (PAST, COMING)
"""In the order in which a list shows them; an engine stands in the first that fits."""

ASKED: Final = {
    PAST: "past its end",
    COMING: "ends within the lead",
    **{word.value: f"a longer one {word.label}" for word in LongerInterval},
}
"""What a list of engines may be narrowed to, in words."""

FEW: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalRow:
    """One engine with its interval, as it was last evaluated. Its end is TSN.

    `word`: the state of its findings where the interval is law, else how it stands to
    the recommendation. `law`: "law", "recommended", or that this is not known.
    `declined`: the operator has not adopted it.
    """

    engine: Engine
    group: str
    word: str
    ends_at: int | None
    ends_on: date | None
    remaining_hours: int | None
    remaining_days: int | None
    law: str
    longer: str
    declined: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalList:
    """The first rows, and how many engines stand in each group.

    `reach`: of how many engines a longer interval is within reach.
    """

    rows: tuple[IntervalRow, ...]
    counts: dict[str, int]
    reach: int

    @property
    def total(self) -> int:
        return sum(self.counts.values())


def intervals_due(viewer: Viewer, on: date, *, most: int = FEW) -> IntervalList:
    """Return the engines past their interval, then those near it, and how many.

    Three queries, however many engines there are.
    """
    engines = Engine.objects.visible_to(viewer).for_list()
    grouped = _grouped(engines, viewer.station, on)
    in_reach = Q(standing__longer_interval=LongerInterval.WITHIN_REACH)
    numbers = grouped.order_by().aggregate(
        past=Count("pk", filter=Q(group=PAST)),
        coming=Count("pk", filter=Q(group=COMING)),
        reach=Count("pk", filter=in_reach),
    )
    found = list(
        grouped.filter(group__in=GROUPS)
        .select_related("standing")
        .order_by(
            F("group").desc(),
            F("standing__overhaul_binds").desc(),
            F("standing__overhaul_on").asc(nulls_last=True),
            F("standing__overhaul_hours").asc(nulls_last=True),
            "pk",
        )[:most]
    )
    findings = _findings(found, viewer, on)
    return IntervalList(
        rows=tuple(_row(engine, findings, on) for engine in found),
        counts={group: numbers[group] for group in GROUPS},
        reach=numbers["reach"],
    )


def narrowed(
    engines: EngineQuerySet, asked: str, viewer: Viewer, on: date
) -> EngineQuerySet:
    """Return those of the engines that stand to their interval as is asked."""
    if asked in GROUPS:
        grouped: Any = _grouped(engines, viewer.station, on)
        narrower: EngineQuerySet = grouped.filter(group=asked)
        return narrower
    return engines.filter(standing__longer_interval=asked)


def _grouped(engines: EngineQuerySet, station: Station, on: date) -> Any:
    """The engines with their group, by what was last evaluated; empty for none."""
    now, (reached, last) = F("hours_now"), _lead(station, on)
    past = Q(standing__overhaul_hours__lt=now) | Q(standing__overhaul_on__lt=on)
    near = (
        Q(standing__overhaul_hours__lte=reached)
        | Q(standing__overhaul_on__lte=last)
        | Q(standing__overhaul_hours__lt=_hours_by_now(on))
    )
    group = Case(
        When(past, then=Value(PAST)),
        When(near, then=Value(COMING)),
        default=Value(""),
        output_field=CharField(),
    )
    return engines.annotate(group=group)


def _lead(station: Station, on: date) -> tuple[Any, date]:
    last = on + timedelta(days=min(station.lead_days, (date.max - on).days))
    return F("hours_now") + station.lead_hours, last


def _hours_by_now(on: date) -> Any:
    """The hours that an engine may have reached since its last reading."""
    days = Greatest(Value(on.toordinal()) - F("standing__read_on_day"), 0)
    return F("hours_now") + Coalesce(F("standing__hours_a_day") * days, 0)


def _findings(
    engines: Collection[Engine], viewer: Viewer, on: date
) -> dict[int, list[DueRow]]:
    """The findings of interval provisions of these engines, by engine."""
    findings = Finding.objects.filter(
        engine__in=[engine.pk for engine in engines],
        provision__kind=Provision.Kind.INTERVAL,
    ).for_list()
    rows: dict[int, list[DueRow]] = {engine.pk: [] for engine in engines}
    for row in due_rows(findings.select_related("engine__standing"), viewer, on):
        rows[row.engine.pk].append(row)
    return rows


def _row(engine: Engine, findings: dict[int, list[DueRow]], on: date) -> IntervalRow:
    standing: Standing = engine.standing
    own, group = findings[engine.pk], engine.group  # type: ignore[attr-defined]  # annotated
    ends_at, ends_on = standing.overhaul_hours, standing.overhaul_on
    now = engine.hours_now
    return IntervalRow(
        engine=engine,
        group=group,
        word=_word(own, group, standing),
        ends_at=standing.overhaul_tsn,
        ends_on=ends_on,
        remaining_hours=None if ends_at is None or now is None else ends_at - now,
        remaining_days=None if ends_on is None else (ends_on - on).days,
        law=_law(standing),
        longer=standing.longer_interval,
        declined=any(row.finding.closed == Closed.NOT_ADOPTED for row in own),
    )


def _law(standing: Standing) -> str:
    if not standing.overhaul_binds:
        return "recommended"
    unsure = OPERATION in standing.overhaul_missing
    return "law or recommended, not known" if unsure else "law"


def _word(findings: list[DueRow], group: str, standing: Standing) -> str:
    """The most urgent open finding where it is law, else the recommendation's word."""
    open_words = [row.word for row in findings if row.word in WORDS]
    if standing.overhaul_binds and open_words:
        return min(open_words, key=WORDS.index)
    if group == PAST:
        return PAST_RECOMMENDED
    return State.COMING_DUE.value

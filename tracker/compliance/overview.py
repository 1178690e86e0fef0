"""One engine at a glance: all that its page shows, in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final
from uuid import UUID

from django.db.models import F, FilteredRelation, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from notices.rules.applicability.subjects import part_label
from notices.rules.applicability.wording import percent_words
from notices.rules.facts import UNKNOWN, PartFacts
from notices.rules.fuel import exact_share
from tracker.accounts.access import Viewer
from tracker.compliance.due import DueRow, due_row
from tracker.compliance.models import Closed, Declined, Finding, Record, RecordKind
from tracker.compliance.models.findings import Standing
from tracker.compliance.states import COUNTED, WORDS, counted_as, lead_of
from tracker.fleet.models import (
    Engine,
    Fitting,
    FuelRecord,
    Operation,
    Overhaul,
    PartDescription,
    Review,
    Search,
    SearchKind,
)
from tracker.fleet.parts import named

LAST_RECORDS: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class PartNow:
    """A part as it is fitted now. Hours in hundredths; None is not known.

    `came_new`: it has been on the engine since that was made.
    """

    description: PartDescription
    place: str
    fitted_on: date | None
    hours_fitted: int | None
    hours_new: int | None
    came_new: bool = False

    def __str__(self) -> str:
        return named(self.description, self.place)

    @property
    def label(self) -> str:
        """How the core names it in reasons and in missing facts."""
        said = self.description
        return part_label(
            PartFacts(
                role=said.role,
                place=self.place,
                number=said.number or UNKNOWN,
                serial=said.serial or UNKNOWN,
            )
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A fact that is missing, and the numbers of the documents that hang on it."""

    fact: str
    decides: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NotAdopted:
    row: DueRow
    declined: Declined | None


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineOverview:
    """What is known of an engine now, and what follows from it.

    `open_rows`: most urgent first. `tso`: of an engine never overhauled and with its
    history reviewed it is TSN. `fuel_on`: of the last fuel on record. `searches`: how far
    each search for the engine or for a part went; `search_gaps`: kinds of which nobody has
    said so for the engine.
    """

    engine: Engine
    standing: Standing | None
    operation: Operation | None
    fitting: Fitting | None
    fuel_on: date | None
    tso: int | None
    open_rows: tuple[DueRow, ...]
    closed_rows: tuple[DueRow, ...]
    not_adopted: tuple[NotAdopted, ...]
    gaps: tuple[Gap, ...]
    parts: tuple[PartNow, ...]
    reviews: tuple[Review, ...]
    searches: tuple[tuple[Search, str], ...]
    search_gaps: tuple[str, ...]
    overhauls: tuple[Overhaul, ...]
    records: tuple[Record, ...]

    @property
    def history_review(self) -> Review | None:
        return next((r for r in self.reviews if r.scope == Review.HISTORY), None)

    @property
    def declared_share(self) -> str:
        """The leaded share that the owner declares, in per cent; empty where none is."""
        said = "" if self.operation is None else self.operation.leaded_share
        return percent_words(exact_share(said)) if said else ""

    @property
    def counts(self) -> dict[str, int]:
        """How many open findings of each state there are, only those there are."""
        words = [
            counted_as(row.word, may_apply=row.due.point.undetermined)
            for row in self.open_rows
        ]
        return {word: words.count(word) for word in COUNTED if word in words}

    @property
    def valid_records(self) -> tuple[Record, ...]:
        """Those of the last records that say what was done and are not voided."""
        return tuple(
            record
            for record in self.records
            if record.kind != RecordKind.VOID and not hasattr(record, "voided_by")
        )

    @property
    def head(self) -> Record | None:
        """The last record: its hash is the head of the chain."""
        return self.records[0] if self.records else None


def overview_of(viewer: Viewer, public_id: UUID, on: date) -> EngineOverview:
    """Return the overview; Engine.DoesNotExist where the viewer does not see it.

    Eight queries, however many findings, parts and records there are.
    """
    engine = _engine(viewer, public_id)
    parts = parts_now(engine)
    rows = _rows(viewer, engine, parts, on)
    declined = {row.publication_id: row for row in _declined(engine)}
    overhauls = tuple(
        Overhaul.objects.valid().filter(engine=engine, part=None).order_by("on", "pk")
    )
    reviews = tuple(Review.objects.filter(engine=engine, current=True, valid=True))
    records = Record.objects.filter(engine=engine).select_related("voids", "voided_by")
    searches = _searches(engine, parts)
    return EngineOverview(
        engine=engine,
        standing=getattr(engine, "standing", None),
        operation=getattr(engine, "held_operation", None),
        fitting=getattr(engine, "held_fitting", None),
        fuel_on=engine.__dict__["fuel_on"],
        tso=_tso(engine, overhauls, reviews),
        open_rows=_open(rows),
        closed_rows=tuple(r for r in rows if _is_settled(r)),
        not_adopted=tuple(
            NotAdopted(row=row, declined=declined.get(row.publication.pk))
            for row in rows
            if row.finding.closed == Closed.NOT_ADOPTED
        ),
        gaps=gaps_of(rows),
        parts=tuple(parts.values()),
        reviews=reviews,
        searches=searches,
        search_gaps=_search_gaps(searches),
        overhauls=overhauls,
        records=tuple(records.order_by("-sequence")[:LAST_RECORDS]),
    )


def _engine(viewer: Viewer, public_id: UUID) -> Engine:
    """The engine with what is one row to it: type, owner, use, aircraft, standing, fuel."""
    joined = {"held_operation": "operations", "held_fitting": "fittings"}
    current = {
        name: FilteredRelation(relation, condition=Q(**{f"{relation}__current": True}))
        for name, relation in joined.items()
    }
    fuel = FuelRecord.objects.valid().filter(engine=OuterRef("pk")).order_by("-on")
    engines = (
        Engine.objects.visible_to(viewer)
        .for_list()
        .annotate(**current, fuel_on=Subquery(fuel.values("on")[:1]))
    )
    with_rows: Any = engines.select_related("engine_type", "owner", "standing", *joined)
    found: Engine = with_rows.get(public_id=public_id)
    return found


def _rows(
    viewer: Viewer, engine: Engine, parts: Mapping[int, PartNow], on: date
) -> tuple[DueRow, ...]:
    findings = Finding.objects.filter(engine=engine).select_related(
        "provision__revision__publication", "part", "rule"
    )
    called = {key: str(part) for key, part in parts.items()}
    lead = lead_of(viewer.station)
    rows = []
    for finding in findings.order_by(
        "provision__revision__publication__kind",
        "provision__revision__publication__number_key",
        "provision__order",
        "pk",
    ):
        finding.engine = engine
        rows.append(due_row(finding, called, on=on, lead=lead))
    return tuple(rows)


def _is_settled(row: DueRow) -> bool:
    if row.finding.closed == Closed.NOT_ADOPTED:
        return False
    return row.word not in WORDS


def _open(rows: Iterable[DueRow]) -> tuple[DueRow, ...]:
    listed = [
        row
        for row in rows
        if row.word in WORDS and row.finding.closed != Closed.NOT_ADOPTED
    ]
    return tuple(sorted(listed, key=_urgency))


def _urgency(row: DueRow) -> tuple[int, date, float, str]:
    """As the due list sorts: by state, then by the point that comes first."""
    finding = row.finding
    return (
        WORDS.index(row.word),
        finding.overdue_date or date.max,
        float("inf") if finding.overdue_hours is None else finding.overdue_hours,
        row.publication.number_key,
    )


def gaps_of(rows: Iterable[DueRow]) -> tuple[Gap, ...]:
    """Return each fact that leaves an open finding undetermined, once."""
    decides: dict[str, list[str]] = defaultdict(list)
    for row in rows:
        finding = row.finding
        unsure = finding.undetermined or finding.doubtful or finding.fixed
        if unsure and finding.closed == Closed.OPEN:
            for fact in finding.missing:
                decides[fact].append(row.publication.number)
    found = [
        Gap(fact=fact, decides=tuple(dict.fromkeys(numbers)))
        for fact, numbers in decides.items()
    ]
    return tuple(sorted(found, key=lambda gap: (-len(gap.decides), gap.fact)))


def parts_now(engine: Engine) -> dict[int, PartNow]:
    """The parts fitted now, by role and place, each with its description. One query."""
    held = FilteredRelation("part__fittings", condition=Q(part__fittings__current=True))
    rows = (
        PartDescription.objects.filter(current=True)
        .select_related("part")
        .annotate(held=held)
        .filter(held__engine=engine, held__removed=False)
        .annotate(
            place=F("held__place"),
            fitted_on=Coalesce("held__fitted_on", "held__true_from"),
            date_known=F("held__date_known"),
            fitted_new=F("held__fitted_new"),
            engine_hours=F("held__engine_hours"),
            part_hours=F("held__part_hours_new"),
        )
        .order_by("role", "place", "pk")
    )
    return {row.part_id: _part_now(row, engine.hours_now) for row in rows}


def _part_now(row: PartDescription, now: int | None) -> PartNow:
    fitted: dict[str, int | None] = row.__dict__
    then, before = fitted["engine_hours"], fitted["part_hours"]
    run = None if now is None or then is None else max(0, now - then)
    return PartNow(
        description=row,
        place=row.__dict__["place"],
        fitted_on=row.__dict__["fitted_on"] if row.__dict__["date_known"] else None,
        hours_fitted=run,
        hours_new=None if run is None or before is None else before + run,
        came_new=row.__dict__["fitted_new"] and not row.__dict__["date_known"],
    )


def _declined(engine: Engine) -> Iterable[Declined]:
    return Declined.objects.filter(engine=engine, current=True, declined=True)


def _searches(
    engine: Engine, parts: Mapping[int, PartNow]
) -> tuple[tuple[Search, str], ...]:
    """The engine's own first, then those of fitted parts, with what they are for."""
    rows = Search.objects.filter(engine=engine, current=True).order_by("kind", "pk")
    own = [(row, "") for row in rows if row.part_id is None]
    of_parts = [
        (row, str(parts[row.part_id]))
        for row in rows
        if row.part_id is not None and row.part_id in parts
    ]
    return (*own, *of_parts)


def _search_gaps(searches: Iterable[tuple[Search, str]]) -> tuple[str, ...]:
    said = {row.kind for row, part in searches if not part}
    return tuple(kind.value for kind in SearchKind if kind.value not in said)


def _tso(
    engine: Engine, overhauls: tuple[Overhaul, ...], reviews: Iterable[Review]
) -> int | None:
    if not overhauls:
        reviewed = any(review.scope == Review.HISTORY for review in reviews)
        return engine.tsn if reviewed else None
    last = overhauls[-1].hours
    if last is None or engine.hours_now is None:
        return None
    return max(0, engine.hours_now - last)

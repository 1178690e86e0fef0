"""What a station should look after: facts that are missing, old readings, drafts."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db.models import F, Q

from notices.models import Revision
from tracker.accounts.access import Right, Viewer
from tracker.compliance.models import Closed, Finding
from tracker.fleet.models import Engine
from tracker.fleet.models import State as ServiceState
from tracker.fleet.models.engines import EngineQuerySet

RECENT_DAYS = 30


@dataclass(frozen=True, slots=True)
class NamedEngine:
    """What a list names an engine by; a station may lack facts of thousands."""

    pk: int
    public_id: UUID
    designation: str
    serial: str
    registration: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Lacking:
    """An engine that lacks a fact, and the numbers of the documents it would decide."""

    engine: NamedEngine
    decides: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingFact:
    """One fact that is lacking, with the engines that lack it."""

    fact: str
    engines: tuple[Lacking, ...]

    @property
    def decides(self) -> int:
        """How many findings it would settle, or help to."""
        return sum(len(lacking.decides) for lacking in self.engines)


def missing_facts(
    viewer: Viewer, on: date, *, engine: Engine | None = None
) -> list[MissingFact]:
    """Return each missing fact once, that which decides most first. One query."""
    findings = (
        Finding.objects.visible_to(viewer)
        .filter(closed=Closed.OPEN)
        .filter(Q(undetermined=True) | Q(doubtful=True) | Q(fixed=True))
    )
    if engine is not None:
        findings = findings.filter(engine=engine)
    engines: dict[int, NamedEngine] = {}
    found: dict[str, dict[int, list[str]]] = defaultdict(lambda: defaultdict(list))
    rows: Any = findings.order_by("engine", "pk").values_list(
        "missing",
        "provision__revision__publication__number",
        "engine",
        "engine__public_id",
        "engine__engine_type__designation",
        "engine__serial",
        "engine__registration",
    )
    for facts_missing, number, key, *named in rows:
        if key not in engines:
            engines[key] = NamedEngine(key, *named)
        for fact in facts_missing:
            found[fact][key].append(number)
    facts = [
        MissingFact(
            fact=fact,
            engines=tuple(
                Lacking(engine=engines[key], decides=tuple(dict.fromkeys(numbers)))
                for key, numbers in lacking.items()
            ),
        )
        for fact, lacking in found.items()
    ]
    return sorted(facts, key=lambda one: (-one.decides, one.fact))


def old_readings(viewer: Viewer, on: date) -> EngineQuerySet:
    """Return engines in service whose hours are old or were never read, oldest first."""
    last = on - timedelta(days=viewer.station.reading_age_days)
    engines = Engine.objects.visible_to(viewer).for_list()
    return engines.filter(
        Q(read_on=None) | Q(read_on__lt=last), state=ServiceState.IN_SERVICE
    ).order_by(F("read_on").asc(nulls_first=True), "pk")


def waiting_drafts(viewer: Viewer) -> list[Revision]:
    """Return the drafts that nobody has confirmed yet, oldest first. One query."""
    viewer.require(Right.SEE_NOTICES)
    drafts = Revision.objects.for_station(viewer.station).drafts()
    return list(drafts.select_related("publication").order_by("entered_at", "pk"))


def new_revisions(
    viewer: Viewer, on: date, *, days: int = RECENT_DAYS
) -> list[Revision]:
    """Return revisions that took over lately or will soon, newest first. One query."""
    viewer.require(Right.SEE_NOTICES)
    revisions = Revision.objects.for_station(viewer.station)
    recent = revisions.filter(
        takes_over_on__gte=on - timedelta(days=days), cancelled_on=None
    )
    return list(recent.select_related("publication").order_by("-takes_over_on", "-pk"))

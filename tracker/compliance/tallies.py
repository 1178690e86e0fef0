"""How findings stand, counted for many engines, owners or publications at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from django.db.models import Count, Max, Min, Q

from notices.models import Publication, Revision
from tracker.accounts.access import Viewer
from tracker.compliance.due import with_rank
from tracker.compliance.models import Finding, Standing
from tracker.compliance.states import (
    COUNTED,
    FURTHER_FLIGHT,
    IF_IT_APPLIES,
    WORDS,
    counted_as,
    lead_of,
    still_open,
)
from tracker.fleet.models import Engine, Owner

NOTHING_OPEN: Final = "nothing due"
Counts = dict[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evaluated:
    """When a viewer's engines were last evaluated, and over how many publications.

    `oldest`, `newest`: of the engines' own evaluations; None where there was none.
    `never`: how many engines were not evaluated yet.
    """

    engines: int
    never: int
    oldest: datetime | None
    newest: datetime | None
    publications: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Affected:
    """How many engines a current revision concerns, and how many it may concern."""

    applies: int = 0
    undetermined: int = 0


def most_urgent(counts: Counts) -> str:
    """Return the word that stands first in a list, "nothing due" where none is open."""
    found = next((word for word in COUNTED if counts.get(word)), NOTHING_OPEN)
    return FURTHER_FLIGHT if found == IF_IT_APPLIES else found


def counts_of_engines(
    viewer: Viewer, engines: Iterable[Engine], on: date
) -> dict[int, Counts]:
    """Return how many open findings of each state each engine has. Two queries."""
    return _counts(viewer, on, "engine", [engine.pk for engine in engines])


def counts_of_owners(
    viewer: Viewer, owners: Iterable[Owner], on: date
) -> dict[int, Counts]:
    """Return the same for all engines of each owner together. Two queries."""
    return _counts(viewer, on, "engine__owner", [owner.pk for owner in owners])


def _counts(
    viewer: Viewer, on: date, by: str, keys: Collection[int]
) -> dict[int, Counts]:
    findings = still_open(Finding.objects.visible_to(viewer))
    chosen = findings.filter(**{f"{by}__in": list(keys)})
    ranked = with_rank(chosen, lead_of(viewer.station), on).order_by()
    rows = ranked.values(by, "rank", "fixed").annotate(found=Count("pk"))
    found: dict[int, dict[str, int]] = defaultdict(lambda: dict.fromkeys(COUNTED, 0))
    for row in rows:
        word = counted_as(WORDS[row["rank"]], may_apply=row["fixed"])
        found[row[by]][word] += row["found"]
    return defaultdict(dict, {key: _there(counts) for key, counts in found.items()})


def _there(counts: Counts) -> Counts:
    """Return the counts of what there is, the most urgent first."""
    return {word: number for word, number in counts.items() if number}


def affected_by(
    viewer: Viewer, publications: Iterable[Publication], on: date
) -> dict[int, Affected]:
    """Return how many engines each publication concerns by its findings. One query."""
    by = "provision__revision__publication"
    keys = [publication.pk for publication in publications]
    rows = (
        Finding.objects.visible_to(viewer)
        .filter(**{f"{by}__in": keys})
        .order_by()
        .values(by)
        .annotate(
            applies=Count("engine", distinct=True, filter=Q(undetermined=False)),
            kept=Count("engine", distinct=True),
        )
    )
    return {
        row[by]: Affected(
            applies=row["applies"], undetermined=row["kept"] - row["applies"]
        )
        for row in rows
    }


def evaluated(viewer: Viewer, on: date) -> Evaluated:
    """Return how far the evaluation of a viewer's engines went. Three queries."""
    engines = Engine.objects.visible_to(viewer)
    standings: Any = Standing.objects.filter(engine__in=engines)
    told = standings.aggregate(
        count=Count("pk"), oldest=Min("evaluated_at"), newest=Max("evaluated_at")
    )
    number = engines.count()
    current = Revision.objects.for_station(viewer.station).current(on)
    return Evaluated(
        engines=number,
        never=number - told["count"],
        oldest=told["oldest"],
        newest=told["newest"],
        publications=current.count(),
    )

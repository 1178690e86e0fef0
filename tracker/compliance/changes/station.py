"""The whole of a station evaluated again: after an upgrade, or as far as a new day asks."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import Min, Q

from notices.models import Reference, Revision
from tracker.accounts.models import Station
from tracker.compliance.events import note_events
from tracker.compliance.findings import Changed, refresh, refresh_for
from tracker.compliance.in_force import size_in_force
from tracker.compliance.many_keys import among
from tracker.compliance.models import Standing
from tracker.compliance.transactions import one_transaction
from tracker.fleet.models import Engine


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What a new day came to: engines looked at, evaluated anew, findings, events."""

    engines: int
    evaluated: int
    events: int
    changed: Changed = field(default_factory=Changed)

    def as_counts(self) -> dict[str, int]:
        return {
            "engines": self.engines,
            "evaluated": self.evaluated,
            "events": self.events,
            "added": self.changed.added,
            "changed": self.changed.changed,
            "removed": self.changed.removed,
        }


def refresh_station(station: Station, on: date, *, at: datetime) -> Changed:
    """Evaluate every engine of a station for a day; only differences are written."""
    with one_transaction():
        engines = Engine.objects.filter(station=station).order_by("pk")
        return refresh(
            station,
            engines.select_related("engine_type").iterator(chunk_size=1000),
            on=on,
            at=at,
        )


def check_new_day(
    station: Station, keys: Collection[int], *, on: date, at: datetime
) -> Checked:
    """Evaluate what the new day can have changed for engines of a station, and note it.

    Fully: engines that never were, and those that were to be looked at again by now. By
    the documents concerned alone: those since whose evaluation a revision took over or
    was cancelled. For all others nothing can have changed, so they count as evaluated.
    Runs inside the caller's transaction, with the engines locked. As many queries for a
    thousand engines as for one.
    """
    engines = Engine.objects.filter(pk__in=among(keys)).select_related("engine_type")
    standings = Standing.objects.filter(engine__in=among(keys))
    since = standings.aggregate(day=Min("evaluated_for"))["day"]
    due = Q(standing=None) | Q(standing__again_on__lte=on)
    anew = list(engines.filter(due).order_by("pk"))
    changed = refresh(station, anew, on=on, at=at)
    turned = set() if since is None else _publications_turned(station, since, on)
    if turned:
        others = engines.exclude(pk__in=among([engine.pk for engine in anew]))
        changed += refresh_for(turned, station, others, on=on, at=at)
    publications, provisions = size_in_force(station, on)
    standings.filter(evaluated_for__lte=on).update(
        evaluated_for=on,
        evaluated_at=at,
        publications=publications,
        provisions=provisions,
    )
    return Checked(
        engines=len(keys),
        evaluated=len(anew),
        events=note_events(station, keys, on=on, at=at),
        changed=changed,
    )


def _publications_turned(station: Station, since: date, on: date) -> set[int]:
    """Return the publications of which another revision, or none, holds since a day.

    Those whose day of taking over or of cancelling came, and what they supersede. Two
    queries, none where no day has passed.
    """
    if since >= on:
        return set()
    took_over = Q(takes_over_on__gt=since, takes_over_on__lte=on)
    ended = Q(cancelled_on__gt=since, cancelled_on__lte=on)
    revisions = Revision.objects.for_station(station).filter(
        took_over | ended, confirmed_at__isnull=False
    )
    superseded = Reference.objects.filter(
        revision__in=revisions,
        kind=Reference.Kind.SUPERSEDES,
        publication__isnull=False,
    )
    return {
        *revisions.order_by().values_list("publication", flat=True),
        *superseded.order_by().values_list("publication", flat=True),
    }

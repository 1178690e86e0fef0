"""The frame of every act: right, visibility, one transaction, lock, refreshed findings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime

from django.db.models import F

from tracker.accounts.access import Right, Viewer
from tracker.compliance.findings import refresh
from tracker.compliance.rehearsing import is_rehearsed, observed
from tracker.compliance.transactions import one_transaction
from tracker.fleet.entries import day_at
from tracker.fleet.history import lock_engine
from tracker.fleet.models import Engine


@contextmanager
def changing(
    viewer: Viewer,
    engine: Engine,
    right: Right,
    *,
    at: datetime,
    version: int | None = None,
    also: Sequence[Engine] = (),
) -> Iterator[Engine]:
    """Yield the engine read again and locked; afterwards its findings are right.

    Raises Forbidden without the right, Engine.DoesNotExist where the viewer does not
    see the engine, ChangedMeanwhile where it has another version than the one seen.
    `also`: other engines that the act touches. They are locked in the order of keys.
    In a rehearsal it is part of the one transaction that will be taken back.
    """
    viewer.require(right)
    with one_transaction(durable=not is_rehearsed()):
        touched = sorted({engine.pk, *(one.pk for one in also)})
        seen = Engine.objects.visible_to(viewer).filter(pk__in=touched)
        if seen.count() != len(touched):
            raise Engine.DoesNotExist(f"{engine} is not in the viewer's care.")
        locked = {
            key: lock_engine(
                Engine(pk=key), version=version if key == engine.pk else None
            )
            for key in touched
        }
        with observed(viewer, touched, at=at):
            yield locked[engine.pk]
            Engine.objects.filter(pk__in=touched).update(version=F("version") + 1)
            refresh_engines(viewer, touched, at=at)


def refresh_engines(viewer: Viewer, keys: Sequence[int], *, at: datetime) -> None:
    """Bring the findings of these engines in line with rules and facts."""
    engines = Engine.objects.filter(pk__in=keys).select_related("engine_type")
    refresh(viewer.station, engines, on=day_at(viewer.station, at), at=at)


@contextmanager
def entering(viewer: Viewer, right: Right, *, durable: bool = True) -> Iterator[None]:
    """One transaction for an act that no finding kept so far depends on."""
    viewer.require(right)
    with one_transaction(durable=durable):
        yield

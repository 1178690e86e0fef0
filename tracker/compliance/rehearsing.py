"""What an act would cause: it is carried out for real, looked at, and taken back.

    with rehearsing() as rehearsal:
        changes.remove_part(...)
    rehearsal.caused

Acts that go through `changing` look here. Everything stands inside one transaction
that is rolled back at the end of the block: rows, findings, and what was put off until
the commit. What stays is what no rollback reaches and nobody sees: numbers drawn from a
sequence of PostgreSQL. A file on disk is no row, so that an act which stores one must
not be rehearsed. The engines are locked until then, so the block should hold the
act alone. A refused act raises as it always does.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, datetime

from django.db import transaction
from django.db.models import Q

from tracker.accounts.access import Viewer
from tracker.compliance.causes import Caused, Moment, caused_by, moments_of
from tracker.compliance.findings import refresh
from tracker.compliance.transactions import one_transaction
from tracker.fleet.entries import day_at
from tracker.fleet.models import Engine


class Rehearsal:
    """What the acts inside the block have caused; asked once an act has returned."""

    def __init__(self) -> None:
        self._before: dict[int, Moment] = {}
        self._caused: Caused | None = None
        self.is_kept = False

    @property
    def caused(self) -> Caused:
        if self._caused is None:
            raise RuntimeError("No act that can be rehearsed was carried out here.")
        return self._caused

    def keep(self) -> None:
        """Keep what was done after all: what was looked at is exactly what is written."""
        self.is_kept = True

    def see_before(
        self, viewer: Viewer, engines: Collection[int], *, at: datetime
    ) -> None:
        on = day_at(viewer.station, at)
        unseen = [key for key in engines if key not in self._before]
        _bring_up_to_day(viewer, unseen, on, at)
        self._before |= moments_of(viewer, unseen, on)

    def see_new(self, engines: Iterable[Engine]) -> None:
        """Nothing was found of engines that the act itself enters."""
        self._before |= {
            engine.pk: Moment(engine=engine, rows=(), interval=None)
            for engine in engines
        }

    def see_after(self, viewer: Viewer, *, at: datetime) -> None:
        on = day_at(viewer.station, at)
        after = moments_of(viewer, list(self._before), on)
        self._caused = caused_by(self._before, after, on)


_running: ContextVar[Rehearsal | None] = ContextVar("rehearsal", default=None)


@contextmanager
def rehearsing() -> Iterator[Rehearsal]:
    """Take back whatever acts do inside the block, unless the rehearsal is kept.

    An act that cannot be rehearsed raises RuntimeError before it writes anything:
    its own durable transaction cannot be opened inside this one.
    """
    rehearsal = Rehearsal()
    token = _running.set(rehearsal)
    try:
        with one_transaction():
            yield rehearsal
            if not rehearsal.is_kept:
                transaction.set_rollback(True)
    finally:
        _running.reset(token)


def is_rehearsed() -> bool:
    """Whether what is done now belongs to a rehearsal, which holds the transaction."""
    return _running.get() is not None


@contextmanager
def observed(
    viewer: Viewer, engines: Collection[int], *, at: datetime
) -> Iterator[None]:
    """Around a change of locked engines: in a rehearsal, note what it causes."""
    rehearsal = _running.get()
    if rehearsal is None:
        yield
        return
    rehearsal.see_before(viewer, engines, at=at)
    yield
    rehearsal.see_after(viewer, at=at)


@contextmanager
def appearing(
    viewer: Viewer, engines: Iterable[Engine], *, at: datetime
) -> Iterator[None]:
    """Around the first evaluation of new engines: in a rehearsal, note what is found."""
    rehearsal = _running.get()
    if rehearsal is not None:
        rehearsal.see_new(engines)
    yield
    if rehearsal is not None:
        rehearsal.see_after(viewer, at=at)


def _bring_up_to_day(
    viewer: Viewer, engines: Collection[int], on: date, at: datetime
) -> None:
    """What only the passing of days has changed is not caused by the act."""
    behind = Q(standing=None) | ~Q(standing__evaluated_for=on)
    stale = Engine.objects.filter(behind, pk__in=engines).select_related("engine_type")
    if found := list(stale):
        refresh(viewer.station, found, on=on, at=at)

"""One engine in care with its hours read, and a provision that concerns it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import pytest

from notices.models import Provision, Revision
from tests.factories.fleet import EngineFactory
from tests.factories.notices import (
    ProvisionFactory,
    PublicationFactory,
    RevisionFactory,
)
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station
from tracker.compliance.findings import refresh
from tracker.fleet.marks import review
from tracker.fleet.meters import add_reading, start_meter
from tracker.fleet.models import Engine, Review
from tracker.fleet.register import OperationFacts


@pytest.fixture
def today(now: datetime) -> date:
    return now.date()


@pytest.fixture
def make_engine(
    station: Station, technician: Viewer, now: datetime
) -> Callable[..., Engine]:
    """Return an engine built in 2020, read on 2026-01-10 and 2026-11-24, evaluated."""

    def make(
        *,
        reviewed: bool = True,
        hours: tuple[int, int] = (48_000, 52_000),
        **given: Any,
    ) -> Engine:
        made: dict[str, Any] = {"station": station, "built": date(2020, 3, 1), **given}
        engine = EngineFactory(**made)
        by = technician.user
        start_meter(
            engine,
            kind="time in service",
            on=date(2026, 1, 10),
            shown=hours[0],
            at=now,
            by=by,
        )
        add_reading(engine, on=date(2026, 11, 24), shown=hours[1], at=now, by=by)
        if reviewed:
            seen_on = date(2026, 11, 20)
            review(
                engine, Review.HISTORY, "Runa Tveit", true_from=seen_on, at=now, by=by
            )
        engines = Engine.objects.select_related("engine_type").filter(pk=engine.pk)
        refresh(station, engines, on=now.date(), at=now)
        return Engine.objects.get(pk=engine.pk)

    return make


@pytest.fixture
def engine(make_engine: Callable[..., Engine]) -> Engine:
    return make_engine()


@pytest.fixture
def make_provision(station: Station) -> Callable[..., Provision]:
    """Return a provision of a confirmed revision, effective on 2026-01-10.

    `kind`, `number`, `revision`: of the publication; the rest is the provision's,
    `rule__action` and so on included.
    """

    def make(
        *,
        kind: str = "SB",
        number: str | None = None,
        revision: Revision | None = None,
        effective_on: date | None = date(2026, 1, 10),
        **given: Any,
    ) -> Provision:
        if revision is None:
            named = {"number": number} if number else {}
            publication = PublicationFactory(station=station, kind=kind, **named)
            revision = RevisionFactory(
                publication=publication,
                confirmed=True,
                effective_on=effective_on,
                issued_on=date(2026, 1, 5),
            )
        return ProvisionFactory(revision=revision, **given)

    return make


@pytest.fixture
def interval(station: Station) -> Callable[..., Provision]:
    """Return an interval provision, `when` its condition, of a confirmed revision."""

    def make(
        stored: dict[str, Any],
        *,
        when: dict[str, Any] | None = None,
        number: str = "SI-18-001",
        kind: str = "SI",
        beside: Provision | None = None,
    ) -> Provision:
        revision = beside.revision if beside else None
        if revision is None:
            publication = PublicationFactory(station=station, number=number, kind=kind)
            revision = RevisionFactory(publication=publication, confirmed=True)
        return ProvisionFactory(
            revision=revision,
            kind=Provision.Kind.INTERVAL,
            title=f"{stored['hours']} h",
            rule__action={},
            rule__condition=when or {"always": True},
            rule__interval=stored,
        )

    return make


@pytest.fixture
def evaluated(make_engine: Callable[..., Engine]) -> Callable[..., Engine]:
    """Return an engine with 520 h since new, evaluated, that is run as is said."""

    def make(*uses: str, **given: Any) -> Engine:
        operation = OperationFacts(uses=uses) if uses else None
        return make_engine(operation=operation, **given)

    return make

"""The one way in which a dated fact is written, and asked for as of a past day.

Nothing is overwritten: a change is a further row from its own day, a correction a
further row from the same day. Of the rows about one subject that one holds on a day
which has the greatest (true_from, recorded_at, pk) among those already true and known.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date, datetime
from typing import Any, TypeVar

from django.db.models import F, QuerySet, Window
from django.db.models.expressions import RawSQL
from django.db.models.functions import RowNumber

from notices.rules.designations import designation
from tracker.accounts.models import Station, User
from tracker.fleet.entries import checked_day
from tracker.fleet.errors import ChangedMeanwhile
from tracker.fleet.models import (
    DatedFact,
    Engine,
    Fitting,
    Identity,
    Overhaul,
    Ownership,
    ServiceState,
    serial_key,
    serial_order,
)

Fact = TypeVar("Fact", bound=DatedFact)


def write_fact(
    model: type[Fact],
    *,
    station: Station,
    subject: Mapping[str, Any],
    true_from: date,
    at: datetime,
    by: User,
    **values: Any,
) -> Fact:
    """Add a row about `subject`, and keep `current` and the engine's columns right.

    `subject`: the fields that say what the row is about, as `{"engine": engine}`.
    Call it inside a transaction that has locked the engine. Refused if `true_from`
    lies ahead.
    """
    checked_day(station, "true_from", true_from, at)
    rows = model._default_manager.filter(**subject, current=True)
    newest = rows.first()
    holds = newest is None or (newest.true_from, newest.recorded_at) <= (true_from, at)
    if holds:
        rows.update(current=False)
    row = model._default_manager.create(
        station=station,
        **subject,
        **values,
        true_from=true_from,
        recorded_at=at,
        recorded_by=by,
        current=holds,
    )
    if holds:
        _project(row)
    return row


def as_of(
    model: type[Fact],
    subjects: Collection[Any] | RawSQL,
    *,
    on: date,
    known_at: datetime,
    of: str = "engine",
) -> QuerySet[Fact]:
    """Return the rows that held on a day as far as was known at a moment. One query.

    `subjects`: engines (or parts, with `of="part"`) or their keys, or a statement that
    gives many keys. A row that ends something (`removed`, `valid=False`,
    `embodied=False`) is returned like any other.
    """
    wanted = {f"{of}__in": subjects}
    rows = model._default_manager.filter(true_from__lte=on, recorded_at__lte=known_at)
    keys = [key for key in model.SUBJECT if of != "part" or key != "engine"]
    if of in keys:
        rows = rows.filter(**wanted)
    else:
        # A part is on one engine at a time, so its rows on other engines count too.
        met = model._default_manager.filter(**wanted)
        rows = rows.filter(**{f"{key}__in": met.values(key) for key in keys})
    ranked = rows.annotate(
        rank_by_age=Window(
            RowNumber(),
            partition_by=[F(key) for key in keys],
            order_by=[F("true_from").desc(), F("recorded_at").desc(), F("pk").desc()],
        )
    )
    held = ranked.filter(rank_by_age=1).values("pk")
    return model._default_manager.filter(pk__in=held, **wanted)


def lock_engine(engine: Engine, *, version: int | None = None) -> Engine:
    """Return the engine read again and locked; the first step of every change.

    `version`: the one that the person saw; ChangedMeanwhile if it is no longer that.
    """
    locked = Engine.objects.select_for_update().get(pk=engine.pk)
    if version is not None and version != locked.version:
        raise ChangedMeanwhile(
            "version",
            f"Somebody else has changed {locked} since you opened it. "
            "Look at the engine again, then enter your change once more.",
        )
    return locked


def columns_of(row: DatedFact) -> dict[str, Any]:
    """Return the columns of `Engine` that repeat a current row."""
    match row:
        case Identity():
            return {
                "engine_type": row.engine_type,
                "type_complete": row.type_complete,
                "serial": row.serial,
                "serial_key": serial_key(row.serial),
                "serial_order": serial_order(row.serial),
                "built": row.built,
                "shipped": row.shipped,
                "hours_at_new": row.hours_at_new,
            }
        case Fitting():
            return {
                "aircraft_type": row.aircraft_type,
                "registration": row.registration,
                "registration_key": designation(row.registration),
                "position": row.position,
            }
        case ServiceState():
            return {"state": row.state}
        case Ownership():
            return {"owner": row.owner}
        case _:
            return {}


def project_zero(engine: Engine, *, identity: Identity | None = None) -> None:
    """Set where the zero of TSN lies on the engine's axis of hours.

    A maker's rebuild starts a new zero (14 CFR 91.421(c)); its hours may be unknown.
    """
    identity = identity or Identity.objects.get(engine=engine, current=True)
    rebuild = (
        Overhaul.objects.valid()
        .filter(engine=engine, kind=Overhaul.Kind.REBUILD)
        .order_by("-on", "-pk")
        .first()
    )
    _set(engine, hours_at_new=rebuild.hours if rebuild else identity.hours_at_new)


def _project(row: DatedFact) -> None:
    columns = columns_of(row)
    if not columns:
        return
    engine: Engine = row.engine  # type: ignore[attr-defined]  # all rows with columns have one
    _set(engine, **columns)
    if isinstance(row, Identity):
        project_zero(engine, identity=row)


def _set(engine: Engine, **columns: Any) -> None:
    """One UPDATE of named columns; the instance in hand follows."""
    Engine.objects.filter(pk=engine.pk).update(**columns, version=F("version") + 1)
    for name, value in columns.items():
        setattr(engine, name, value)
    engine.version += 1

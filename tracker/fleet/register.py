"""The register: engines, and what each is, where it is fitted and whose it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from django.db import models

from tracker.accounts.models import Station, User
from tracker.fleet.engine_entries import (
    SINCE_MADE,
    FittingFacts,
    IdentityFacts,
    NewEngine,
    OperationFacts,
    checked_entry,
    checked_fitting,
    checked_identity,
    checked_operation,
    checked_state,
    columns,
)
from tracker.fleet.engine_types import TypeFacts, add_engine_type, change_engine_type
from tracker.fleet.entries import checked_day
from tracker.fleet.errors import Refused
from tracker.fleet.first_past import (
    FirstPast,
    FirstReading,
    HistoryReview,
    LastOverhaul,
    rows_of_past,
)
from tracker.fleet.history import columns_of, write_fact
from tracker.fleet.marks import lapse_reviews
from tracker.fleet.models import (
    DatedFact,
    Engine,
    Fitting,
    Identity,
    Operation,
    Owner,
    Ownership,
    ServiceState,
    serial_key,
)
from tracker.fleet.owners import (
    OwnerFacts,
    add_owner,
    change_owner_entry,
    give_login,
)

__all__ = [
    "SINCE_MADE",
    "FirstPast",
    "FirstReading",
    "FittingFacts",
    "HistoryReview",
    "IdentityFacts",
    "LastOverhaul",
    "NewEngine",
    "OperationFacts",
    "OwnerFacts",
    "TypeFacts",
    "add_engine",
    "add_engine_type",
    "add_engines",
    "add_owner",
    "change_engine_type",
    "change_identity",
    "change_operation",
    "change_owner",
    "change_owner_entry",
    "change_state",
    "fit_in_aircraft",
    "give_login",
]


def add_engine(
    station: Station, entry: NewEngine, *, true_from: date, at: datetime, by: User
) -> Engine:
    """Return a new engine with its first facts. `true_from`: since when these hold.

    The identity holds since the engine was made. Refused with the field's name.
    """
    [engine] = add_engines(station, [entry], true_from=true_from, at=at, by=by)
    return engine


def add_engines(
    station: Station,
    entries: Sequence[NewEngine],
    *,
    true_from: date,
    at: datetime,
    by: User,
) -> list[Engine]:
    """Enter many engines in as many queries as one. Nothing is written if one is bad."""
    checked_day(station, "true_from", true_from, at)
    checked = [checked_entry(station, entry, at) for entry in entries]
    _refuse_known_serials(station, checked)
    stamp = {"station": station, "recorded_at": at, "recorded_by": by}
    engines: list[Engine] = []
    written: dict[type[models.Model], list[models.Model]] = {}
    for entry in checked:
        engine = Engine(station=station, created_at=at)
        engines.append(engine)
        facts = _first_rows(engine, entry, true_from, stamp)
        for fact in facts:
            for name, value in columns_of(fact).items():
                setattr(engine, name, value)
        for row in (*facts, *rows_of_past(engine, entry.past, true_from, stamp)):
            written.setdefault(type(row), []).append(row)
    Engine.objects.bulk_create(engines, batch_size=500)
    for model, rows in written.items():
        model._default_manager.bulk_create(rows, batch_size=500)
    return engines


def change_identity(
    engine: Engine,
    facts: IdentityFacts,
    *,
    at: datetime,
    by: User,
    true_from: date | None = None,
) -> Identity:
    """Write what is stamped on the engine.

    `true_from`: the day on which it changed (a conversion); None: it was always so,
    and what stood there was wrong or incomplete.
    """
    checked = checked_identity(engine.station, facts, at)
    same = Engine.objects.filter(
        station=engine.station,
        engine_type=checked.engine_type,
        serial_key=serial_key(checked.serial),
    ).exclude(pk=engine.pk)
    if same.exists():
        raise _known_already(checked)
    current = Identity.objects.get(engine=engine, current=True)
    return write_fact(
        Identity,
        station=engine.station,
        subject={"engine": engine},
        true_from=true_from or current.true_from,
        at=at,
        by=by,
        **columns(checked),
    )


def change_owner(
    engine: Engine, owner: Owner, *, true_from: date, at: datetime, by: User
) -> Ownership:
    """Record a transfer. Reviews of the engine's history lapse with it."""
    if owner.station_id != engine.station_id:
        raise Refused("owner", "That owner is not known at this station.")
    transferred = engine.owner_id is not None and engine.owner_id != owner.pk
    row = write_fact(
        Ownership,
        station=engine.station,
        subject={"engine": engine},
        true_from=true_from,
        at=at,
        by=by,
        owner=owner,
    )
    if transferred:
        lapse_reviews(
            engine, reason=f"transferred to {owner}", true_from=true_from, at=at, by=by
        )
    return row


def fit_in_aircraft(
    engine: Engine, facts: FittingFacts, *, true_from: date, at: datetime, by: User
) -> Fitting:
    """Record where the engine is fitted from a day on, or that it is not fitted."""
    return write_fact(
        Fitting,
        station=engine.station,
        subject={"engine": engine},
        true_from=true_from,
        at=at,
        by=by,
        **columns(checked_fitting(facts)),
    )


def change_state(
    engine: Engine, state: str, *, true_from: date, at: datetime, by: User
) -> ServiceState:
    return write_fact(
        ServiceState,
        station=engine.station,
        subject={"engine": engine},
        true_from=true_from,
        at=at,
        by=by,
        state=checked_state(state),
    )


def change_operation(
    engine: Engine, facts: OperationFacts, *, true_from: date, at: datetime, by: User
) -> Operation:
    return write_fact(
        Operation,
        station=engine.station,
        subject={"engine": engine},
        true_from=true_from,
        at=at,
        by=by,
        **columns(checked_operation(facts)),
    )


def _first_rows(
    engine: Engine, entry: NewEngine, true_from: date, stamp: Mapping[str, object]
) -> list[DatedFact]:
    dated = {"engine": engine, "true_from": true_from, **stamp}
    made = {**dated, "true_from": SINCE_MADE}
    rows: list[DatedFact] = [
        Identity(**made, **columns(entry.identity)),
        ServiceState(**dated, state=entry.state),
    ]
    if entry.owner is not None:
        rows.append(Ownership(**dated, owner=entry.owner))
    if entry.fitting is not None:
        rows.append(Fitting(**dated, **columns(entry.fitting)))
    if entry.operation is not None:
        rows.append(Operation(**dated, **columns(entry.operation)))
    return rows


def _refuse_known_serials(station: Station, entries: Sequence[NewEngine]) -> None:
    known = set(
        Engine.objects.filter(
            station=station,
            engine_type__in={entry.identity.engine_type for entry in entries},
        ).values_list("engine_type", "serial_key")
    )
    for entry in entries:
        key = (entry.identity.engine_type.pk, serial_key(entry.identity.serial))
        if key in known:
            raise _known_already(entry.identity)
        known.add(key)


def _known_already(identity: IdentityFacts) -> Refused:
    return Refused(
        "serial",
        f"This station already keeps a {identity.engine_type} with the serial "
        f'"{identity.serial}". Open that engine, or check the serial on the data plate.',
    )

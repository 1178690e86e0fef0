"""Acts on the register: owners, engine types, engines, and what an engine is and where."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import changing, entering, refresh_engines
from tracker.compliance.rehearsing import appearing, is_rehearsed
from tracker.fleet import register
from tracker.fleet.models import (
    Engine,
    EngineType,
    Fitting,
    Identity,
    Operation,
    Owner,
    Ownership,
    ServiceState,
)
from tracker.fleet.register import (
    FittingFacts,
    IdentityFacts,
    NewEngine,
    OperationFacts,
    OwnerFacts,
    TypeFacts,
)


def add_owner(viewer: Viewer, facts: OwnerFacts, *, at: datetime) -> Owner:
    with entering(viewer, Right.EDIT_FLEET):
        return register.add_owner(viewer.station, facts)


def change_owner_entry(
    viewer: Viewer, owner: Owner, facts: OwnerFacts, *, at: datetime
) -> Owner:
    """Change the name and the addresses of an owner."""
    with entering(viewer, Right.EDIT_FLEET):
        return register.change_owner_entry(_own(viewer, owner), facts)


def add_engine_type(viewer: Viewer, facts: TypeFacts, *, at: datetime) -> EngineType:
    with entering(viewer, Right.EDIT_FLEET):
        return register.add_engine_type(viewer.station, facts)


def change_engine_type(
    viewer: Viewer, engine_type: EngineType, facts: TypeFacts, *, at: datetime
) -> EngineType:
    """Correct a type's entry; every engine of the type is evaluated again."""
    with entering(viewer, Right.EDIT_FLEET):
        own = EngineType.objects.visible_to(viewer).get(pk=engine_type.pk)
        changed = register.change_engine_type(own, facts)
        engines = Engine.objects.filter(engine_type=changed).order_by("pk")
        keys = list(engines.select_for_update().values_list("pk", flat=True))
        refresh_engines(viewer, keys, at=at)
        return changed


def add_engine(
    viewer: Viewer, entry: NewEngine, *, true_from: date, at: datetime
) -> Engine:
    """Enter an engine with its first facts; it is evaluated at once."""
    [engine] = add_engines(viewer, [entry], true_from=true_from, at=at)
    return engine


def add_engines(
    viewer: Viewer, entries: Sequence[NewEngine], *, true_from: date, at: datetime
) -> list[Engine]:
    """Enter many engines in as many queries as one; all of them or none."""
    with entering(viewer, Right.EDIT_FLEET, durable=not is_rehearsed()):
        engines = register.add_engines(
            viewer.station, entries, true_from=true_from, at=at, by=viewer.user
        )
        with appearing(viewer, engines, at=at):
            refresh_engines(viewer, [engine.pk for engine in engines], at=at)
        return engines


def change_identity(
    viewer: Viewer,
    engine: Engine,
    facts: IdentityFacts,
    *,
    at: datetime,
    true_from: date | None = None,
    version: int | None = None,
) -> Identity:
    """Write what is stamped on the engine; `true_from`: None corrects it from the start."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at, version=version) as locked:
        return register.change_identity(
            locked, facts, true_from=true_from, at=at, by=viewer.user
        )


def change_owner(
    viewer: Viewer,
    engine: Engine,
    owner: Owner,
    *,
    true_from: date,
    at: datetime,
    version: int | None = None,
) -> Ownership:
    """Record a transfer. Reviews of the engine's history lapse with it."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at, version=version) as locked:
        return register.change_owner(
            locked, owner, true_from=true_from, at=at, by=viewer.user
        )


def fit_in_aircraft(
    viewer: Viewer,
    engine: Engine,
    facts: FittingFacts,
    *,
    true_from: date,
    at: datetime,
    version: int | None = None,
) -> Fitting:
    """Record in which aircraft the engine is fitted, or that it is in none."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at, version=version) as locked:
        return register.fit_in_aircraft(
            locked, facts, true_from=true_from, at=at, by=viewer.user
        )


def change_state(
    viewer: Viewer,
    engine: Engine,
    state: str,
    *,
    true_from: date,
    at: datetime,
    version: int | None = None,
) -> ServiceState:
    """Record that the engine is in service, stored or removed."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at, version=version) as locked:
        return register.change_state(
            locked, state, true_from=true_from, at=at, by=viewer.user
        )


def change_operation(
    viewer: Viewer,
    engine: Engine,
    facts: OperationFacts,
    *,
    true_from: date,
    at: datetime,
    version: int | None = None,
) -> Operation:
    """Record how the engine is run."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at, version=version) as locked:
        return register.change_operation(
            locked, facts, true_from=true_from, at=at, by=viewer.user
        )


def _own(viewer: Viewer, owner: Owner) -> Owner:
    return Owner.objects.visible_to(viewer).get(pk=owner.pk)

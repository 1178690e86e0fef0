"""The good rows of a planned fleet sheet -> the register's own writes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime
from typing import Any

from notices.rules.designations import plain_text
from tracker.accounts.models import Station, User
from tracker.fleet.engine_entries import NewEngine
from tracker.fleet.entries import day_at
from tracker.fleet.errors import Refused
from tracker.fleet.events import add_overhaul
from tracker.fleet.history import lock_engine
from tracker.fleet.marks import embody, review
from tracker.fleet.meters import add_reading, meter_on, start_meter
from tracker.fleet.models import Engine, MeterKind, Owner, Review
from tracker.fleet.owners import add_owner
from tracker.fleet.register import (
    add_engines,
    change_identity,
    change_operation,
    change_owner,
    change_state,
    fit_in_aircraft,
)
from tracker.fleet.sheets.fleet import AIRCRAFT, IMPORTED
from tracker.fleet.sheets.fleet_plan import EngineWish
from tracker.fleet.sheets.plan import Plan, RowRefused


def apply_fleet(
    plan: Plan[EngineWish], *, station: Station, by: User, at: datetime
) -> list[Engine]:
    """Write the good rows of a plan made in this same transaction; return the engines.

    RowRefused, with the line, for a row that can no longer be written.
    """
    today = day_at(station, at)
    owners = _owners_written(plan, station)
    new = [_with_owner(row.wish, owners) for row in plan.to_add]
    engines = add_engines(station, new, true_from=today, at=at, by=by)
    for row in plan.to_change:
        assert row.wish.engine is not None
        engine = lock_engine(row.wish.engine)
        wish = replace(row.wish, entry=_with_owner(row.wish, owners))
        try:
            _write_changes(wish, engine, today, at, by)
        except Refused as refused:
            raise RowRefused(row.line, refused) from refused
        engines.append(engine)
    return engines


def _owners_written(plan: Plan[EngineWish], station: Station) -> dict[str, Owner]:
    written: dict[str, Owner] = {}
    for row in (*plan.to_add, *plan.to_change):
        facts = row.wish.owner
        if facts is None or plain_text(facts.name) in written:
            continue
        try:
            written[plain_text(facts.name)] = add_owner(station, facts)
        except Refused as refused:
            raise RowRefused(row.line, refused) from refused
    return written


def _with_owner(wish: EngineWish, owners: Mapping[str, Owner]) -> NewEngine:
    if wish.owner is None:
        return wish.entry
    return replace(wish.entry, owner=owners[plain_text(wish.owner.name)])


def _write_changes(
    wish: EngineWish, engine: Engine, today: date, at: datetime, by: User
) -> None:
    values, entry = wish.values, wish.entry
    if "date of manufacture" in values or "date of shipping" in values:
        current = engine.identities.get(current=True)
        change_identity(
            engine,
            replace(
                entry.identity,
                rebuilt_known=current.rebuilt_known,
                rebuilt_undated=current.rebuilt_undated,
                rebuilt=current.rebuilt,
                hours_at_new=current.hours_at_new,
            ),
            at=at,
            by=by,
        )
    if "owner" in values and entry.owner is not None:
        change_owner(engine, entry.owner, true_from=today, at=at, by=by)
    if entry.fitting is not None and set(AIRCRAFT.values()) & set(values):
        fit_in_aircraft(engine, entry.fitting, true_from=today, at=at, by=by)
    if "state" in values:
        change_state(engine, entry.state, true_from=today, at=at, by=by)
    if "operation" in values and entry.operation is not None:
        change_operation(engine, entry.operation, true_from=today, at=at, by=by)
    _write_history(wish, engine, today, at, by)


def _write_history(
    wish: EngineWish, engine: Engine, today: date, at: datetime, by: User
) -> None:
    values = wish.values
    zero = engine.hours_at_new or 0
    if "overhaul date" in values:
        hours = values.get("hours at last overhaul")
        add_overhaul(
            engine,
            on=values["overhaul date"],
            hours=None if hours is None else hours + zero,
            done_by=values.get("overhauled by", ""),
            transcribed=True,
            at=at,
            by=by,
        )
    if "TSN hours" in values:
        _write_reading(values, engine, zero, at, by)
    for name in wish.embodied:
        embody(engine, name, true_from=today, at=at, by=by, source=IMPORTED)
    if "history reviewed on" in values:
        review(
            engine,
            Review.HISTORY,
            values["history reviewed by"],
            true_from=values["history reviewed on"],
            at=at,
            by=by,
        )


def _write_reading(
    values: Mapping[str, Any], engine: Engine, zero: int, at: datetime, by: User
) -> None:
    on, hours = values["reading date"], values["TSN hours"] + zero
    if engine.meters.exists():
        meter = meter_on(engine, on)
        add_reading(engine, on=on, shown=hours - meter.offset, at=at, by=by)
        return
    kind = values.get("meter kind", MeterKind.TIME_IN_SERVICE)
    start_meter(engine, kind=kind, on=on, shown=hours, at=at, by=by)

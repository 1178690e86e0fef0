"""Fuel that some engines were given. Of the others there is a habit, or nothing."""

from __future__ import annotations

from tracker.accounts.access import Right
from tracker.compliance.changes.acting import changing
from tracker.compliance.scenario import files
from tracker.compliance.scenario.files import Row
from tracker.compliance.scenario.stage import Member, Stage
from tracker.fleet import events, fuel
from tracker.fleet.fuel import FuelEntry
from tracker.fleet.models import Engine, FuelUnit


def enter_fuel(stage: Stage) -> None:
    """Enter what each engine was given in one act, oldest first."""
    rows = files.rows("fuel", stage.today)
    for name, member in stage.members.items():
        own = [row for row in rows if row["engine"] == name]
        if own:
            with changing(
                stage.team.technician, member.engine, Right.ADD_FUEL, at=stage.now
            ) as engine:
                for row in sorted(own, key=lambda row: -row["hours_ago"]):
                    _enter(stage, member, engine, row)


def _enter(stage: Stage, member: Member, engine: Engine, row: Row) -> None:
    assert member.life is not None, "hours ago need a life"
    hours = member.hours_ago(row["hours_ago"])
    on = member.life.day_at(hours)
    entry = FuelEntry(
        on=on,
        quantity=row["quantity"],
        unit=row.get("unit", FuelUnit.LITRES),
        kind=row["kind"],
        leaded_share=row.get("share", ""),
        hours=None if row.get("unread") else hours,
        remark=row.get("remark", ""),
    )
    added = fuel.add_fuel(engine, entry, **stage.entered(on))
    if "withdrawn" in row:
        events.withdraw(added, reason=row["withdrawn"], at=stage.at(on))

"""Owners, types and engines of the scenario."""

from __future__ import annotations

from tracker.compliance import changes
from tracker.compliance.scenario import files
from tracker.compliance.scenario.files import Row
from tracker.compliance.scenario.life import Life, life
from tracker.compliance.scenario.stage import Member, Stage, iso, iso_or_none
from tracker.fleet.logins import link_login
from tracker.fleet.preferences import PreferenceFacts
from tracker.fleet.register import (
    FittingFacts,
    IdentityFacts,
    NewEngine,
    OperationFacts,
    OwnerFacts,
    TypeFacts,
)


def enter_owners(stage: Stage) -> None:
    boss = stage.team.administrator
    at = stage.at(stage.team.since)
    for row in files.rows("owners", stage.today):
        told = row.pop("told", None)
        owner = changes.add_owner(boss, OwnerFacts(**row), at=at)
        if told is not None:
            wanted = PreferenceFacts(**_as_kept(told), time_zone=owner.time_zone)
            changes.change_preference(boss, owner, wanted)
        stage.owners[owner.name] = owner
        if owner.name in stage.team.owners:
            login = stage.team.owners[owner.name]
            link_login(boss, owner=owner, membership=login, at=at)


def _as_kept(told: Row) -> Row:
    """What an owner wants, its hours in hundredths."""
    hours = told.get("lead_hours")
    return told if hours is None else {**told, "lead_hours": hours * 100}


def enter_types(stage: Stage) -> None:
    at = stage.at(stage.team.since)
    for row in files.rows("types", stage.today):
        parts = {part["role"]: part["count"] for part in row.pop("roles")}
        facts = TypeFacts(**row, parts=parts)
        entered = changes.add_engine_type(stage.team.technician, facts, at=at)
        stage.types[entered.designation] = entered


def enter_engines(stage: Stage) -> None:
    """Enter all engines as they were when the station took them in."""
    rows = files.rows("engines", stage.today)
    engines = changes.add_engines(
        stage.team.technician,
        [_entry(stage, row) for row in rows],
        true_from=stage.team.since,
        at=stage.at(stage.team.since),
    )
    for row, engine in zip(rows, engines, strict=True):
        stage.members[row["id"]] = Member(
            engine=engine, row=row, life=_life(stage, row), built=iso(row["built"])
        )


def _entry(stage: Stage, row: Row) -> NewEngine:
    rebuilt = row.get("rebuilt")
    return NewEngine(
        identity=IdentityFacts(
            engine_type=stage.types[row["type"]],
            serial=row["serial"],
            type_complete=row.get("type_complete", True),
            built=iso(row["built"]),
            shipped=iso_or_none(row.get("shipped")),
            rebuilt_known=rebuilt is not None,
            rebuilt_undated=rebuilt == "undated",
        ),
        owner=stage.owners[row["owner"]],
        fitting=fitting_of(row),
        operation=_operation(row),
    )


def fitting_of(row: Row) -> FittingFacts:
    if "aircraft" not in row:
        return FittingFacts(fitted=False)
    return FittingFacts(
        aircraft_type=row["aircraft"],
        registration=row["registration"],
        registry=row["registry"],
        position=row.get("position", ""),
    )


def _operation(row: Row) -> OperationFacts | None:
    if not row["uses"]:
        return None
    low, high = row.get("oil", ("", ""))
    coldest, hottest, unit = row.get("ambient", ("", "", "C"))
    return OperationFacts(
        uses=tuple(row["uses"]),
        leaded_share=row.get("leaded", ""),
        oil_low=str(low),
        oil_high=str(high),
        ambient_low=str(coldest),
        ambient_high=str(hottest),
        ambient_unit=unit,
    )


def _life(stage: Stage, row: Row) -> Life | None:
    if row["hours"] is None:
        return None
    known = [
        (iso(overhaul["on"]), round(overhaul["hours"] * 100))
        for overhaul in row.get("overhauls", ())
        if "hours" in overhaul
    ]
    return life(
        row["id"],
        today=stage.today,
        built=iso(row["built"]),
        hours=round(row["hours"] * 100),
        monthly=round(row["monthly"] * 100),
        last_read=row["last_read"],
        known=known,
        also=[iso(read) for read in row.get("also_read", ())],
    )

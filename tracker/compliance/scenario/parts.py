"""The parts that are fitted to an engine; one of them was exchanged."""

from __future__ import annotations

from datetime import date

from tracker.compliance.scenario.files import Row
from tracker.compliance.scenario.stage import Member, Stage, iso, iso_or_none
from tracker.fleet import events, marks, parts
from tracker.fleet.models import Engine, Part
from tracker.fleet.parts import Fit, PartEntry


def fit_parts(stage: Stage, member: Member, engine: Engine, rows: list[Row]) -> None:
    """Fit every part, oldest first, so that the one before it is off by then."""
    for row in sorted(rows, key=lambda row: _day(member, row.get("fitted", "new"))):
        on = _day(member, row.get("fitted", "new"))
        part = parts.add_part(
            engine,
            _entry(row),
            _fit(member, row, on),
            true_from=on,
            **stage.entered(on),
        )
        stage.parts[row["engine"], row["role"], row.get("place", "")] = part
        _mark(stage, member, part, row, on)
        if "removed" in row:
            _remove(stage, member, part, row)


def _day(member: Member, said: str | Row) -> date:
    """Return the day; of a part that came with the engine the day it was made."""
    if isinstance(said, dict):
        assert member.life is not None, "hours ago need a life"
        return member.life.day_at(member.hours_ago(said["hours_ago"]))
    return member.built if said == "new" else iso(said)


def _hours(member: Member, said: str | Row, on: date) -> int | None:
    if isinstance(said, dict):
        return member.hours_ago(said["hours_ago"])
    return member.hours_on(on)


def _entry(row: Row) -> PartEntry:
    return PartEntry(
        role=row["role"],
        number=row["number"],
        serial=row["serial"],
        change=row.get("change", ""),
        change_known="change" in row,
        built=iso_or_none(row.get("built")),
        shipped=iso_or_none(row.get("shipped")),
        never_overhauled=row.get("never_overhauled", False),
    )


def _fit(member: Member, row: Row, on: date) -> Fit:
    place = row.get("place", "")
    if "fitted" not in row:
        return Fit(place=place, date_known=False)
    if row["fitted"] == "new":
        return Fit(place=place, date_known=False, fitted_new=True)
    return Fit(
        place=place,
        engine_hours=_hours(member, row["fitted"], on),
        hours_new=row.get("part_hours_new"),
    )


def _mark(stage: Stage, member: Member, part: Part, row: Row, fitted_on: date) -> None:
    begun = stage.watched_since
    for name, value in row.get("attributes", {}).items():
        marks.set_attribute(part, name, value, true_from=begun, **stage.entered(begun))
    if "overhauled" in row:
        on = iso(row["overhauled"]["on"])
        hours, before = member.hours_on(on), member.hours_on(fitted_on)
        assert hours is not None, "an overhauled part is on an engine with readings"
        assert before is not None, "the same on the day it was fitted"
        events.add_overhaul(
            part,
            on=on,
            hours=hours,
            part_hours=hours - before,
            done_by=stage.team.station.name,
            tested="run on the bench, to the maker's limits",
            **stage.entered(on),
        )


def _remove(stage: Stage, member: Member, part: Part, row: Row) -> None:
    on = _day(member, row["removed"])
    parts.remove_part(
        part,
        true_from=on,
        reason=row["reason"],
        engine_hours=_hours(member, row["removed"], on),
        **stage.entered(on),
    )

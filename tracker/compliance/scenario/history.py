"""What happened to each engine, entered in one act for each, as an import would.

The plain writes of `fleet` are called inside the frame of every act, so that rights,
lock and findings are as with single entries, while an engine is evaluated once.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from tracker.accounts.access import Right
from tracker.compliance.changes.acting import changing
from tracker.compliance.scenario import files
from tracker.compliance.scenario.files import Row
from tracker.compliance.scenario.fleet import fitting_of
from tracker.compliance.scenario.parts import fit_parts
from tracker.compliance.scenario.stage import Member, Stage, iso, iso_or_none
from tracker.fleet import events, marks, meters, register
from tracker.fleet.models import Engine, Meter, Review, State

ROLES = ("fuel pump", "hose set", "magneto", "turbocharger")
"""Looked for on every engine, also on those whose type holds none."""


def enter_histories(stage: Stage) -> None:
    """Enter meters, overhauls, parts, events, states and marks of every engine."""
    parts = files.rows("parts", stage.today)
    happened = files.rows("events", stage.today)
    for name, member in stage.members.items():
        with changing(
            stage.team.technician, member.engine, Right.EDIT_FLEET, at=stage.now
        ) as engine:
            _read_meter(stage, member, engine)
            _note_airframe(stage, member, engine)
            _overhaul(stage, member, engine)
            fit_parts(stage, member, engine, _of(name, parts))
            _note_events(stage, member, engine, _of(name, happened))
            _store(stage, member, engine)
            _mark(stage, member, engine)


def _of(name: str, rows: list[Row]) -> list[Row]:
    return [row for row in rows if row["engine"] == name]


def _read_meter(stage: Stage, member: Member, engine: Engine) -> None:
    if member.life is None:
        return
    kind, changed = member.row["meter"], iso_or_none(member.row.get("meter_change"))
    (begun, hours), *later = member.life.readings
    first = meters.start_meter(
        engine, kind=kind, on=begun, shown=hours, **stage.entered(begun)
    )
    meter = first.meter
    for on, reached in later:
        if changed is not None and meter == first.meter and on >= changed:
            shown = member.life.hours_on(changed)
            meter = _exchange(stage, engine, kind, changed, shown)
        shown = reached - meter.offset
        meters.add_reading(engine, on=on, shown=shown, meter=meter, **stage.entered(on))
    if "correction" in member.row:
        _misread(stage, member, engine, member.row["correction"])


def _note_airframe(stage: Stage, member: Member, engine: Engine) -> None:
    """Enter the hours of the airframe on the day on which the engine was first read."""
    if member.life is None or "airframe" not in member.row:
        return
    on, hours = member.life.readings[0]
    then = round(member.row["airframe"] * 100) - (member.life.hours_now - hours)
    facts = replace(fitting_of(member.row), airframe_hours=then)
    register.fit_in_aircraft(engine, facts, true_from=on, **stage.entered(on))


def _exchange(
    stage: Stage, engine: Engine, kind: str, on: date, old_shown: int
) -> Meter:
    first = meters.change_meter(
        engine,
        kind=kind,
        on=on,
        shown=0,
        old_shown=old_shown,
        reason="The meter stood still and was exchanged.",
        **stage.entered(on),
    )
    return first.meter


def _misread(stage: Stage, member: Member, engine: Engine, mistake: Row) -> None:
    """Enter a reading that was mistyped, and its correction."""
    on = iso(mistake["on"])
    right = member.hours_on(on)
    assert right is not None, "a mistyped reading needs a right one"
    wrong = meters.add_reading(
        engine,
        on=on,
        shown=right + round(mistake["too_much"] * 100),
        **stage.entered(on),
    )
    meters.correct_reading(
        wrong, shown=right, remark="Two figures were exchanged.", **stage.entered(on)
    )


def _overhaul(stage: Stage, member: Member, engine: Engine) -> None:
    for overhaul in member.row.get("overhauls", ()):
        on = iso(overhaul["on"])
        hours, by = member.hours_on(on), overhaul["by"]
        events.add_overhaul(
            engine,
            on=on,
            hours=hours,
            done_by=by,
            tested=overhaul.get("tested", ""),
            transcribed="tested" not in overhaul,
            **stage.entered(on),
        )
    rebuilt = member.row.get("rebuilt")
    if isinstance(rebuilt, dict):
        on = iso(rebuilt["on"])
        events.add_rebuild(
            engine, on=on, hours=member.hours_on(on), **stage.entered(on)
        )


def _note_events(stage: Stage, member: Member, engine: Engine, rows: list[Row]) -> None:
    for row in rows:
        on = iso(row["on"])
        events.add_event(
            engine,
            row["name"],
            on=on,
            hours=member.hours_on(on),
            remark=row.get("remark", ""),
            **stage.entered(on),
        )


def _store(stage: Stage, member: Member, engine: Engine) -> None:
    if "stored" in member.row:
        on = iso(member.row["stored"])
        state = member.row.get("state", State.STORED)
        register.change_state(engine, state, true_from=on, **stage.entered(on))


def _mark(stage: Stage, member: Member, engine: Engine) -> None:
    """Enter what was found on the data plate, and how far somebody has looked."""
    row, begun = member.row, stage.watched_since
    seen: dict[str, Any] = {"true_from": begun, **stage.entered(begun)}
    for named in row.get("embodied", ()):
        marks.embody(engine, named, source="data plate", **seen)
    for named in row.get("not_embodied", ()):
        marks.not_embodied(engine, named, source="data plate", **seen)
    for name, value in row.get("attributes", {}).items():
        marks.set_attribute(engine, name, value, **seen)
    if "reviewed" in row:
        _review(stage, engine, Review.HISTORY, iso(row["reviewed"]))
    if row["roles_reviewed"]:
        held = engine.engine_type.part_roles.values_list("role", flat=True)
        for role in dict.fromkeys((*ROLES, *held)):
            _review(stage, engine, role, begun)
    for kind, searched in row.get("searched", {}).items():
        _note_search(stage, engine, kind, iso(searched))


def _review(stage: Stage, engine: Engine, scope: str, on: date) -> None:
    person = stage.team.technician.user.name
    marks.review(engine, scope, person, true_from=on, **stage.entered(on))


def _note_search(stage: Stage, engine: Engine, kind: str, on: date) -> None:
    index = {"directives": "list of the authority", "bulletins": "maker's index"}
    marks.note_search(
        engine,
        kind,
        searched_to=on,
        source=index[kind],
        person=stage.team.technician.user.name,
        **stage.entered(on),
    )

"""Parts: fitted, moved, replaced, removed; each in one place at a time, with its hours."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from notices.rules.designations import plain_text
from tracker.accounts.models import Station, User
from tracker.fleet.axis import check_fits
from tracker.fleet.engine_entries import SINCE_MADE
from tracker.fleet.entries import checked_day, checked_hours, checked_text, in_hours
from tracker.fleet.errors import Refused
from tracker.fleet.fitted_parts import (
    FittedPart,
    HoursAt,
    hours_at,
    named,
    parts_fitted,
)
from tracker.fleet.history import as_of, write_fact
from tracker.fleet.meters import hours_read_on
from tracker.fleet.models import (
    Engine,
    Overhaul,
    Part,
    PartDescription,
    PartFitting,
    PartRole,
)

__all__ = [
    "Fit",
    "FittedPart",
    "PartEntry",
    "add_part",
    "checked_part",
    "correct_fitting",
    "describe_part",
    "fit_part",
    "move_part",
    "named",
    "parts_fitted",
    "remove_part",
    "replace_part",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartEntry:
    """What is known of a part; see the model `PartDescription`."""

    role: str
    number: str = ""
    serial: str = ""
    change: str = ""
    change_known: bool = False
    built: date | None = None
    shipped: date | None = None
    never_overhauled: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """How a part was fitted.

    `engine_hours`: the engine's at that moment, None: as read that day, if it was.
    `hours_new`, `hours_overhaul`: the part's own then; None: as they follow from where
    it was before, if that is known. `date_known=False` with `fitted_new`: it came with
    the engine.
    """

    place: str = ""
    date_known: bool = True
    fitted_new: bool = False
    engine_hours: int | None = None
    hours_new: int | None = None
    hours_overhaul: int | None = None


def add_part(
    engine: Engine,
    entry: PartEntry,
    fit: Fit,
    *,
    true_from: date,
    at: datetime,
    by: User,
) -> Part:
    """Enter a part that is fitted to the engine from a day on."""
    part = Part.objects.create(station=engine.station)
    describe_part(part, entry, at=at, by=by)
    fit_part(part, engine, fit, true_from=true_from, at=at, by=by)
    return part


def describe_part(
    part: Part,
    entry: PartEntry,
    *,
    at: datetime,
    by: User,
    true_from: date | None = None,
) -> PartDescription:
    """Write what is known of a part. `true_from`: None where it was always so."""
    checked = checked_part(part.station, entry, at)
    current = PartDescription.objects.filter(part=part, current=True).first()
    return write_fact(
        PartDescription,
        station=part.station,
        subject={"part": part},
        true_from=true_from or (current.true_from if current else SINCE_MADE),
        at=at,
        by=by,
        **{name: getattr(checked, name) for name in checked.__slots__},
    )


def fit_part(
    part: Part, engine: Engine, fit: Fit, *, true_from: date, at: datetime, by: User
) -> PartFitting:
    """Fit a part that is on no engine. Its hours go on from where it was before."""
    if part.station_id != engine.station_id:
        raise Refused("part", "That part is not known at this station.")
    before = _row_of(part, true_from, at)
    if before is not None and not before.removed:
        raise Refused(
            "part",
            f"This part is fitted to {before.engine} since {before.true_from}. "
            "Move it, or remove it there first.",
        )
    fit = _with_hours(part, engine, fit, before, true_from)
    _check_place(part, engine, fit, true_from, at)
    return _write_fitting(part, engine, fit, true_from, at, by)


def correct_fitting(
    row: PartFitting,
    fit: Fit,
    *,
    at: datetime,
    by: User,
    fitted_on: date | None = None,
) -> PartFitting:
    """Write again how a part was fitted: what stood there was wrong or incomplete.

    `fitted_on`: the day, learnt since. Hours of the part that are sent as they were
    kept are then counted back to it. None: the day stays as known as it was.
    """
    if row.removed:
        raise Refused("part", "This entry is a removal; there is nothing to correct.")
    checked = replace(fit, place=checked_text(PartFitting, "place", fit.place))
    if fitted_on is None or fitted_on == row.day:
        _check_hours(row.part, row.engine, checked, row.day or row.true_from, None)
        day = row.fitted_on if checked.date_known else None
        return _write_fitting(
            row.part, row.engine, checked, row.true_from, at, by, fitted_on=day
        )
    _check_learnt_day(row, fitted_on, at)
    if fitted_on < row.true_from:
        _check_place(
            row.part, row.engine, replace(checked, date_known=True), fitted_on, at
        )
    learnt = _counted_back(row, replace(checked, date_known=True), fitted_on)
    _check_hours(row.part, row.engine, learnt, fitted_on, None)
    if fitted_on < row.true_from:
        _write_fitting(row.part, row.engine, learnt, fitted_on, at, by)
    return _write_fitting(
        row.part, row.engine, learnt, row.true_from, at, by, fitted_on=fitted_on
    )


def _check_learnt_day(row: PartFitting, on: date, at: datetime) -> None:
    checked_day(row.station, "true_from", on, at)
    if on > row.true_from:
        raise Refused(
            "true_from",
            f"The part was on this engine on {row.true_from} already. Write that day or "
            "an earlier one.",
        )
    before = _row_of(row.part, on, at)
    if before is not None and not before.removed and before.engine_id != row.engine_id:
        raise Refused("true_from", f"On {on} the part was on {before.engine}.")


def _counted_back(row: PartFitting, fit: Fit, on: date) -> Fit:
    """Return the fit with the hours of `on`, from those kept for another moment."""
    hours = fit.engine_hours
    if hours is None or hours == row.engine_hours:
        hours = hours_read_on(row.engine, on)
    if hours is None:
        raise Refused(
            "engine_hours",
            f"The engine was not read on {on}. Write what its hours were on that day.",
        )
    run = None if row.engine_hours is None else row.engine_hours - hours

    def back(name: str, sent: int | None, kept: int | None) -> int | None:
        if sent is None or sent != kept or run is None:
            return sent
        if sent < run:
            raise Refused(
                name,
                f"The engine has run {in_hours(run)} since {on}, and the part only "
                f"{in_hours(sent)} in all. Write the part's hours on that day.",
            )
        return sent - run

    return replace(
        fit,
        engine_hours=hours,
        hours_new=back("hours_new", fit.hours_new, row.part_hours_new),
        hours_overhaul=back(
            "hours_overhaul", fit.hours_overhaul, row.part_hours_overhaul
        ),
    )


def remove_part(
    part: Part,
    *,
    true_from: date,
    reason: str,
    at: datetime,
    by: User,
    engine_hours: int | None = None,
) -> PartFitting:
    """Take a part off its engine; what it has run till then is kept with it."""
    before = _row_of(part, true_from, at)
    if before is None or before.removed:
        raise Refused("part", f"This part is fitted to no engine on {true_from}.")
    engine = before.engine
    if engine_hours is None:
        engine_hours = hours_read_on(engine, true_from)
    else:
        checked_hours("engine_hours", engine_hours)
        check_fits(engine, on=true_from, hours=engine_hours, field="engine_hours")
    kept = _hours_after(part, before, engine_hours)
    return write_fact(
        PartFitting,
        station=part.station,
        subject={"part": part},
        true_from=true_from,
        at=at,
        by=by,
        engine=engine,
        place=before.place,
        engine_hours=engine_hours,
        part_hours_new=kept.new,
        part_hours_overhaul=kept.overhaul,
        removed=True,
        reason=checked_text(PartFitting, "reason", reason),
    )


def move_part(
    part: Part,
    engine: Engine,
    fit: Fit,
    *,
    true_from: date,
    at: datetime,
    by: User,
    engine_hours_before: int | None = None,
) -> PartFitting:
    """Take a part from one engine to another on one day; its hours follow it.

    `engine_hours_before`: those of the engine that it leaves.
    """
    remove_part(
        part,
        true_from=true_from,
        reason=f"moved to {engine}"[:200],
        engine_hours=engine_hours_before,
        at=at,
        by=by,
    )
    return fit_part(part, engine, fit, true_from=true_from, at=at, by=by)


def replace_part(
    part: Part,
    entry: PartEntry | Part,
    fit: Fit,
    *,
    true_from: date,
    reason: str,
    at: datetime,
    by: User,
    engine_hours_before: int | None = None,
) -> Part:
    """Take a part off and fit another one in its place.

    `entry`: what is known of a new one; or a known part, from another engine or from
    the shelf. `engine_hours_before`: those of the engine that a known part leaves.
    """
    removal = remove_part(
        part,
        true_from=true_from,
        reason=reason,
        engine_hours=fit.engine_hours,
        at=at,
        by=by,
    )
    engine = removal.engine
    fit = replace(fit, place=fit.place or removal.place)
    if isinstance(entry, PartEntry):
        return add_part(engine, entry, fit, true_from=true_from, at=at, by=by)
    before = _row_of(entry, true_from, at)
    if before is None or before.removed:
        fit_part(entry, engine, fit, true_from=true_from, at=at, by=by)
        return entry
    move_part(
        entry,
        engine,
        fit,
        true_from=true_from,
        at=at,
        by=by,
        engine_hours_before=engine_hours_before,
    )
    return entry


def _hours_after(part: Part, row: PartFitting, engine_hours: int | None) -> HoursAt:
    description = PartDescription.objects.get(part=part, current=True)
    overhauls = list(Overhaul.objects.valid().filter(part=part).order_by("on", "pk"))
    return hours_at(row, description, overhauls, engine_hours)


def _row_of(part: Part, on: date, at: datetime) -> PartFitting | None:
    rows = as_of(PartFitting, [part], on=on, known_at=at, of="part")
    return rows.select_related("engine__engine_type", "part").first()


def _with_hours(
    part: Part, engine: Engine, fit: Fit, before: PartFitting | None, on: date
) -> Fit:
    """Return the fit with what follows from readings and from the part's own past."""
    hours = fit.engine_hours
    if hours is None:
        came_with_it = fit.fitted_new and not fit.date_known
        hours = engine.hours_at_new if came_with_it else hours_read_on(engine, on)
    new = 0 if fit.hours_new is None and fit.fitted_new else fit.hours_new
    overhaul = fit.hours_overhaul
    if before is not None:
        new = before.part_hours_new if new is None else new
        overhaul = before.part_hours_overhaul if overhaul is None else overhaul
    fit = replace(
        fit,
        place=checked_text(PartFitting, "place", fit.place),
        engine_hours=hours,
        hours_new=new,
        hours_overhaul=overhaul,
    )
    _check_hours(part, engine, fit, on, before)
    return fit


def _check_hours(
    part: Part, engine: Engine, fit: Fit, on: date, before: PartFitting | None
) -> None:
    checked_hours("engine_hours", fit.engine_hours)
    checked_hours("hours_new", fit.hours_new)
    checked_hours("hours_overhaul", fit.hours_overhaul)
    if fit.engine_hours is not None and fit.date_known:
        check_fits(engine, on=on, hours=fit.engine_hours, field="engine_hours")
    if None not in (fit.hours_new, fit.hours_overhaul) and (
        (fit.hours_overhaul or 0) > (fit.hours_new or 0)
    ):
        raise Refused(
            "hours_overhaul",
            f"{in_hours(fit.hours_overhaul or 0)} since overhaul are more than "
            f"{in_hours(fit.hours_new or 0)} since new. Check both.",
        )
    if (
        before is not None
        and None not in (fit.hours_new, before.part_hours_new)
        and ((fit.hours_new or 0) < (before.part_hours_new or 0))
    ):
        raise Refused(
            "hours_new",
            f"This part had {in_hours(before.part_hours_new or 0)} since new when it "
            f"was removed on {before.true_from}; it cannot have fewer now.",
        )


def _check_place(part: Part, engine: Engine, fit: Fit, on: date, at: datetime) -> None:
    description = PartDescription.objects.get(part=part, current=True)
    if description.built is not None and fit.date_known and on < description.built:
        raise Refused(
            "true_from",
            f"{on} is before the part was made, {description.built}. Check the date.",
        )
    there = [
        other
        for other in parts_fitted([engine], on=on, known_at=at)
        if other.description.role == description.role
    ]
    for other in there:
        if fit.place and plain_text(other.fitting.place) == plain_text(fit.place):
            raise Refused(
                "place",
                f"On {engine} that place is taken: {other}. Remove or replace that "
                "part first.",
            )
    most = (
        PartRole.objects.filter(
            engine_type=engine.engine_type_id, role=description.role
        )
        .values_list("count", flat=True)
        .first()
    )
    if most is not None and len(there) >= most:
        fitted = "; ".join(str(other) for other in there)
        raise Refused(
            "role",
            f"A {engine.engine_type} holds {most} of the role {description.role}, and "
            f"fitted are: {fitted}. Remove or replace one first.",
        )


def _write_fitting(
    part: Part,
    engine: Engine,
    fit: Fit,
    true_from: date,
    at: datetime,
    by: User,
    *,
    fitted_on: date | None = None,
) -> PartFitting:
    return write_fact(
        PartFitting,
        station=part.station,
        subject={"part": part},
        true_from=true_from,
        at=at,
        by=by,
        engine=engine,
        place=fit.place,
        date_known=fit.date_known,
        fitted_on=fitted_on,
        fitted_new=fit.fitted_new,
        engine_hours=fit.engine_hours,
        part_hours_new=fit.hours_new,
        part_hours_overhaul=fit.hours_overhaul,
    )


def checked_part(station: Station, entry: PartEntry, at: datetime) -> PartEntry:
    role = plain_text(checked_text(PartDescription, "role", entry.role, required=True))
    for name, day in (("built", entry.built), ("shipped", entry.shipped)):
        if day is not None:
            checked_day(station, name, day, at)
    if entry.built and entry.shipped and entry.shipped < entry.built:
        raise Refused(
            "shipped",
            f"{entry.shipped} is before the date of manufacture, {entry.built}. "
            "Check both dates.",
        )
    change = checked_text(PartDescription, "change", entry.change).upper()
    text: dict[str, Any] = {
        name: checked_text(PartDescription, name, getattr(entry, name))
        for name in ("number", "serial")
    }
    return replace(
        entry,
        role=role,
        change=change,
        change_known=entry.change_known or bool(change),
        **text,
    )

"""Acts on the parts of an engine: fitted, moved, removed, replaced, described."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Final

from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import changing
from tracker.fleet import marks, parts
from tracker.fleet.errors import Refused
from tracker.fleet.known_parts import refuse_known
from tracker.fleet.models import Engine, Part, PartDescription, PartFitting
from tracker.fleet.parts import Fit, PartEntry

_NONE: Final[Mapping[str, str]] = {}


def add_part(
    viewer: Viewer,
    engine: Engine,
    entry: PartEntry,
    fit: Fit,
    *,
    true_from: date,
    at: datetime,
) -> Part:
    """Enter a part that is fitted to the engine from a day on.

    KnownPart where its number and serial are those of a part that is entered already.
    """
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        refuse_known(locked, entry.number, entry.serial)
        return parts.add_part(
            locked, entry, fit, true_from=true_from, at=at, by=viewer.user
        )


def describe_part(
    viewer: Viewer,
    engine: Engine,
    part: Part,
    entry: PartEntry,
    *,
    at: datetime,
    true_from: date | None = None,
) -> PartDescription:
    """Write what is known of a part; `true_from`: None where it was always so."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        return parts.describe_part(
            part_on(locked, part), entry, true_from=true_from, at=at, by=viewer.user
        )


def fit_part(
    viewer: Viewer,
    engine: Engine,
    part: Part,
    fit: Fit,
    *,
    true_from: date,
    at: datetime,
) -> PartFitting:
    """Fit a part that is on no engine; its hours go on from where it was before."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        return parts.fit_part(
            part, locked, fit, true_from=true_from, at=at, by=viewer.user
        )


def correct_fitting(
    viewer: Viewer,
    engine: Engine,
    part: Part,
    fit: Fit,
    *,
    at: datetime,
    fitted_on: date | None = None,
) -> PartFitting:
    """Write again how a part is fitted; `fitted_on`: the day, where it was learnt."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        rows = PartFitting.objects.select_related("part", "engine", "station")
        row = rows.get(part=part_on(locked, part), current=True)
        return parts.correct_fitting(
            row, fit, fitted_on=fitted_on, at=at, by=viewer.user
        )


def remove_part(
    viewer: Viewer,
    engine: Engine,
    part: Part,
    *,
    true_from: date,
    reason: str,
    at: datetime,
    engine_hours: int | None = None,
) -> PartFitting:
    """Take a part off; what it has run till then is kept with it."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        return parts.remove_part(
            part_on(locked, part),
            true_from=true_from,
            reason=reason,
            engine_hours=engine_hours,
            at=at,
            by=viewer.user,
        )


def replace_part(
    viewer: Viewer,
    engine: Engine,
    part: Part,
    entry: PartEntry | Part,
    fit: Fit,
    *,
    true_from: date,
    reason: str,
    at: datetime,
    properties: Mapping[str, str] = _NONE,
    engine_hours_before: int | None = None,
) -> Part:
    """Take a part off and fit another one in its place.

    `entry`: what is known of a new one, KnownPart if it is entered already; or a known
    part, from another engine or from the shelf. `properties`: of the new part, by name.
    """
    leaves = [] if isinstance(entry, PartEntry) else _engines_that_carry(entry)
    with changing(viewer, engine, Right.EDIT_FLEET, at=at, also=leaves) as locked:
        if isinstance(entry, PartEntry):
            refuse_known(locked, entry.number, entry.serial)
        new = parts.replace_part(
            part_on(locked, part),
            entry,
            fit,
            true_from=true_from,
            reason=reason,
            at=at,
            by=viewer.user,
            engine_hours_before=engine_hours_before,
        )
        for name, value in properties.items():
            marks.set_attribute(
                new, name, value, true_from=true_from, at=at, by=viewer.user
            )
        return new


def move_part(
    viewer: Viewer,
    engine: Engine,
    part: Part,
    to: Engine,
    fit: Fit,
    *,
    true_from: date,
    at: datetime,
    engine_hours_before: int | None = None,
) -> PartFitting:
    """Take a part from one engine to another; both are evaluated again."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at, also=[to]) as locked:
        return parts.move_part(
            part_on(locked, part),
            to,
            fit,
            true_from=true_from,
            at=at,
            by=viewer.user,
            engine_hours_before=engine_hours_before,
        )


def part_on(engine: Engine, part: Part) -> Part:
    """Return the part; Refused if it is not fitted to the engine now."""
    fitted = PartFitting.objects.filter(
        part=part, engine=engine, current=True, removed=False
    )
    if not fitted.exists():
        raise Refused("part", f"This part is not fitted to {engine}.")
    return part


def _engines_that_carry(part: Part) -> list[Engine]:
    fitted = PartFitting.objects.filter(part=part, current=True, removed=False)
    return [row.engine for row in fitted.select_related("engine")]

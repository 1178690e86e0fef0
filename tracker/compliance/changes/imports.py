"""Sheets imported: looked at first, then written, whole or only the good rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import entering, refresh_engines
from tracker.compliance.named_values import Named, named_at
from tracker.compliance.sheets import PastWork, apply_compliance, plan_compliance
from tracker.fleet.entries import day_at
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine
from tracker.fleet.sheets.fleet_apply import apply_fleet
from tracker.fleet.sheets.fleet_plan import EngineWish, plan_fleet
from tracker.fleet.sheets.parts_apply import apply_parts
from tracker.fleet.sheets.parts_plan import PartWish, plan_parts
from tracker.fleet.sheets.plan import Plan
from tracker.fleet.sheets.reading import read_sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What an import has written. `plan`: as it was made just before."""

    plan: Plan[Any]
    engines: int


def look_at_fleet(
    viewer: Viewer, content: bytes, name: str, *, at: datetime
) -> Plan[EngineWish]:
    """Return what a fleet sheet would do. Nothing is written."""
    viewer.require(Right.IMPORT_FLEET)
    sheet = read_sheet(content, name)
    station, today = viewer.station, day_at(viewer.station, at)

    @cache
    def named() -> Named:
        return named_at(station, today)

    return plan_fleet(
        station,
        sheet,
        today,
        about_uses=lambda uses: named().doubt_about_uses(uses),
    )


def look_at_parts(
    viewer: Viewer, content: bytes, name: str, *, at: datetime
) -> Plan[PartWish]:
    """Return what a parts sheet would do. Nothing is written."""
    viewer.require(Right.IMPORT_FLEET)
    today = day_at(viewer.station, at)
    return plan_parts(viewer.station, read_sheet(content, name), today=today, at=at)


def look_at_compliance(
    viewer: Viewer, content: bytes, name: str, *, at: datetime
) -> Plan[PastWork]:
    """Return what a sheet of past compliance would do. Nothing is written."""
    viewer.require(Right.RECORD_WORK)
    return plan_compliance(viewer.station, read_sheet(content, name), at=at)


def import_fleet(
    viewer: Viewer,
    content: bytes,
    name: str,
    *,
    digest: str,
    at: datetime,
    good_rows_only: bool = False,
    confirmed: bool = False,
) -> Imported:
    """Write a fleet sheet. `digest`: of the file that was looked at.

    Refused if it is another file now, or holds a bad row and `good_rows_only` is off,
    or a figure in question that nobody has `confirmed`.
    """
    with _importing(viewer, Right.IMPORT_FLEET, at) as touched:
        plan = look_at_fleet(viewer, content, name, at=at)
        _check(plan, digest, good_rows_only=good_rows_only, confirmed=confirmed)
        engines = apply_fleet(plan, station=viewer.station, by=viewer.user, at=at)
        touched(engines)
    return Imported(plan=plan, engines=len(engines))


def import_parts(
    viewer: Viewer,
    content: bytes,
    name: str,
    *,
    digest: str,
    at: datetime,
    good_rows_only: bool = False,
    confirmed: bool = False,
) -> Imported:
    """Write a parts sheet, as `import_fleet` writes a fleet sheet."""
    with _importing(viewer, Right.IMPORT_FLEET, at) as touched:
        plan = look_at_parts(viewer, content, name, at=at)
        _check(plan, digest, good_rows_only=good_rows_only, confirmed=confirmed)
        engines = apply_parts(plan, by=viewer.user, at=at)
        touched(engines)
    return Imported(plan=plan, engines=len(engines))


def import_compliance(
    viewer: Viewer,
    content: bytes,
    name: str,
    *,
    digest: str,
    at: datetime,
    good_rows_only: bool = False,
    confirmed: bool = False,
) -> Imported:
    """Add the records of a sheet of past compliance, as transcribed from logbooks."""
    with _importing(viewer, Right.RECORD_WORK, at) as touched:
        plan = look_at_compliance(viewer, content, name, at=at)
        _check(plan, digest, good_rows_only=good_rows_only, confirmed=confirmed)
        engines = apply_compliance(plan, by=viewer.user, at=at)
        touched(engines)
    return Imported(plan=plan, engines=len(engines))


@contextmanager
def _importing(
    viewer: Viewer, right: Right, at: datetime
) -> Iterator[Callable[[list[Engine]], None]]:
    """One transaction; the engines handed to what is yielded are evaluated at its end."""
    keys: list[int] = []
    with entering(viewer, right):
        yield lambda engines: keys.extend(engine.pk for engine in engines)
        refresh_engines(viewer, keys, at=at)


def _check(
    plan: Plan[Any], digest: str, *, good_rows_only: bool, confirmed: bool
) -> None:
    if plan.digest != digest:
        raise Refused(
            "file", "This is not the file that was looked at. Look at it first."
        )
    if plan.faults and not good_rows_only:
        raise Refused(
            "good_rows_only",
            f"{len(plan.faults)} rows cannot be taken. Correct the file, or say that "
            "only the good rows are to be taken.",
        )
    if plan.in_question and not confirmed:
        raise Refused(
            "confirmed",
            f"{len(plan.in_question)} rows hold figures in question. Correct the file, "
            "or say that they are right.",
        )

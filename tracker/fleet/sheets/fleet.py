"""The fleet sheet: one row an engine. Its columns, and what each engine's row says now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from tracker.fleet.meters import readings_of
from tracker.fleet.models import (
    Engine,
    Fitting,
    MeterKind,
    Modification,
    Operation,
    Overhaul,
    OwnerKind,
    Reading,
    Review,
    State,
)
from tracker.fleet.sheets import cells
from tracker.fleet.sheets.cells import Column
from tracker.fleet.sheets.writing import write_csv, write_xlsx

NOT_FITTED: Final = "not fitted"
IMPORTED: Final = "imported sheet"

AIRCRAFT: Final = {
    "aircraft_type": "aircraft type",
    "registration": "registration",
    "registry": "registry",
    "position": "position",
}
"""Columns about the aircraft, by the fields of a fitting."""

COLUMNS: Final[tuple[Column, ...]] = (
    cells.text("type", "Type designation as entered here.", longest=60, required=True),
    cells.text("serial", "Serial number as stamped.", longest=60, required=True),
    cells.day("date of manufacture", "As on the data plate: 2019-05-01."),
    cells.day("date of shipping", "As the maker gives it: 2019-06-01."),
    cells.text("owner", "Name of the owner.", longest=120),
    cells.choice(
        "owner kind", "Only needed for an owner not entered yet.", OwnerKind.values
    ),
    cells.text("registration", f'Of the aircraft, or "{NOT_FITTED}".', longest=20),
    cells.text("aircraft type", "Type of the aircraft it is fitted in.", longest=60),
    cells.text("registry", "State of registry, two letters.", longest=2),
    cells.text("position", "Left, right and the like.", longest=20),
    cells.choice("state", "In service, stored or removed.", State.values),
    cells.several(
        "operation", "Private, commercial; several with a semicolon.", longest=40
    ),
    cells.hours("TSN hours", "Time since new on the reading date: 1234.5."),
    cells.day("reading date", "Day on which these hours were read."),
    cells.choice(
        "meter kind", "What is read; time in service if empty.", MeterKind.values
    ),
    cells.hours("hours at last overhaul", "TSN at the last overhaul."),
    cells.day("overhaul date", "Day of the last overhaul."),
    cells.text("overhauled by", 'The name, or "maker".', longest=120),
    cells.several("embodied modifications", "Separated by semicolons.", longest=80),
    cells.text(
        "history reviewed by", "Who has gone through the whole history.", longest=120
    ),
    cells.day("history reviewed on", "Day of that review."),
)


@dataclass(slots=True)
class KeptRows:
    """What is kept of some engines, by the key of the engine."""

    fittings: dict[int, Fitting] = field(default_factory=dict)
    operations: dict[int, Operation] = field(default_factory=dict)
    reviews: dict[int, Review] = field(default_factory=dict)
    modifications: dict[int, list[Modification]] = field(default_factory=dict)
    overhauls: dict[int, list[Overhaul]] = field(default_factory=dict)
    readings: dict[int, list[Reading]] = field(default_factory=dict)


def kept_rows(engines: Sequence[Engine]) -> KeptRows:
    """Return the current rows of engines, fetched in six queries."""
    modifications = defaultdict(list)
    for mark in Modification.objects.filter(engine__in=engines, current=True).order_by(
        "designation_key"
    ):
        modifications[mark.engine_id].append(mark)
    overhauls = defaultdict(list)
    for done in (
        Overhaul.objects.valid().filter(engine__in=engines).order_by("on", "pk")
    ):
        overhauls[done.engine_id].append(done)
    reviews = Review.objects.filter(
        engine__in=engines, current=True, scope=Review.HISTORY
    )
    return KeptRows(
        fittings=_current(Fitting.objects.filter(engine__in=engines, current=True)),
        operations=_current(Operation.objects.filter(engine__in=engines, current=True)),
        reviews=_current(reviews),
        modifications=modifications,
        overhauls=overhauls,
        readings=readings_of(engines),
    )


def row_of(engine: Engine, kept: KeptRows) -> dict[str, Any]:
    """Return what the sheet says of an engine, by column; unknown is left out.

    `engine`: with its type and owner, as `for_list` fetches it.
    """
    values: dict[str, Any] = {
        "type": engine.engine_type.designation,
        "serial": engine.serial,
        "date of manufacture": engine.built,
        "date of shipping": engine.shipped,
        "owner": engine.owner and engine.owner.name,
        "owner kind": engine.owner and engine.owner.kind,
        "state": engine.state,
        **_fitting(kept.fittings.get(engine.pk)),
        **_reading(engine, kept.readings[engine.pk]),
        **_overhaul(engine, kept.overhauls[engine.pk]),
        **_review(kept.reviews.get(engine.pk)),
    }
    operation = kept.operations.get(engine.pk)
    if operation is not None:
        values["operation"] = tuple(operation.uses)
    values["embodied modifications"] = tuple(
        mark.designation for mark in kept.modifications[engine.pk] if mark.embodied
    )
    return {
        name: value for name, value in values.items() if value not in (None, "", ())
    }


def export_fleet(engines: Iterable[Engine], *, xlsx: bool = False) -> bytes:
    """Return a file of the engines as they stand now, that imports as it was exported.

    `engines`: with type and owner. Constant queries.
    """
    wanted = list(engines)
    kept = kept_rows(wanted)
    rows = [row_of(engine, kept) for engine in wanted]
    return write_xlsx(COLUMNS, rows) if xlsx else write_csv(COLUMNS, rows)


def _current(rows: Iterable[Any]) -> dict[int, Any]:
    return {row.engine_id: row for row in rows}


def _fitting(row: Fitting | None) -> dict[str, Any]:
    if row is None:
        return {}
    if not row.fitted:
        return {"registration": NOT_FITTED}
    return {
        "registration": row.registration,
        "aircraft type": row.aircraft_type,
        "registry": row.registry,
        "position": row.position,
    }


def _reading(engine: Engine, readings: Sequence[Reading]) -> dict[str, Any]:
    if not readings or engine.tsn is None or engine.tsn < 0:
        return {}
    newest = readings[-1]
    return {
        "TSN hours": engine.tsn,
        "reading date": newest.on,
        "meter kind": newest.meter.kind,
    }


def _overhaul(engine: Engine, overhauls: Sequence[Overhaul]) -> dict[str, Any]:
    """The last overhaul, unless a maker's rebuild has made the engine new since."""
    if not overhauls or overhauls[-1].kind == Overhaul.Kind.REBUILD:
        return {}
    last = overhauls[-1]
    known = None not in (last.hours, engine.hours_at_new)
    return {
        "hours at last overhaul": (last.hours or 0) - (engine.hours_at_new or 0)
        if known
        else None,
        "overhaul date": last.on,
        "overhauled by": last.by,
    }


def _review(row: Review | None) -> dict[str, Any]:
    if row is None or not row.valid:
        return {}
    return {"history reviewed by": row.person, "history reviewed on": row.true_from}

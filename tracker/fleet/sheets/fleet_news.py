"""Which cells of a fleet sheet's row say something that is not kept already.

A reading, an overhaul or a review that is kept says nothing new, whether or not a
newer one is kept, too: so an old sheet can be read again and changes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from notices.rules.designations import Designation, designation, plain_text
from tracker.fleet.engine_entries import single_uses
from tracker.fleet.models import Engine
from tracker.fleet.sheets.fleet import NOT_FITTED, KeptRows
from tracker.fleet.sheets.plan import RowFault

TSN_NOT_KNOWN: Final = (
    "TSN of this engine is entered as not known. Say on the engine's page what its "
    "meter showed when it was new, or add readings there."
)


def news(
    given: Mapping[str, Any],
    kept: Mapping[str, Any],
    engine: Engine | None,
    rows: KeptRows,
) -> dict[str, Any]:
    """Return the cells that really say something new beside what is kept.

    A reading, an overhaul or a review that is kept already says nothing new, whether
    or not a newer one is kept, too: so an old sheet can be read again.
    """
    values = dict(given)
    _together(values, "TSN hours", "reading date", "meter kind")
    _together(values, "overhaul date", None, "hours at last overhaul", "overhauled by")
    _together(values, "history reviewed by", "history reviewed on")
    for name in ("type", "serial"):
        # These found the engine; how they are written here is no change.
        values[name] = kept.get(name, values[name])
    for name in ("owner", "history reviewed by", "overhauled by"):
        if name in kept and plain_text(values.get(name, "")) == plain_text(kept[name]):
            values[name] = kept[name]
    if plain_text(values.get("registration", "")) == NOT_FITTED:
        values["registration"] = NOT_FITTED
    if "registry" in values:
        values["registry"] = values["registry"].upper()
    if "operation" in values:
        uses = single_uses(values["operation"])
        same = set(uses) == set(kept.get("operation", ()))
        values["operation"] = kept["operation"] if same else uses
    _settle_modifications(values, kept)
    if engine is not None:
        _settle_reading(values, engine, rows)
        _settle_overhaul(values, engine, rows)
        _settle_review(values, engine, rows)
    return values


def _together(
    values: Mapping[str, Any], first: str, second: str | None, *more: str
) -> None:
    """Refuse cells that mean something only beside others that are empty."""
    needed = [first] if second is None else [first, second]
    given = [name for name in (*needed, *more) if name in values]
    for name in needed:
        if given and name not in values:
            raise RowFault(
                name, f"Fill this cell, too, or leave {' and '.join(given)} empty."
            )


def _settle_modifications(values: dict[str, Any], kept: Mapping[str, Any]) -> None:
    """What is embodied already is no change; what is not named stays embodied."""
    column = "embodied modifications"
    if column not in values:
        return
    had = kept.get(column, ())
    named = {designation(name): name for name in (*reversed(values[column]), *had)}
    if "" in named:
        raise RowFault(column, f'"{named[Designation("")]}" names no modification.')
    new = [named[key] for key in map(designation, values[column])]
    values[column] = tuple(dict.fromkeys((*had, *new)))


def _settle_reading(values: dict[str, Any], engine: Engine, kept: KeptRows) -> None:
    if "TSN hours" not in values:
        return
    if engine.hours_at_new is None:
        raise RowFault("TSN hours", TSN_NOT_KNOWN)
    on = values["reading date"]
    hours = values["TSN hours"] + engine.hours_at_new
    of_day = [reading for reading in kept.readings[engine.pk] if reading.on == on]
    if any(reading.hours == hours for reading in of_day):
        for name in ("TSN hours", "reading date", "meter kind"):
            values.pop(name, None)
        return
    if of_day:
        raise RowFault(
            "TSN hours",
            f"For {on} another reading is kept: {of_day[-1]}. "
            "If it is wrong, correct it on the engine's page.",
        )
    readings = kept.readings[engine.pk]
    in_use = next((r.meter.kind for r in reversed(readings) if r.on <= on), None)
    kind = values.get("meter kind")
    if kind is not None and in_use is not None and kind != in_use:
        raise RowFault(
            "meter kind",
            f"This engine is read on a meter of {in_use}. "
            "Record a change of meter on the engine's page.",
        )


def _settle_overhaul(values: dict[str, Any], engine: Engine, kept: KeptRows) -> None:
    on = values.get("overhaul date")
    if values.get("hours at last overhaul") is not None and engine.hours_at_new is None:
        raise RowFault("hours at last overhaul", TSN_NOT_KNOWN)
    known = next((o for o in kept.overhauls[engine.pk] if o.on == on), None)
    if on is None or known is None:
        return
    hours = values.get("hours at last overhaul")
    done_by = values.get("overhauled by")
    zero = engine.hours_at_new or 0
    if (hours is not None and hours + zero != known.hours) or (
        done_by is not None and plain_text(done_by) != plain_text(known.by)
    ):
        raise RowFault(
            "overhaul date",
            f"An overhaul on {on} is kept with other hours or by somebody else. "
            "If it is wrong, withdraw it on the engine's page.",
        )
    for name in ("overhaul date", "hours at last overhaul", "overhauled by"):
        values.pop(name, None)


def _settle_review(values: dict[str, Any], engine: Engine, kept: KeptRows) -> None:
    row = kept.reviews.get(engine.pk)
    on = values.get("history reviewed on")
    if row is None or on is None or on > row.true_from:
        return
    person = values["history reviewed by"]
    same = on == row.true_from or not row.valid
    if same and plain_text(person) == plain_text(row.person):
        values.pop("history reviewed on")
        values.pop("history reviewed by")
        return
    state = "is kept" if row.valid else "has lapsed"
    raise RowFault(
        "history reviewed on",
        f"A review of {row.true_from} by {row.person} {state}. "
        "Only a later one can be entered.",
    )

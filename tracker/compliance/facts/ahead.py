"""Rows dated ahead of a day: from theirs on, an engine's file is another one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, Final

from tracker.compliance.facts.files import EngineFile
from tracker.compliance.many_keys import among
from tracker.compliance.models import AlternativeMethod, Answer, Declined, Record
from tracker.fleet.models import (
    Attribute,
    Fitting,
    FuelRecord,
    Identity,
    Modification,
    NamedEvent,
    Operation,
    Overhaul,
    PartDescription,
    PartFitting,
    Reading,
    Review,
    Search,
)

_DATED: Final = (
    AlternativeMethod,
    Answer,
    Attribute,
    Declined,
    Fitting,
    Identity,
    Modification,
    Operation,
    PartFitting,
    Review,
    Search,
)
_HAPPENED: Final = (FuelRecord, NamedEvent, Overhaul, Reading, Record)
_OF_PARTS: Final = ((PartDescription, Answer, Attribute), (Overhaul, Record))


def days_ahead(files: Mapping[int, EngineFile], *, on: date) -> dict[int, date]:
    """Return the first day after `on` of which a row of an engine or its parts speaks.

    Engines without any are left out. Two queries, one where there are no parts.
    """
    found: dict[int, date] = {}
    for engine, day in _first_days(files, "engine_id", _DATED, _HAPPENED, on):
        found[engine] = min(day, found.get(engine, day))
    engine_of = {
        part.key: engine for engine, file in files.items() for part in file.parts
    }
    if engine_of:
        for part, day in _first_days(engine_of, "part_id", *_OF_PARTS, on):
            engine = engine_of[part]
            found[engine] = min(day, found.get(engine, day))
    return found


def _first_days(
    keys: Iterable[int],
    about: str,
    dated: tuple[Any, ...],
    happened: tuple[Any, ...],
    on: date,
) -> Iterable[tuple[int, date]]:
    wanted = list(keys)
    first, *others = [
        model._default_manager.filter(
            **{f"{about}__in": among(wanted), f"{day}__gt": on}
        )
        .order_by()
        .values_list(about, day)
        for models, day in ((dated, "true_from"), (happened, "on"))
        for model in models
    ]
    rows: Iterable[tuple[int, date]] = first.union(*others, all=True)
    return rows

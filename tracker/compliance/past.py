"""What an engine has behind it: parts that came and went, events, readings, reviews."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final
from uuid import UUID

from django.utils import timezone

from tracker.accounts.access import Viewer
from tracker.compliance.due import named_parts
from tracker.fleet.fitted_parts import FittedPart, parts_fitted
from tracker.fleet.models import (
    Attribute,
    Engine,
    Meter,
    Modification,
    NamedEvent,
    Overhaul,
    PartFitting,
    Reading,
    Review,
)

LAST_READINGS: Final = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A part fitted to the engine or taken off it, with what it is called."""

    fitting: PartFitting
    part: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EnginePast:
    """Newest first, but `fitted`, which goes by role and place.

    `readings`: the newest, `readings_total` of all. `overhauls` includes rebuilds.
    """

    engine: Engine
    fitted: tuple[FittedPart, ...]
    moves: tuple[Move, ...]
    modifications: tuple[Modification, ...]
    attributes: tuple[Attribute, ...]
    overhauls: tuple[Overhaul, ...]
    events: tuple[NamedEvent, ...]
    reviews: tuple[Review, ...]
    meters: tuple[Meter, ...]
    readings: tuple[Reading, ...]
    readings_total: int


def past_of(viewer: Viewer, public_id: UUID, on: date) -> EnginePast:
    """Return the past; Engine.DoesNotExist where the viewer does not see the engine.

    Sixteen queries, however much has happened.
    """
    engine = Engine.objects.visible_to(viewer).for_list().get(public_id=public_id)
    fittings = list(
        PartFitting.objects.filter(engine=engine).order_by("-true_from", "-pk")
    )
    names = named_parts(row.part_id for row in fittings)
    valid = Reading.objects.valid().filter(engine=engine).select_related("meter")
    happened = Overhaul.objects.valid().filter(engine=engine, part=None)
    events = NamedEvent.objects.valid().filter(engine=engine)
    held = {"engine": engine, "current": True}
    return EnginePast(
        engine=engine,
        fitted=tuple(parts_fitted([engine], on=on, known_at=timezone.now())),
        moves=tuple(Move(fitting=row, part=names[row.part_id]) for row in fittings),
        modifications=tuple(
            Modification.objects.filter(**held).order_by("designation_key")
        ),
        attributes=tuple(Attribute.objects.filter(**held).order_by("name_key")),
        overhauls=tuple(happened.order_by("-on", "-pk")),
        events=tuple(events.order_by("-on", "-pk")),
        reviews=tuple(Review.objects.filter(**held).order_by("-true_from", "scope")),
        meters=tuple(
            Meter.objects.filter(engine=engine).order_by("-started_on", "-pk")
        ),
        readings=tuple(valid[:LAST_READINGS]),
        readings_total=valid.count(),
    )

"""Which parts engines carry on a day, and how many hours each part has run."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from tracker.fleet.history import as_of
from tracker.fleet.meters import last_hours_of
from tracker.fleet.models import Engine, Overhaul, Part, PartDescription, PartFitting


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedPart:
    """A part on an engine on a day. Hours in hundredths; None is not known."""

    part: Part
    fitting: PartFitting
    description: PartDescription
    overhauls: tuple[Overhaul, ...]
    hours_new: int | None
    hours_overhaul: int | None
    hours_fitted: int | None

    def __str__(self) -> str:
        return named(self.description, self.fitting.place)


def named(description: PartDescription, place: str = "") -> str:
    """Return how a part is spoken of: "magneto, left, P-7710, serial A-17"."""
    said = [description.role, place, description.number]
    if description.serial:
        said.append(f"serial {description.serial}")
    return ", ".join(word for word in said if word)


@dataclass(frozen=True, slots=True)
class HoursAt:
    new: int | None
    overhaul: int | None
    fitted: int | None


def parts_fitted(
    engines: Iterable[Engine], *, on: date, known_at: datetime
) -> list[FittedPart]:
    """Return the parts fitted to engines on a day, by role and place. Four queries."""
    wanted = list(engines)
    fittings = list(
        as_of(PartFitting, wanted, on=on, known_at=known_at)
        .filter(removed=False)
        .select_related("part")
    )
    parts = [fitting.part_id for fitting in fittings]
    described = {
        row.part_id: row
        for row in as_of(PartDescription, parts, on=on, known_at=known_at, of="part")
    }
    overhauls: dict[int | None, list[Overhaul]] = defaultdict(list)
    done = Overhaul.objects.known_at(known_at).filter(part__in=parts, on__lte=on)
    for overhaul in done.order_by("on", "pk"):
        overhauls[overhaul.part_id].append(overhaul)
    now = last_hours_of(wanted, on=on, known_at=known_at)
    found = [
        _fitted_part(
            fitting,
            described[fitting.part_id],
            overhauls[fitting.part_id],
            now.get(fitting.engine_id),
        )
        for fitting in fittings
    ]
    return sorted(
        found,
        key=lambda f: (f.fitting.engine_id, f.description.role, f.fitting.place),
    )


def _fitted_part(
    fitting: PartFitting,
    description: PartDescription,
    overhauls: Sequence[Overhaul],
    engine_hours: int | None,
) -> FittedPart:
    kept = hours_at(fitting, description, overhauls, engine_hours)
    return FittedPart(
        part=fitting.part,
        fitting=fitting,
        description=description,
        overhauls=tuple(overhauls),
        hours_new=kept.new,
        hours_overhaul=kept.overhaul,
        hours_fitted=kept.fitted,
    )


def hours_at(
    fitting: PartFitting,
    description: PartDescription,
    overhauls: Sequence[Overhaul],
    engine_hours: int | None,
) -> HoursAt:
    """Hours of a part when its engine shows `engine_hours`; None stays None.

    An engine read before the fitting only is at least where it was at the fitting.
    """
    run = None
    if engine_hours is not None and fitting.engine_hours is not None:
        run = max(0, engine_hours - fitting.engine_hours)
    new = _sum(fitting.part_hours_new, run)
    if overhauls:
        last, since = overhauls[-1], fitting.day or fitting.true_from
        if None not in (new, last.part_hours):
            return HoursAt(new, max(0, (new or 0) - (last.part_hours or 0)), run)
        if engine_hours is not None and last.hours is not None and last.on >= since:
            return HoursAt(new, max(0, engine_hours - last.hours), run)
        if last.on > since:
            return HoursAt(new, None, run)
    elif description.never_overhauled:
        return HoursAt(new, new, run)
    return HoursAt(new, _sum(fitting.part_hours_overhaul, run), run)


def _sum(one: int | None, other: int | None) -> int | None:
    return None if one is None or other is None else one + other

"""A part that is entered as new, and is known here by its number and serial already.

Entered a second time it would be on two engines, and what is known of it would stay
with the first entry.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from django.db.models import F, Value
from django.db.models.functions import Replace, Upper

from notices.rules.designations import designation
from tracker.accounts.models import Station
from tracker.fleet.errors import KnownPart
from tracker.fleet.fitted_parts import named
from tracker.fleet.models import Engine, PartDescription, PartFitting

_BLANKS: Final = " -\u2010\u2011\u2012\u2013\u2014\u2015\u2212"
"""What a designation is compared without; blanks are single ones once text is kept."""
Key = tuple[str, str]


def key_of(number: str, serial: str) -> Key | None:
    """Return by what a part is known again; None where one of both is not given."""
    key = designation(number), designation(serial)
    return key if all(key) else None


def known_parts(
    station: Station, keys: Iterable[Key]
) -> dict[Key, tuple[PartDescription, PartFitting]]:
    """Return what is known of parts and where each is, or was last. Two queries."""
    wanted = set(keys)
    bare: Any = F("serial")
    for blank in _BLANKS:
        bare = Replace(bare, Value(blank))
    described = PartDescription.objects.filter(current=True, station=station)
    alike = described.alias(bare=Upper(bare)).filter(
        bare__in={serial for _, serial in wanted}
    )
    found = {key_of(row.number, row.serial): row for row in alike}
    fittings = PartFitting.objects.filter(
        current=True, part__in=[row.part_id for row in found.values()]
    ).select_related("engine__engine_type", "part")
    where = {row.part_id: row for row in fittings}
    return {
        key: (row, where[row.part_id])
        for key, row in found.items()
        if key in wanted and row.part_id in where
    }


def refuse_known(engine: Engine, number: str, serial: str) -> None:
    """Raise KnownPart where a part with this number and serial is entered already."""
    key = key_of(number, serial)
    if key is None:
        return
    known = known_parts(engine.station, [key]).get(key)
    if known is not None:
        said = where_it_is(*known, engine)
        raise KnownPart("serial", f"{said} {_WAY}", known[1].part.public_id)


_WAY: Final = "Fit that part here; its hours and what is known of it then follow it."


def where_it_is(known: PartDescription, fitting: PartFitting, engine: Engine) -> str:
    """Say where a known part is, for somebody who enters it on an engine."""
    name = named(known)
    if fitting.removed:
        return f"The {name} is entered here already; it was taken off {fitting.engine}."
    if fitting.engine_id == engine.pk:
        return f"The {name} is on this engine already."
    return f"The {name} is fitted on {fitting.engine} now."

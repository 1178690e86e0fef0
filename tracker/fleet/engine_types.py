"""Engine types and how many parts of each role they hold."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from notices.rules.designations import designation, plain_text
from tracker.accounts.models import Station
from tracker.fleet.entries import checked_text
from tracker.fleet.errors import Refused
from tracker.fleet.models import EngineType, PartRole


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeFacts:
    """`parts`: how many parts of each role the type holds, as in `{"magneto": 2}`."""

    designation: str
    maker: str
    serial_pattern: str = ""
    serial_run: int | None = None
    parts: Mapping[str, int] = field(default_factory=dict)


def add_engine_type(station: Station, facts: TypeFacts) -> EngineType:
    """Return a new engine type with its part roles; Refused if the station has it."""
    made = EngineType.objects.create(station=station, **_type_columns(station, facts))
    _write_roles(made, facts.parts)
    return made


def change_engine_type(engine_type: EngineType, facts: TypeFacts) -> EngineType:
    """Correct a type's entry. What it is called may change, its engines stay."""
    columns = _type_columns(engine_type.station, facts, engine_type)
    EngineType.objects.filter(pk=engine_type.pk).update(**columns)
    engine_type.part_roles.all().delete()
    _write_roles(engine_type, facts.parts)
    engine_type.refresh_from_db()
    return engine_type


def _type_columns(
    station: Station, facts: TypeFacts, own: EngineType | None = None
) -> dict[str, object]:
    name = checked_text(EngineType, "designation", facts.designation, required=True)
    key = designation(name)
    same = EngineType.objects.filter(station=station, designation_key=key)
    if not key or (same.exclude(pk=own.pk) if own else same).exists():
        raise Refused(
            "designation",
            f'The type "{name}" is already entered at this station.'
            if key
            else f'"{name}" names no type. Write its designation, such as "MX-4".',
        )
    pattern = checked_text(EngineType, "serial_pattern", facts.serial_pattern)
    runs = len(re.findall(r"[0-9#]+", pattern))
    if facts.serial_run is not None and not 1 <= facts.serial_run <= max(runs, 1):
        raise Refused(
            "serial_run",
            f'The pattern "{pattern}" has {runs} runs of digits, so run '
            f"{facts.serial_run} cannot be the number.",
        )
    return {
        "maker": checked_text(EngineType, "maker", facts.maker, required=True),
        "designation": name,
        "designation_key": key,
        "serial_pattern": pattern,
        "serial_run": facts.serial_run,
    }


def _write_roles(engine_type: EngineType, parts: Mapping[str, int]) -> None:
    roles = {
        plain_text(checked_text(PartRole, "role", role, required=True)): count
        for role, count in parts.items()
    }
    for role, count in roles.items():
        if not 1 <= count <= 100:
            raise Refused("parts", f'An engine cannot hold {count} of "{role}".')
    PartRole.objects.bulk_create(
        PartRole(engine_type=engine_type, role=role, count=count)
        for role, count in roles.items()
    )

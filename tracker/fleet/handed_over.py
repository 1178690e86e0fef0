"""The facts of an engine as rows of plain values, to go along with it to another station.

What goes: identity, where it was fitted, its meters and readings, overhauls, events,
modifications, properties, fuel, and the parts on it with their history here. What stays
behind: owner, operation, reviews and searches, which are for whoever takes it over to
enter. Nothing here opens a transaction.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q

from notices.rules.designations import designation
from notices.rules.errors import Fault, RuleError
from tracker.accounts.models import Station, User
from tracker.fleet.errors import Refused
from tracker.fleet.history import columns_of, project_zero
from tracker.fleet.models import (
    Attribute,
    Engine,
    EngineType,
    Fitting,
    FuelRecord,
    Identity,
    Meter,
    Modification,
    NamedEvent,
    Overhaul,
    Part,
    PartDescription,
    PartFitting,
    PartRole,
    Reading,
    ServiceState,
    serial_key,
    serial_order,
)

Row = dict[str, Any]
Tables = Mapping[str, Sequence[Row]]
MODELS: Final[dict[str, type[models.Model]]] = {
    "identities": Identity,
    "fittings": Fitting,
    "states": ServiceState,
    "modifications": Modification,
    "meters": Meter,
    "readings": Reading,
    "fuel": FuelRecord,
    "parts": Part,
    "part_descriptions": PartDescription,
    "part_fittings": PartFitting,
    "overhauls": Overhaul,
    "events": NamedEvent,
    "attributes": Attribute,
}
_OF_THE_STATION: Final = {"id", "public_id", "station", "engine", "recorded_by"}
_NUMBERED: Final = {"part": "parts", "meter": "meters", "corrects": "readings"}
MOST_ROWS: Final = 100_000


def rows_of_engine(engine: Engine) -> dict[str, list[Row]]:
    """Return every table; rows name each other by their place in a table, from 0."""
    fitted = PartFitting.objects.filter(engine=engine, current=True, removed=False)
    parts = list(Part.objects.filter(fittings__in=fitted).order_by("pk"))
    of_parts = Q(part__in=parts)
    own = {"engine": engine}
    found: dict[str, list[models.Model]] = {
        "parts": list(parts),
        "part_descriptions": list(PartDescription.objects.filter(of_parts)),
        "part_fittings": list(PartFitting.objects.filter(of_parts, **own)),
        "overhauls": list(Overhaul.objects.filter(Q(**own) | of_parts)),
        "attributes": list(Attribute.objects.filter(Q(part=None, **own) | of_parts)),
    }
    for name, model in MODELS.items():
        if name not in found:
            found[name] = list(model._default_manager.filter(**own))
    for rows in found.values():
        rows.sort(key=lambda row: row.pk)
    places = {
        name: {row.pk: place for place, row in enumerate(found[name])}
        for name in _NUMBERED.values()
    }
    return {name: [_plain(row, places) for row in found[name]] for name in MODELS}


def type_of_engine(engine: Engine) -> Row:
    """Return what is needed to enter the engine's type where it is not known."""
    kind = engine.engine_type
    roles = PartRole.objects.filter(engine_type=kind).order_by("role")
    return {
        "maker": kind.maker,
        "designation": kind.designation,
        "serial_pattern": kind.serial_pattern,
        "serial_run": kind.serial_run,
        "roles": {role.role: role.count for role in roles},
    }


def _plain(row: models.Model, places: Mapping[str, Mapping[int, int]]) -> Row:
    plain: Row = {}
    for column in _columns(type(row)):
        value = column.value_from_object(row)
        if column.name in _NUMBERED and value is not None:
            value = places[_NUMBERED[column.name]][value]
        elif column.name == "engine_type":
            value = row.engine_type.designation  # type: ignore[attr-defined]  # identities have one
        plain[column.name] = value
    if isinstance(row, Overhaul):
        plain["of_part"] = row.engine_id is None
    return plain


def _columns(model: type[models.Model]) -> list[Any]:
    return [
        column
        for column in model._meta.concrete_fields
        if column.name not in _OF_THE_STATION
    ]


@dataclass(slots=True)
class _Reader:
    """Reads rows of plain values back into rows of tables, each fault with its path."""

    station: Station
    engine: Engine
    by: User
    kinds: Mapping[str, EngineType]
    made: dict[str, list[Any]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def read(self, name: str, rows: Sequence[Row]) -> list[Any]:
        """Return the rows of a table, not saved; a row may name an earlier one."""
        found = self.made[name] = []
        for place, raw in enumerate(rows):
            found.append(self._row(MODELS[name], raw, f"facts.{name}[{place}]"))
        return found

    def _row(self, model: type[models.Model], raw: Row, path: str) -> Any:
        given = dict(raw)
        of_part = given.pop("of_part", False)
        row = model()
        wanted = {column.name: column for column in _columns(model)}
        for unknown in set(given) ^ set(wanted):
            self.faults.append(Fault(f"{path}.{unknown}", "Is missing, or not known."))
        for name in wanted.keys() & given.keys():
            self._set(row, wanted[name], given[name], f"{path}.{name}")
        for name, value in (
            ("station", self.station),
            ("engine", None if of_part else self.engine),
            ("recorded_by", self.by),
        ):
            if name in {column.name for column in model._meta.concrete_fields}:
                setattr(row, name, value)
        return row

    def _set(self, row: Any, column: Any, raw: Any, path: str) -> None:
        if column.name in _NUMBERED and raw is not None:
            rows = self.made.get(_NUMBERED[column.name], [])
            if not isinstance(raw, int) or not 0 <= raw < len(rows):
                self.faults.append(Fault(path, f"{raw!r} is no place in a table."))
                return
            setattr(row, column.name, rows[raw])
            return
        if column.name == "engine_type":
            kind = self.kinds.get(designation(str(raw)))
            if kind is None:
                self.faults.append(Fault(path, f"{raw!r} is no type of this engine."))
                return
            row.engine_type = kind
            return
        try:
            value = None if raw is None and column.null else column.clean(raw, row)
        except ValidationError as error:
            self.faults.append(Fault(path, " ".join(error.messages)))
            return
        setattr(row, column.attname, value)


def write_engine(
    station: Station,
    kind: Row,
    tables: Tables,
    *,
    chain_id: UUID,
    at: datetime,
    by: User,
) -> Engine:
    """Return the engine, written with all its rows.

    Raises RuleError with the path of every value that cannot be right, and Refused
    where the station keeps the engine already.
    """
    current = [row for row in tables["identities"] if row.get("current")]
    if len(current) != 1:
        raise RuleError([Fault("facts.identities", "Exactly one must be current.")])
    engine_type = _type_at(station, kind)
    engine = _new_engine(station, engine_type, str(current[0]["serial"]), chain_id, at)
    kinds = {engine_type.designation_key: engine_type}
    reader = _Reader(station=station, engine=engine, by=by, kinds=kinds)
    for name in MODELS:
        rows = reader.read(name, tables[name])
        if reader.faults:
            raise RuleError(reader.faults)
        for row in rows:
            row.save(force_insert=True)
    _project(engine, reader.made)
    return Engine.objects.select_related("engine_type", "station").get(pk=engine.pk)


def _new_engine(
    station: Station, kind: EngineType, serial: str, chain_id: UUID, at: datetime
) -> Engine:
    same = Engine.objects.filter(station=station)
    if same.filter(chain_id=chain_id).exists():
        raise Refused("", "This station keeps that engine already, with its ledger.")
    if same.filter(engine_type=kind, serial_key=serial_key(serial)).exists():
        raise Refused(
            "",
            f"This station keeps a {kind.designation}, serial {serial}, already. Two "
            "ledgers of one engine cannot be joined.",
        )
    return Engine.objects.create(
        station=station,
        created_at=at,
        chain_id=chain_id,
        engine_type=kind,
        serial=serial,
        serial_key=serial_key(serial),
        serial_order=serial_order(serial),
    )


def _type_at(station: Station, kind: Row) -> EngineType:
    key = designation(kind["designation"])
    found = EngineType.objects.filter(station=station, designation_key=key).first()
    if found is not None:
        return found
    made = EngineType(
        station=station,
        maker=kind["maker"],
        designation=kind["designation"],
        designation_key=key,
        serial_pattern=kind["serial_pattern"],
        serial_run=kind["serial_run"],
    )
    try:
        made.full_clean()
    except ValidationError as error:
        raise RuleError([Fault("type", " ".join(error.messages))]) from error
    made.save()
    PartRole.objects.bulk_create(
        PartRole(engine_type=made, role=role, count=count)
        for role, count in kind["roles"].items()
    )
    return made


def _project(engine: Engine, made: Mapping[str, Sequence[Any]]) -> None:
    """Fill the columns of the engine that repeat its current rows."""
    columns: dict[str, Any] = {}
    for name in ("identities", "fittings", "states"):
        for row in made[name]:
            if row.current:
                columns |= columns_of(row)
    corrected = {row.corrects_id for row in made["readings"]}
    valid = [row for row in made["readings"] if row.pk not in corrected]
    newest = max(valid, key=lambda row: (row.on, row.hours, row.pk), default=None)
    if newest is not None:
        columns |= {"hours_now": newest.hours, "read_on": newest.on}
    Engine.objects.filter(pk=engine.pk).update(**columns)
    engine.refresh_from_db()
    project_zero(engine)

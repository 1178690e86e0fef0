"""A station made a hundred times as large by copying its rows inside the database.

What was entered and evaluated for some engines is copied with other keys. So every copy
is as whole as its original, and a hundred thousand engines take minutes, not hours.
"""

from __future__ import annotations

from typing import Any, Final

from django.db import connection, models

from tracker.compliance.models import Finding, Standing
from tracker.fleet.models import (
    Attribute,
    Engine,
    Fitting,
    FuelRecord,
    Identity,
    Meter,
    Modification,
    NamedEvent,
    Operation,
    Overhaul,
    Ownership,
    Part,
    PartDescription,
    PartFitting,
    Reading,
    Review,
    Search,
    ServiceState,
)

COPIED: Final[tuple[type[models.Model], ...]] = (
    *(Engine, Part, Meter, Reading, Identity, Fitting, Operation, Ownership),
    *(ServiceState, Modification, Attribute, Overhaul, NamedEvent, FuelRecord),
    *(Review, Search, PartDescription, PartFitting, Finding, Standing),
)
STRIDE: Final = 10_000_000
"""Greater than any key of an original; a copy's keys are these and its number's."""
MONTH: Final = 31


def multiply(times: int) -> None:
    """Let there be so many of each engine. Their serials tell the copies apart.

    In what stands in `Standing.again_on` copies lie apart by a day each, over a month
    around the original: not all engines of a station were read on the same days.
    """
    with connection.cursor() as cursor:
        for model in COPIED:
            names, values = zip(*_columns(model), strict=True)
            table = connection.ops.quote_name(model._meta.db_table)
            copies = _numbers(times - 1)
            cursor.execute(
                f"INSERT INTO {table} ({', '.join(names)}) "  # noqa: S608  # our own names
                f"SELECT {', '.join(values)} FROM {table} CROSS JOIN {copies} "
                f"WHERE {names[0]} < {STRIDE}"
            )
        for model in COPIED:
            _move_sequence(cursor, model)
        cursor.execute("ANALYZE")


def _columns(model: type[models.Model]) -> list[tuple[str, str]]:
    """Return each column with what it is in a copy, the key first."""
    fields = sorted(model._meta.concrete_fields, key=lambda one: not one.primary_key)
    return [
        (connection.ops.quote_name(one.column), _value(model, one)) for one in fields
    ]


def _value(model: type[models.Model], one: models.Field[Any, Any]) -> str:
    column = connection.ops.quote_name(one.column)
    if one.related_model in COPIED or (one.primary_key and not one.is_relation):
        return f"{column} + copy * {STRIDE}"
    if isinstance(one, models.UUIDField):
        is_sqlite = connection.vendor == "sqlite"
        return "lower(hex(randomblob(16)))" if is_sqlite else "gen_random_uuid()"
    if model is Engine and one.name in {"serial", "serial_key"}:
        return f"{column} || '-' || copy"
    if model is Standing and one.name == "again_on":
        is_sqlite = connection.vendor == "sqlite"
        moved = f"((copy % {MONTH}) - {MONTH // 2})"
        later = f"date({column}, {moved} || ' days')"
        return later if is_sqlite else f"{column} + {moved}::integer"
    return column


def _numbers(last: int) -> str:
    if connection.vendor == "sqlite":
        return (
            "(WITH RECURSIVE numbers(copy) AS (SELECT 1 UNION ALL SELECT copy + 1 "  # noqa: S608
            f"FROM numbers WHERE copy < {last}) SELECT copy FROM numbers)"
        )
    return f"(SELECT copy::bigint FROM generate_series(1, {last}) copy) copies"  # noqa: S608


def _move_sequence(cursor: Any, model: type[models.Model]) -> None:
    for statement in connection.ops.sequence_reset_sql(_PLAIN, [model]):
        cursor.execute(statement)


_PLAIN: Any = type("Plain", (), {"__getattr__": lambda self, name: str})()
"""The words of a statement as they are: nobody looks at them in colour."""

"""The two kinds of database, each with its way to be copied and to be restored."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from tracker.backup import postgresql, sqlite


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """`file`: what the copy is called. The rest stands in the module of each."""

    file: str
    snapshot: Callable[[Path], AbstractContextManager[None]]
    check_empty: Callable[[], None]
    restored: Callable[[Path], AbstractContextManager[None]]


KINDS: Final = {
    "sqlite": Kind(
        file=sqlite.FILE,
        snapshot=sqlite.snapshot,
        check_empty=sqlite.check_empty,
        restored=sqlite.restored,
    ),
    "postgresql": Kind(
        file=postgresql.FILE,
        snapshot=postgresql.snapshot,
        check_empty=postgresql.check_empty,
        restored=postgresql.restored,
    ),
}


def rows_of_tables() -> dict[str, int]:
    """Return how many rows each table has. A query for each table."""
    counts = {}
    with connection.cursor() as cursor:
        for table in sorted(connection.introspection.table_names(cursor)):
            quoted = connection.ops.quote_name(table)
            cursor.execute(f"SELECT count(*) FROM {quoted}")  # noqa: S608  # quoted
            counts[table] = cursor.fetchone()[0]
    return counts


def applied_migrations() -> list[str]:
    """Return the migrations that a database has, as `app.name`."""
    applied = MigrationRecorder(connection).applied_migrations()
    return sorted(f"{app}.{name}" for app, name in applied)

"""A PostgreSQL database dumped from one snapshot, and restored into an empty one."""

from __future__ import annotations

import os
import re
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from django.db import connection, transaction

from tracker.backup.manifest import BackupRefused

FILE: Final = "database.dump"
_AS_GIVEN: Final = ("--no-owner", "--no-privileges")
"""Whoever restores owns what is restored: roles are not part of a database."""
_FUNCTIONS: Final = """
    SELECT format('%s(%s)', p.oid::regproc, pg_get_function_identity_arguments(p.oid))
    FROM pg_proc p
    WHERE p.pronamespace = current_schema()::regnamespace
      AND NOT EXISTS (
        SELECT FROM pg_depend d
        WHERE d.classid = 'pg_proc'::regclass AND d.objid = p.oid AND d.deptype = 'e')
"""


@contextmanager
def snapshot(path: Path) -> Iterator[None]:
    """Dump the database of one moment; inside, that moment is read."""
    _check_version("pg_dump")
    with transaction.atomic(durable=True), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        [moment] = cursor.fetchone()
        _run(
            "pg_dump",
            *("--format=custom", f"--snapshot={moment}", f"--file={path}"),
            *_AS_GIVEN,
        )
        yield


def check_empty() -> None:
    """Raise BackupRefused unless the database has no table at all."""
    _check_version("pg_restore")
    tables = _tables()
    if tables:
        raise BackupRefused(
            f'The database "{connection.settings_dict["NAME"]}" has {len(tables)} '
            "tables already. A backup is only restored into an empty one: make a new "
            "database, do not migrate it, and name it in TRACKER_DATABASE_URL."
        )


@contextmanager
def restored(source: Path) -> Iterator[None]:
    """Inside, the database is that of the dump; after a failure it is empty again."""
    functions = set(_functions())
    name = str(connection.settings_dict["NAME"])
    _run(
        "pg_restore",
        *("--single-transaction", "--exit-on-error", f"--dbname={name}"),
        *(*_AS_GIVEN, str(source)),
    )
    try:
        yield
    except BaseException:
        _drop(set(_functions()) - functions)
        raise


def _drop(functions: set[str]) -> None:
    quoted = [connection.ops.quote_name(table) for table in _tables()]
    with transaction.atomic(), connection.cursor() as cursor:
        if quoted:
            cursor.execute(f"DROP TABLE {', '.join(quoted)} CASCADE")
        for function in functions:
            cursor.execute(f"DROP FUNCTION {function} CASCADE")


def _tables() -> list[str]:
    return connection.introspection.table_names(include_views=True)


def _functions() -> list[str]:
    """Functions of the schema with their arguments; those of extensions left out."""
    with connection.cursor() as cursor:
        cursor.execute(_FUNCTIONS)
        return [name for (name,) in cursor.fetchall()]


def _check_version(tool: str) -> None:
    """Raise BackupRefused where a tool of PostgreSQL is missing or too old."""
    found = re.search(r"\d+", _run(tool, "--version"))
    version = int(found[0]) if found else 0
    with connection.cursor() as cursor:
        cursor.execute("SHOW server_version_num")
        server = int(cursor.fetchone()[0]) // 10_000
    if version < server:
        raise BackupRefused(
            f"{tool} is of PostgreSQL {version}, and the server of {server}. Install "
            f"the client tools of PostgreSQL {server}."
        )


def _run(tool: str, *arguments: str) -> str:
    given = connection.settings_dict
    names = {"PGHOST": "HOST", "PGPORT": "PORT", "PGUSER": "USER"}
    names |= {"PGPASSWORD": "PASSWORD", "PGDATABASE": "NAME"}
    told = {ours: str(given[theirs]) for ours, theirs in names.items() if given[theirs]}
    try:
        ran = subprocess.run(  # noqa: S603  # words of our own; a password is no argument
            [tool, *arguments],
            env={**os.environ, **told},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            errors="replace",
        )
    except FileNotFoundError as error:
        raise BackupRefused(
            f"{tool} is not installed here. Install the client tools of PostgreSQL."
        ) from error
    if ran.returncode:
        said = ran.stderr.strip() or f"exit status {ran.returncode}"
        raise BackupRefused(f"{tool} failed: {said}")
    return ran.stdout

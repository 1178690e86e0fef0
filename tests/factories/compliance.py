"""The smallest entry that the ledger takes, and a way past what protects it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from importlib import import_module
from typing import Any

from django.db import connection

from tracker.compliance.ledger import Approval, Entry

APPROVAL = Approval(
    name="Runa Tveit",
    certificate_kind="inspection authorization",
    certificate_number="ZZ-4471",
)


def entry(on: date, **given: Any) -> Entry:
    """Return an entry of work, complete but for what it was done under."""
    whole: dict[str, Any] = {
        "description": "Fuel pump inspected, no wear found.",
        "done_by": "Jory Penhale",
        "approval": APPROVAL,
        **given,
    }
    return Entry(on=on, **whole)


def past_entry(on: date, **given: Any) -> Entry:
    """Return an entry transcribed from a logbook."""
    whole = {"description": "As entered in the logbook.", "page": "17", **given}
    return Entry(on=on, **whole)


@contextmanager
def ledger_unprotected() -> Iterator[None]:
    """Lift the triggers that keep records as they are, and put them back."""
    migrations = [
        import_module(f"tracker.compliance.migrations.{name}")
        for name in (
            "0002_records_are_only_added",
            "0005_attachments_are_only_added",
        )
    ]
    name = "SQLITE" if connection.vendor == "sqlite" else "POSTGRESQL"
    if name == "POSTGRESQL" and connection.in_atomic_block:
        # A table cannot be altered while foreign keys of its rows wait to be checked.
        _run(["SET CONSTRAINTS ALL IMMEDIATE"])
    for triggers in migrations:
        _run(getattr(triggers, f"{name}_REVERSE"))
    try:
        yield
    finally:
        for triggers in migrations:
            _run(getattr(triggers, name))


def _run(statements: list[str]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)

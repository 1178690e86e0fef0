"""The good rows of a planned sheet of past compliance, written to the ledgers."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime

from tracker.accounts.models import User
from tracker.compliance.ledger import Entry, add_records
from tracker.compliance.sheets.planning import PastWork
from tracker.fleet.history import lock_engine
from tracker.fleet.models import Engine
from tracker.fleet.sheets.plan import Plan


def apply_compliance(plan: Plan[PastWork], *, by: User, at: datetime) -> list[Engine]:
    """Add the records of a plan made in this same transaction; return their engines.

    Engines are locked in the order of their keys.
    """
    entries: dict[int, list[Entry]] = defaultdict(list)
    engines: dict[int, Engine] = {}
    for row in plan.to_add:
        engines[row.wish.engine.pk] = row.wish.engine
        entries[row.wish.engine.pk].append(row.wish.entry)
    for key in sorted(engines):
        engine = lock_engine(engines[key])
        add_records(engine=engine, entries=entries[key], by=by, at=at)
    return [engines[key] for key in sorted(engines)]

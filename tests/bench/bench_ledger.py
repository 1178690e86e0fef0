"""How fast the ledger is gone through: 20,000 records of 200 engines.

Run as `python -m tests.bench.bench_ledger`; the target is 100,000 records a second for
the whole check, columns and attachments included.
"""

# ruff: noqa: T201 - a benchmark prints its figures

from __future__ import annotations

import os
from datetime import UTC, date, datetime
from time import perf_counter, process_time

import django

ENGINES = 200
RECORDS_EACH = 100
AT = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)


def fill() -> None:
    from tests.factories.accounts import MembershipFactory, StationFactory
    from tests.factories.compliance import entry
    from tests.factories.fleet import EngineFactory, EngineTypeFactory
    from tracker.compliance.ledger import Entry, add_to_ledgers

    station = StationFactory()
    by = MembershipFactory(station=station).user
    kind = EngineTypeFactory(station=station)
    day = date(2026, 11, 20)

    def entries() -> list[Entry]:
        return [
            entry(day, description=f"Oil changed, {n}.") for n in range(RECORDS_EACH)
        ]

    for start in range(0, ENGINES, 50):
        some = [
            EngineFactory(station=station, engine_type=kind, serial=f"{start + n}")
            for n in range(50)
        ]
        add_to_ledgers({one: entries() for one in some}, by=by, at=AT)


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tracker.settings")
    django.setup()
    from django.test.utils import setup_databases, teardown_databases

    config = setup_databases(verbosity=0, interactive=False)
    try:
        from tracker.compliance.ledger import breaks
        from tracker.compliance.models import Record

        fill()
        began, cpu = perf_counter(), process_time()
        assert list(breaks(Record.objects.all())) == []
        seconds, busy = perf_counter() - began, process_time() - cpu
        count = Record.objects.count()
        print(
            f"{count} records gone through: {seconds:.2f} s, {count / seconds:,.0f} a "
            f"second ({count / busy:,.0f} for a second of processor)"
        )
    finally:
        teardown_databases(config, verbosity=0)


if __name__ == "__main__":
    main()

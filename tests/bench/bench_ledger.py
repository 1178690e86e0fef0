"""How fast the ledger is gone through: 20,000 records of 200 engines.

Run as `python -m tests.bench.bench_ledger`; the target is 100,000 records a second for
the hashes. The whole check reads every text as JSON, which alone takes a third of it.
"""

# ruff: noqa: T201 - a benchmark prints its figures

from __future__ import annotations

import os
from collections.abc import Callable
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


def hashes() -> None:
    from tracker.compliance.ledger import check_chain, links_of
    from tracker.fleet.models import Engine

    for engine in Engine.objects.iterator():
        check_chain(engine.chain_id, links_of(engine))


def everything() -> None:
    from tracker.compliance.ledger import breaks
    from tracker.compliance.models import Record

    assert list(breaks(Record.objects.all())) == []


def measure(what: str, run: Callable[[], None]) -> None:
    began, cpu = perf_counter(), process_time()
    run()
    seconds, busy = perf_counter() - began, process_time() - cpu
    count = ENGINES * RECORDS_EACH
    print(
        f"{what}, {count} records: {seconds:.2f} s, {count / seconds:,.0f} a second "
        f"({count / busy:,.0f} for a second of processor)"
    )


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tracker.settings")
    django.setup()
    from django.test.utils import setup_databases, teardown_databases

    config = setup_databases(verbosity=0, interactive=False)
    try:
        fill()
        measure("hashes alone", hashes)
        measure("hashes, columns and attachments", everything)
    finally:
        teardown_databases(config, verbosity=0)


if __name__ == "__main__":
    main()

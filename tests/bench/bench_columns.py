"""Columns: conditions asked of fleets at once, beside the scalar answers, and what the
confirmation of a document costs a station of which it concerns few engines.

Run as `python -m tests.bench.bench_columns [--fleets 1000 100000 1000000]
[--station 5000]`. Figures are CPU seconds of this process. All choices are seeded. The
station stands in a database of its own that is thrown away.
"""

# ruff: noqa: T201 - a benchmark prints its figures

from __future__ import annotations

import argparse
import os
import pickle
import random
import statistics
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from notices.rules.columns import Columns, IdentityRow, columns_of
from notices.rules.conditions import parse_condition
from notices.rules.evaluate import CompiledCondition, compile_condition, prepare
from notices.rules.facts import UNKNOWN, Asked, EngineFacts

if TYPE_CHECKING:
    from tests.bench.big_station import BigStation

TYPES = [f"MX-{number}" for number in range(2, 42)]
PREFIXES = ("", "L-", "RL-", "K-")
SERIALS = 100_000
FIRST_DAY, DAYS = date(1990, 1, 1), 12_000
CONDITIONS = 200
ASKED_ONE_BY_ONE = 300
NOTICES = 40
CONFIRMED = {"of a range of serials": range(101, 106), "of two whole types": (200, 300)}
"""By what they are for, the numbers by which documents are entered."""


def cpu() -> float:
    return time.process_time()


def fleet(engines: int, source: random.Random) -> Iterator[IdentityRow]:
    """Yield engines of which one date of manufacture in twenty is not known."""
    for _ in range(engines):
        built: Any = day(source) if source.random() >= 0.05 else UNKNOWN
        yield IdentityRow(
            type=source.choice(TYPES),
            serial=f"{source.choice(PREFIXES)}{source.randrange(SERIALS)}",
            built=built,
            shipped=UNKNOWN if built is UNKNOWN else built + timedelta(days=9),
            rebuilt=day(source) if source.random() < 0.02 else None,
        )


def day(source: random.Random) -> date:
    return FIRST_DAY + timedelta(days=source.randrange(DAYS))


def condition(source: random.Random) -> CompiledCondition:
    """A document for some types and serials, narrowed by one to four further tests."""
    low, prefix = source.randrange(SERIALS), source.choice(PREFIXES)
    ends = f"{prefix}{low}..{prefix}{low + source.randrange(20_000)}"
    tests: list[Any] = [
        {"built": {"from": day(source).isoformat()}},
        {"shipped": {"before": day(source).isoformat()}},
        {"rebuilt": source.choice([True, False])},
        {"embodied": f"SB-{source.randrange(400)}"},
        {"not": {"embodied": f"SB-{source.randrange(400)}"}},
        {"hours": {"since": "new", "over": source.randrange(2000)}},
        {"part": {"role": "magneto", "where": {"number": ["P-88*"]}}},
    ]
    further = source.sample(tests, source.randint(1, 4))
    whom = [{"type": source.sample(TYPES, 3)}, {"serial": [ends]}]
    return compile_condition(
        parse_condition({"all": [*whom, {source.choice(["all", "any"]): further}]})
    )


def one_by_one(rows: list[IdentityRow], rules: list[CompiledCondition]) -> float:
    """Return the CPU seconds of one scalar answer; engines are prepared beforehand."""
    subjects = [prepare(EngineFacts(**row._asdict()), Asked()) for row in rows]
    started = cpu()
    for rule in rules:
        for subject in subjects:
            rule.tree.root(subject)
    return (cpu() - started) / (len(rules) * len(subjects))


def at_once(columns: Columns, rules: list[CompiledCondition]) -> tuple[float, float]:
    """Return the mean CPU seconds of a condition, and the share of engines left."""
    columns.value(rules[0].condition)
    spent, left = 0.0, 0
    for rule in rules:
        started = cpu()
        value = columns.value(rule.condition)
        spent += cpu() - started
        left += int((value != 0).sum())
    return spent / len(rules), left / (len(rules) * columns.size)


def measure_fleet(engines: int) -> None:
    """Print one line about a fleet of a size."""
    source = random.Random(engines)  # noqa: S311 - nothing secret
    rules = [condition(source) for _ in range(CONDITIONS)]
    rows = list(fleet(engines, source))
    started = cpu()
    columns = columns_of(rows)
    built = cpu() - started
    each, left = at_once(columns, rules)
    scalar = one_by_one(source.sample(rows, ASKED_ONE_BY_ONE), rules)
    size = len(pickle.dumps(columns)) / engines
    print(
        f"{engines:>9} engines: {each * 1000:8.3f} ms a condition, "
        f"{engines / each:.1e} pairs/s, {size:.0f} bytes an engine, "
        f"{left:.2%} left, built in {built:.2f} s; one by one "
        f"{scalar * engines * 1000:9.2f} ms, {1 / scalar:.1e} pairs/s: "
        f"{scalar * engines / each:.0f} times",
        flush=True,
    )


@contextmanager
def scratch_station(engines: int) -> Iterator[BigStation]:
    """Yield a station of that size, evaluated, in a database that is thrown away."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "station.sqlite3"
        os.environ["TRACKER_DATABASE_URL"] = f"sqlite:///{path}"
        os.environ["DJANGO_SETTINGS_MODULE"] = "tracker.settings"
        import django
        from django.conf import settings
        from django.core.management import call_command

        django.setup()
        settings.DATABASES["default"]["OPTIONS"]["init_command"] += (
            "PRAGMA synchronous=OFF;"
        )
        call_command("migrate", verbosity=0)
        from tests.bench import big_station
        from tracker.compliance import changes

        built = big_station.founded(seed=3)
        big_station.enter_library(built, NOTICES)
        big_station.enter_fleet(built, engines)
        changes.refresh_station(
            built.viewer.station, big_station.TODAY, at=big_station.NOW
        )
        yield built


def measure_confirming(engines: int) -> None:
    """Print what the confirmation of one document costs, by whom it is for."""
    with scratch_station(engines) as built:
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        from tests.bench import big_station
        from tracker.compliance import changes
        from tracker.compliance.models import Finding

        for words, numbers in CONFIRMED.items():
            spent, asked, found = [], [], 0
            for number in numbers:
                draft = big_station.enter_draft(built, number)
                before = Finding.objects.count()
                with CaptureQueriesContext(connection) as queries:
                    started = cpu()
                    changes.confirm_revision(
                        built.viewer, draft, version=draft.version, at=big_station.NOW
                    )
                    spent.append(cpu() - started)
                asked.append(len(queries))
                found += Finding.objects.count() - before
            print(
                f"confirm a document {words}, {engines} engines: median "
                f"{statistics.median(spent):.3f} s, {max(asked)} queries at most, "
                f"{found / len(asked):.0f} findings each",
                flush=True,
            )


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--fleets", type=int, nargs="*", default=[10**3, 10**5, 10**6])
    asked.add_argument("--station", type=int, default=5000)
    given = asked.parse_args()
    for engines in given.fleets:
        measure_fleet(engines)
    measure_confirming(given.station)


if __name__ == "__main__":
    main()

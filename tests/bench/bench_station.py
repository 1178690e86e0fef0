"""A station of 5,000 engines and 2,000 notices: seconds to build, refresh and confirm,
and of every list and page the queries and milliseconds, beside those of 50 engines.

Run as `python -m tests.bench.bench_station [--engines 5000] [--notices 2000]`. It works
in a database of its own that is thrown away. A page that asks more queries of the large
station than of the small one is named at the end, and the exit status is then 1.
"""

# ruff: noqa: T201 - a benchmark prints its figures

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tests.bench.big_station import BigStation
    from tracker.routes import Route

SMALL_ENGINES, SMALL_NOTICES = 50, 300
REFRESHED = 20
SHOWN = {"": 0, "engine": 1, "owner": 1, "publication": 1, "revision": 1}
"""What an address may name for its page to be measured."""
SLOW_MS = 1000.0
_NOT_SAFE = "PRAGMA synchronous=OFF;"
"""A scratch database need not outlive a power cut; what is timed is not the disk."""


@contextmanager
def timed(what: str) -> Iterator[None]:
    """Print how long something took, by the clock and on the processor."""
    started, cpu = time.perf_counter(), time.process_time()
    yield
    wall = time.perf_counter() - started
    print(
        f"{what:<58}{wall:>9.2f} s, CPU {time.process_time() - cpu:.2f} s", flush=True
    )


def build(engines: int, notices: int, seed: int) -> BigStation:
    """Build one station, its findings included."""
    from tests.bench import big_station
    from tracker.compliance import changes
    from tracker.compliance.models import Finding

    built = big_station.founded(seed)
    with timed(f"enter and confirm {notices} notices"):
        big_station.enter_library(built, notices)
    with timed(f"enter {engines} engines with their past"):
        big_station.enter_fleet(built, engines)
    with timed("transcribe records"):
        records = big_station.enter_records(built)
    with timed(f"evaluate {engines} engines, write findings"):
        changes.refresh_station(
            built.viewer.station, big_station.TODAY, at=big_station.NOW
        )
    found = Finding.objects.filter(station=built.viewer.station).count()
    print(f"{records} records, {found} findings")
    return built


def measure_acts(built: BigStation, notices: int) -> None:
    """Print what an edit of one engine and one confirmed notice cost."""
    from tests.bench import big_station
    from tracker.compliance import changes
    from tracker.compliance.changes.acting import refresh_engines

    some = [engine.pk for engine in built.engines[:: len(built.engines) // REFRESHED]]
    refresh_engines(built.viewer, some[:1], at=big_station.NOW)
    rounds = []
    for key in some:
        started = time.perf_counter()
        refresh_engines(built.viewer, [key], at=big_station.NOW)
        rounds.append((time.perf_counter() - started) * 1000)
    print(f"refresh one engine: median {statistics.median(rounds):.0f} ms")
    draft = big_station.enter_draft(built, notices)
    with timed(f"confirm one notice over {len(built.engines)} engines"):
        changes.confirm_revision(
            built.viewer, draft, version=draft.version, at=big_station.NOW
        )
    with timed("evaluate the whole station again, nothing new"):
        changes.refresh_station(
            built.viewer.station, big_station.TODAY, at=big_station.NOW
        )


def addresses(built: BigStation) -> Iterator[tuple[Route, str]]:
    """Yield every page that is only looked at, with an object of the station."""
    from django.db.models import Count
    from django.urls import reverse

    from tracker.fleet.models import Engine
    from tracker.routes import ROUTES

    revision = built.revisions[0]
    engines = Engine.objects.filter(station=built.viewer.station)
    objects: dict[str, Any] = {
        "engine": engines.annotate(found=Count("findings__part")).latest("found"),
        "owner": built.owners[0],
        "publication": revision.publication,
        "revision": revision,
    }
    for route in ROUTES:
        if route.method != "GET" or route.name.startswith("account_"):
            continue
        if route.name == "api:schema" or route.names not in SHOWN:
            continue
        keys = [objects[route.names].public_id] if route.names else []
        yield route, reverse(route.name, args=keys)


def measure_pages(built: BigStation) -> dict[str, tuple[int, float, int]]:
    """Return queries, milliseconds and kilobytes of each page by its route name."""
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    client = Client(raise_request_exception=True)
    client.force_login(built.viewer.user)
    found = {}
    for route, address in addresses(built):
        client.get(address)
        with CaptureQueriesContext(connection) as asked:
            answer = client.get(address)
        queries = len(asked)  # now, for a further request empties the log
        if answer.status_code != 200:
            print(f"{route.name}: answered {answer.status_code}")
            continue
        started = time.perf_counter()
        size = len(b"".join(client.get(address)))
        found[route.name] = (
            queries,
            (time.perf_counter() - started) * 1000,
            size // 1024,
        )
    return found


def compare(small: BigStation, large: BigStation) -> int:
    """Print both stations' pages side by side; return how many ask too much."""
    few, many = measure_pages(small), measure_pages(large)
    print(f"{'page':<34}{'queries':>14}{'ms':>16}{'kB':>14}")
    worse = []
    for name, (queries, ms, size) in many.items():
        before = few.get(name, (0, 0.0, 0))
        mark = " slow" if ms > SLOW_MS else ""
        if queries > before[0]:
            mark += " more queries"
            worse.append(name)
        print(
            f"{name:<34}{before[0]:>6} {queries:>7}{before[1]:>8.0f} {ms:>7.0f}"
            f"{before[2]:>7} {size:>6}{mark}"
        )
    return len(worse)


def main() -> int:
    """Build, measure, print; return the exit status."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--engines", type=int, default=5000)
    asked.add_argument("--notices", type=int, default=2000)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "station.sqlite3"
        os.environ["TRACKER_DATABASE_URL"] = f"sqlite:///{path}"
        os.environ["TRACKER_ALLOWED_HOSTS"] = "testserver"
        os.environ["DJANGO_SETTINGS_MODULE"] = "tracker.settings"
        import django
        from django.conf import settings
        from django.core.management import call_command

        django.setup()
        settings.DATABASES["default"]["OPTIONS"]["init_command"] += _NOT_SAFE
        call_command("migrate", verbosity=0)
        small = build(SMALL_ENGINES, SMALL_NOTICES, seed=1)
        large = build(given.engines, given.notices, seed=2)
        measure_acts(large, given.notices)
        return 1 if compare(small, large) else 0


if __name__ == "__main__":
    sys.exit(main())

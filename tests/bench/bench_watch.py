"""What becomes of checks and jobs when many tick at once, when they are killed, and when
there is much to do.

Run as `python -m tests.bench.bench_watch [EXPERIMENT ...] [--database postgresql]`. Each
experiment works in a database of its own and prints one line of JSON; the exit status is
1 where a run was doubled or lost, a target was missed, or fewer faults were injected than
planned.

`ticks`: five processes tick at the same moments of 200 hours. `killed`: a night is killed
at 20 random moments and ends as one that was left alone. `night`: two workers check 500
engines so many times over, a hundred thousand with `--copies 200`.
"""

# ruff: noqa: T201 - a benchmark prints its figures

from __future__ import annotations

import argparse
import hashlib
import json
import multiprocessing
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import django

from tests.bench.outbox_field import Failed, must
from tests.private_postgresql import PrivatePostgresql

AT: Final = datetime(2026, 11, 25, 0, 30, tzinfo=UTC)
"""In the first hour of the day after the one for which the station is evaluated."""
HOUR: Final = timedelta(hours=1)
TICKING, HOURS = 5, 200
KILLS, KILLED_PARTS = 20, 60
KILLED_AT: Final = AT + timedelta(days=30)
"""By then readings have left the year, limits have passed and revisions taken over."""
NIGHT_ENGINES, NIGHT_NOTICES = 500, 2000
NIGHT_SECONDS, NIGHT_KILOBYTES = 120, 400_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    url: str
    folder: Path
    seed: int
    copies: int


def build(engines: int, notices: int, seed: int) -> None:
    """Enter a station and evaluate it for the day before `AT`."""
    from tests.bench import big_station
    from tracker.compliance import changes

    built = big_station.founded(seed)
    big_station.enter_library(built, notices)
    big_station.enter_fleet(built, engines)
    changes.refresh_station(built.viewer.station, big_station.TODAY, at=big_station.NOW)


def ticks(field: Field) -> dict[str, Any]:
    """Five processes tick at the same moments."""
    from tracker.compliance.models import Event
    from tracker.watch.models import Job, Message, Run

    build(60, 60, field.seed)
    spawned = multiprocessing.get_context("spawn")
    together = spawned.Barrier(TICKING)
    workers = [spawned.Process(target=tick_for_hours, args=(together,)) for _ in range(TICKING)]  # fmt: skip
    begun = time.monotonic()
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    runs = Run.objects.all()
    whole = runs.filter(shard="")
    found = {
        "seconds": round(time.monotonic() - begun, 1),
        "ended_badly": sum(worker.exitcode != 0 for worker in workers),
        "periods": HOURS,
        "runs": {job.value: whole.filter(job=job).count() for job in Job},
        "unfinished": runs.filter(finished_at=None).count(),
        "parts": runs.exclude(shard="").count(),
        "events": Event.objects.count(),
        "messages": Message.objects.count(),
        "doubled_messages": Message.objects.count()
        - Message.objects.values("dedupe_key").distinct().count(),
    }
    must(found["ended_badly"] == 0, f"a process that ticked failed: {found}")
    must(set(found["runs"].values()) == {HOURS}, f"not once a period: {found}")
    must(found["unfinished"] == found["doubled_messages"] == 0, f"not whole: {found}")
    return found


def tick_for_hours(together: Any) -> None:
    """In a process of its own: tick with the others, hour after hour."""
    django.setup()
    from tracker.watch import jobs

    for hour in range(HOURS):
        together.wait(120)
        jobs.tick(AT + hour * HOUR)


def killed(field: Field) -> dict[str, Any]:
    """A night that is killed again and again ends as one that was left alone."""
    from django.db import connection

    from tracker.watch.jobs.ticking import TAKEN_UP_AFTER
    from tracker.watch.models import Run

    build(KILLED_PARTS * 4, 150, field.seed)
    choice = random.Random(field.seed)  # noqa: S311  # to be repeated
    whole = kept_aside(field)
    at, kills, under_way = KILLED_AT, 0, 0
    while kills < KILLS:
        connection.close()
        with night_process(at, "--parts-of", "4") as night:
            night.stdout.readline()
            wait_for_parts(night, parts_done() + choice.randrange(4))
            time.sleep(choice.uniform(0, 0.05))
            under_way += night.poll() is None
            night.kill()
        kills += 1
        at += TAKEN_UP_AFTER
    unfinished = Run.objects.exclude(shard="").filter(finished_at=None).count()
    done = parts_done()
    connection.close()
    with night_process(at, "--parts-of", "4") as night:
        night.communicate()
    ended = digest()
    put_back(field, whole)
    with night_process(KILLED_AT, "--parts-of", "4") as night:
        night.communicate()
    found = {
        "seed": field.seed,
        "killed_under_way": under_way,
        "parts_done_between_kills": done,
        "parts_left_to_the_last": unfinished,
        "same": digest() == ended,
        "rows": {name: count for name, (count, _) in ended.items()},
    }
    must(under_way == KILLS, f"fewer kills than planned: {found}")
    must(done > 0 < unfinished, f"the night was over before the last kill: {found}")
    must(found["same"], f"the end is another one: {found}")
    return found


def parts_done() -> int:
    from tracker.watch.models import Run

    return Run.objects.exclude(shard="").exclude(finished_at=None).count()


def wait_for_parts(night: subprocess.Popen[bytes], parts: int) -> None:
    """Wait until so many parts are done, or the process has ended."""
    while parts_done() < parts and night.poll() is None:
        time.sleep(0.002)


def night_process(at: datetime, *words: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(  # noqa: S603  # our own interpreter and words
        [sys.executable, "-m", __spec__.name, "--tick-at", at.isoformat(), *words],
        stdout=subprocess.PIPE,
    )


def tick_once(at: datetime, engines_a_part: int) -> None:
    """In a process of its own: the check alone, and a line before it begins."""
    django.setup()
    from tracker.watch.jobs import checking, ticking, work

    checking.ENGINES_AT_ONCE = engines_a_part  # type: ignore[misc]  # small parts are what is tried
    work.WORK.clear()  # type: ignore[attr-defined]  # nothing but the check
    print("begins", flush=True)
    ticking.tick(at)


def kept_aside(field: Field) -> str:
    """Copy the database as it is; return where it lies."""
    from django.db import connection

    connection.close()
    if field.url.startswith("sqlite"):
        path = field.url.removeprefix("sqlite:///")
        with connection.cursor() as cursor:
            cursor.execute("VACUUM INTO %s", [f"{path}.aside"])
        return f"{path}.aside"
    return _postgresql(field, "CREATE DATABASE aside TEMPLATE tracker")


def put_back(field: Field, whole: str) -> None:
    from django.db import connection

    connection.close()
    if not whole:
        _postgresql(field, "DROP DATABASE tracker WITH (FORCE)")
        _postgresql(field, "CREATE DATABASE tracker TEMPLATE aside")
        return
    path = Path(field.url.removeprefix("sqlite:///"))
    for end in ("-wal", "-shm"):
        path.with_name(path.name + end).unlink(missing_ok=True)
    Path(whole).replace(path)


def _postgresql(field: Field, statement: str) -> str:
    import psycopg

    address = field.url.rpartition("/")[0] + "/postgres"
    with psycopg.connect(address, autocommit=True) as connected:
        connected.execute(statement)
    return ""


LEFT_OUT: Final = {"id", "public_id", "evaluated_at", "changed_at", "noted_at", "key"}
"""What tells apart two rows that say the same: keys, and moments of the clock."""


def digest() -> dict[str, tuple[int, str]]:
    """Return of each table that a check writes how many rows it has, and a digest."""
    from tracker.compliance.models import Event, Finding, Standing

    found = {}
    for model in (Finding, Standing, Event):
        names = [one.attname for one in model._meta.concrete_fields if one.attname not in LEFT_OUT]  # fmt: skip
        rows = sorted(map(repr, model._default_manager.values_list(*names)))
        said = hashlib.sha256("\n".join(rows).encode()).hexdigest()
        found[model.__name__] = (len(rows), said)
    return found


def night(field: Field) -> dict[str, Any]:
    """Two workers check a large station for a new day."""
    from django.db import connection

    from tests.bench.many_engines import multiply
    from tracker.compliance.models import Event, Finding, Standing
    from tracker.fleet.models import Engine
    from tracker.watch.jobs import checking
    from tracker.watch.models import Run

    begun = time.monotonic()
    build(NIGHT_ENGINES, NIGHT_NOTICES, field.seed)
    multiply(field.copies)
    built = time.monotonic() - begun
    figures = {
        "engines": Engine.objects.count(),
        "open_findings": Finding.objects.filter(closed="").count(),
        "seconds_to_build": round(built),
    }
    Run.objects.create(job="check", period="planned", started_at=AT, finished_at=AT)
    begun = time.monotonic()
    parts, _ = checking.plan_checks(AT)
    connection.close()
    spawned = multiprocessing.get_context("spawn")
    told = spawned.Queue()
    workers = [
        spawned.Process(target=check_parts, args=(parts[number::2], told))
        for number in range(2)
    ]
    for worker in workers:
        worker.start()
    said = [told.get(timeout=1800) for _ in workers]
    for worker in workers:
        worker.join()
    seconds = time.monotonic() - begun
    counts = [run.counts for run in Run.objects.exclude(shard="")]
    figures |= {
        "seconds": round(seconds, 1),
        "cpu_seconds": round(sum(one["cpu"] for one in said), 1),
        "most_kilobytes": max(one["kilobytes"] for one in said),
        "parts": len(parts),
        "queries_a_part": sorted({n for one in said for n in one["queries"]}),
        "evaluated": sum(one["evaluated"] for one in counts),
        "changed": sum(
            one["added"] + one["changed"] + one["removed"] for one in counts
        ),
        "events": Event.objects.filter(happened_on=AT.date()).count(),
        "behind": Standing.objects.exclude(evaluated_for=AT.date()).count(),
    }
    must(figures["behind"] == 0, f"not all were checked: {figures}")
    must(seconds < NIGHT_SECONDS, f"longer than {NIGHT_SECONDS} s: {figures}")
    must(figures["most_kilobytes"] < NIGHT_KILOBYTES, f"too much memory: {figures}")
    return figures


def check_parts(parts: list[int], told: Any) -> None:
    """In a process of its own: check parts one by one, counting queries and memory."""
    django.setup()
    from django.db import connection

    from tracker.watch.jobs import do

    queries = []
    count = 0

    def counted(execute: Any, *words: Any) -> Any:
        nonlocal count
        count += 1
        return execute(*words)

    with connection.execute_wrapper(counted):
        for part in parts:
            count = 0
            do(part, AT)
            queries.append(count)
    told.put(
        {
            "queries": queries,
            "cpu": time.process_time(),
            "kilobytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss,
        }
    )


EXPERIMENTS: Final[dict[str, Callable[[Field], dict[str, Any]]]] = {
    one.__name__: one for one in (ticks, killed, night)
}


@contextmanager
def field_of(told: argparse.Namespace) -> Iterator[Field]:
    """An empty database with its tables, in a folder of its own."""
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        url = f"sqlite:///{folder}/watch.sqlite3"
        if told.database == "postgresql":
            url = stack.enter_context(PrivatePostgresql()).url
        os.environ |= {
            "DJANGO_SETTINGS_MODULE": "tracker.settings",
            "TRACKER_DATABASE_URL": url,
            "TRACKER_DATA_DIR": str(folder),
        }
        django.setup()
        from django.core.management import call_command
        from django.db import connection

        call_command("migrate", verbosity=0)
        try:
            yield Field(url=url, folder=folder, seed=told.seed, copies=told.copies)
        finally:
            connection.close()


def main() -> int:
    asked = argparse.ArgumentParser(
        description="Jobs and checks under faults and load."
    )
    asked.add_argument(
        "experiments", nargs="*", choices=[[], *EXPERIMENTS], metavar="EXPERIMENT"
    )
    asked.add_argument("--database", choices=["sqlite", "postgresql"], default="sqlite")
    asked.add_argument("--seed", type=int, default=20261124)
    asked.add_argument("--copies", type=int, default=20)
    asked.add_argument("--tick-at", type=datetime.fromisoformat, help=argparse.SUPPRESS)
    asked.add_argument("--parts-of", type=int, help=argparse.SUPPRESS)
    told = asked.parse_args()
    if told.tick_at:
        tick_once(told.tick_at, told.parts_of)
        return 0
    if not told.experiments:
        # Each in a process of its own: Django is set up for one database only.
        named = (
            *("--database", told.database, "--seed", str(told.seed)),
            *("--copies", str(told.copies)),
        )
        return max(
            subprocess.run(  # noqa: S603  # our own interpreter and words
                [sys.executable, "-m", __spec__.name, name, *named], check=False
            ).returncode
            for name in EXPERIMENTS
        )
    [name] = told.experiments
    said = {"experiment": name, "database": told.database, "seed": told.seed}
    with field_of(told) as field:
        try:
            print(json.dumps(said | EXPERIMENTS[name](field)), flush=True)
        except Failed as fault:
            print(json.dumps(said | {"failed": str(fault)}), flush=True)
            return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())

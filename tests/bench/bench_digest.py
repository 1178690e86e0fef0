"""Digests over years of ticks and after an outage, and mails of hostile texts.

Run as `python -m tests.bench.bench_digest [--owners 1000] [--texts 10000]`. It makes a
database of its own beside that of TRACKER_DATABASE_URL and takes it away again. Prints
one line for each of

  a digest asked for every quarter of an hour in 20 zones, for 3 years and 3 hours of day:
  dates left out or doubled, and digests less than 12 hours apart;
  three days without a run: digests of each owner, what is overdue on top, and how many
  mails went at once before the guard held the others;
  mails of hostile texts in every field: those with another header, recipient, element or
  link than a mail of plain texts.

The exit status is 1 where any of these faults is found. Seconds decide nothing.
"""

# ruff: noqa: T201 - a benchmark prints its figures

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final

import django
from hypothesis import HealthCheck, given, seed
from hypothesis import settings as examples

SEED: Final = 20261128
BEFORE: Final = date(2026, 11, 24)
BACK: Final = BEFORE + timedelta(days=4)
MANY_ENGINES: Final = 6
"""So many has each tenth owner: more than there are mails at once in a day."""


def timed(what: str, run: Callable[[], str]) -> None:
    began = time.perf_counter()
    said = run()
    print(f"{what}: {said}, {time.perf_counter() - began:.1f} s", flush=True)


def main() -> int:
    """Run all three and return the exit status."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--owners", type=int, default=1000)
    asked.add_argument("--texts", type=int, default=10_000)
    told = asked.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tracker.settings")
    django.setup()
    from django.test.utils import setup_databases, teardown_databases

    faults: list[str] = []
    config = setup_databases(verbosity=0, interactive=False)
    try:
        timed("years of ticks", lambda: years(faults))
        timed("outage", lambda: outage(told.owners, faults))
        timed("hostile texts", lambda: hostile(told.texts, faults))
    finally:
        teardown_databases(config, verbosity=0)
    for fault in faults:
        print(f"FAULT: {fault}")
    return 1 if faults else 0


def years(faults: list[str]) -> str:
    from tests.tracker.watch.telling.sweeping import HOURS, ZONES, sweep

    digests = missing = double = near = 0
    for zone in ZONES:
        for hour in HOURS:
            swept = sweep(zone, hour, every_tick=True)
            digests += swept.digests
            missing += len(swept.missing)
            double += len(swept.double)
            near += len(swept.too_near)
    if missing or double or near:
        faults.append("digests left out, doubled or too near to each other")
    return f"{digests} digests, {missing} missing, {double} double, {near} too near"


def outage(owners: int, faults: list[str]) -> str:
    from django.db.models import Count

    from tracker.compliance.models import Event
    from tracker.watch.models import Message, MessageKind, MessageState
    from tracker.watch.telling import write_due

    enter(owners)
    write_due(moment(BEFORE, 9))
    Message.objects.all().delete()
    for day in range(1, 4):  # checked every night, and nobody tells
        add_matter(BEFORE + timedelta(days=day), past=day == 2)
    for minute in range(0, 24 * 60, 15):
        write_due(moment(BACK, 0) + timedelta(minutes=minute))
    digests = Message.objects.filter(kind=MessageKind.DIGEST)
    by_owner = digests.values("owner").annotate(found=Count("pk")).order_by()
    several = sum(row["found"] != 1 for row in by_owner)
    if several or len(by_owner) != owners:
        faults.append(f"{len(by_owner)} owners had digests, {several} not just one")
    mixed = [text for text in digests.values_list("text", flat=True) if "■" in text]
    below = sum(text.index("○") < text.index("■") for text in mixed if "○" in text)
    if below or len(mixed) != owners // 10:
        faults.append(
            f"of {len(mixed)} digests {below} have not what is overdue on top"
        )
    if Event.objects.unsettled().exists():
        faults.append("events were left over")
    at_once = Message.objects.filter(kind=MessageKind.OVERDUE)
    held = at_once.filter(state=MessageState.HELD).count()
    return (
        f"{len(by_owner)} owners, {digests.count()} digests, of {at_once.count()} mails "
        f"at once {held} held"
    )


def enter(owners: int) -> None:
    """Enter owners, the tenth of them with several engines, and evaluate these."""
    from tests.factories.accounts import StationFactory, UserFactory
    from tests.factories.fleet import EngineFactory, EngineTypeFactory, OwnerFactory
    from tracker.fleet.marks import review
    from tracker.fleet.models import Review

    station = StationFactory(name="Tarn Engine Shop")
    made: dict[str, Any] = {
        "station": station,
        "engine_type": EngineTypeFactory(station=station),
        "by": UserFactory(),
    }
    for number in range(owners):
        owner = OwnerFactory(station=station, email=f"o{number}@post.example")
        for _ in range(1 if number % 10 else MANY_ENGINES):
            engine = EngineFactory(owner=owner, **made)
            review(
                engine,
                Review.HISTORY,
                "Runa Tveit",
                true_from=BEFORE,
                at=moment(BEFORE, 0),
                by=made["by"],
            )
    add_matter(BEFORE, past=False)


def add_matter(on: date, *, past: bool) -> None:
    """Enter a document that concerns every engine, and check the day as a night does."""
    from tests.factories.notices import (
        ProvisionFactory,
        PublicationFactory,
        RevisionFactory,
    )
    from tracker.accounts.models import Station
    from tracker.compliance.findings import refresh
    from tracker.fleet.models import Engine

    station = Station.objects.get()
    publication = PublicationFactory(station=station)
    due = on - timedelta(days=1) if past else on + timedelta(days=300)
    ProvisionFactory(
        revision=RevisionFactory(publication=publication, confirmed=True),
        rule__action={"initial": {"date": due.isoformat()}},
    )
    engines = Engine.objects.filter(station=station).select_related("engine_type")
    refresh(station, engines, on=on, at=moment(on, 0))


def hostile(texts: int, faults: list[str]) -> str:
    from tests.tracker.watch.telling.hostile import PLAIN, TEXTS, written
    from tests.tracker.watch.telling.hostile import faults as faults_of
    from tracker.compliance.models import Finding
    from tracker.fleet.models import Owner
    from tracker.watch.telling.reading import rows_of

    finding = Finding.objects.for_list().select_related("engine__standing").first()
    assert finding is not None
    owner = Owner.objects.select_related("station").get(pk=finding.engine.owner_id)
    finding.engine.owner = owner
    [row] = rows_of([finding], owner, {}, on=BEFORE)
    plain = written(PLAIN, row)
    looked = 0

    @seed(SEED)
    @examples(
        max_examples=texts,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(TEXTS)
    def look(given_texts: dict[str, str]) -> None:
        nonlocal looked
        looked += 1
        faults.extend(faults_of(written(given_texts, row), plain))

    look()
    if looked < texts:
        faults.append(f"only {looked} of {texts} mails were looked at")
    return f"{looked} mails (seed {SEED}), {len(faults)} faults in all"


def moment(on: date, hour: int) -> datetime:
    return datetime(on.year, on.month, on.day, hour, tzinfo=UTC)


if __name__ == "__main__":
    sys.exit(main())

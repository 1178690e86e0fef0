"""A station of any size in an empty database, for measuring: engines, past and library.

What is judged is entered as people would enter it (engines by the register, notices as
drafts that are confirmed, records through the ledger, findings by a refresh). Only
readings and parts, of which there are hundreds of thousands, are written as rows. All
choices are seeded. Everything is invented.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.db import transaction

from notices import library
from notices.library import ProvisionInput, RevisionInput
from notices.models import Kind, Provision, Revision
from tests.bench.bench_due import ACTIONS
from tests.factories.accounts import MembershipFactory, StationFactory
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.compliance.ledger import Entry, add_records
from tracker.fleet.models import (
    Engine,
    EngineType,
    Meter,
    Owner,
    Part,
    PartDescription,
    PartFitting,
    Reading,
)
from tracker.fleet.register import (
    FirstPast,
    FirstReading,
    FittingFacts,
    HistoryReview,
    IdentityFacts,
    NewEngine,
    OperationFacts,
    OwnerFacts,
    TypeFacts,
    add_engines,
)

NOW = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
TODAY = NOW.date()
SINCE = date(2024, 11, 1)
SINCE_AT = datetime(2024, 11, 2, 8, 0, tzinfo=UTC)
TYPES = 20
ROLES = ("fuel pump", "magneto", "governor")
READINGS = 24
ENTERED_AT_ONCE = 500
DAY_RULES = Kind.SCHEDULED, Kind.DIRECTIVE, Kind.BULLETIN, Kind.LETTER


@dataclass(kw_only=True)
class BigStation:
    """What was built. `source`: where further choices come from."""

    viewer: Viewer
    source: random.Random
    types: list[EngineType] = field(default_factory=list)
    owners: list[Owner] = field(default_factory=list)
    engines: list[Engine] = field(default_factory=list)
    revisions: list[Revision] = field(default_factory=list)


def founded(seed: int) -> BigStation:
    """Return an empty station with its administrator and its engine types."""
    member = MembershipFactory(role=Role.ADMINISTRATOR, station=StationFactory())
    viewer = Viewer(user=member.user, station=member.station, role=member.role)
    built = BigStation(viewer=viewer, source=random.Random(seed))  # noqa: S311 - no secret
    for number in range(TYPES):
        facts = TypeFacts(
            designation=f"MX-{number + 2}",
            maker="Halvorsen Engines",
            parts={"fuel pump": 1, "magneto": 2, "governor": 1},
        )
        built.types.append(changes.add_engine_type(viewer, facts, at=SINCE_AT))
    return built


def enter_library(built: BigStation, notices: int) -> None:
    """Enter and confirm so many notices of one revision and one or two provisions."""
    for number in range(notices):
        draft = enter_draft(built, number)
        confirmed = changes.confirm_revision(
            built.viewer, draft, version=draft.version, at=NOW
        )
        built.revisions.append(confirmed)


def enter_draft(built: BigStation, number: int) -> Revision:
    """Enter one notice as a draft. Every hundredth is for all engines of two types."""
    source, viewer = built.source, built.viewer
    with transaction.atomic():
        publication = library.add_publication(
            station=viewer.station,
            kind=source.choice(DAY_RULES),
            number=f"SB-{number:04}",
            issuer="Halvorsen Engines",
            title="Inspect as described",
            at=NOW,
        )
        effective = SINCE + timedelta(days=source.randrange(20, 750))
        return library.add_draft(
            publication=publication,
            stated=RevisionInput(
                label="1",
                issued_on=effective - timedelta(days=10),
                effective_on=effective,
                summary="Wear was found at some engines.",
                applicability=_applicability(source, wide=number % 100 == 0),
                provisions=[
                    ProvisionInput(
                        title="Inspect",
                        action=_action(source),
                        condition=_condition(source),
                        role=source.choice(("", "", "", "fuel pump")),
                    )
                    for _ in range(1 + (number % 4 == 0))
                ],
            ),
            by=viewer.user,
            at=NOW,
        )


def _applicability(source: random.Random, *, wide: bool) -> dict[str, Any]:
    types = {"type": [f"MX-{source.randrange(TYPES) + 2}" for _ in range(2)]}
    if wide:
        return types
    first = source.randrange(10_000)
    return {"all": [types, {"serial": [f"{first}..{first + source.randrange(1500)}"]}]}


def _condition(source: random.Random) -> dict[str, Any] | None:
    embodied = {"embodied": f"MOD-{source.randrange(40)}"}
    later = {"built": {"from": f"{source.randrange(2000, 2020)}-01-01"}}
    flown = {"hours": {"since": "new", "over": source.randrange(2000)}}
    choices: list[dict[str, Any] | None] = [
        None,
        {"not": embodied},
        {"any": [later, embodied]},
        {"all": [flown, later, {"not": embodied}]},
    ]
    return source.choice(choices)


def _action(source: random.Random) -> dict[str, Any]:
    action = source.choice(list(ACTIONS.values()))
    return {key: value for key, value in action.items() if key != "when"}


def enter_fleet(built: BigStation, engines: int) -> None:
    """Enter so many engines with their past; one in twenty lacks one thing or another."""
    viewer = built.viewer
    for number in range(max(1, engines // 4)):
        facts = OwnerFacts(name=f"Owner {number}")
        built.owners.append(changes.add_owner(viewer, facts, at=SINCE_AT))
    for first in range(0, engines, ENTERED_AT_ONCE):
        numbers = range(first, min(first + ENTERED_AT_ONCE, engines))
        with transaction.atomic():
            entered = add_engines(
                viewer.station,
                [_engine(built, number) for number in numbers],
                true_from=SINCE,
                at=SINCE_AT,
                by=viewer.user,
            )
            _enter_readings(built, entered)
            _enter_parts(built, entered)
        built.engines += entered


def _engine(built: BigStation, number: int) -> NewEngine:
    source = built.source
    built_on = date(1990, 1, 1) + timedelta(days=source.randrange(12_000))
    known = [f"MOD-{each}" for each in source.sample(range(40), 8)]
    shown = source.randrange(20_000, 150_000)
    unread, reviewed = source.random() < 0.02, source.random() < 0.9
    return NewEngine(
        identity=IdentityFacts(
            engine_type=built.types[number % TYPES],
            serial=str(number),
            built=None if source.random() < 0.05 else built_on,
        ),
        owner=built.owners[number % len(built.owners)],
        fitting=FittingFacts(
            aircraft_type="TR-20", registration=f"ZZ-{number}", registry="ZZ"
        ),
        operation=OperationFacts(uses=("private",)),
        past=FirstPast(
            reading=None if unread else FirstReading(on=SINCE, shown=shown),
            embodied=tuple(known),
            source="logbook",
            review=HistoryReview(on=SINCE, person="Jory Penhale") if reviewed else None,
        ),
    )


def _enter_readings(built: BigStation, engines: list[Engine]) -> None:
    """Add a reading a month to the first meter of each engine."""
    by = built.viewer.user
    meters = Meter.objects.filter(engine__in=[engine.pk for engine in engines])
    of_engine = {meter.engine_id: meter for meter in meters}
    rows = []
    for engine in engines:
        if engine.pk not in of_engine or engine.hours_now is None:
            continue
        for month in range(1, READINGS + 1):
            engine.hours_now += built.source.randrange(1500)
            engine.read_on = SINCE + timedelta(days=31 * month)
            rows.append(
                Reading(
                    station=built.viewer.station,
                    engine=engine,
                    meter=of_engine[engine.pk],
                    on=engine.read_on,
                    shown=engine.hours_now,
                    hours=engine.hours_now,
                    recorded_at=NOW,
                    recorded_by=by,
                )
            )
    Reading.objects.bulk_create(rows, batch_size=1000)
    Engine.objects.bulk_update(engines, ["hours_now", "read_on"], batch_size=200)


def _enter_parts(built: BigStation, engines: list[Engine]) -> None:
    """Fit one part of each role to each engine; one in ten has no serial on record."""
    station, source = built.viewer.station, built.source
    parts = Part.objects.bulk_create(
        [Part(station=station) for _ in range(len(engines) * len(ROLES))]
    )
    stamp = {
        "station": station,
        "recorded_at": SINCE_AT,
        "recorded_by": built.viewer.user,
    }
    described, fitted = [], []
    for at, part in enumerate(parts):
        known = source.random() >= 0.1
        described.append(
            PartDescription(
                part=part,
                role=ROLES[at % len(ROLES)],
                number=f"P-{source.randrange(8800, 8900)}",
                serial=f"A-{source.randrange(10_000)}" if known else "",
                true_from=date(1900, 1, 1),
                **stamp,
            )
        )
        fitted.append(
            PartFitting(
                part=part,
                engine=engines[at // len(ROLES)],
                true_from=SINCE,
                engine_hours=None,
                part_hours_new=source.randrange(100_000) if known else None,
                **stamp,
            )
        )
    PartDescription.objects.bulk_create(described, batch_size=500)
    PartFitting.objects.bulk_create(fitted, batch_size=500)


def enter_records(built: BigStation) -> int:
    """Transcribe past work on one engine in ten; return how many records."""
    of_type: dict[str, list[Provision]] = {}
    provisions = Provision.objects.filter(
        revision__publication__station=built.viewer.station, role=""
    ).select_related("revision__publication")
    for provision in provisions[:TYPES]:
        of_type.setdefault("all", []).append(provision)
    count = 0
    for engine in built.engines[::10]:
        entries = [
            Entry(
                on=TODAY - timedelta(days=60 + 30 * at),
                provision=provision,
                description="As entered in the logbook.",
                page=str(at + 1),
            )
            for at, provision in enumerate(of_type["all"][:4])
        ]
        with transaction.atomic():
            count += len(
                add_records(
                    engine=engine, entries=entries, by=built.viewer.user, at=NOW
                )
            )
    return count

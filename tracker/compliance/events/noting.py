"""What is noted of engines: how findings stand now against what was noted before.

Most findings stand as they were noted, which SQL tells; only of those that do not is
the exact answer asked for. So a night in which nothing happens writes nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import date, datetime, timedelta
from typing import Any, Final

from django.db.models import F, Max, OuterRef, Q, Subquery

from notices.rules.compliance_time import Lead
from notices.rules.facts import Hours
from tracker.accounts.models import Station
from tracker.compliance.due import DueRow, due_row, named_parts, with_rank
from tracker.compliance.events.endings import QUIET
from tracker.compliance.events.writing import event_of, key_of, write_events
from tracker.compliance.models import (
    Closed,
    Event,
    EventKind,
    Finding,
    FindingQuerySet,
    LongerInterval,
    Standing,
)
from tracker.compliance.states import WORDS, rank_of, still_open
from tracker.fleet.models import Engine, Preference
from tracker.fleet.models import State as ServiceState

MAYBE: Final = 7
"""`Finding.noted` of what may be overdue: it is told of again when it surely is."""
AT_ONCE: Final = 10_000
_KINDS: Final = (
    EventKind.OVERDUE,
    EventKind.OVERDUE,
    EventKind.FACT,
    EventKind.COMING,
    EventKind.APPLIES,
)
"""By rank of a state in a due list."""
_OVERDUE: Final = 1


def longest_lead(station: Station) -> Lead:
    """Return the longest lead that the station or one of its owners wants. One query."""
    asked = Preference.objects.filter(owner__station=station).aggregate(
        hours=Max("lead_hours"), days=Max("lead_days")
    )
    return Lead(
        hours=Hours(max(station.lead_hours, asked["hours"] or 0)),
        days=max(station.lead_days, asked["days"] or 0),
    )


def note_events(
    station: Station, engines: Collection[int], *, on: date, at: datetime
) -> int:
    """Note what became so for these engines of a station; return how many events.

    Runs inside the transaction of its cause, with the engines locked. For a thousand
    engines as many queries as for one.
    """
    lead = longest_lead(station)
    findings = Finding.objects.filter(engine__in=list(engines))
    events = [
        *_of_open(findings, lead, on=on, at=at),
        *_of_closed(findings, on=on, at=at),
        *_of_intervals(engines, on=on, at=at),
        *_of_readings(station, engines, on=on, at=at),
    ]
    return write_events(events)


def _of_open(
    findings: FindingQuerySet, lead: Lead, *, on: date, at: datetime
) -> list[Event]:
    ranked = with_rank(still_open(findings).for_list(), lead, on)
    moved: list[Finding] = list(
        ranked.exclude(noted=F("rank") + 1).select_related("engine__standing")
    )
    parts = named_parts(row.part_id for row in moved)
    events, noted = [], defaultdict(list)
    for finding in moved:
        row = due_row(finding, parts, on=on, lead=lead)
        rank = rank_of(row.due)
        if rank is None:
            continue
        code = MAYBE if rank == _OVERDUE and row.may_be_overdue else rank + 1
        if code == finding.noted:
            continue
        noted[code].append(finding.pk)
        if finding.noted == 0 or rank < len(WORDS) - 1:
            events.append(_of_finding(row, rank, on=on, at=at))
    _write_noted(noted)
    return events


def _of_finding(row: DueRow, rank: int, *, on: date, at: datetime) -> Event:
    kind, finding, due = _KINDS[rank], row.finding, row.due
    value: tuple[object, ...] = (due.hours, due.on, due.events, due.may_be_overdue)
    if kind is EventKind.FACT:
        value = (row.missing,)
    elif kind is EventKind.APPLIES:
        value = (finding.rule_id,)
    key = key_of(kind.value, finding.public_id, *value)
    return event_of(finding, row.provision, kind, key, _said(row), on=on, at=at)


def _said(row: DueRow) -> dict[str, object]:
    """Return what was so at that moment. Hours are hundredths since new."""
    return {
        "word": row.word,
        "hours": row.due.hours,
        "on": row.due.on.isoformat() if row.due.on else None,
        "events": list(row.events),
        "part": row.part,
        "reasons": row.reasons,
        "missing": row.missing,
        "sentence": row.sentence,
        "is_new": row.finding.noted == 0,
    }


def _of_closed(findings: FindingQuerySet, *, on: date, at: datetime) -> Iterable[Event]:
    """What asks for nothing, told once; what is done has nothing more to tell."""
    settled = findings.exclude(closed=Closed.OPEN).exclude(noted=QUIET)
    new = settled.filter(closed=Closed.NOTHING_DUE, noted=0).for_list()
    events = [
        event_of(
            finding,
            finding.provision,
            EventKind.APPLIES,
            key_of(EventKind.APPLIES.value, finding.public_id, finding.rule_id),
            {
                "word": Closed.NOTHING_DUE.value,
                "reasons": list(finding.reasons),
                "is_new": True,
            },
            on=on,
            at=at,
        )
        for finding in new
    ]
    settled.update(noted=QUIET)
    return events


def _write_noted(noted: Mapping[int, list[int]]) -> None:
    for code, keys in noted.items():
        for start in range(0, len(keys), AT_ONCE):
            some = keys[start : start + AT_ONCE]
            Finding.objects.filter(pk__in=some).update(noted=code)


def _of_intervals(
    engines: Collection[int], *, on: date, at: datetime
) -> Iterable[Event]:
    """A longer overhaul interval that came within reach, or now holds."""
    moved = Standing.objects.filter(engine__in=list(engines)).exclude(
        noted_longer=F("longer_interval")
    )
    events = [
        Event(
            station_id=standing.station_id,
            engine=standing.engine,
            kind=EventKind.LONGER,
            key=key_of(
                "longer",
                standing.engine.public_id,
                standing.longer_interval,
                standing.overhaul_hours,
                standing.overhaul_on,
            ),
            said={"word": standing.longer_interval},
            happened_on=on,
            noted_at=at,
        )
        for standing in moved.select_related("engine")
        if _is_better(standing)
    ]
    moved.update(noted_longer=F("longer_interval"))
    return events


def _is_better(standing: Standing) -> bool:
    """That one holds is news only where it did not from the first day on."""
    if standing.longer_interval == LongerInterval.WITHIN_REACH:
        return standing.noted_longer != LongerInterval.HOLDS
    return bool(
        standing.longer_interval == LongerInterval.HOLDS and standing.noted_longer
    )


def _of_readings(
    station: Station, engines: Collection[int], *, on: date, at: datetime
) -> Iterable[Event]:
    """Engines in service whose last reading has become old, once for each reading."""
    old = on - timedelta(days=station.reading_age_days)
    unnoted = Q(standing__noted_read_on=None) | ~Q(standing__noted_read_on=F("read_on"))
    found: Any = Engine.objects.filter(
        unnoted,
        pk__in=list(engines),
        state=ServiceState.IN_SERVICE,
        read_on__lt=old,
        standing__isnull=False,
    ).only("pk", "public_id", "station_id", "read_on")
    rows = list(found)
    if rows:
        read_on = Engine.objects.filter(pk=OuterRef("pk")).values("read_on")
        Standing.objects.filter(pk__in=[row.pk for row in rows]).update(
            noted_read_on=Subquery(read_on)
        )
    return [
        Event(
            station_id=row.station_id,
            engine_id=row.pk,
            kind=EventKind.READING,
            key=key_of("reading", row.public_id, row.read_on),
            said={"on": row.read_on.isoformat()},
            happened_on=on,
            noted_at=at,
        )
        for row in rows
    ]

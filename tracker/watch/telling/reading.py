"""What there is to tell owners now: their events, with how each matter stands today."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from notices.models import Provision
from notices.rules.compliance_time import Lead
from notices.rules.facts import Hours
from tracker.compliance.due import DueRow, due_row, named_parts
from tracker.compliance.many_keys import among
from tracker.compliance.models import Event, EventKind, Finding
from tracker.compliance.states import WORDS
from tracker.fleet.entries import day_at
from tracker.fleet.models import Engine, Owner, Preference
from tracker.watch.models import Told
from tracker.watch.telling.judging import PRESSING, Verdict, is_unwanted, verdict_on

LAST: Final = len(WORDS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One matter of one engine, and the events of it that are told.

    `row`: its finding as it stands on the station's day, by the owner's own lead; None
    where no finding stands behind it. One told of without an event has no `events`.
    """

    engine: Engine
    row: DueRow | None
    events: tuple[Event, ...]

    @property
    def kinds(self) -> frozenset[str]:
        return frozenset(event.kind for event in self.events)

    @property
    def provision(self) -> Provision | None:
        return self.row.provision if self.row else self.events[-1].provision

    @property
    def presses(self) -> bool:
        """Whether it does not wait for the digest."""
        if self.row is None or self.row.word not in PRESSING:
            return False
        return any(event.at_once for event in self.events)

    @property
    def order(self) -> tuple[int, date, int, int, int]:
        """Where it stands among others: what presses most first."""
        row = self.row
        rank = LAST
        if row is not None and row.word in WORDS:
            rank = WORDS.index(row.word)
        return (
            rank,
            (row and row.due_on) or date.max,
            row.due.hours if row is not None and row.due.hours is not None else 1 << 60,
            self.engine.pk,
            row.finding.pk if row is not None else self.events[0].pk,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """What one owner is to be told, most pressing first.

    `over`: events that end untold. `kept`: keys of those that stay when they are told,
    because they come due for this owner only later.
    """

    owner: Owner
    on: date
    items: tuple[Item, ...]
    over: tuple[Event, ...]
    kept: frozenset[int]


def preference_of(owner: Owner) -> Preference:
    """Return how an owner is told; it was read with them, if it was ever said."""
    return getattr(owner, "preference", None) or Preference(owner=owner)


def lead_for(owner: Owner) -> Lead:
    """Return how long before its point something is coming due for an owner."""
    own, station = preference_of(owner), owner.station
    hours = station.lead_hours if own.lead_hours is None else own.lead_hours
    days = station.lead_days if own.lead_days is None else own.lead_days
    return Lead(hours=Hours(hours), days=days)


def news_of(owners: Sequence[Owner], *, at: datetime) -> list[News]:
    """Return what there is to tell these owners, read with station and preference.

    Three queries, two more where parts are named, however many owners there are.
    """
    events = _unsettled(owners)
    told = _told(event for event in events if event.kind == EventKind.COMING)
    findings = _Findings(events)
    by_owner: dict[int | None, list[Event]] = defaultdict(list)
    for event in events:
        by_owner[event.engine.owner_id].append(event)
    return [_news(one, by_owner[one.pk], told, findings, at=at) for one in owners]


def rows_of(
    findings: Collection[Finding], owner: Owner, parts: Mapping[int, str], *, on: date
) -> list[DueRow]:
    """Return how findings of an owner's engines stand on a day, by the owner's lead."""
    lead = lead_for(owner)
    return [due_row(finding, parts, on=on, lead=lead) for finding in findings]


def _unsettled(owners: Sequence[Owner]) -> list[Event]:
    found = Event.objects.unsettled().filter(
        engine__owner__in=among([owner.pk for owner in owners])
    )
    return list(
        found.select_related(
            "engine__engine_type",
            "engine__standing",
            "engine__station",
            "provision__revision__publication",
        ).order_by("noted_at", "pk")
    )


def _told(events: Iterable[Event]) -> set[tuple[int, str]]:
    keys = [event.pk for event in events]
    if not keys:
        return set()
    rows = Told.objects.filter(event__in=among(keys))
    return set(rows.values_list("event", "recipient"))


class _Findings:
    """The findings that events are about, by engine and provision."""

    def __init__(self, events: Collection[Event]) -> None:
        provisions = {one.provision_id for one in events if one.provision_id}
        self._rows: dict[tuple[int, int], list[Finding]] = defaultdict(list)
        if provisions:
            found = Finding.objects.filter(
                engine__in=among({event.engine_id for event in events}),
                provision__in=among(provisions),
            )
            for row in found.for_list().select_related("engine__standing"):
                self._rows[row.engine_id, row.provision_id].append(row)
        every = (row.part_id for rows in self._rows.values() for row in rows)
        self.parts = named_parts(every)

    def of(self, event: Event) -> Finding | None:
        """Return what an event is about; that of a new revision names no part."""
        rows = self._rows.get((event.engine_id, event.provision_id or 0), ())
        if event.kind == EventKind.SUPERSEDED:
            return rows[0] if rows else None
        return next((row for row in rows if row.part_id == event.part_id), None)


def _news(
    owner: Owner,
    events: Sequence[Event],
    told: Collection[tuple[int, str]],
    findings: _Findings,
    *,
    at: datetime,
) -> News:
    on, preference = day_at(owner.station, at), preference_of(owner)
    rows: dict[int, DueRow] = {}
    telling: dict[object, list[Event]] = defaultdict(list)
    over, kept = [], set()
    for event in events:
        finding = findings.of(event)
        if finding is not None and finding.pk not in rows:
            [rows[finding.pk]] = rows_of([finding], owner, findings.parts, on=on)
        row = None if finding is None else rows[finding.pk]
        verdict = verdict_on(event, row, told=(event.pk, f"owner {owner.pk}") in told)
        if verdict is Verdict.DROP or is_unwanted(event, preference):
            over.append(event)
            continue
        if verdict in (Verdict.NEWS, Verdict.WAIT):
            kept.add(event.pk)
        if verdict is not Verdict.WAIT:
            matter = row.finding.pk if row else (event.engine_id, event.key)
            telling[matter].append(event)
    items = [
        Item(
            engine=some[0].engine,
            row=next((rows[f.pk] for e in some if (f := findings.of(e))), None),
            events=tuple(some),
        )
        for some in telling.values()
    ]
    return News(
        owner=owner,
        on=on,
        items=tuple(sorted(items, key=lambda item: item.order)),
        over=tuple(over),
        kept=frozenset(kept),
    )

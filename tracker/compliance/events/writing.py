"""Events written: each key once, whatever is computed again and by whom."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import date, datetime

from django.db import connection

from notices.models import Kind, Provision, Publication
from tracker.compliance.models import Event, EventKind, Finding

AT_ONCE = 1000


def write_events(events: Iterable[Event]) -> int:
    """Write those whose key is new; return how many. One query, and one a thousand.

    On PostgreSQL another transaction may write the same key meanwhile; the database
    then skips it. SQLite lets in one writer at a time, and its way of skipping would
    hide a row that is wrong.
    """
    wanted = {event.key: event for event in events}
    if not wanted:
        return 0
    keys = list(wanted)
    known: set[str] = set()
    for start in range(0, len(keys), AT_ONCE):
        some = keys[start : start + AT_ONCE]
        known.update(Event.objects.filter(key__in=some).values_list("key", flat=True))
    new = [event for key, event in wanted.items() if key not in known]
    Event.objects.bulk_create(
        new, batch_size=AT_ONCE, ignore_conflicts=connection.vendor == "postgresql"
    )
    return len(new)


def is_mandatory(publication: Publication, provision: Provision) -> bool:
    """Whether nobody may be left without word of it: law binds, or the maker says so."""
    binds = Kind(publication.kind).binds
    return binds or provision.category == Provision.Category.MANDATORY


def key_of(*values: object) -> str:
    """Return the key of an event from what makes it new, long values shortened."""
    return "|".join(map(_short, values))


def _short(value: object) -> str:
    if isinstance(value, list | tuple):
        joined = "\n".join(map(str, value))
        return hashlib.sha256(joined.encode()).hexdigest()[:16]
    return str(value)


def said_of_document(provision: Provision) -> dict[str, object]:
    """Return how an event names the document and what it says."""
    revision = provision.revision
    publication = revision.publication
    return {
        "publication": str(publication.public_id),
        "kind": publication.kind,
        "number": publication.number,
        "revision": revision.label,
        "title": provision.title,
    }


def event_of(
    finding: Finding,
    provision: Provision,
    kind: EventKind,
    key: str,
    said: dict[str, object],
    *,
    on: date,
    at: datetime,
) -> Event:
    """Return an event about a finding, not saved. `said`: beside what names the document."""
    return Event(
        station_id=finding.station_id,
        engine_id=finding.engine_id,
        part_id=finding.part_id,
        provision=provision,
        kind=kind,
        key=key,
        at_once=kind is EventKind.OVERDUE,
        mandatory=is_mandatory(provision.revision.publication, provision),
        said=said_of_document(provision) | said,
        happened_on=on,
        noted_at=at,
    )

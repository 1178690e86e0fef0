"""Whose turn it is: who can be told at all, who at once, and whose digest is due."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from django.db.models import Count, F, Max, Q

from tracker.compliance.many_keys import among
from tracker.compliance.models import Event
from tracker.fleet.models import Owner
from tracker.watch.models import Job, Message, MessageKind, Run
from tracker.watch.telling.days import Last, digest_day
from tracker.watch.telling.reading import preference_of

LATE: Final = timedelta(minutes=10)
"""An event is noted at the moment at which its act began, and seen once that is kept."""
_SHARD: Final = "owner "
_DIGEST: Final = re.compile(r"digest\|(?P<owner>\d+)\|(?P<day>\d{4}-\d\d-\d\d)")
_NOBODY: Final = (
    Q(engine__owner=None)
    | Q(engine__owner__removed_at__isnull=False)
    | Q(engine__owner__email="")
    | Q(engine__owner__preference__silenced_at__isnull=False)
)


def settle_what_nobody_is_told(at: datetime) -> int:
    """Settle, without a message, what there is nobody to tell of; return how much.

    The engine has no owner, the owner no address, or the station silences them. An
    address that was refused is another matter: what it has not been told waits until
    somebody has mended it.
    """
    return Event.objects.unsettled().filter(_NOBODY).update(settled_at=at)


def tellable() -> Q:
    """Return which owners are written to: a mail reaches them, nobody silences them."""
    refused = Q(preference__refused_address=F("email"))
    known = Q(removed_at=None, preference__silenced_at=None) & ~Q(email="")
    return known & ~refused


def pressing_owners() -> set[int]:
    """Return the owners for whom something was noted that does not wait. One query."""
    events = Event.objects.unsettled().filter(at_once=True, engine__owner__isnull=False)
    return set(events.order_by().values_list("engine__owner", flat=True).distinct())


def owners_of_the_hour(at: datetime) -> dict[int, date]:
    """Return whose digest is due, with the date in their time zone. Four queries.

    One who was looked at on that date already is due again once something was noted.
    """
    waiting = Event.objects.unsettled().filter(engine__owner__isnull=False)
    events = waiting.order_by().values_list("engine__owner")
    noted: dict[int, datetime] = dict(events.annotate(Max("noted_at")))
    if not noted:
        return {}
    owners = Owner.objects.filter(tellable(), pk__in=among(noted))
    last, looked = _last_digests(at), _looked(at)
    due = {}
    for owner in owners.select_related("preference"):
        day = digest_day(
            at,
            zone=ZoneInfo(owner.time_zone),
            hour=preference_of(owner).at_hour,
            last=last.get(owner.pk),
        )
        if day is None:
            continue
        seen_at = looked.get((owner.pk, day))
        if seen_at is None or noted[owner.pk] > seen_at - LATE:
            due[owner.pk] = day
    return due


def digest_key(owner: Owner, day: date) -> str:
    return f"digest|{owner.pk}|{day.isoformat()}"


def note_looked(days: Mapping[int, date], *, at: datetime) -> None:
    """Keep that these owners were looked at for a date, whether or not a digest went."""
    Run.objects.bulk_create(
        [
            Run(
                job=Job.TELL,
                period=day.isoformat(),
                shard=f"{_SHARD}{owner}",
                started_at=at,
                finished_at=at,
            )
            for owner, day in days.items()
        ],
        update_conflicts=True,
        unique_fields=["job", "period", "shard"],
        update_fields=["started_at", "finished_at"],
    )


def told_at_once(owners: Collection[int], *, since: datetime) -> dict[int, int]:
    """Return how many mails each owner was sent at once since a moment. One query."""
    sent = Message.objects.filter(
        dedupe_key__startswith=f"{MessageKind.OVERDUE}|",
        owner__in=among(owners),
        created_at__gt=since,
    )
    return dict(sent.order_by().values_list("owner").annotate(Count("pk")))


def _last_digests(at: datetime) -> dict[int, Last]:
    """The last digest of each owner, as far as it can stand in the way of another.

    The key says for which date it was: an owner may have moved since. A copy that was
    sent again has a key of its own, and is none.
    """
    sent = Message.objects.filter(
        kind=MessageKind.DIGEST, created_at__gt=at - timedelta(days=3)
    )
    rows = sent.order_by("created_at").values_list("dedupe_key", "created_at")
    return {
        int(found["owner"]): Last(day=date.fromisoformat(found["day"]), at=moment)
        for key, moment in rows
        if (found := _DIGEST.fullmatch(key))
    }


def _looked(at: datetime) -> dict[tuple[int, date], datetime]:
    """When each owner was last looked at for a date, by the dates that may be today."""
    near = [(at + timedelta(days=off)).date().isoformat() for off in (-1, 0, 1)]
    runs = Run.objects.filter(job=Job.TELL, period__in=near, shard__startswith=_SHARD)
    return {
        (int(shard.removeprefix(_SHARD)), date.fromisoformat(period)): moment
        for shard, period, moment in runs.values_list("shard", "period", "started_at")
    }

"""What became so is told: at once what presses, the rest once a day at the owner's hour.

A batch of owners is one transaction with their rows locked, so that two runs at the
same time tell nobody twice. An owner whose mail cannot be written stops no other; what
they were to be told stays, and the next run tries again.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Final

from django.db import transaction

from tracker.compliance.in_force import batches
from tracker.compliance.many_keys import among
from tracker.compliance.models import Event
from tracker.compliance.transactions import one_transaction
from tracker.figures.wording import long_day
from tracker.fleet.models import Engine, Owner
from tracker.watch import outbox
from tracker.watch.links import hours_url
from tracker.watch.models import MessageKind
from tracker.watch.telling.heads import Heads, heads_of
from tracker.watch.telling.letters import Draft, letter_of
from tracker.watch.telling.reading import Item, News, news_of
from tracker.watch.telling.recipients import (
    digest_key,
    note_looked,
    owners_of_the_hour,
    pressing_owners,
    settle_what_nobody_is_told,
    tellable,
    told_at_once,
)
from tracker.watch.telling.storms import StormGuard
from tracker.watch.telling.words import subject_of_several

log = logging.getLogger(__name__)

OWNERS_AT_ONCE: Final = 10
MOST_AT_ONCE: Final = 4
A_DAY: Final = timedelta(hours=24)
"""So many mails at once go to an owner in a day; what is more waits for the digest."""


def write_due(at: datetime) -> int:
    """Write every message that is due at a moment; return how many."""
    settle_what_nobody_is_told(at)
    days = owners_of_the_hour(at)
    guard = StormGuard(at)
    return sum(
        _write_to(owners, days, guard, at=at)
        for owners in batches(sorted(pressing_owners() | days.keys()), OWNERS_AT_ONCE)
    )


def _write_to(
    keys: Sequence[int], days: Mapping[int, date], guard: StormGuard, *, at: datetime
) -> int:
    """Write to some owners; the reading takes as many queries for all as for one."""
    with one_transaction():
        found = Owner.objects.filter(tellable(), pk__in=keys).order_by("pk")
        locked = found.select_for_update(of=("self",), no_key=True)
        owners = list(locked.select_related("station", "preference"))
        sent = told_at_once(keys, since=at - A_DAY)
        news = news_of(owners, at=at)
        heads = heads_of(item.engine for one in news for item in one.items)
        written, looked = 0, {}
        for one in news:
            teller = _Teller(one, heads, guard, at=at)
            try:
                with transaction.atomic():
                    written += teller.tell(
                        left=MOST_AT_ONCE - sent.get(one.owner.pk, 0),
                        day=days.get(one.owner.pk),
                    )
            except Exception:
                log.exception("owner %d could not be told", one.owner.pk)
                continue
            if one.owner.pk in days:
                looked[one.owner.pk] = days[one.owner.pk]
        note_looked(looked, at=at)
        return written


class _Teller:
    """Writes to one owner, each engine with one link in all mails of the run."""

    def __init__(
        self, news: News, heads: Heads, guard: StormGuard, *, at: datetime
    ) -> None:
        self._news, self._heads, self._guard, self._at = news, heads, guard, at
        self._urls: dict[int, str] = {}

    def tell(self, *, left: int, day: date | None) -> int:
        """Write what is due. `left`: mails that may go at once; `day`: of the digest."""
        written, rest, settled = 0, [], list(self._news.over)
        for items in self._by_engine():
            pressing = [item for item in items if item.presses]
            if pressing and written < left and self._at_once(pressing):
                settled += _events(pressing)
                written += 1
            else:
                rest += pressing
            rest += [item for item in items if not item.presses]
        rest.sort(key=lambda item: item.order)
        if day is not None and rest and self._digest(rest, day):
            settled += _events(rest)
            written += 1
        self._settle(settled)
        return written

    def _by_engine(self) -> list[list[Item]]:
        found: dict[int, list[Item]] = {}
        for item in self._news.items:
            found.setdefault(item.engine.pk, []).append(item)
        return list(found.values())

    def _at_once(self, items: Sequence[Item]) -> bool:
        owner, engine = self._news.owner, items[0].engine
        subject = subject_of_several(items)
        told = ",".join(str(event.public_id) for event in _events(items))
        digest = hashlib.sha256(told.encode()).hexdigest()[:16]
        return self._put(
            Draft(
                kind=MessageKind.OVERDUE,
                key=f"overdue|{owner.pk}|{engine.pk}|{digest}",
                subject=subject,
                heading=subject,
                lead="You are told of this at once, because it may not wait for a digest.",
                day=long_day(self._news.on),
                items=items,
                mandatory=any(event.mandatory for event in _events(items)),
                all_mandatory=all(event.mandatory for event in _events(items)),
            ),
            reason=self._guard.reason(owner.station),
        )

    def _digest(self, items: Sequence[Item], day: date) -> bool:
        subject, events = subject_of_several(items), _events(items)
        return self._put(
            Draft(
                kind=MessageKind.DIGEST,
                key=digest_key(self._news.owner, day),
                subject=subject,
                heading=subject,
                lead="This has become so, and you have not been told of it yet.",
                day=long_day(day),
                items=items,
                mandatory=any(event.mandatory for event in events),
                all_mandatory=all(event.mandatory for event in events),
                heads=self._heads,
            )
        )

    def _put(self, draft: Draft, *, reason: str = "") -> bool:
        """Write a mail; False where another run has written the same one before."""
        letter = letter_of(
            draft, self._news.owner, hours_url=self._hours_url, held=reason
        )
        return outbox.put(letter, at=self._at) is not None

    def _hours_url(self, engine: Engine, owner: Owner) -> str:
        if engine.pk not in self._urls:
            self._urls[engine.pk] = hours_url(engine, owner, at=self._at)
        return self._urls[engine.pk]

    def _settle(self, events: Sequence[Event]) -> None:
        keys = {event.pk for event in events} - self._news.kept
        if keys:
            done = Event.objects.unsettled().filter(pk__in=among(keys))
            done.update(settled_at=self._at)


def _events(items: Sequence[Item]) -> list[Event]:
    return [event for item in items for event in item.events]

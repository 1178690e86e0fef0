"""A current document told to all owners of engines that it concerns, or may concern."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime
from typing import Final, NamedTuple

from django.db.models import Count, Q

from notices.models import Provision, Revision
from tracker.accounts.access import Right, Viewer
from tracker.accounts.context import today_at
from tracker.compliance.due import DueRow, named_parts
from tracker.compliance.events.writing import is_mandatory
from tracker.compliance.in_force import batches
from tracker.compliance.many_keys import among
from tracker.compliance.models import Finding, FindingQuerySet
from tracker.compliance.transactions import one_transaction
from tracker.figures.wording import listed, long_day
from tracker.fleet.entries import day_at
from tracker.fleet.errors import Refused
from tracker.fleet.models import Owner
from tracker.fleet.models.owners import OwnerQuerySet
from tracker.watch import outbox
from tracker.watch.links import hours_url
from tracker.watch.models import Message, MessageKind
from tracker.watch.outbox import Letter, one_line
from tracker.watch.telling.content import page_url
from tracker.watch.telling.letters import Draft, HoursUrl, letter_of
from tracker.watch.telling.reading import Item, rows_of
from tracker.watch.telling.recipients import tellable
from tracker.watch.telling.words import engine_words, paragraphs

LONGEST_NOTE: Final = 4000
OWNERS_AT_ONCE: Final = 25


class Preview(NamedTuple):
    """How many would be told, of how many engines, and one of the mails, unless none."""

    owners: int
    engines: int
    sample: Letter | None


def announce(
    viewer: Viewer, revision: Revision, note: str, *, at: datetime
) -> list[Message]:
    """Write one message to each owner; return those that were written now.

    The same note about the same revision goes to an owner once. Four queries and one
    where parts are named for every batch of owners, and some for each message.
    """
    said = _checked(viewer, note)
    written = []
    keys = recipients(viewer, revision).order_by("name", "pk")
    for some in batches(keys.values_list("pk", flat=True), OWNERS_AT_ONCE):
        with one_transaction():
            letters = _letters(
                viewer,
                revision,
                said,
                some,
                on=day_at(viewer.station, at),
                hours_url=lambda engine, owner: hours_url(engine, owner, at=at),
            )
            put = [outbox.put(letter, at=at) for letter in letters]
            written += [message for message in put if message is not None]
    return written


def preview_of_announcement(viewer: Viewer, revision: Revision, note: str) -> Preview:
    """Return what `announce` would write, and write nothing. Six queries at most.

    The sample leads to the engine's page where a mail has the link of its own.
    """
    said = _checked(viewer, note)
    found = _concerned(viewer, revision).aggregate(
        owners=Count("engine__owner", distinct=True),
        engines=Count("engine", distinct=True),
    )
    first = recipients(viewer, revision).order_by("name", "pk")[:1]
    letters = _letters(
        viewer,
        revision,
        said,
        list(first.values_list("pk", flat=True)),
        on=today_at(viewer.station),
        hours_url=lambda engine, _: page_url(engine),
    )
    return Preview(found["owners"], found["engines"], next(iter(letters), None))


def _checked(viewer: Viewer, note: str) -> tuple[str, ...]:
    viewer.require(Right.SEND_MESSAGES)
    if len(note) > LONGEST_NOTE:
        raise Refused(
            "note",
            f"The note has {len(note)} characters. Write at most {LONGEST_NOTE}.",
        )
    return paragraphs(note)


def _concerned(viewer: Viewer, revision: Revision) -> FindingQuerySet:
    """The findings that are told of: of owners whom a mail reaches and who want it."""
    viewer.require(Right.SEE_NOTICES)
    findings = Finding.objects.visible_to(viewer).filter(
        provision__revision=revision,
        engine__owner__in=Owner.objects.filter(tellable()).values("pk"),
    )
    if revision.publication.binds:
        return findings
    mandatory = Q(provision__category=Provision.Category.MANDATORY)
    unsaid = Q(engine__owner__preference=None)
    return findings.filter(
        mandatory | unsaid | Q(engine__owner__preference__optional=True)
    )


def recipients(viewer: Viewer, revision: Revision) -> OwnerQuerySet:
    """The owners to whom `announce` writes."""
    owners = _concerned(viewer, revision).order_by().values("engine__owner")
    return Owner.objects.filter(pk__in=owners)


def _letters(
    viewer: Viewer,
    revision: Revision,
    note: tuple[str, ...],
    keys: Sequence[int],
    *,
    on: date,
    hours_url: HoursUrl,
) -> list[Letter]:
    found = _concerned(viewer, revision).filter(engine__owner__in=among(keys))
    with_names = found.for_list().select_related("engine__standing", "engine__station")
    findings = list(with_names)
    parts = named_parts(row.part_id for row in findings)
    owners = Owner.objects.filter(pk__in=keys).select_related("station", "preference")
    by_owner: dict[int | None, list[Finding]] = defaultdict(list)
    for finding in findings:
        by_owner[finding.engine.owner_id].append(finding)
    letters = []
    for owner in owners.order_by("name", "pk"):
        rows = rows_of(by_owner[owner.pk], owner, parts, on=on)
        items = [Item(engine=row.engine, row=row, events=()) for row in rows]
        items.sort(key=lambda item: item.order)
        draft = _draft(revision, note, owner, items, on)
        letters.append(letter_of(draft, owner, hours_url=hours_url))
    return letters


def _draft(
    revision: Revision,
    note: tuple[str, ...],
    owner: Owner,
    items: Sequence[Item],
    on: date,
) -> Draft:
    publication = revision.publication
    named = one_line(f"{publication.number} revision {revision.label}")
    engines = {item.engine.pk: item.engine for item in items}
    duty = [is_mandatory(publication, row.provision) for row in _rows(items)]
    written = hashlib.sha256("\n".join(note).encode()).hexdigest()[:16]
    about = f"{len(engines)} of your engines"
    if len(engines) == 1:
        about = f"your {engine_words(items[0].engine)}"
    return Draft(
        kind=MessageKind.NOTICE,
        key=f"notice|{revision.pk}|{owner.pk}|{written}",
        subject=f"{named}: {about}",
        heading=f"{named}: {one_line(publication.title)}",
        lead=_lead(named, items),
        day=long_day(on),
        items=items,
        mandatory=any(duty),
        all_mandatory=all(duty),
        note=note,
    )


def _lead(named: str, items: Sequence[Item]) -> str:
    """Say of how many engines it applies to, and of how many that is not settled."""
    applies = {row.engine.pk for row in _rows(items) if not row.finding.undetermined}
    every = {item.engine.pk for item in items}
    open_ones = len(every) - len(applies)
    said = []
    if applies:
        said.append(f"applies to {_engines(len(applies))}")
    if open_ones:
        said.append(f"may apply to {_engines(open_ones)}, for which a fact is missing")
    return f"{named} {listed(said)}."


def _engines(number: int) -> str:
    return "one of your engines" if number == 1 else f"{number} of your engines"


def _rows(items: Sequence[Item]) -> list[DueRow]:
    return [item.row for item in items if item.row is not None]

"""What entries of an engine are held against, fetched once for many of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from notices.models import Reference, Revision
from tracker.compliance.models import Record
from tracker.fleet.models import Engine, PartFitting, Reading


@dataclass(slots=True, kw_only=True)
class Background:
    """What is known of one engine. Grows with the records that are added to it.

    `records`: valid ones. `held`: valid record by its slot without the replacement
    number; `replaced`: how many of that slot were voided. `parts`: keys of all that
    were ever fitted. `revisions`: confirmed ones of the documents at hand.
    """

    engine: Engine
    readings: Sequence[Reading] = ()
    records: list[Record] = field(default_factory=list)
    held: dict[str, Record] = field(default_factory=dict)
    replaced: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    last: Record | None = None
    parts: frozenset[int] = frozenset()
    revisions: Sequence[Revision] = ()
    superseding: Sequence[Reference] = ()

    def take(self, record: Record, *, is_valid: bool = True) -> None:
        """Note a record of the engine, in order of sequence."""
        self.last = record
        base = record.slot.rpartition(":")[0]
        if not is_valid:
            self.replaced[base] += 1
            return
        self.records.append(record)
        self.held[base] = record

    def superseded(self, revision: Revision, on: date) -> str:
        """Return why a revision was no longer current on a day, "" if it was."""
        if revision.cancelled_on is not None and revision.cancelled_on <= on:
            return f"cancelled on {revision.cancelled_on}"
        later = [
            other
            for other in self.revisions
            if other.publication_id == revision.publication_id
            and _order(other) > _order(revision)
            and _order(other)[0] <= on
        ]
        if later:
            newest = max(later, key=_order)
            return f"revision {newest.label} took over on {newest.takes_over_on}"
        for reference in self.superseding:
            successor = reference.revision
            is_about = reference.publication_id == revision.publication_id
            if is_about and _order(revision)[0] <= _order(successor)[0] <= on:
                return f"{successor} supersedes it"
        return ""


def _order(revision: Revision) -> tuple[date, int]:
    return (revision.takes_over_on or date.max, revision.sequence)


def background_of(
    engines: Sequence[Engine], revisions: Iterable[Revision | None]
) -> dict[int, Background]:
    """Return the background of each engine by its key. Six queries, however many.

    `revisions`: those that the entries name; None counts for nothing.
    """
    keys = [engine.pk for engine in engines]
    known = {engine.pk: Background(engine=engine) for engine in engines}
    readings: dict[int, list[Reading]] = defaultdict(list)
    for reading in Reading.objects.valid().filter(engine__in=keys).order_by("on"):
        readings[reading.engine_id].append(reading)
    _take_records(known)
    fitted: dict[int, set[int]] = defaultdict(set)
    rows = PartFitting.objects.filter(engine__in=keys, removed=False)
    for engine, part in rows.values_list("engine", "part"):
        fitted[engine].add(part)
    documents = {one.publication_id for one in revisions if one is not None}
    others, superseding = _library(documents)
    for key, background in known.items():
        background.readings = readings[key]
        background.parts = frozenset(fitted[key])
        background.revisions = others
        background.superseding = superseding
    return known


def _take_records(known: dict[int, Background]) -> None:
    records = Record.objects.filter(engine__in=list(known))
    for record in records.select_related("recorded_by", "voided_by").order_by(
        "engine", "sequence"
    ):
        if record.kind == "void":
            known[record.engine_id].last = record
        else:
            is_valid = not hasattr(record, "voided_by")
            known[record.engine_id].take(record, is_valid=is_valid)


def _library(documents: set[int]) -> tuple[list[Revision], list[Reference]]:
    if not documents:
        return [], []
    taken_over = Revision.objects.taken_over(date.max)
    references = Reference.objects.filter(
        kind=Reference.Kind.SUPERSEDES,
        publication__in=documents,
        revision__in=taken_over,
    ).exclude(revision__publication__in=documents)
    return (
        list(taken_over.filter(publication__in=documents)),
        list(references.select_related("revision__publication")),
    )

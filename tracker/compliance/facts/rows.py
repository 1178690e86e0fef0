"""The rows about some engines as they held on a day, fetched in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, Final, TypeVar

from django.db.models import Q, QuerySet
from django.db.models.expressions import RawSQL

from tracker.compliance.models import AlternativeMethod, Answer, Declined, Record
from tracker.fleet.history import as_of
from tracker.fleet.models import (
    Attribute,
    DatedFact,
    Engine,
    Fitting,
    FuelRecord,
    Identity,
    Modification,
    NamedEvent,
    Operation,
    Overhaul,
    PartRole,
    Reading,
    Review,
    Search,
)
from tracker.fleet.parts import FittedPart, parts_fitted

ALL_THAT_IS_KNOWN: Final = datetime(9999, 1, 1, tzinfo=UTC)
QUERIES: Final = 21
"""How many queries `rows_of` makes, for one engine as for a thousand."""

Row = TypeVar("Row")
Many = Mapping[int, list[Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """Rows by the key of their engine, by the key of their part where they have one.

    `of_type`: how many parts of a role a type holds, by the key of the type.
    """

    identities: Mapping[int, Identity]
    fittings: Mapping[int, Fitting]
    operations: Mapping[int, Operation]
    modifications: Many
    attributes: Many
    reviews: Many
    searches: Many
    readings: Many
    overhauls: Many
    events: Many
    fuel: Many
    answers: Many
    declined: Many
    alternatives: Many
    records: Many
    parts: Many
    part_attributes: Many
    part_answers: Many
    part_records: Many
    of_type: Mapping[int, dict[str, int]]


def rows_of(engines: Sequence[Engine], *, on: date, known_at: datetime | None) -> Rows:
    """Return all rows that held on a day, as known at a moment or as known now."""
    known = known_at or ALL_THAT_IS_KNOWN
    keys = [engine.pk for engine in engines]
    fitted = parts_fitted(engines, on=on, known_at=known)
    parts = [one.part.pk for one in fitted]

    def held(model: type[DatedFact]) -> list[Any]:
        return list(as_of(model, keys, on=on, known_at=known))

    def held_of_parts(model: type[DatedFact]) -> list[Any]:
        return list(as_of(model, parts, on=on, known_at=known, of="part"))

    identities = list(
        as_of(Identity, keys, on=on, known_at=known).select_related("engine_type")
    )
    records = _records(keys, parts, on, known_at)
    answers = held(Answer)
    return Rows(
        identities=_single(identities),
        fittings=_single(held(Fitting)),
        operations=_single(held(Operation)),
        modifications=_many(held(Modification)),
        attributes=_many(held(Attribute)),
        reviews=_many(held(Review)),
        searches=_many(held(Search)),
        readings=_many(_readings(keys, on, known_at)),
        overhauls=_many(happened(Overhaul, keys, on, known)),
        events=_many(happened(NamedEvent, keys, on, known)),
        fuel=_many(happened(FuelRecord, keys, on, known)),
        answers=_many(row for row in answers if row.part_id is None),
        declined=_many(held(Declined)),
        alternatives=_many(
            as_of(AlternativeMethod, keys, on=on, known_at=known).select_related(
                "provision__revision"
            )
        ),
        records=_many(records),
        parts=_by_engine(fitted),
        part_attributes=_many(held_of_parts(Attribute), "part_id"),
        part_answers=_many(answers, "part_id"),
        part_records=_many(records, "part_id"),
        of_type=_roles_of_types({row.engine_type_id for row in identities}),
    )


def happened(
    model: type[Overhaul] | type[NamedEvent] | type[FuelRecord],
    keys: list[int] | RawSQL,
    on: date,
    known: datetime,
) -> QuerySet[Any]:
    """Return what had happened to engines by a day, oldest first."""
    rows = model.objects.known_at(known).filter(engine__in=keys, on__lte=on)
    return rows.order_by("on", "pk")


def _readings(keys: list[int], on: date, known_at: datetime | None) -> list[Reading]:
    rows = (
        Reading.objects.valid()
        if known_at is None
        else Reading.objects.known_at(known_at)
    )
    return list(
        rows.filter(engine__in=keys, on__lte=on)
        .select_related("meter")
        .order_by("on", "hours", "pk")
    )


def _records(
    keys: list[int], parts: list[int], on: date, known_at: datetime | None
) -> list[Record]:
    """The valid records of the engines, and of their parts on any engine."""
    rows = (
        Record.objects.valid()
        if known_at is None
        else Record.objects.valid_as_known(known_at)
    )
    return list(
        rows.filter(Q(engine__in=keys) | Q(part__in=parts), on__lte=on)
        .select_related("publication", "provision", "rule")
        .order_by("on", "sequence")
    )


def _roles_of_types(types: set[int]) -> dict[int, dict[str, int]]:
    found: dict[int, dict[str, int]] = defaultdict(dict)
    for role in PartRole.objects.filter(engine_type__in=types):
        found[role.engine_type_id][role.role] = role.count
    return found


def _by_engine(fitted: Iterable[FittedPart]) -> Many:
    found: dict[int, list[Any]] = defaultdict(list)
    for one in fitted:
        found[one.fitting.engine_id].append(one)
    return found


def _single(rows: Iterable[Row], key: str = "engine_id") -> dict[int, Row]:
    return {getattr(row, key): row for row in rows}


def _many(rows: Iterable[Any], key: str = "engine_id") -> Many:
    found: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        if getattr(row, key) is not None:
            found[getattr(row, key)].append(row)
    return found

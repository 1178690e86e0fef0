"""The alternative methods of an engine as they go along with it to another station.

A provision is named by number, revision and title of its document, as records name it.
What a library does not hold cannot be placed there, and is told.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any, Final

from django.core.exceptions import ValidationError

from notices.models import Provision
from notices.rules.compliance_time import parse_other_times
from notices.rules.designations import designation
from notices.rules.errors import Fault, RuleError
from tracker.accounts.models import User
from tracker.compliance.models import AlternativeMethod
from tracker.fleet.models import Engine

Row = dict[str, Any]
_COLUMNS: Final = (
    "valid",
    "reference",
    "approved_by",
    "approved_on",
    "description",
    "valid_until",
    "later_revisions",
    "reason",
    "true_from",
    "recorded_at",
    "current",
)
_WRITTEN: Final = ("number", "revision", "provision", "times")
"""Texts beside the columns; the times are JSON, whose numbers stay as they are."""


def alternatives_of(engine: Engine) -> list[Row]:
    """Return every row, oldest first, those that have ended among them. One query."""
    rows = AlternativeMethod.objects.filter(engine=engine).select_related(
        "provision__revision__publication"
    )
    return [
        {
            "number": row.provision.revision.publication.number,
            "revision": row.provision.revision.label,
            "provision": row.provision.title,
            "times": json.dumps(row.times, sort_keys=True),
            **{name: getattr(row, name) for name in _COLUMNS},
        }
        for row in rows.order_by("pk")
    ]


def take_in_alternatives(
    engine: Engine, rows: Sequence[Mapping[str, Any]], *, by: User
) -> list[str]:
    """Write what the own library has a place for; return what else still counts.

    Raises RuleError with the path of every value that cannot be right.
    """
    read, faults = [], []
    for place, raw in enumerate(rows):
        try:
            read.append(_row(engine, raw, by))
        except (TypeError, ValueError, ValidationError) as error:
            message = f"It is no alternative method: {error!r}"
            faults.append(Fault(f"facts.alternatives[{place}]", message))
    if faults:
        raise RuleError(faults)
    known = _provisions(engine, rows)
    unplaced = []
    for row, raw in zip(read, rows, strict=True):
        provision = known.get(_key(raw))
        if provision is not None:
            row.provision = provision
            row.save(force_insert=True)
        elif row.current and row.valid:
            unplaced.append(f"{row}, for {raw['number']} rev. {raw['revision']}")
    return unplaced


def _row(engine: Engine, raw: Mapping[str, Any], by: User) -> Any:
    if set(raw) != {*_COLUMNS, *_WRITTEN}:
        raise TypeError("its keys are others")
    if not all(isinstance(raw[name], str) for name in _WRITTEN):
        raise TypeError("what names its document is no text")
    times = parse_other_times(json.loads(raw["times"])).to_json()
    row: Any = AlternativeMethod(
        station_id=engine.station_id, engine=engine, recorded_by=by, times=times
    )
    for name in _COLUMNS:
        setattr(row, name, raw[name])
    row.clean_fields(exclude={"provision"})
    row.validate_constraints(exclude={"provision"})
    return row


def _key(raw: Mapping[str, Any]) -> tuple[str, str, str]:
    return (
        designation(raw["number"]),
        raw["revision"].casefold(),
        raw["provision"].casefold(),
    )


def _provisions(
    engine: Engine, rows: Sequence[Mapping[str, Any]]
) -> dict[tuple[str, str, str], Provision]:
    """The actions of the own library that the rows name. One query."""
    found = Provision.objects.filter(
        station=engine.station_id,
        kind=Provision.Kind.ACTION,
        revision__confirmed_at__isnull=False,
        revision__publication__number_key__in={_key(raw)[0] for raw in rows},
    ).select_related("revision__publication")
    return {
        (
            one.revision.publication.number_key,
            one.revision.label.casefold(),
            one.title.casefold(),
        ): one
        for one in found
    }

"""Rows about a fitted part -> what is known of that part."""

from __future__ import annotations

from datetime import date
from typing import Literal

from notices.rules.facts import (
    UNKNOWN,
    HoursKept,
    Overhaul,
    PartFacts,
    Unknown,
)
from tracker.compliance.facts.files import PartFile, known
from tracker.compliance.facts.rows import Rows
from tracker.fleet.models import PartFitting
from tracker.fleet.parts import FittedPart


def part_files(
    rows: Rows, engine: int, *, reviewed_on: date | None
) -> tuple[PartFile, ...]:
    """Return the files of the parts fitted to an engine."""
    return tuple(
        PartFile(
            fitted=fitted,
            facts=_facts(rows, fitted),
            records=tuple(rows.part_records[fitted.part.pk]),
            reviewed=_is_reviewed(fitted.fitting, reviewed_on),
        )
        for fitted in rows.parts[engine]
    )


def _is_reviewed(fitting: PartFitting, reviewed_on: date | None) -> bool:
    """A part fitted after the review came with a past that nobody has looked at."""
    if reviewed_on is None:
        return False
    return fitting.fitted_new or (fitting.day or fitting.true_from) <= reviewed_on


def _facts(rows: Rows, fitted: FittedPart) -> PartFacts:
    description, key = fitted.description, fitted.part.pk
    change_known = description.change_known or bool(description.change)
    return PartFacts(
        role=description.role,
        key=str(fitted.part.public_id),
        place=fitted.fitting.place,
        number=description.number or UNKNOWN,
        serial=description.serial or UNKNOWN,
        change=description.change if change_known else UNKNOWN,
        built=description.built or UNKNOWN,
        shipped=description.shipped or UNKNOWN,
        fitted=_fitted(fitted.fitting),
        overhauls=_overhauls(fitted),
        hours=HoursKept(
            new=known(fitted.hours_new),
            overhaul=known(fitted.hours_overhaul),
            fitted=known(fitted.hours_fitted),
        ),
        attributes={row.name: row.value for row in rows.part_attributes[key]},
        answers={
            (str(answer.revision_id), answer.question): answer.yes
            for answer in rows.part_answers[key]
            if answer.yes is not None
        },
    )


def _fitted(fitting: PartFitting) -> date | Literal["new"] | Unknown:
    if fitting.day is not None:
        return fitting.day
    return "new" if fitting.fitted_new else UNKNOWN


def _overhauls(fitted: FittedPart) -> tuple[Overhaul, ...] | Unknown:
    if fitted.overhauls:
        return tuple(
            Overhaul(on=row.on, hours=known(row.part_hours), by=row.by or UNKNOWN)
            for row in fitted.overhauls
        )
    return () if fitted.description.never_overhauled else UNKNOWN

"""Where a fact that is missing is entered: from its words to the form that takes it.

The core names a missing fact in words, always the same for the same fact; the table
goes by how these begin. What no form can settle, as a time that the maker has not
published, has no remedy.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from django.urls import reverse

from tracker.compliance.overview import Gap, PartNow
from tracker.fleet.models import Engine
from tracker.web.asked_properties import property_address

FLEET, READING, WORK, SEE = "EDIT_FLEET", "ADD_READING", "RECORD_WORK", "SEE_ENGINES"
FUEL = "ADD_FUEL"


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """A link: what is done there, in words, and the name of the right it needs."""

    words: str
    address: str
    right: str


Row = tuple[str, str, str, str]

_OF_ENGINE: Final[tuple[Row, ...]] = (
    (r"the answer to the question", "engine-questions", "Answer it", SEE),
    (r"whether .+ is embodied", "engine-modification-add", "Say whether", FLEET),
    (
        r"whether and when there was:|(date of|hours at) the event:",
        "engine-event-add",
        "Enter the event",
        FLEET,
    ),
    (
        r"whether and when it was done|whether .+ was (complied with|done on)|"
        r"when it was last done|when .+ was embodied",
        "engine-record-past",
        "Transcribe the work",
        WORK,
    ),
    (r"which parts are fitted as|[^:]+ fitted$", "engine-part-add", "Enter it", FLEET),
    (
        r"hours (at the effective date|on )|time since \w+ on the effective date",
        "engine-reading-add",
        "Enter a reading of about that day",
        READING,
    ),
    (
        r"(date of|hours at) the maker's rebuild",
        "engine-rebuild-add",
        "Enter the rebuild",
        FLEET,
    ),
    (
        r"(complete )?(type designation|serial number)|date of manufacture|"
        r"shipping date|date of rebuild|whether and when it was rebuilt",
        "engine-identity",
        "Complete the identity",
        FLEET,
    ),
    (
        r"time since overhaul|(date of|hours at|who did) (the last )?overhaul|"
        r"overhaul history",
        "engine-overhaul-add",
        "Enter the overhaul",
        FLEET,
    ),
    (r"kind of fuel in use", "engine-fuel-add", "Enter the fuel taken on", FUEL),
    (r"share of leaded fuel", "engine-fuel", "Enter fuel, or declare a habit", FUEL),
    (
        r"oil temperature|kind of operation|ambient temperatures",
        "engine-operation",
        "Enter how it is run",
        FLEET,
    ),
    (
        r"aircraft it is fitted in|state of registry",
        "engine-aircraft",
        "Enter where it is fitted",
        FLEET,
    ),
)
_OF_PART: Final[tuple[Row, ...]] = (
    (r".*overhaul", "engine-part-overhaul", "Enter its overhaul", FLEET),
    (
        r"when the .+ was fitted|date of fitting|hours|time since",
        "engine-part-fitting",
        "Enter how it was fitted",
        FLEET,
    ),
    (
        r"shipping date|date of manufacture|part number|(complete )?serial number|"
        r"change letter|place in drawing order",
        "engine-part-describe",
        "Describe the part",
        FLEET,
    ),
)
_NOWHERE: Final = re.compile(
    r".*\.$|effective date$|(hours|date|revision|hours of .+) (at|of|in) (the )?record|"
    r"the result noted|whether the record|base interval$|when .+ was entered$|"
    r"the provision .+, on which|what .+ builds on:"
)


def with_remedies(
    gaps: Iterable[Gap], engine: Engine, parts: Sequence[PartNow]
) -> list[tuple[Gap, Remedy | None]]:
    """Return each gap with the form that closes it, if there is one."""
    return [(gap, remedy(gap.fact, engine, parts)) for gap in gaps]


def remedy(fact: str, engine: Engine, parts: Sequence[PartNow]) -> Remedy | None:
    if _NOWHERE.match(fact):
        return None
    if re.fullmatch(r"time since new( of the engine)?", fact):
        return _of_tsn(engine)
    row = _row_of(fact, _OF_ENGINE[:5])
    if row is not None and not fact.startswith(("when the ", "hours ")):
        return _linked(row, engine)
    about = [part for part in parts if _is_about(fact, part)]
    row = _row_of(fact, _OF_PART)
    if about and row is not None:
        return _of_parts(row, engine, about)
    row = _row_of(fact, _OF_ENGINE)
    return _of_property(fact, engine, about) if row is None else _linked(row, engine)


def _of_property(fact: str, engine: Engine, about: Sequence[PartNow]) -> Remedy:
    """The form with name and part filled in, as far as the words tell them."""
    part, name = None, fact
    for one in about:
        if fact.endswith(ending := f" of {one.label}"):
            part, name = one.description.part, fact.removesuffix(ending)
    address = property_address(engine, name, part)
    return Remedy(words="Enter the property", address=address, right=FLEET)


def _row_of(fact: str, table: Sequence[Row]) -> Row | None:
    return next((row for row in table if re.match(row[0], fact)), None)


def _of_tsn(engine: Engine) -> Remedy:
    if engine.hours_now is None:
        return _linked(("", "engine-reading-add", "Enter a reading", READING), engine)
    return _linked(("", "engine-identity", "Complete the identity", FLEET), engine)


def _is_about(fact: str, part: PartNow) -> bool:
    role = re.escape(part.description.role)
    if re.search(rf"\bthe {role}\b", fact, re.IGNORECASE):
        return True
    return fact.endswith(f" of {part.label}")


def _of_parts(row: Row, engine: Engine, about: Sequence[PartNow]) -> Remedy:
    """One part leads to its form, several to where each has its own."""
    if len(about) > 1:
        address = reverse("web:engine-history", args=[engine.public_id])
        return Remedy(words="Choose the part", address=address, right=SEE)
    _, route, words, right = row
    part = about[0].description.part.public_id
    address = reverse(f"web:{route}", args=[engine.public_id, part])
    return Remedy(words=words, address=address, right=right)


def _linked(row: Row, engine: Engine) -> Remedy:
    _, route, words, right = row
    address = reverse(f"web:{route}", args=[engine.public_id])
    return Remedy(words=words, address=address, right=right)

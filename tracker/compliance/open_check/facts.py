"""The single facts that somebody without an account may tell of their engine.

A fact has a key, under which a form sends it, and the words by which the core names it
where it is missing: so that beside an answer that is open stands the field that would
settle it.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date
from enum import Enum

from notices.rules.designations import designation, plain_text
from notices.rules.facts import Hours


class Kind(Enum):
    """What a fact is about; the value is how its key begins.

    WORK: whether a document or modification is done or embodied. DONE: whether one of
    several actions of a document was done.
    """

    WORK = "work"
    DONE = "done"
    ATTRIBUTE = "property"
    QUESTION = "question"
    EVENT = "event"
    HOURS_ON = "hours"
    REGISTRY = "registry"
    AIRCRAFT = "aircraft"
    SHIPPED = "shipped"
    REBUILT = "rebuilt"
    PART = "part"


class Of(Enum):
    """What of a fitted part is told; the value is how it is asked for."""

    NUMBER = "part number"
    SERIAL = "serial number"
    CHANGE = "change letter"
    BUILT = "date of manufacture"
    SHIPPED = "shipping date"
    FITTED = "date of fitting"
    NEW_HOURS = "hours since new"
    OVERHAUL_HOURS = "hours since overhaul"
    FITTED_HOURS = "hours since it was fitted"
    ATTRIBUTE = "property"
    QUESTION = "question"
    NONE = "none is fitted"


DAYS = frozenset({Of.BUILT, Of.SHIPPED, Of.FITTED})
HOURS = frozenset({Of.NEW_HOURS, Of.OVERHAUL_HOURS, Of.FITTED_HOURS})
YES_OR_NO = frozenset({Of.NONE, Of.QUESTION})
"""What of a part is told as a date, as hours, as yes or no; the rest as text."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One fact. `name`: the number of a document, a property, a question, an event.

    `order`: which of the actions of a document that asks for several, else 0. `on`: of
    hours on a day. `role`, `place` and `of`: of a fitted part; `place` tells two of one
    role apart, as `PartFacts.place` does.
    """

    kind: Kind
    name: str = ""
    order: int = 0
    on: date | None = None
    role: str = ""
    place: str = ""
    of: Of | None = None

    @property
    def key(self) -> str:
        """Return a short name that is the same whenever the same fact is meant."""
        is_number = self.kind in {Kind.WORK, Kind.DONE}
        name = designation(self.name) if is_number else plain_text(self.name)
        said = (name, self.order, self.on, plain_text(self.role), self.place, self.of)
        digest = hashlib.sha256(repr(said).encode()).hexdigest()
        return f"{self.kind.value}-{digest[:12]}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Happened:
    """Whether something was done or happened, and when last. Hours are TSN."""

    ever: bool
    on: date | None = None
    hours: Hours | None = None
    revision: str = ""


Told = Happened | str | bool | date | Hours
"""What a fact may be told as, by its kind."""

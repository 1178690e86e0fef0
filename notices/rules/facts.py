"""What is known, and what is not known, of one engine.

Unknown is a value with a name (`UNKNOWN`), never `None`: `None` means "known none",
as in an engine that is known to be fitted in no aircraft. Hours are whole hundredths
of an hour, shares and temperatures exact fractions, dates plain dates.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import Enum
from fractions import Fraction
from typing import Final, Literal, NewType

Hours = NewType("Hours", int)
"""Hours in whole hundredths: 512.3 h is 51230."""


class Unknown(Enum):
    """The one value that says "not known"; it refuses to be a boolean."""

    UNKNOWN = "not known"

    def __bool__(self) -> bool:
        raise TypeError("Unknown is neither true nor false; compare with `is UNKNOWN`.")


UNKNOWN: Final = Unknown.UNKNOWN


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursKept:
    """Hours of an engine or part. `overhaul`: since the last overhaul, else since new.

    `fitted` is only kept for a part: since it was fitted where it is now.
    """

    new: Hours | Unknown = UNKNOWN
    overhaul: Hours | Unknown = UNKNOWN
    fitted: Hours | Unknown = UNKNOWN


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """The hours kept for an engine, never reset, on which all its marks stand.

    `now`: what it shows. `new`: what it showed when the engine was new, or when its
    maker last rebuilt it with a new record (14 CFR 91.421); unknown where TSN is.
    """

    now: Hours | Unknown = UNKNOWN
    new: Hours | Unknown = UNKNOWN


@dataclass(frozen=True, slots=True, kw_only=True)
class Overhaul:
    """One overhaul. `hours`: on the engine's axis; `by`: "maker" or who else."""

    on: date | Unknown = UNKNOWN
    hours: Hours | Unknown = UNKNOWN
    by: str | Unknown = UNKNOWN


@dataclass(frozen=True, slots=True, kw_only=True)
class Compliance:
    """One valid record for a publication. `revision` as printed on the document."""

    number: str
    revision: str | Unknown = UNKNOWN
    on: date | Unknown = UNKNOWN
    hours: Hours | Unknown = UNKNOWN


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureRange:
    """Lowest and highest recorded temperature in degrees Celsius, exact."""

    low: Fraction
    high: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class PartFacts:
    """One fitted part. `place` tells two of one role apart ("left", "right").

    `overhauls` is `()` for a part known never to have been overhauled. `fitted` is a
    date, or "new" where the part came with the engine. `key` identifies the part to
    whoever built these facts (a public id); the core only passes it through.
    """

    role: str
    key: str = ""
    place: str = ""
    number: str | Unknown = UNKNOWN
    serial: str | Unknown = UNKNOWN
    change: str | Unknown = UNKNOWN
    built: date | Unknown = UNKNOWN
    shipped: date | Unknown = UNKNOWN
    fitted: date | Literal["new"] | Unknown = UNKNOWN
    overhauls: tuple[Overhaul, ...] | Unknown = UNKNOWN
    hours: HoursKept = HoursKept()
    attributes: Mapping[str, str] = field(default_factory=dict)
    answers: Mapping[tuple[str, str], bool] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineFacts:
    """Everything a rule may ask of one engine.

    `rebuilt`: a date, True ("at a date not known"), None (never) or unknown.
    `aircraft`, `registry`: None where the engine is known not to be fitted.
    `overhauls`: all of them, oldest first; `()` is "never".
    `embodied`: designations as recorded; `not_embodied`: recorded as absent.
    `embodied_by`: the day by which, at the latest, one of them was, where it is noted.
    `complied`: valid records only. Where `history_reviewed`, what is not in `embodied`
    or `complied` counts as absent; the same for parts of a role in `roles_reviewed`.
    `role_counts`: how many parts of a role the engine type holds.
    `answers`: keyed by (scope, question); the scope is the revision that asks
    (`Asked.scope`), "" on the command line.
    `serial_run`: the digit run (from 1) that is the number in open ranges, where the
    engine type's serial pattern names one. `serial_pattern`: the shape of the type's
    serials with `#` for a run of digits ("L-#-#"), None where none is recorded.
    `axis`: where hours of overhauls, records and readings stand; None where they are
    TSN.
    """

    type: str | Unknown = UNKNOWN
    type_complete: bool = True
    serial: str | Unknown = UNKNOWN
    serial_pattern: str | None = None
    serial_run: int | None = None
    built: date | Unknown = UNKNOWN
    shipped: date | Unknown = UNKNOWN
    rebuilt: date | Literal[True] | Unknown | None = UNKNOWN
    aircraft: str | Unknown | None = UNKNOWN
    registry: str | Unknown | None = UNKNOWN
    operation: frozenset[str] | Unknown = UNKNOWN
    hours: HoursKept = HoursKept()
    overhauls: tuple[Overhaul, ...] | Unknown = UNKNOWN
    embodied: frozenset[str] = frozenset()
    not_embodied: frozenset[str] = frozenset()
    embodied_by: Mapping[str, date] = field(default_factory=dict)
    complied: tuple[Compliance, ...] = ()
    history_reviewed: bool = False
    attributes: Mapping[str, str] = field(default_factory=dict)
    answers: Mapping[tuple[str, str], bool] = field(default_factory=dict)
    parts: tuple[PartFacts, ...] = ()
    roles_reviewed: frozenset[str] = frozenset()
    role_counts: Mapping[str, int] = field(default_factory=dict)
    leaded_share: Fraction | Unknown = UNKNOWN
    oil_temperature: TemperatureRange | Unknown = UNKNOWN
    at_effective: HoursKept = HoursKept()
    axis: Axis | None = None

    @property
    def axis_now(self) -> Hours | Unknown:
        """What the axis shows now."""
        return self.hours.new if self.axis is None else self.axis.now

    @property
    def axis_new(self) -> Hours | Unknown:
        """What the axis showed when TSN was 0."""
        return Hours(0) if self.axis is None else self.axis.new


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The circumstances under which a condition is asked.

    `scope`: the key of the revision whose questions are meant. `effective_hours`:
    what the engine's axis showed on the effective date; it wins over
    `EngineFacts.at_effective`.
    `leaded_share`: the share since this action was last done; wins over the engine's.
    `part`: the part a provision is about (`{"this": p}`). `result`: the result noted
    in the last record of this action, None where there is no record.
    """

    on: date | Unknown = UNKNOWN
    scope: str = ""
    effective_on: date | Unknown = UNKNOWN
    effective_hours: Hours | Unknown = UNKNOWN
    leaded_share: Fraction | Unknown = UNKNOWN
    part: PartFacts | None = None
    result: str | Unknown | None = UNKNOWN

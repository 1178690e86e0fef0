"""What an overhaul interval comes to for one engine: figures, sources, offers, point.

All of it changes only with facts and rules, apart from one thing: an extension that must
be entered within so many years may be too late one day. It is stored as JSON and read
back exactly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import Any, Final, Literal

from notices.rules.facts import UNKNOWN, Hours, Unknown
from notices.rules.forms import HoursForm
from notices.rules.times.due_points import DuePoint

_HOURS: Final = HoursForm()


class Holding(Enum):
    """How a provision stands to an engine; it refuses to be a boolean."""

    HOLDS = "applies"
    WITHIN_REACH = "within reach"
    UNDETERMINED = "undetermined"
    DOES_NOT_HOLD = "does not apply"

    def __bool__(self) -> bool:
        raise TypeError("A holding is neither true nor false; compare with `is`.")


StepKind = Literal["embody", "comply", "fit", "replace", "remove"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing that can be done to an engine.

    `number`: the designation of the modification or document, or the number of the part
    to fit where the rule names one; "" for none.
    """

    words: str
    kind: StepKind
    number: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """A smallest set of steps that make an extension hold.

    `man_hours`: of all steps together, None where those of one are not known.
    """

    steps: tuple[Step, ...]
    man_hours: Hours | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A base or a restriction as it stands to one engine.

    A restriction that is undetermined counts; a base that is undetermined is a candidate.
    `reasons`: sentences. `missing`: the facts on which it hangs.
    """

    id: str
    kind: Literal["base", "restriction"]
    holding: Holding
    hours: Hours | None = None
    years: int | None = None
    reasons: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """An extension as it stands to one engine.

    `reasons`: sentences. `missing`: the facts on which it hangs. `fixed`: of what
    stands against it, the sentences about what nobody can change.
    `reach`: the smallest sets of steps that make it hold for certain, cheapest first.
    `cut`: more was possible than is tried or told, so some sets may be left out, and
    one that is told may hold a smaller one.
    `enter_hours`, `enter_on`: the last hour (on the engine's axis) and the last day on
    which it may be entered; None where there is no such bound or it is not known.
    """

    id: str
    holding: Holding
    hours: Hours | None = None
    years: int | None = None
    reasons: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    fixed: tuple[str, ...] = ()
    reach: tuple[Reach, ...] = ()
    cut: bool = False
    enter_hours: Hours | None = None
    enter_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OverhaulPoint:
    """The overhaul interval of one engine, with where it falls.

    `hours`, `years`: the interval now, None where nothing of the kind is known to limit
    it; `from_hours`, `from_years`: the provision that each comes from. `hours_bind`,
    `years_bind`: whether that limit is law in the engine's operation.
    `point`: the limits on the engine's axis and the calendar, whichever comes first.
    `law`: those of the limits that bind for certain, `doubtful`: those that bind or may;
    None for none. `bases`, `restrictions`, `offers`: each provision judged.
    `missing`: every fact that something hangs on. `conflict`: ids of several base
    intervals that all hold; the shortest counts then.
    """

    hours: Hours | None = None
    years: int | None = None
    from_hours: str | None = None
    from_years: str | None = None
    hours_bind: bool | Unknown = False
    years_bind: bool | Unknown = False
    point: DuePoint
    law: DuePoint | None = None
    doubtful: DuePoint | None = None
    bases: tuple[Judged, ...] = ()
    restrictions: tuple[Judged, ...] = ()
    offers: tuple[Offer, ...] = ()
    missing: tuple[str, ...] = ()
    conflict: tuple[str, ...] = ()

    @property
    def binding(self) -> bool | Unknown:
        """Whether one of the two limits is law; unknown if the operation or both are."""
        if self.from_hours is None and self.from_years is None:
            return UNKNOWN
        both = (self.hours_bind, self.years_bind)
        if any(one is True for one in both):
            return True
        return UNKNOWN if any(one is UNKNOWN for one in both) else False

    def to_json(self) -> dict[str, Any]:
        """Return the JSON value to store; `from_json` reads back an equal point."""
        return {
            "hours": _write(self.hours),
            "years": self.years,
            "from_hours": self.from_hours,
            "from_years": self.from_years,
            "hours_bind": _flag_out(self.hours_bind),
            "years_bind": _flag_out(self.years_bind),
            "point": self.point.to_json(),
            "law": None if self.law is None else self.law.to_json(),
            "doubtful": None if self.doubtful is None else self.doubtful.to_json(),
            "bases": [_judged_out(one) for one in self.bases],
            "restrictions": [_judged_out(one) for one in self.restrictions],
            "offers": [_offer_out(one) for one in self.offers],
            "missing": list(self.missing),
            "conflict": list(self.conflict),
        }

    @classmethod
    def from_json(cls, raw: Mapping[str, Any]) -> OverhaulPoint:
        """Read back what `to_json` has written."""
        return cls(
            hours=_read(raw["hours"]),
            years=raw["years"],
            from_hours=raw["from_hours"],
            from_years=raw["from_years"],
            hours_bind=_flag_in(raw["hours_bind"]),
            years_bind=_flag_in(raw["years_bind"]),
            point=DuePoint.from_json(raw["point"]),
            law=_point_in(raw["law"]),
            doubtful=_point_in(raw["doubtful"]),
            bases=tuple(_judged_in(one) for one in raw["bases"]),
            restrictions=tuple(_judged_in(one) for one in raw["restrictions"]),
            offers=tuple(_offer_in(one) for one in raw["offers"]),
            missing=tuple(raw["missing"]),
            conflict=tuple(raw["conflict"]),
        )


def _write(hours: Hours | None) -> Any:
    return None if hours is None else _HOURS.write(hours)


def _read(raw: float | None) -> Hours | None:
    return None if raw is None else Hours(round(raw * 100))


def _flag_out(flag: bool | Unknown) -> bool | None:
    return None if isinstance(flag, Unknown) else flag


def _flag_in(raw: bool | None) -> bool | Unknown:
    return UNKNOWN if raw is None else raw


def _point_in(raw: Mapping[str, Any] | None) -> DuePoint | None:
    return None if raw is None else DuePoint.from_json(raw)


def _judged_out(one: Judged) -> dict[str, Any]:
    return {
        "id": one.id,
        "kind": one.kind,
        "outcome": one.holding.value,
        "hours": _write(one.hours),
        "years": one.years,
        "reasons": list(one.reasons),
        "missing": list(one.missing),
    }


def _judged_in(raw: Mapping[str, Any]) -> Judged:
    return Judged(
        id=raw["id"],
        kind=raw["kind"],
        holding=Holding(raw["outcome"]),
        hours=_read(raw["hours"]),
        years=raw["years"],
        reasons=tuple(raw["reasons"]),
        missing=tuple(raw["missing"]),
    )


def _offer_out(offer: Offer) -> dict[str, Any]:
    return {
        "id": offer.id,
        "outcome": offer.holding.value,
        "hours": _write(offer.hours),
        "years": offer.years,
        "reasons": list(offer.reasons),
        "missing": list(offer.missing),
        "fixed": list(offer.fixed),
        "reach": [_reach_out(one) for one in offer.reach],
        "cut": offer.cut,
        "enter_hours": _write(offer.enter_hours),
        "enter_on": None if offer.enter_on is None else offer.enter_on.isoformat(),
    }


def _offer_in(raw: Mapping[str, Any]) -> Offer:
    enter_on = raw["enter_on"]
    return Offer(
        id=raw["id"],
        holding=Holding(raw["outcome"]),
        hours=_read(raw["hours"]),
        years=raw["years"],
        reasons=tuple(raw["reasons"]),
        missing=tuple(raw["missing"]),
        fixed=tuple(raw["fixed"]),
        reach=tuple(_reach_in(one) for one in raw["reach"]),
        cut=raw["cut"],
        enter_hours=_read(raw["enter_hours"]),
        enter_on=None if enter_on is None else date.fromisoformat(enter_on),
    )


def _reach_out(reach: Reach) -> dict[str, Any]:
    return {
        "steps": [
            {"words": step.words, "kind": step.kind, "number": step.number}
            for step in reach.steps
        ],
        "man_hours": _write(reach.man_hours),
    }


def _reach_in(raw: Mapping[str, Any]) -> Reach:
    return Reach(
        steps=tuple(Step(**step) for step in raw["steps"]),
        man_hours=_read(raw["man_hours"]),
    )

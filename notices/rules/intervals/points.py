"""The overhaul interval of one engine: every provision judged, the figures, the point."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from notices.rules.evaluate import Outcome
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, Hours
from notices.rules.intervals.falling import Fall, falls
from notices.rules.intervals.judging import Inquiry, once
from notices.rules.intervals.offers import offer_of
from notices.rules.intervals.provisions import Interval
from notices.rules.intervals.results import Holding, Judged, Offer, OverhaulPoint
from notices.rules.intervals.shortest import (
    Falls,
    OneKind,
    Shortest,
    first_of,
    joined,
    shortest,
    shortest_base,
)
from notices.rules.times.due_points import DuePoint
from notices.rules.times.history import History
from notices.rules.times.points import Leaf, PointKind, Tree, leaves

_NO_FALLS: Final[Falls] = (None, None)
_NO_COSTS: Final[Mapping[str, Hours]] = {}
_NOT_ASKED: Final[Mapping[str, Asked]] = {}
_OPERATION: Final = "kind of operation"
_NO_BASE: Final = "base interval"
_NO_BASE_KNOWN: Final = Leaf(kind=PointKind.UNKNOWN, missing=(_NO_BASE,))
_NO_BASE_HOLDS: Final = Leaf(kind=PointKind.NOTHING_DUE, note="no base interval holds")
_HOLDINGS: Final = {
    Outcome.APPLIES: Holding.HOLDS,
    Outcome.DOES_NOT_APPLY: Holding.DOES_NOT_HOLD,
    Outcome.UNDETERMINED: Holding.UNDETERMINED,
}


def overhaul_point(
    intervals: Sequence[Interval],
    facts: EngineFacts,
    asked: Asked,
    history: History,
    *,
    costs: Mapping[str, Hours] = _NO_COSTS,
    asked_of: Mapping[str, Asked] = _NOT_ASKED,
) -> OverhaulPoint:
    """Return the overhaul interval of an engine, its sources, and what would lengthen it.

    `costs`: man-hours of a step, by the designation of what it embodies, complies with
    or fits. `asked_of`: the circumstances of a provision, by its id, where they are not
    `asked` (the answers given under its revision, hours on its effective date).
    The ids differ from each other. A base is never guessed: where none is known to
    hold, what is known is shown and the base is missing. Raises RuleError where an
    event contradicts the engine's own data.
    """
    inquiry = Inquiry(intervals, facts, asked, history, asked_of)
    judged = _Judgements(
        bases=[(one, _judged(one, inquiry)) for one in inquiry.of_kind("base")],
        restrictions=[
            (one, _judged(one, inquiry)) for one in inquiry.of_kind("restriction")
        ],
        offers=[
            (one, offer_of(one, inquiry, costs)) for one in inquiry.of_kind("extension")
        ],
    )
    return _as_point(judged, _counted(judged, inquiry))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Judgements:
    """Every provision with how it stands to the engine."""

    bases: list[tuple[Interval, Judged]]
    restrictions: list[tuple[Interval, Judged]]
    offers: list[tuple[Interval, Offer]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Counted:
    """What counts. `under`: the interval under each base that may be the one.

    `falls`: the limits of everything that counts. `conflict`: bases that all hold.
    """

    under: tuple[Shortest, ...]
    falls: tuple[Fall, ...]
    has_base: bool
    conflict: tuple[str, ...]


def _judged(one: Interval, inquiry: Inquiry) -> Judged:
    verdict = inquiry.verdict(one)
    return Judged(
        id=one.id,
        kind="base" if one.kind == "base" else "restriction",
        holding=_HOLDINGS[verdict.outcome],
        hours=one.hours,
        years=one.years,
        reasons=verdict.reasons,
        missing=verdict.missing,
    )


def _counted(judged: _Judgements, inquiry: Inquiry) -> _Counted:
    """Return the interval under each base that may hold; without one if none must."""

    def counting(
        pairs: Sequence[tuple[Interval, Judged | Offer]], *holdings: Holding
    ) -> list[tuple[Interval, Falls]]:
        now = inquiry.situation
        return [(one, falls(one, now)) for one, j in pairs if j.holding in holdings]

    certain = counting(judged.bases, Holding.HOLDS)
    doubtful = counting(judged.bases, Holding.UNDETERMINED)
    extending = counting(judged.offers, Holding.HOLDS)
    restricting = counting(judged.restrictions, Holding.HOLDS, Holding.UNDETERMINED)
    held = [fall for _, fall in certain]
    choices = [shortest_base([*held, fall]) for _, fall in doubtful]
    if certain:
        choices.insert(0, shortest_base(held))
    elif not inquiry.at_least_one([one for one, _ in doubtful]):
        choices.append(_NO_FALLS)
    extensions = [fall for _, fall in extending]
    restrictions = [fall for _, fall in restricting]
    every = [*certain, *doubtful, *extending, *restricting]
    return _Counted(
        under=tuple(shortest(base, extensions, restrictions) for base in choices),
        falls=tuple(fall for _, both in every for fall in both if fall is not None),
        has_base=bool(certain or doubtful),
        conflict=tuple(one.id for one, _ in certain) if len(certain) > 1 else (),
    )


def _as_point(judged: _Judgements, counted: _Counted) -> OverhaulPoint:
    told_apart = once(m for _, base in judged.bases for m in base.missing)
    missing = _missing(judged, counted)
    hours = _least([one.hours for one in counted.under])
    years = _least([one.years for one in counted.under])
    without = _NO_BASE_HOLDS if counted.has_base else _NO_BASE_KNOWN
    tree = joined([one.tree(without) for one in counted.under], told_apart)
    law, doubtful = (
        _binding(joined([one.law(in_doubt=doubt) for one in counted.under], told_apart))
        for doubt in (False, True)
    )
    return OverhaulPoint(
        hours=None if hours is None else Hours(hours.figure),
        years=None if years is None else years.figure,
        from_hours=None if hours is None else hours.id,
        from_years=None if years is None else years.id,
        hours_bind=False if hours is None else hours.binds,
        years_bind=False if years is None else years.binds,
        point=DuePoint(tree=tree, missing=missing),
        law=law,
        doubtful=doubtful,
        bases=tuple(one for _, one in judged.bases),
        restrictions=tuple(one for _, one in judged.restrictions),
        offers=tuple(one for _, one in judged.offers),
        missing=missing,
        conflict=counted.conflict,
    )


def _missing(judged: _Judgements, counted: _Counted) -> tuple[str, ...]:
    """Return every fact that something hangs on: what holds, where it falls, law."""
    several: list[Judged | Offer] = [
        *(one for _, one in (*judged.bases, *judged.restrictions)),
        *(one for _, one in judged.offers),
    ]
    missing = [fact for one in several for fact in one.missing]
    missing += [fact for fall in counted.falls for fact in fall.leaf.missing]
    if not counted.has_base:
        missing.append(_NO_BASE)
    if any(fall.binds is UNKNOWN for fall in counted.falls):
        missing.append(_OPERATION)
    return once(missing)


def _least(several: Sequence[OneKind]) -> Fall | None:
    """Return the shortest limit of a kind under any base that may hold."""
    return first_of([kind.chosen for kind in several if kind.chosen is not None])


def _binding(tree: Tree) -> DuePoint | None:
    if all(leaf.kind is PointKind.NOTHING_DUE for leaf in leaves(tree)):
        return None
    return DuePoint(tree=tree)

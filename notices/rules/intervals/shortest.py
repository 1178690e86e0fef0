"""The interval now: min of the restrictions and the longest of base and extensions.

Hours and years each for themselves. Limits that count from one mark compare by their
figures, also where the mark is not known; so many hours since overhaul and so many since
new compare where they fall for the engine. What cannot be shown to lengthen the
interval does not lengthen it (an extension whose point is not known), what cannot be
shown not to shorten it stays in the answer (a restriction whose point is not known).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from operator import attrgetter
from typing import Final

from notices.rules.facts import UNKNOWN, Unknown
from notices.rules.intervals.falling import Fall
from notices.rules.times.due_points import one_of
from notices.rules.times.points import Leaf, PointKind, Tree, join, same_points

_NO_LAW: Final = Leaf(kind=PointKind.NOTHING_DUE)

Falls = tuple[Fall | None, Fall | None]
"""The limit of one provision in hours and its limit in years."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OneKind:
    """The limits in hours, or those in years, of which the first counts.

    `chosen`: the shortest of those that can be told. `open`: limits that cannot be told
    from it, for their point is not known. `others`: further limits, past which the
    engine cannot be without being past the chosen one.
    """

    chosen: Fall | None
    open: tuple[Fall, ...] = ()
    others: tuple[Fall, ...] = ()

    @property
    def counted(self) -> tuple[Fall, ...]:
        """The limits that make the interval."""
        return (*(() if self.chosen is None else (self.chosen,)), *self.open)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortest:
    """Hours and years of the interval, under one base or without any."""

    hours: OneKind
    years: OneKind

    def tree(self, without: Leaf) -> Tree:
        """Return the limits, whichever comes first; `without` where there are none."""
        counted = (*self.hours.counted, *self.years.counted)
        if not counted:
            return without
        return join("first_of", tuple(fall.leaf for fall in counted))

    def law(self, *, in_doubt: bool) -> Tree:
        """Return the limits that are law; `in_doubt`: also those that may be."""
        every = (
            *self.hours.counted,
            *self.hours.others,
            *self.years.counted,
            *self.years.others,
        )
        found = tuple(
            fall.leaf
            for fall in every
            if fall.binds is True or (in_doubt and fall.binds is UNKNOWN)
        )
        return join("first_of", found) if found else _NO_LAW


def shortest(
    base: Falls, extensions: Sequence[Falls], restrictions: Sequence[Falls]
) -> Shortest:
    """Return the interval under this base, extensions that hold, and restrictions."""
    hours, years = (
        _of_kind(
            base[kind],
            [one for falls in extensions if (one := falls[kind]) is not None],
            [one for falls in restrictions if (one := falls[kind]) is not None],
        )
        for kind in (0, 1)
    )
    return Shortest(hours=hours, years=years)


def shortest_base(bases: Sequence[Falls]) -> Falls:
    """Return the shorter of each kind, where several bases hold."""
    hours, years = (
        _of_kind(None, [], [one for f in bases if (one := f[kind]) is not None])
        for kind in (0, 1)
    )
    first = [next(iter(kind.counted), None) for kind in (hours, years)]
    return first[0], first[1]


def _of_kind(
    base: Fall | None, extensions: Sequence[Fall], restrictions: Sequence[Fall]
) -> OneKind:
    longest = _longest(base, extensions)
    limits = [*([] if longest is None else [longest]), *restrictions]
    chosen = first_of(limits)
    open_ones = [] if _alike(limits) else [one for one in limits if not one.is_known]
    return OneKind(
        chosen=chosen,
        open=tuple(open_ones),
        others=tuple(
            one for one in limits if one is not chosen and one not in open_ones
        ),
    )


def first_of(falls: Sequence[Fall]) -> Fall | None:
    """Return the limit that falls first of those that can be told.

    Of two at one point the one that is law, then by id, so that order decides nothing.
    """
    told = falls if _alike(falls) else [fall for fall in falls if fall.is_known]
    place = _place(falls)
    return min(told, key=lambda f: (place(f), f.binds is not True, f.id), default=None)


def _longest(base: Fall | None, extensions: Sequence[Fall]) -> Fall | None:
    """Return the base or the extension that falls last; law where one of them is.

    An extension of what is law in an operation is the law there at its later point.
    """
    several = [*([] if base is None else [base]), *extensions]
    if not several:
        return None
    told = several if _alike(several) else [fall for fall in several if fall.is_known]
    place = _place(several)
    longest = min(
        told,
        key=lambda f: (-place(f), f.binds is not True, f is not base, f.id),
        default=min(several, key=lambda f: (f is not base, f.id)),
    )
    return replace(longest, binds=_either(longest, base))


def _alike(falls: Sequence[Fall]) -> bool:
    """Return whether all count from one mark."""
    return len({fall.since for fall in falls}) < 2


def _place(falls: Sequence[Fall]) -> Callable[[Fall], int]:
    """Return what limits compare by: figures from one mark, else where they fall."""
    return attrgetter("figure") if _alike(falls) else attrgetter("at")


def _either(longest: Fall, base: Fall | None) -> bool | Unknown:
    both = [longest.binds, False if base is None else base.binds]
    if True in both:
        return True
    return UNKNOWN if UNKNOWN in both else False


def joined(trees: Sequence[Tree], missing: tuple[str, ...]) -> Tree:
    """Return the one tree that all are alike, else that one of them holds."""
    distinct: list[Tree] = []
    for tree in trees:
        if not any(same_points(tree, other) for other in distinct):
            distinct.append(tree)
    return distinct[0] if len(distinct) == 1 else one_of(tuple(distinct), missing)

"""Where an interval ends under the provisions that hold, and where under others.

The whole answer stands in the core's point; here is what each provision adds to it: what
its finding carries, where the interval would end without its extensions, and where with
one more of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from notices.rules.compliance_time import DuePoint
from notices.rules.facts import UNKNOWN, Unknown
from notices.rules.intervals.falling import Fall
from notices.rules.intervals.shortest import (
    Falls,
    OneKind,
    Shortest,
    first_of,
    shortest,
    shortest_base,
)
from notices.rules.overhaul import Holding, OverhaulPoint
from notices.rules.times.points import Leaf, PointKind, join
from notices.rules.times.standing import Moment, Standing, standing

OPERATION = "kind of operation"
_NO_FALLS: Falls = (None, None)
_NOTHING = Leaf(kind=PointKind.NOTHING_DUE)
_COUNTS = (Holding.HOLDS, Holding.UNDETERMINED)

Gain = tuple[bool | None, bool | None]
"""Whether hours, and whether years, end later by something; None where not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """The limits of the provisions of one engine, put together anew.

    `falls`: where the limits of each provision would fall by themselves. `has_base`: a
    base interval certainly holds, be it known which one or not.
    """

    point: OverhaulPoint
    falls: Mapping[str, Falls]
    has_base: bool

    @property
    def held(self) -> tuple[str, ...]:
        """The extensions that hold."""
        return tuple(
            one.id for one in self.point.offers if one.holding is Holding.HOLDS
        )

    @property
    def restrictions(self) -> tuple[str, ...]:
        """The restrictions that hold; one that is not known counts as holding."""
        return tuple(
            one.id for one in self.point.restrictions if one.holding in _COUNTS
        )

    @property
    def certain(self) -> tuple[str, ...]:
        """The restrictions that certainly hold."""
        return tuple(
            one.id for one in self.point.restrictions if one.holding is Holding.HOLDS
        )

    def under(
        self, extensions: Iterable[str], restrictions: Iterable[str]
    ) -> Iterator[Shortest]:
        """Yield the interval under each base that may be the one."""
        longer = [self.falls[name] for name in extensions]
        shorter = [self.falls[name] for name in restrictions]
        for base in self._bases():
            yield shortest(base, longer, shorter)

    def with_extensions(self, names: Iterable[str]) -> tuple[Fall | None, Fall | None]:
        """Return where hours and years would end if just these extensions held."""
        several = list(self.under(names, self.restrictions))
        return (
            first_of([fall for one in several if (fall := one.hours.chosen)]),
            first_of([fall for one in several if (fall := one.years.chosen)]),
        )

    def binding_of(self, name: str) -> set[bool | Unknown]:
        """Whether the limits of a provision are law.

        Those of an extension are where its own document or the base makes them so: what
        extends a law is the law at its later point, whether it counts now or not.
        """
        own = {one.binds for one in self.falls[name] if one is not None}
        if not any(one.id == name for one in self.point.offers):
            return own
        extended = {
            limit.binds
            for base in self._bases()
            for fall, limit in zip(self.falls[name], base, strict=True)
            if fall is not None and limit is not None
        }
        return own | extended

    def lengthens(self, name: str) -> bool:
        """Whether the interval ends later by an extension than without it."""
        others = [one for one in self.held if one != name]
        without, with_it = (
            self.with_extensions(names) for names in (others, [*others, name])
        )
        return any(map(_is_later, with_it, without))

    @property
    def gained(self) -> Gain:
        """What the extensions that hold come to, all together."""
        return self._gain(self.held, ())

    def gain(self, name: str) -> Gain:
        """What one more extension would come to, beside those that hold."""
        return self._gain((*self.held, name), self.held)

    def unrestricted(self, name: str) -> bool:
        """Whether an extension would lengthen something if no restriction held."""
        others = [one for one in self.held if one != name]
        return True in self._compared([*others, name], others, ())

    @property
    def longer(self) -> Holding:
        """Whether a longer interval applies: the best outcome of what lengthens it.

        What would lengthen nothing counts as not holding, and what cannot be told from
        that as undetermined. A restriction that is not known leaves open what it would
        stand against.
        """
        by_those_held = gain_of(self.gained) if self.held else False
        if by_those_held is True:
            return Holding.HOLDS
        found: list[tuple[Holding, bool | None]] = [(Holding.HOLDS, by_those_held)]
        found += [
            (one.holding, gain_of(self.gain(one.id)))
            for one in self.point.offers
            if one.holding in (Holding.WITHIN_REACH, Holding.UNDETERMINED)
        ]
        outcomes = {
            holding if gain is True else Holding.UNDETERMINED
            for holding, gain in found
            if gain is not False
        }
        order = (Holding.WITHIN_REACH, Holding.UNDETERMINED)
        return next((one for one in order if one in outcomes), Holding.DOES_NOT_HOLD)

    def _gain(self, longer: Sequence[str], shorter: Sequence[str]) -> Gain:
        """Compare two sets of extensions, whatever becomes of undetermined restrictions.

        Later where all restrictions count is later where fewer do; not later where only
        the certain ones count is never later.
        """
        most = least = self._compared(longer, shorter, self.restrictions)
        if self.certain != self.restrictions:
            least = self._compared(longer, shorter, self.certain)
        hours, years = (
            True if under_all is True else False if under_few is False else None
            for under_all, under_few in zip(most, least, strict=True)
        )
        return hours, years

    def _compared(
        self,
        longer: Sequence[str],
        shorter: Sequence[str],
        restrictions: Iterable[str],
    ) -> Gain:
        names = tuple(restrictions)
        pairs = zip(
            self._bases(),
            self.under(longer, names),
            self.under(shorter, names),
            strict=True,
        )
        hours, years = [], []
        for base, one, other in pairs:
            told = [
                base != _NO_FALLS
                and all(_is_told(self.falls[name][kind], base[kind]) for name in longer)
                for kind in (0, 1)
            ]
            hours.append(_later(one.hours, other.hours) if told[0] else None)
            years.append(_later(one.years, other.years) if told[1] else None)
        return _agreed(hours), _agreed(years)

    def past(self, moment: Moment, names: Iterable[str]) -> tuple[bool, bool]:
        """Whether hours, and whether years, are past with just these extensions.

        Whatever it is that is not known: a restriction counts only where it is certain.
        """
        several = list(self.under(tuple(names), self.certain))
        hours, years = (
            all(any(_is_past(fall, moment) for fall in one.counted) for one in kind)
            for kind in (
                [one.hours for one in several],
                [one.years for one in several],
            )
        )
        return hours, years

    def is_past(self, moment: Moment, *, by_law: bool) -> bool:
        """Whether the engine is past the interval whatever it is that is not known.

        `by_law`: past limits that are law in its operation.
        """
        several = self.under(self.held, self.certain)
        trees = [
            one.law(in_doubt=False) if by_law else one.tree(_NOTHING) for one in several
        ]
        return all(standing(tree, moment) is Standing.PAST for tree in trees)

    def _bases(self) -> Iterator[Falls]:
        certain = [
            self.falls[one.id]
            for one in self.point.bases
            if one.holding is Holding.HOLDS
        ]
        doubtful = [
            self.falls[one.id]
            for one in self.point.bases
            if one.holding is Holding.UNDETERMINED
        ]
        if certain:
            yield shortest_base(certain)
        for one in doubtful:
            yield shortest_base([*certain, one])
        if not self.has_base:
            yield _NO_FALLS


def gain_of(gain: Gain) -> bool | None:
    """Whether something is gained at all, in hours or in years."""
    if True in gain:
        return True
    return None if None in gain else False


def _agreed(found: Sequence[bool | None]) -> bool | None:
    """What all bases agree on that may be the one."""
    return found[0] if len(set(found)) == 1 else None


def _later(one: OneKind, other: OneKind) -> bool | None:
    if one.chosen is None or other.chosen is None:
        return False
    if not _compare(one.chosen, other.chosen):
        return None
    is_later = _is_later(one.chosen, other.chosen)
    return None if is_later and (one.open or other.open) else is_later


def _is_past(fall: Fall, moment: Moment) -> bool:
    return standing(fall.leaf, moment) is Standing.PAST


def _is_told(fall: Fall | None, base: Fall | None) -> bool:
    """Whether it can be told of an extension's limit whether it is the longer one."""
    return fall is None or base is None or _compare(fall, base)


def carried(ends: Ends, name: str) -> DuePoint | None:
    """Return the limits by one provision that are law, or may be; None without any.

    Of an extension they may count under one base and not under another: as long as it
    is not known which base holds, whether it is past cannot be said either.
    """
    found = [fall for fall in _counting(ends, name) if fall.binds is not False]
    if not found:
        return None
    missing = [OPERATION] if any(fall.binds is UNKNOWN for fall in found) else []
    if not _counts_under_all(ends, found, name):
        missing += _that_tell_the_base(ends)
    return DuePoint(
        tree=join("first_of", tuple(fall.leaf for fall in found)),
        undetermined=bool(missing),
        missing=tuple(dict.fromkeys(missing)),
    )


def _counts_under_all(ends: Ends, found: Sequence[Fall], name: str) -> bool:
    """Whether each of an extension's limits counts under every base; others do."""
    if not any(one.id == name for one in ends.point.offers):
        return True
    counted = [
        {id(fall.leaf) for fall in (*one.hours.counted, *one.years.counted)}
        for one in ends.under(ends.held, ())
    ]
    return all(id(fall.leaf) in leaves for fall in found for leaves in counted)


def _that_tell_the_base(ends: Ends) -> list[str]:
    """Return the facts on which it hangs which base holds."""
    return [
        fact
        for one in ends.point.bases
        if one.holding is Holding.UNDETERMINED
        for fact in one.missing
    ]


def _counting(ends: Ends, name: str) -> list[Fall]:
    """Return the limits of a provision that count: of base and extensions the longest,
    and of a restriction those that come before that, or are law where that is not.
    """
    several = list(ends.under(ends.held, ()))
    if name not in ends.restrictions:
        found = {
            id(fall.leaf): fall
            for one in several
            for fall in (*one.hours.counted, *one.years.counted)
            if fall.id == name
        }
        return list(found.values())
    hours, years = ends.falls[name]
    mains = (
        [one.hours.chosen for one in several],
        [one.years.chosen for one in several],
    )
    return [
        fall
        for fall, main in zip((hours, years), mains, strict=True)
        if fall is not None and _shortens(fall, main)
    ]


def _shortens(fall: Fall, main: Sequence[Fall | None]) -> bool:
    """Whether a limit may come before what is law of base and extensions."""
    return any(
        one is None
        or one.binds is not True
        or not _compare(fall, one)
        or first_of([fall, one]) is fall
        for one in main
    )


def _is_later(one: Fall | None, other: Fall | None) -> bool:
    """Whether the one certainly comes after the other."""
    if one is None or other is None or not _compare(one, other):
        return False
    if one.since == other.since:
        return one.figure > other.figure
    return one.at > other.at


def _compare(one: Fall, other: Fall) -> bool:
    """Whether it can be told which comes first: by figures from one mark, by places."""
    return one.since == other.since or (one.is_known and other.is_known)

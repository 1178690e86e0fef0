"""How an engine is run: the fuel it was given, and the share of it that was leaded.

Quantities are exact fractions as entered: 30 of 100 US gallons is exactly 30 %, and so
is what gallons and litres make together. Whether a share that lies exactly on a
threshold has passed it is what the rule's own test says (`over` 0.3 is false at 0.3).
Which share shortens which interval is the engine maker's to say: no figure stands here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Final, Literal

from notices.rules.applicability.bounds import ShareBounds
from notices.rules.conditions import Condition, LeadedShareIn, leaves_of
from notices.rules.errors import Fault, RuleError, child_path
from notices.rules.facts import UNKNOWN, Hours, Unknown
from notices.rules.times.actions import Action
from notices.rules.times.limits import Cases, FirstOf, LastOf, Time

LITRES_IN_US_GALLON: Final = Fraction("3.785411784")
"""Exact: a US gallon is 231 cubic inches of 2.54 cm (NIST SP 811, appendix B.8)."""

LITRES: Final = "L"
US_GALLONS: Final = "US gal"
LITRES_IN: Final = {LITRES: Fraction(1), US_GALLONS: LITRES_IN_US_GALLON}

LEADED: Final = "leaded"
UNLEADED: Final = "unleaded"
BLEND: Final = "blend"
_LEADED_IN: Final = {LEADED: Fraction(1), UNLEADED: Fraction(0)}

MOST_FUEL: Final = 1_000_000
_DECIMAL: Final = re.compile(r"([0-9]{1,9})(?:[.,]([0-9]{1,9}))?")
_RATIO: Final = re.compile(r"([0-9]{1,9}) */ *([0-9]{1,9})")
_GROUPED: Final = re.compile(r"[1-9][0-9]{0,2}(,[0-9]{3})+")

Source = Literal["records", "declared", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuel:
    """Fuel taken on. `leaded`: its leaded share; `hours`: on the engine's axis."""

    on: date
    litres: Fraction
    leaded: Fraction
    hours: Hours | Unknown = UNKNOWN

    def __post_init__(self) -> None:
        if self.litres <= 0:
            raise ValueError("Fuel taken on is more than 0 litres.")
        if not 0 <= self.leaded <= 1:
            raise ValueError("The leaded share of a fuel is from 0 to 1.")

    @property
    def leaded_litres(self) -> Fraction:
        return self.litres * self.leaded


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """The leaded share by volume over a window, and what it rests on.

    `source`: fuel records, the owner's declared habit where there is none, or nothing.
    `count`, `first_on`, `last_on`: the records inside the window.
    """

    share: Fraction | Unknown = UNKNOWN
    source: Source = "unknown"
    litres: Fraction = Fraction(0)
    leaded_litres: Fraction = Fraction(0)
    count: int = 0
    first_on: date | None = None
    last_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Threshold:
    """A share at which a test changes its answer.

    `inclusive`: whether a share of exactly this has passed it, as with `from` and
    `under`; with `over` and `to` it has not.
    """

    share: Fraction
    inclusive: bool

    def passed_by(self, share: Fraction) -> bool:
        """Return whether the share lies on the far side."""
        return share > self.share or (self.inclusive and share == self.share)


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """A record of fuel with which the running share came to the other side.

    `index`: of the record in the sequence that was given. `before`: unknown at the
    first record of a window, unless a habit was declared.
    """

    on: date
    index: int
    threshold: Threshold
    before: Fraction | Unknown
    after: Fraction

    @property
    def upward(self) -> bool:
        """Whether the share has passed the threshold with this record."""
        return self.threshold.passed_by(self.after)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """How much more of one fuel brings the share to the other side of a threshold.

    `litres`: exact, None if it never will. `beyond`: after these litres the share lies
    exactly on the threshold and every further drop passes it; else they suffice.
    `hours`: hours run on these litres, None where the consumption is not known.
    """

    threshold: Threshold
    upward: bool
    litres: Fraction | None
    beyond: bool = False
    hours: Fraction | None = None


def exact_number(text: str) -> Fraction:
    """Return a number of at least 0, written with a decimal point or comma.

    Raises ValueError, also where a comma may stand for thousands: "1,234".
    """
    bare = text.strip()
    if _GROUPED.fullmatch(bare):
        plain = bare.replace(",", "")
        raise ValueError(
            f'"{bare}" can be read in two ways. Write {plain}, or a decimal point.'
        )
    found = _DECIMAL.fullmatch(bare)
    if found is None:
        raise ValueError(f'"{bare}" is not a number. Write one such as 85.5.')
    return Fraction(f"{found[1]}.{found[2] or 0}")


def exact_share(text: str) -> Fraction:
    """Return a share from 0 to 1, written as a decimal or as one number of another.

    Raises ValueError.
    """
    ratio = _RATIO.fullmatch(text.strip())
    if ratio is not None and int(ratio[2]) == 0:
        raise ValueError("A share of nothing is not a share: the number below is 0.")
    share = Fraction(int(ratio[1]), int(ratio[2])) if ratio else exact_number(text)
    if share > 1:
        raise ValueError(
            f'"{text.strip()}" is more than the whole. '
            "A share is from 0 to 1, such as 0.4 or 2/5."
        )
    return share


def fuel(
    *,
    on: date,
    quantity: str | Fraction,
    unit: str,
    kind: str,
    leaded_share: str | Fraction | None = None,
    hours: Hours | Unknown = UNKNOWN,
    path: str = "",
) -> Fuel:
    """Return a record of fuel as a person entered it.

    `unit`: "L" or "US gal". `kind`: "leaded", "unleaded" or "blend", of which
    `leaded_share` is needed. Raises RuleError with every fault; the path of each ends
    with the name of what is wrong.
    """
    faults: list[Fault] = []
    litres = _litres(quantity, unit, path, faults)
    leaded = _leaded_of(kind, leaded_share, path, faults)
    if faults:
        raise RuleError(faults)
    assert litres is not None
    assert leaded is not None
    return Fuel(on=on, litres=litres, leaded=leaded, hours=hours)


def leaded_of(
    kind: str, leaded_share: str | Fraction | None = None, *, path: str = ""
) -> Fraction:
    """Return the leaded share of a kind of fuel; RuleError with every fault."""
    faults: list[Fault] = []
    leaded = _leaded_of(kind, leaded_share, path, faults)
    if faults:
        raise RuleError(faults)
    assert leaded is not None
    return leaded


def _litres(
    quantity: str | Fraction, unit: str, path: str, faults: list[Fault]
) -> Fraction | None:
    if unit not in LITRES_IN:
        known = " or ".join(f'"{one}"' for one in LITRES_IN)
        message = f'Expected the unit {known}, not "{unit}".'
        faults.append(Fault(child_path(path, "unit"), message))
    at = child_path(path, "quantity")
    try:
        amount = quantity if isinstance(quantity, Fraction) else _amount(quantity)
    except ValueError as error:
        faults.append(Fault(at, str(error)))
        return None
    if not 0 < amount <= MOST_FUEL:
        message = f"Fuel taken on is more than 0 and at most {MOST_FUEL}."
        faults.append(Fault(at, message))
        return None
    return amount * LITRES_IN[unit] if unit in LITRES_IN else None


def _amount(text: str) -> Fraction:
    if text.strip().startswith(("-", "\u2212")):
        raise ValueError(f'"{text.strip()}" is less than nothing. Fuel is taken on.')
    return exact_number(text)


def _leaded_of(
    kind: str, share: str | Fraction | None, path: str, faults: list[Fault]
) -> Fraction | None:
    at = child_path(path, "leaded_share")
    given = share is not None and share != ""
    if kind in _LEADED_IN:
        if given:
            message = f'A share is given for a blend only, and this fuel is "{kind}".'
            faults.append(Fault(at, message))
        return _LEADED_IN[kind]
    if kind != BLEND:
        known = '"leaded", "unleaded" or "blend"'
        message = f'Expected the kind {known}, not "{kind}".'
        faults.append(Fault(child_path(path, "kind"), message))
        return None
    if share is None or share == "":
        message = "Of a blend the leaded share is needed, such as 0.4 or 2/5."
        faults.append(Fault(at, message))
        return None
    try:
        leaded = share if isinstance(share, Fraction) else exact_share(share)
    except ValueError as error:
        faults.append(Fault(at, str(error)))
        return None
    if not 0 <= leaded <= 1:
        faults.append(Fault(at, "A share is from 0 to 1, such as 0.4 or 2/5."))
        return None
    return leaded


def mix_since(
    records: Sequence[Fuel],
    *,
    since: date | Unknown | None,
    since_hours: Hours | Unknown = UNKNOWN,
    on: date,
    declared: Fraction | Unknown = UNKNOWN,
) -> Mix:
    """Return the leaded share by volume of the fuel taken on since the action was done.

    `since`: the day it was last done, None where never (then all fuel counts), unknown
    where the record has no date. Fuel of that day counts unless hours show that it was
    taken on before. Fuel later than `on` is a plan and does not count. `declared`
    stands in where there is no record. A record without a place before or after leaves
    the share unknown.
    """
    placed = _window(records, since=since, since_hours=since_hours, on=on)
    if placed is None:
        return Mix()
    inside = [one for _, one in placed]
    if not inside:
        is_declared = not isinstance(declared, Unknown)
        return Mix(share=declared, source="declared" if is_declared else "unknown")
    litres = sum((one.litres for one in inside), Fraction(0))
    leaded = sum((one.leaded_litres for one in inside), Fraction(0))
    return Mix(
        share=leaded / litres,
        source="records",
        litres=litres,
        leaded_litres=leaded,
        count=len(inside),
        first_on=inside[0].on,
        last_on=inside[-1].on,
    )


def _window(
    records: Sequence[Fuel],
    *,
    since: date | Unknown | None,
    since_hours: Hours | Unknown,
    on: date,
) -> list[tuple[int, Fuel]] | None:
    """Return the records inside with their index, by day; None where one has no place."""
    inside: list[tuple[int, Fuel]] = []
    for index, one in enumerate(records):
        if one.on > on:
            continue
        after = _is_after(one, since, since_hours)
        if isinstance(after, Unknown):
            return None
        if after:
            inside.append((index, one))
    return sorted(inside, key=lambda placed: placed[1].on)


def _is_after(
    one: Fuel, since: date | Unknown | None, since_hours: Hours | Unknown
) -> bool | Unknown:
    if since is None:
        return True
    if not isinstance(since, Unknown) and one.on != since:
        return one.on > since
    if isinstance(one.hours, Unknown) or isinstance(since_hours, Unknown):
        return UNKNOWN if isinstance(since, Unknown) else True
    return one.hours >= since_hours


def thresholds(rule: Action | Time | Condition) -> tuple[Threshold, ...]:
    """Return the shares at which a test of the leaded share changes its answer, rising."""
    found = {
        threshold
        for condition in _conditions_in(rule)
        for leaf in leaves_of(condition)
        if isinstance(leaf, LeadedShareIn)
        for threshold in _thresholds_of(leaf.bounds)
    }
    return tuple(sorted(found, key=lambda one: (one.share, not one.inclusive)))


def _thresholds_of(bounds: ShareBounds) -> Iterator[Threshold]:
    """Yield the ends of the bounds that some shares have passed and others not."""
    ends = (
        (bounds.first, True),
        (bounds.over, False),
        (bounds.to, False),
        (bounds.under, True),
    )
    for share, inclusive in ends:
        if share is None:
            continue
        threshold = Threshold(share=share, inclusive=inclusive)
        if threshold.passed_by(Fraction(1)) and not threshold.passed_by(Fraction(0)):
            yield threshold


def _conditions_in(rule: Action | Time | Condition) -> Iterator[Condition]:
    match rule:
        case Action():
            if rule.when is not None:
                yield rule.when
            yield from (end for end in rule.ends_with if not isinstance(end, str))
            within = None if rule.credit is None else rule.credit.within
            for time in (rule.initial, rule.repeat, rule.until, within):
                if time is not None:
                    yield from _conditions_in(time)
        case FirstOf() | LastOf():
            for member in rule.members:
                yield from _conditions_in(member)
        case Cases():
            for case in rule.cases:
                yield case.when
                yield from _conditions_in(case.then)
            if rule.otherwise is not None:
                yield from _conditions_in(rule.otherwise)
        case _ if isinstance(rule, Condition):
            yield rule


def crossings(
    records: Sequence[Fuel],
    thresholds: Iterable[Threshold],
    *,
    since: date | Unknown | None,
    since_hours: Hours | Unknown = UNKNOWN,
    on: date,
    declared: Fraction | Unknown = UNKNOWN,
) -> tuple[Crossing, ...]:
    """Return each record with which the running share came to the other side.

    The window is that of `mix_since`; fuel of one day is taken in the order given. From
    an unknown share only a threshold that is passed counts as crossed.
    """
    placed = _window(records, since=since, since_hours=since_hours, on=on) or []
    asked = tuple(thresholds)
    found: list[Crossing] = []
    litres = leaded = Fraction(0)
    before = declared
    for index, one in placed:
        litres += one.litres
        leaded += one.leaded_litres
        after = leaded / litres
        for threshold in asked:
            stood = not isinstance(before, Unknown) and threshold.passed_by(before)
            if threshold.passed_by(after) is not stood:
                found.append(
                    Crossing(
                        on=one.on,
                        index=index,
                        threshold=threshold,
                        before=before,
                        after=after,
                    )
                )
        before = after
    return tuple(found)


def ahead(
    mix: Mix,
    thresholds: Iterable[Threshold],
    *,
    next_leaded: Fraction,
    litres_an_hour: Fraction | None = None,
) -> tuple[Ahead, ...]:
    """Return for each threshold how much more fuel brings the share across, soonest first.

    Adding x litres of leaded share s to V litres of which L are leaded gives the share
    t = (L + s x) / (V + x), so x = (t V - L) / (s - t). `next_leaded`: s. Nothing can
    be said without records: of a declared habit the litres are not known.
    `litres_an_hour`: what the engine burns, more than 0.
    """
    if litres_an_hour is not None and litres_an_hour <= 0:
        raise ValueError("An engine that runs burns more than 0 litres an hour.")
    if mix.source != "records":
        return ()
    found = [
        _ahead_of(mix, threshold, next_leaded, litres_an_hour)
        for threshold in thresholds
    ]
    return tuple(sorted(found, key=lambda one: (one.litres is None, one.litres or 0)))


def _ahead_of(
    mix: Mix, threshold: Threshold, added: Fraction, litres_an_hour: Fraction | None
) -> Ahead:
    assert not isinstance(mix.share, Unknown)
    upward = not threshold.passed_by(mix.share)
    # Fuel leads no further than to its own share, and comes near that without end.
    if threshold.share == added or (added > threshold.share) is not upward:
        return Ahead(threshold=threshold, upward=upward, litres=None)
    litres = (threshold.share * mix.litres - mix.leaded_litres) / (
        added - threshold.share
    )
    return Ahead(
        threshold=threshold,
        upward=upward,
        litres=litres,
        beyond=threshold.inclusive is not upward,
        hours=None if litres_an_hour is None else litres / litres_an_hour,
    )

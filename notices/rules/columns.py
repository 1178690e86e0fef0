"""The plain value of a condition for a whole fleet at once, over columns.

A column holds one fact of every engine. A test is answered from its own fact alone; it
is open where that fact is not known or stands in no column, whatever other facts let
expect of it (an engine was not made after it was shipped). So what is settled here is
settled alike with all facts at hand, even where these contradict each other: an engine
to which a condition does not apply by columns is one to which it does not apply.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from datetime import date
from functools import reduce
from itertools import pairwise
from typing import Any, Final, Literal, NamedTuple, assert_never

import numpy as np
from numpy.typing import NDArray

from notices.rules.applicability.leaf_tests import (
    NO,
    OPEN,
    YES,
    day_window,
    leaf_test,
)
from notices.rules.applicability.nodes import (
    AircraftIn,
    AllOf,
    Always,
    AnyOf,
    Ask,
    AttributeIn,
    Built,
    ChangeIn,
    Complied,
    Condition,
    Embodied,
    Fitted,
    HoursIn,
    LeadedShareIn,
    Not,
    NumberIn,
    OilTemperatureIn,
    OperationIn,
    Overhauled,
    PartHoursIn,
    PartWhere,
    Rebuilt,
    RegistryIn,
    ResultIn,
    SerialIn,
    Shipped,
    ThisPart,
    TypeIn,
)
from notices.rules.applicability.subjects import EngineSubject, prepare
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, Unknown
from notices.rules.serials import (
    Run,
    Serial,
    number_of,
    parse_serial,
    turning_points,
)

_SIGN: Final = {YES: 1, OPEN: 0, NO: -1}
"""In these "and" is the least, "or" the greatest, "not" the negative."""

_OPEN: Final = np.array(_SIGN[OPEN], np.int8)
_YES: Final = np.array(_SIGN[YES], np.int8)
_NO: Final = np.array(_SIGN[NO], np.int8)
_GREATEST: Final = np.iinfo(np.int64).max
"""Of the numbers in a column; a greater one stands with its serial for itself."""

_NOBODY: Final = prepare(EngineFacts(), Asked())
"""An engine of which nothing is known."""


class IdentityRow(NamedTuple):
    """What columns hold of one engine, each as in `EngineFacts`."""

    type: str | Unknown = UNKNOWN
    type_complete: bool = True
    serial: str | Unknown = UNKNOWN
    serial_pattern: str | None = None
    serial_run: int | None = None
    built: date | Unknown = UNKNOWN
    shipped: date | Unknown = UNKNOWN
    rebuilt: date | Literal[True] | Unknown | None = UNKNOWN


@dataclass(frozen=True, slots=True)
class _Coded:
    """A fact of few values: `codes`, int32[n], are places in `subjects`.

    Of each of these nothing but the one value is known.
    """

    codes: NDArray[np.int32]
    subjects: tuple[EngineSubject, ...]

    def asked(self, leaf: TypeIn | Rebuilt) -> NDArray[np.int8]:
        test = leaf_test(leaf)
        signs = [_SIGN[test(subject)] for subject in self.subjects]
        return np.take(np.array(signs, np.int8), self.codes)


@dataclass(frozen=True, slots=True)
class _Days:
    """A date, as ordinals: int32[n], 0 where it is not known."""

    ordinals: NDArray[np.int32]

    def asked(self, leaf: Built | Shipped) -> NDArray[np.int8]:
        low, high = day_window(leaf.period)
        inside = (low <= self.ordinals) & (self.ordinals <= high)
        known = self.ordinals > 0
        signs: NDArray[np.int8] = (2 * inside.view(np.int8) - 1) * known.view(np.int8)
        return signs


class _Kind(NamedTuple):
    """Serials that differ in one number only.

    `at`: the run that is this number; -1 where they are the same, or none is known
    (`runs` is empty). `serial_run`, `serial_pattern`: of the type.
    """

    runs: tuple[Run, ...]
    at: int
    serial_run: int | None
    serial_pattern: str | None

    def subject(self, number: int) -> EngineSubject:
        """Return an engine of which nothing but its serial is known."""
        runs = self.runs
        if self.at >= 0:
            runs = (*runs[: self.at], number, *runs[self.at + 1 :])
        return _NOBODY.with_(
            serial=Serial("", runs) if runs else UNKNOWN,
            serial_run=self.serial_run,
            serial_pattern=self.serial_pattern,
        )


@dataclass(frozen=True, slots=True)
class _Serials:
    """Serial numbers by kind, in each by number.

    `order`: intp[n], the engine at each place of this order; `numbers`: int64[n].
    `ends`: of each kind, the place behind its last engine.
    """

    order: NDArray[np.intp]
    numbers: NDArray[np.int64]
    kinds: tuple[_Kind, ...]
    ends: tuple[int, ...]

    def asked(self, leaf: SerialIn) -> NDArray[np.int8]:
        """The test is asked once for each stretch of numbers with one answer."""
        test = leaf_test(leaf)
        in_order = np.empty(len(self.order), np.int8)
        for kind, (first, end) in zip(
            self.kinds, pairwise((0, *self.ends)), strict=True
        ):
            turns = turning_points(leaf.ranges, kind.serial_pattern)
            reached = [one for one in turns if one <= _GREATEST]
            cuts = first + np.searchsorted(self.numbers[first:end], reached)
            for start, stop in pairwise(sorted({first, *cuts.tolist(), end})):
                subject = kind.subject(int(self.numbers[start]))
                in_order[start:stop] = _SIGN[test(subject)]
        signs = np.empty_like(in_order)
        signs[self.order] = in_order
        return signs


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """The identity of `size` engines, in the order in which they were given."""

    size: int
    _types: _Coded
    _serials: _Serials
    _built: _Days
    _shipped: _Days
    _rebuilt: _Coded

    def value(self, condition: Condition) -> NDArray[np.int8]:
        """Return int8[n]: 1 applies, 0 does not apply, -1 undetermined."""
        signs = np.broadcast_to(self._signs(condition), self.size)
        yes, is_open = signs > 0, signs == 0
        values: NDArray[np.int8] = yes.view(np.int8) - is_open.view(np.int8)
        return values

    def left_by(self, conditions: Iterable[Condition]) -> list[int]:
        """Return the places of the engines to which one of these may apply."""
        left = np.zeros(self.size, np.bool_)
        for condition in conditions:
            left |= self.value(condition) != NO
        return left.nonzero()[0].tolist()

    def _signs(self, condition: Condition) -> Any:
        """Return a sign for each engine, or one for all."""
        match condition:
            case AllOf():
                return reduce(np.minimum, map(self._signs, condition.members), _YES)
            case AnyOf():
                return reduce(np.maximum, map(self._signs, condition.members), _NO)
            case Not():
                return -self._signs(condition.member)
            case Always():
                return _YES
            case TypeIn():
                return self._types.asked(condition)
            case SerialIn():
                return self._serials.asked(condition)
            case Built():
                return self._built.asked(condition)
            case Shipped():
                return self._shipped.asked(condition)
            case Rebuilt():
                return self._rebuilt.asked(condition)
            case (
                Overhauled()
                | Embodied()
                | Complied()
                | HoursIn()
                | AttributeIn()
                | AircraftIn()
                | RegistryIn()
                | OperationIn()
                | LeadedShareIn()
                | OilTemperatureIn()
                | Ask()
                | ResultIn()
                | PartWhere()
                | ThisPart()
                | NumberIn()
                | Fitted()
                | PartHoursIn()
                | ChangeIn()
            ):
                return _OPEN
            case _:
                assert_never(condition)


def columns_of(rows: Iterable[IdentityRow]) -> Columns:
    """Return the columns of a fleet, 32 bytes an engine and a little for each kind."""
    listed = list(rows)
    return Columns(
        size=len(listed),
        _types=_coded(
            [(row.type, row.type_complete) for row in listed],
            lambda one: EngineFacts(type=one[0], type_complete=one[1]),
        ),
        _serials=_serials(listed),
        _built=_days(row.built for row in listed),
        _shipped=_days(row.shipped for row in listed),
        _rebuilt=_coded(
            [row.rebuilt for row in listed], lambda one: EngineFacts(rebuilt=one)
        ),
    )


def _coded(values: list[Any], known: Callable[[Any], EngineFacts]) -> _Coded:
    places: dict[Hashable, int] = {}
    codes = [places.setdefault(value, len(places)) for value in values]
    subjects = tuple(prepare(known(value), Asked()) for value in places)
    return _Coded(np.array(codes, np.int32), subjects)


def _days(days: Iterable[date | Unknown]) -> _Days:
    ordinals = (0 if isinstance(day, Unknown) else day.toordinal() for day in days)
    return _Days(np.fromiter(ordinals, np.int32))


def _serials(rows: list[IdentityRow]) -> _Serials:
    places: dict[_Kind, int] = {}
    kinds = np.empty(len(rows), np.int32)
    numbers = np.empty(len(rows), np.int64)
    for at, row in enumerate(rows):
        kind, numbers[at] = _kind_and_number(row)
        kinds[at] = places.setdefault(kind, len(places))
    order = np.lexsort((numbers, kinds))
    ends = np.searchsorted(kinds[order], range(len(places)), side="right")
    return _Serials(order, numbers[order], tuple(places), tuple(ends.tolist()))


def _kind_and_number(row: IdentityRow) -> tuple[_Kind, int]:
    """Return of which kind a serial is, and its number in the kind.

    Serials that differ in another number, too, are kinds of their own: slower to ask,
    and never wrong.
    """
    of_type = row.serial_run, row.serial_pattern
    if isinstance(row.serial, Unknown):
        return _Kind((), -1, *of_type), 0
    serial = parse_serial(row.serial)
    runs, at = serial.runs, number_of(serial, row.serial_run)
    number = runs[at] if at >= 0 else 0
    if at < 0 or not isinstance(number, int) or number > _GREATEST:
        return _Kind(runs, -1, *of_type), 0
    return _Kind((*runs[:at], 0, *runs[at + 1 :]), at, *of_type), number

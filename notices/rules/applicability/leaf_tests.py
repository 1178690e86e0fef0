"""Each test of a condition as a function of one subject: yes, no or open.

These functions give the plain three-valued answer of a single test, exact in itself:
open only if the unknown facts behind it leave both answers possible. Tests of several
facts together are decided in `completions.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from itertools import pairwise
from typing import Any, Final, assert_never

from notices.rules.applicability.bounds import OverhaulTest, Period
from notices.rules.applicability.nodes import (
    AircraftIn,
    Ask,
    AttributeIn,
    Built,
    ChangeIn,
    Complied,
    Embodied,
    EngineLeaf,
    Fitted,
    HoursIn,
    LeadedShareIn,
    NumberIn,
    OilTemperatureIn,
    OperationIn,
    Overhauled,
    PartHoursIn,
    PartLeaf,
    Rebuilt,
    RegistryIn,
    ResultIn,
    SerialIn,
    Shipped,
    TypeIn,
)
from notices.rules.applicability.subjects import (
    ENDLESS,
    EngineSubject,
    History,
    Subject,
)
from notices.rules.change_letters import figure_rank, letter_rank
from notices.rules.designations import (
    PatternSet,
    designation,
    pattern_set,
    plain_text,
)
from notices.rules.facts import UNKNOWN, Unknown
from notices.rules.serials import Match, match_any

Value = int
"""1 yes, 0 no, -1 open."""

YES: Final = 1
NO: Final = 0
OPEN: Final = -1

LeafTest = Callable[[Any], Value]
"""A test of an `EngineSubject`, or of a `PartSubject` inside a part."""

_MATCHES: Final = {Match.IN: YES, Match.OUT: NO, Match.UNDETERMINED: OPEN}


def leaf_test(leaf: EngineLeaf | PartLeaf) -> LeafTest:
    """Return the test that the leaf states."""
    match leaf:
        case TypeIn():
            return _type_test(pattern_set(leaf.designations))
        case SerialIn():
            return _serial_test(leaf)
        case Built() | Shipped():
            return _date_test(leaf)
        case Rebuilt():
            return _rebuilt_test(leaf)
        case Overhauled():
            return lambda subject: overhaul_value(leaf.test, subject)
        case Embodied():
            return _embodied_test(leaf)
        case Complied():
            return lambda subject: complied_value(leaf, subject)
        case HoursIn() | PartHoursIn():
            return _hours_test(leaf)
        case AttributeIn():
            return _attribute_test(leaf)
        case AircraftIn():
            return _designation_test("aircraft", pattern_set(leaf.aircraft))
        case NumberIn():
            return _designation_test("number", pattern_set(leaf.numbers))
        case RegistryIn():
            return _member_test("registry", frozenset(map(designation, leaf.states)))
        case ResultIn():
            return _member_test("result", frozenset(map(plain_text, leaf.results)))
        case OperationIn():
            return _operation_test(leaf)
        case LeadedShareIn():
            return _share_test(leaf)
        case OilTemperatureIn():
            return lambda subject: oil_value(leaf, subject.oil_temperature)
        case Ask():
            return _ask_test(leaf)
        case Fitted():
            return _fitted_test(leaf)
        case ChangeIn():
            return lambda subject: change_value(leaf, subject.change)
        case _:
            assert_never(leaf)


def day_window(period: Period | None) -> tuple[int, int]:
    """Return first and last day of a period as ordinals, open ends far out."""
    low, high = (None, None) if period is None else period.days
    return (0 if low is None else low, ENDLESS if high is None else high)


def inside(low: int, high: int, first: int, last: int) -> Value:
    """Return whether an unknown value between `first` and `last` is in `low..high`."""
    if low <= first and last <= high:
        return YES
    return NO if last < low or high < first else OPEN


def both(one: Value, other: Value) -> Value:
    """Return three-valued "and"."""
    if one == NO or other == NO:
        return NO
    return YES if one == other == YES else OPEN


def at_least_one(values: list[Value]) -> Value:
    """Return three-valued "or" of any number of values."""
    if YES in values:
        return YES
    return OPEN if OPEN in values else NO


def _type_test(patterns: PatternSet) -> LeafTest:
    exact, stems = patterns.exact, patterns.stems

    def test(engine: EngineSubject) -> Value:
        name = engine.type
        if isinstance(name, Unknown):
            return OPEN
        if engine.type_complete:
            return YES if name in exact or (stems and name.startswith(stems)) else NO
        if patterns.surely_covers(name):
            return YES
        return OPEN if patterns.may_cover(name) else NO

    return test


def _designation_test(attribute: str, patterns: PatternSet) -> LeafTest:
    def test(subject: Subject) -> Value:
        name = getattr(subject, attribute)
        if name is UNKNOWN:
            return OPEN
        return YES if name is not None and patterns.covers(name) else NO

    return test


def _member_test(attribute: str, members: frozenset[str]) -> LeafTest:
    def test(subject: Subject) -> Value:
        value = getattr(subject, attribute)
        if value is UNKNOWN:
            return OPEN
        return YES if value in members else NO

    return test


def _serial_test(leaf: SerialIn) -> LeafTest:
    ranges = leaf.ranges

    def test(subject: Subject) -> Value:
        if isinstance(subject.serial, Unknown):
            return OPEN
        found = match_any(
            subject.serial,
            ranges,
            type_run=subject.serial_run,
            pattern=subject.serial_pattern,
        )
        return _MATCHES[found]

    return test


def _date_test(leaf: Built | Shipped) -> LeafTest:
    low, high = day_window(leaf.period)
    if isinstance(leaf, Built):

        def built(subject: Subject) -> Value:
            day = subject.built
            if isinstance(day, Unknown):
                return inside(low, high, *subject.window("built"))
            return YES if low <= day <= high else NO

        return built

    def shipped(subject: Subject) -> Value:
        day = subject.shipped
        if isinstance(day, Unknown):
            return inside(low, high, *subject.window("shipped"))
        return YES if low <= day <= high else NO

    return shipped


def _rebuilt_test(leaf: Rebuilt) -> LeafTest:
    ever = leaf.when if isinstance(leaf.when, bool) else None
    low, high = day_window(None if isinstance(leaf.when, bool) else leaf.when)

    def test(engine: EngineSubject) -> Value:
        rebuilt = engine.rebuilt
        if isinstance(rebuilt, Unknown):
            return OPEN
        if ever is not None:
            return YES if (rebuilt is not None) is ever else NO
        if rebuilt is True:
            return OPEN
        return YES if rebuilt is not None and low <= rebuilt <= high else NO

    return test


def overhaul_value(test: OverhaulTest | bool, subject: Subject) -> Value:
    """Return whether the overhauls meet the test, by the recorded order of dates."""
    done = subject.overhauls
    if isinstance(done, Unknown):
        if isinstance(test, bool):
            return OPEN
        low, high = day_window(test.period)
        first, last = subject.overhaul_window(0)
        return NO if inside(low, high, first, last) == NO else OPEN
    return overhauls_meet(test, done, subject)


def overhauls_meet(test: OverhaulTest | bool, done: History, subject: Subject) -> Value:
    """Return whether these overhauls meet the test."""
    if isinstance(test, bool):
        return YES if bool(done) is test else NO
    indices = range(len(done)) if test.which == "any" else range(len(done))[-1:]
    return at_least_one([_one_overhaul(test, done, i, subject) for i in indices])


def _one_overhaul(
    test: OverhaulTest, done: History, index: int, subject: Subject
) -> Value:
    on, by = done[index]
    low, high = day_window(test.period)
    if isinstance(on, Unknown):
        when = inside(low, high, *subject.overhaul_window(index))
    else:
        when = YES if low <= on <= high else NO
    return both(when, _by_value(test, by))


def _by_value(test: OverhaulTest, by: str | Unknown) -> Value:
    if not test.by and not test.not_by:
        return YES
    if isinstance(by, Unknown):
        return OPEN
    named = not test.by or by in {plain_text(name) for name in test.by}
    return YES if named and by not in {plain_text(n) for n in test.not_by} else NO


def _embodied_test(leaf: Embodied) -> LeafTest:
    number = designation(leaf.number)

    def test(engine: EngineSubject) -> Value:
        found = engine.embodied.get(number)
        if found is None:
            return NO if engine.history_reviewed else OPEN
        return YES if found else NO

    return test


def complied_value(leaf: Complied, engine: EngineSubject) -> Value:
    """Return whether a record for the publication meets revision and period."""
    records = engine.complied.get(designation(leaf.number), ())
    values = [record_value(leaf, revision, on) for revision, on in records]
    return at_least_one([*values, NO if engine.history_reviewed else OPEN])


def record_value(leaf: Complied, revision: str | Unknown, on: int | Unknown) -> Value:
    """Return whether one record meets the revisions and the period of the leaf."""
    wanted = YES
    if leaf.revisions:
        if isinstance(revision, Unknown):
            wanted = OPEN
        else:
            named = {designation(wished) for wished in leaf.revisions}
            wanted = YES if revision in named else NO
    if leaf.when is None:
        return wanted
    low, high = day_window(leaf.when)
    if isinstance(on, Unknown):
        return both(wanted, OPEN)
    return both(wanted, YES if low <= on <= high else NO)


def _hours_test(leaf: HoursIn | PartHoursIn) -> LeafTest:
    low, high = hours_window(leaf)
    prefix = "effective_" if leaf.hours.at == "effective" else ""
    since = leaf.hours.since
    if since == "fitted":
        return _single_hours_test("fitted_hours", low, high)
    new, overhaul = f"{prefix}new_hours", f"{prefix}hours_overhaul"
    own, other = (new, overhaul) if since == "new" else (overhaul, new)

    def test(subject: Subject) -> Value:
        hours = getattr(subject, own)
        if hours is not UNKNOWN:
            return YES if low <= hours <= high else NO
        linked = getattr(subject, other)
        if linked is UNKNOWN:
            return inside(low, high, 0, ENDLESS)
        window = (linked, ENDLESS) if since == "new" else (0, linked)
        return inside(low, high, *window)

    return test


def _single_hours_test(attribute: str, low: int, high: int) -> LeafTest:
    def test(subject: Subject) -> Value:
        hours = getattr(subject, attribute)
        if hours is UNKNOWN:
            return inside(low, high, 0, ENDLESS)
        return YES if low <= hours <= high else NO

    return test


def hours_window(leaf: HoursIn | PartHoursIn) -> tuple[int, int]:
    """Return least and most hundredths of an hour of the leaf."""
    low, high = leaf.hours.hundredths
    return (0 if low is None else low, ENDLESS if high is None else high)


def _attribute_test(leaf: AttributeIn) -> LeafTest:
    name = plain_text(leaf.name)
    values = frozenset(plain_text(value) for value in leaf.values)

    def test(subject: Subject) -> Value:
        value = subject.attributes.get(name)
        if value is None:
            return OPEN
        return YES if value in values else NO

    return test


def _operation_test(leaf: OperationIn) -> LeafTest:
    named = frozenset(plain_text(use) for use in leaf.operations)

    def test(engine: EngineSubject) -> Value:
        if isinstance(engine.operation, Unknown):
            return OPEN
        return NO if named.isdisjoint(engine.operation) else YES

    return test


def share_points(ends: Iterable[Fraction]) -> tuple[Fraction, ...]:
    """Return shares from 0 to 1 that stand for all: each end and one between any two."""
    known = sorted({Fraction(0), Fraction(1), *ends})
    between = [(one + other) / 2 for one, other in pairwise(known)]
    return tuple(sorted([*known, *between]))


def _share_test(leaf: LeadedShareIn) -> LeafTest:
    bounds = leaf.bounds
    possible = {bounds.holds(share) for share in share_points(bounds.ends)}
    unknown = OPEN if len(possible) == 2 else int(possible.pop())

    def test(engine: EngineSubject) -> Value:
        if isinstance(engine.leaded_share, Unknown):
            return unknown
        return YES if bounds.holds(engine.leaded_share) else NO

    return test


def oil_value(
    leaf: OilTemperatureIn, oil: tuple[Fraction, Fraction] | Unknown
) -> Value:
    """Return whether the whole range lies inside."""
    if isinstance(oil, Unknown):
        return OPEN
    return YES if all(leaf.bounds.holds(degrees) for degrees in oil) else NO


def _ask_test(leaf: Ask) -> LeafTest:
    question = plain_text(leaf.question)

    def test(subject: Subject) -> Value:
        answer = subject.answers.get(question)
        if answer is None:
            return OPEN
        return YES if answer else NO

    return test


def _fitted_test(leaf: Fitted) -> LeafTest:
    if leaf.when == "new":
        low, high = 1, 0
    else:
        low, high = day_window(leaf.when)

    def test(part: Any) -> Value:
        fitted = part.fitted
        if fitted is UNKNOWN:
            return OPEN
        if fitted == "new":
            return YES if leaf.when == "new" else NO
        return YES if low <= fitted <= high else NO

    return test


def change_value(leaf: ChangeIn, change: str | Unknown) -> Value:
    """Return whether the change lies in drawing order; open if it cannot be placed."""
    bounds = leaf.change
    rank_of = figure_rank if bounds.in_figures else letter_rank
    low = 0 if bounds.first is None else rank_of(bounds.first) or 0
    high = ENDLESS if bounds.to is None else rank_of(bounds.to) or 0
    rank = None if isinstance(change, Unknown) else rank_of(change)
    if rank is None:
        return inside(low, high, 0, ENDLESS)
    return YES if low <= rank <= high else NO

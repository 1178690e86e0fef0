"""What the unknown facts behind a group of tests can be, as few cases as tell apart.

A case keeps TSO not above TSN, and built, shipped and overhauled in order; nothing else
is linked.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from fractions import Fraction
from itertools import pairwise, product
from typing import Any

from notices.rules.applicability.cases import (
    LIMIT,
    UNNAMED,
    Case,
    GroupTests,
    Space,
    TooManyError,
    days_apart,
    floors,
    limited,
    named_values,
)
from notices.rules.applicability.dated_cases import complied_space, dates_space
from notices.rules.applicability.leaf_tests import (
    LeafTest,
    hours_window,
    share_points,
)
from notices.rules.applicability.nodes import (
    AircraftIn,
    Ask,
    AttributeIn,
    Built,
    ChangeIn,
    Complied,
    Embodied,
    Fitted,
    HoursIn,
    LeadedShareIn,
    Leaf,
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
from notices.rules.applicability.serial_cases import serial_space
from notices.rules.applicability.subjects import EngineSubject, PartSubject, Subject
from notices.rules.change_letters import figure_rank, letter_rank, letters_at
from notices.rules.designations import Designation, Pattern, designation, plain_text
from notices.rules.facts import UNKNOWN, Unknown


def group_key(leaf: Leaf) -> Hashable:
    """Return what the test is about; tests with one key share facts."""
    match leaf:
        case Built() | Shipped() | Overhauled():
            return "dates"
        case HoursIn():
            return ("hours", leaf.hours.at)
        case PartHoursIn():
            return ("hours", leaf.hours.since == "fitted", leaf.hours.at)
        case Embodied() | Complied():
            return (type(leaf), designation(leaf.number))
        case AttributeIn():
            return (AttributeIn, plain_text(leaf.name))
        case Ask():
            return (Ask, plain_text(leaf.question))
        case ChangeIn():
            return (ChangeIn, leaf.change.in_figures)
        case PartWhere():
            return (PartWhere, plain_text(leaf.role))
    return type(leaf).__name__


def fact_space(
    leaves: Sequence[Leaf], tests_of_them: Sequence[LeafTest], subject: Any
) -> Space:
    """Return the cases behind tests of one group, all of them open for the subject."""
    tests = GroupTests(leaves, tests_of_them, subject)
    first = leaves[0]
    match first:
        case TypeIn():
            return _type_space(tests, subject)
        case SerialIn():
            return serial_space(tests, subject)
        case Built() | Shipped() | Overhauled():
            return dates_space(tests, subject)
        case HoursIn() | PartHoursIn():
            return _hours_space(tests, subject, first)
        case Complied():
            return complied_space(leaves, subject)
        case OilTemperatureIn():
            return _oil_space(tests, subject)
        case PartWhere() | ThisPart():
            raise AssertionError("parts have their own spaces")
    words, candidates = _single_fact(first, leaves, subject)
    return tests.space(words, candidates)


def _single_fact(
    first: Leaf, leaves: Sequence[Leaf], subject: Any
) -> tuple[str, list[dict[str, Any]]]:
    """Return the words for the one unknown fact of a group, and its candidates."""
    match first:
        case Embodied():
            number = designation(first.number)
            words = f"whether {first.number} is embodied"
            known = [{**subject.embodied, number: truth} for truth in (True, False)]
            return words, [{"embodied": value} for value in known]
        case Ask():
            question = plain_text(first.question)
            words = subject.of_it("the answer to the question") + f": {first.question}"
            known = [{**subject.answers, question: truth} for truth in (True, False)]
            return words, [{"answers": value} for value in known]
        case AttributeIn():
            name = plain_text(first.name)
            named = named_values(
                plain_text(v) for leaf in leaves for v in _values(leaf)
            )
            known = [{**subject.attributes, name: value} for value in named]
            return subject.of_it(first.name), [{"attributes": value} for value in known]
        case AircraftIn() | NumberIn():
            return _designation_fact(first, leaves, subject)
        case RegistryIn():
            states = named_values(
                designation(v) for leaf in leaves for v in _values(leaf)
            )
            return "state of registry", [{"registry": s} for s in (None, *states)]
        case ResultIn():
            results = named_values(
                plain_text(v) for leaf in leaves for v in _values(leaf)
            )
            words = "the result noted in the last record"
            return words, [{"result": result} for result in (None, *results)]
        case OperationIn():
            return "kind of operation", _operations(leaves)
        case LeadedShareIn():
            ends = [end for leaf in leaves for end in leaf.bounds.ends]  # type: ignore[union-attr]  # one group, one kind
            return "share of leaded fuel", [
                {"leaded_share": share} for share in share_points(ends)
            ]
        case Rebuilt():
            return _rebuilt_fact(leaves, subject)
        case Fitted():
            days = days_apart(leaf.when for leaf in leaves if isinstance(leaf, Fitted))
            fitted: list[Any] = ["new", *days]
            return subject.of_it("date of fitting"), [{"fitted": on} for on in fitted]
        case ChangeIn():
            return _change_fact(first, leaves, subject)
    raise AssertionError(f"no single fact behind {type(first).__name__}")


def _values(leaf: Leaf) -> tuple[str, ...]:
    match leaf:
        case AttributeIn():
            return leaf.values
        case RegistryIn():
            return leaf.states
        case ResultIn():
            return leaf.results
        case OperationIn():
            return leaf.operations
    return ()


def _names(patterns: Iterable[Pattern], beginning: str) -> list[Designation]:
    """Return complete designations that tell the patterns apart."""
    stems = {p.stem for p in patterns if p.stem.startswith(beginning)}
    names = sorted({beginning, *stems} - {""})
    return [Designation(n + end) for n in (*names, beginning) for end in ("", UNNAMED)]


def _type_space(tests: GroupTests, engine: EngineSubject) -> Space:
    patterns = [
        p
        for leaf in tests.leaves
        if isinstance(leaf, TypeIn)
        for p in leaf.designations
    ]
    beginning, words = "", "type designation"
    if not isinstance(engine.type, Unknown):
        beginning = engine.type
        words = f"complete type designation (recorded as {engine.facts.type})"
    return tests.space(
        words,
        (
            {"type": name, "type_complete": True}
            for name in _names(patterns, beginning)
            if name
        ),
    )


def _designation_fact(
    first: Leaf, leaves: Sequence[Leaf], subject: Any
) -> tuple[str, list[dict[str, Any]]]:
    if isinstance(first, AircraftIn):
        patterns = [p for f in leaves if isinstance(f, AircraftIn) for p in f.aircraft]
        names = [None, *_names(patterns, "")]
        return "aircraft it is fitted in", [{"aircraft": name} for name in names]
    patterns = [p for f in leaves if isinstance(f, NumberIn) for p in f.numbers]
    known = [{"number": name} for name in _names(patterns, "")]
    return subject.of_it("part number"), known


def _operations(leaves: Sequence[Leaf]) -> list[dict[str, Any]]:
    """Return sets of uses that tell the tests apart: any of them can be together."""
    rows = {tuple(plain_text(v) for v in _values(leaf)) for leaf in leaves}
    uses = {use for row in rows for use in row}
    telling: dict[frozenset[tuple[str, ...]], str] = {}
    for use in sorted(uses):
        telling.setdefault(frozenset(row for row in rows if use in row), use)
    sets: dict[frozenset[tuple[str, ...]], frozenset[str]] = {
        frozenset(): frozenset({UNNAMED})
    }
    for hit, use in telling.items():
        for so_far, chosen in list(sets.items()):
            sets.setdefault(so_far | hit, chosen | {use})
        if len(sets) > LIMIT:
            raise TooManyError(("kind of operation",))
    return [{"operation": chosen} for chosen in sets.values()]


def _rebuilt_fact(
    leaves: Sequence[Leaf], engine: EngineSubject
) -> tuple[str, list[dict[str, Any]]]:
    days = days_apart(leaf.when for leaf in leaves if isinstance(leaf, Rebuilt))
    if engine.rebuilt is True:
        return "date of rebuild", [{"rebuilt": day} for day in days]
    words = "whether and when it was rebuilt"
    return words, [{"rebuilt": day} for day in (None, *days)]


def _change_fact(
    first: ChangeIn, leaves: Sequence[Leaf], part: PartSubject
) -> tuple[str, list[dict[str, Any]]]:
    figures = first.change.in_figures
    rank_of = figure_rank if figures else letter_rank
    ends = [
        rank_of(end) or 0
        for leaf in leaves
        if isinstance(leaf, ChangeIn)
        for end in (leaf.change.first, leaf.change.to)
        if end is not None
    ]
    ranks = sorted({0, *ends, *(end + 1 for end in ends)})
    texts = [
        (str(rank - 1) if rank else "") if figures else letters_at(rank)
        for rank in ranks
    ]
    words = (
        "change letter"
        if isinstance(part.change, Unknown)
        else (f'place in drawing order of change "{part.change}"')
    )
    return part.of_it(words), [{"change": text} for text in texts]


def _hours_space(
    tests: GroupTests, subject: Subject, first: HoursIn | PartHoursIn
) -> Space:
    windows = [
        hours_window(f) for f in tests.leaves if isinstance(f, HoursIn | PartHoursIn)
    ]
    if first.hours.since == "fitted":
        words = subject.of_it("time since fitting")
        return tests.space(words, ({"fitted_hours": h} for h in floors(windows)))
    effective = first.hours.at == "effective"
    prefix, when = ("effective_", " on the effective date") if effective else ("", "")
    names = (f"{prefix}new_hours", f"{prefix}hours_overhaul")
    words_of = (f"time since new{when}", f"time since overhaul{when}")
    if subject.never_overhauled:
        return tests.space(
            subject.of_it(words_of[0]),
            (dict.fromkeys(names, hours) for hours in floors(windows)),
        )
    kept = [getattr(subject, name) for name in names]
    points = floors(windows, [hours for hours in kept if hours is not UNKNOWN])
    asked = {
        f.hours.since for f in tests.leaves if isinstance(f, HoursIn | PartHoursIn)
    }
    places = [i for i, since in enumerate(("new", "overhaul")) if since in asked]
    cases = []
    for choice in product(points, repeat=len(places)):
        hours = list(kept)
        for place, value in zip(places, choice, strict=True):
            hours[place] = value
        if UNKNOWN in hours or hours[1] <= hours[0]:
            known = dict(zip(names, hours, strict=True))
            cases.append(Case(choice, tests.values(subject.with_(**known))))
    facts = tuple(subject.of_it(words_of[place]) for place in places)
    return limited(facts, cases)


def _oil_space(tests: GroupTests, engine: EngineSubject) -> Space:
    ends = sorted(
        {
            end
            for f in tests.leaves
            if isinstance(f, OilTemperatureIn)
            for end in f.bounds.ends
        }
    )
    between = [(one + other) / 2 for one, other in pairwise(ends)]
    points = sorted([*ends, *between, ends[0] - 1, ends[-1] + 1])
    ranges: list[tuple[Fraction, Fraction]] = [
        (low, high) for low in points for high in points if low <= high
    ]
    return tests.space("oil temperature", ({"oil_temperature": oil} for oil in ranges))

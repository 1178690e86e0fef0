"""Strategies for conditions and engines over small pools, so that they meet often.

Every pool holds the awkward neighbours of what the rules name: the day before, the hour
exactly at a limit, the designation that only begins alike.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from fractions import Fraction
from functools import cache
from typing import Any

from hypothesis import strategies as st

from notices.rules.applicability.nodes import Condition
from notices.rules.conditions import parse_condition
from notices.rules.facts import (
    UNKNOWN,
    Asked,
    Compliance,
    EngineFacts,
    Hours,
    HoursKept,
    Overhaul,
    PartFacts,
    TemperatureRange,
)

Case = tuple[Condition, EngineFacts, Asked]

TYPES = ("MX-4", "MX-4T", "mx 6", "LMX-4")
TYPE_PATTERNS = ("MX-4", "MX-4*", "MX-6", "MX-6*", "LMX4")
SERIALS = ("K-3999", "K4000", "k 04001", "K-4002", "K-4003", "L-4001", "L 4003")
SERIAL_RANGES = ("K-4000..K-4002", "K-4002..", "..K-4001", "K-4001", "L-4000..L-4002")
FIRST_DAY = date(2019, 1, 1)
DAYS = tuple(FIRST_DAY + timedelta(days=n) for n in range(5))
NAMED_DAYS = (DAYS[1], DAYS[3])
HOURS = tuple(Hours(h * 100) for h in (0, 100, 150, 200, 300))
NAMED_HOURS = (100, 200)
MAKERS = ("maker", "Shop")
MODIFICATIONS = ("SB-1", "SB-2")
REVISIONS = ("1", "2")
SHARES = tuple(Fraction(n, 4) for n in range(5))
DEGREES = (70, 80, 90, 100, 110)
ROLE = "fuel pump"
NUMBERS = ("P-1", "P-12", "P-2")
CHANGES = ("", "J", "K", "L")
QUESTIONS = ("Is it listed?", "Was it struck?")


def unknown_or(known: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """A known value or, about every other time, UNKNOWN."""
    return st.one_of(st.just(UNKNOWN), known)


def some_of(pool: tuple[str, ...]) -> st.SearchStrategy[list[str]]:
    """One or two members of a pool, as a list."""
    return st.lists(st.sampled_from(pool), min_size=1, max_size=2, unique=True)


def bounds(ends: tuple[Any, ...]) -> st.SearchStrategy[dict[str, Any]]:
    """Bounds over two ends, with each pair of words."""
    low, high = ends
    lows = st.sampled_from([{}, {"from": low}, {"over": low}, {"from": high}])
    highs = st.sampled_from([{}, {"to": high}, {"under": high}])
    return (
        st.tuples(lows, highs)
        .map(lambda pair: {**pair[0], **pair[1]})
        .filter(
            lambda found: (
                bool(found)
                and not (found.get("from") == high and found.get("under") == high)
            )
        )
    )


def periods() -> st.SearchStrategy[dict[str, str]]:
    """Periods over two days, with each pair of words."""
    words = {"over": "after", "under": "before", "from": "from", "to": "to"}
    return bounds(tuple(day.isoformat() for day in NAMED_DAYS)).map(
        lambda found: {words[word]: day for word, day in found.items()}
    )


def overhaul_tests() -> st.SearchStrategy[Any]:
    """Tests of overhauls: by date, by whom, ever, never."""
    named = st.fixed_dictionaries(
        {},
        optional={
            "by": some_of(MAKERS),
            "which": st.sampled_from(["last", "any"]),
        },
    )
    tests = st.tuples(periods(), named).map(lambda pair: {**pair[0], **pair[1]})
    return st.one_of(st.booleans(), tests)


def part_leaves() -> st.SearchStrategy[dict[str, Any]]:
    """Tests of one part."""
    return st.one_of(
        some_of((*NUMBERS, "P-1*")).map(lambda n: {"number": n}),
        some_of(("1", "2")).map(lambda v: {"attribute": "Plate", "in": v}),
        st.sampled_from(["J", "K"]).map(lambda c: {"change": {"from": c}}),
        st.just({"ask": QUESTIONS[0]}),
    )


def engine_leaves() -> st.SearchStrategy[dict[str, Any]]:
    """Tests of the engine that are not about parts."""
    hours = st.tuples(
        bounds(NAMED_HOURS),
        st.sampled_from(["new", "overhaul"]),
        st.sampled_from(["now", "effective"]),
    )
    return st.one_of(
        some_of(TYPE_PATTERNS).map(lambda v: {"type": v}),
        some_of(SERIAL_RANGES).map(lambda v: {"serial": v}),
        periods().map(lambda p: {"built": p}),
        periods().map(lambda p: {"shipped": p}),
        st.one_of(periods(), st.booleans()).map(lambda p: {"rebuilt": p}),
        overhaul_tests().map(lambda t: {"overhauled": t}),
        st.sampled_from(MODIFICATIONS).map(lambda n: {"embodied": n}),
        complied_leaves(),
        hours.map(lambda h: {"hours": {**h[0], "since": h[1], "at": h[2]}}),
        some_of(("geared", "direct")).map(lambda v: {"attribute": "drive", "in": v}),
        some_of(("TR-2*", "TR-3")).map(lambda v: {"aircraft": v}),
        some_of(("NO", "US")).map(lambda v: {"registry": v}),
        some_of(("private", "commercial")).map(lambda v: {"operation": v}),
        bounds((0.25, 0.75)).map(lambda b: {"leaded_share": b}),
        bounds((80, 100)).map(lambda b: {"oil_temperature": b}),
        bounds((176, 212)).map(lambda b: {"oil_temperature": {**b, "unit": "F"}}),
        st.sampled_from(QUESTIONS).map(lambda q: {"ask": q}),
        some_of(("pitted", "worn")).map(lambda v: {"result": v}),
    )


def complied_leaves() -> st.SearchStrategy[dict[str, Any]]:
    """Tests of the ledger."""
    return st.fixed_dictionaries(
        {"complied": st.just("SB-1")},
        optional={"revisions": some_of(REVISIONS), "when": periods()},
    )


def trees(leaves: st.SearchStrategy[Any], most: int) -> st.SearchStrategy[Any]:
    """Trees over these leaves."""

    def joined(inner: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
        several = st.lists(inner, min_size=1, max_size=3)
        return st.one_of(
            several.map(lambda m: {"all": m}),
            several.map(lambda m: {"any": m}),
            inner.map(lambda m: {"not": m}),
        )

    return st.recursive(leaves, joined, max_leaves=most)


def part_tests() -> st.SearchStrategy[dict[str, Any]]:
    """Tests of fitted parts of one role."""
    return st.fixed_dictionaries(
        {"role": st.just(ROLE)},
        optional={
            "count": st.sampled_from(["some", "every"]),
            "where": trees(part_leaves(), 3),
        },
    ).map(lambda body: {"part": body})


@cache
def condition_jsons(most: int = 6) -> st.SearchStrategy[Any]:
    """Conditions as JSON, most of which repeat facts."""
    this = trees(part_leaves(), 2).map(lambda p: {"this": p})
    leaves = st.one_of(engine_leaves(), part_tests(), this, st.just({"always": True}))
    pool = st.lists(leaves, min_size=1, max_size=3)
    shape = trees(st.integers(0, 2), most)
    few = st.tuples(pool, shape).map(lambda found: _filled(found[1], found[0]))
    return st.one_of(few, trees(leaves, most))


def _filled(shape: Any, pool: list[Any]) -> Any:
    """Put members of the pool in the places of a shape."""
    match shape:
        case int():
            return pool[shape % len(pool)]
        case {"not": member}:
            return {"not": _filled(member, pool)}
    ((joint, members),) = shape.items()
    return {joint: [_filled(member, pool) for member in members]}


@cache
def conditions(most: int = 6) -> st.SearchStrategy[Condition]:
    """Parsed conditions."""
    return condition_jsons(most).map(parse_condition)


def overhauls() -> st.SearchStrategy[tuple[Overhaul, ...]]:
    """Up to two overhauls, known in part."""
    one = st.builds(
        Overhaul,
        on=unknown_or(st.sampled_from(DAYS)),
        by=unknown_or(st.sampled_from(MAKERS)),
    )
    return st.lists(one, max_size=2).map(tuple).filter(_in_order)


def _in_order(done: tuple[Overhaul, ...]) -> bool:
    days = [o.on for o in done if isinstance(o.on, date)]
    return days == sorted(days)


def hours_kept() -> st.SearchStrategy[HoursKept]:
    """Hours with TSO not above TSN."""
    pair = st.tuples(
        unknown_or(st.sampled_from(HOURS)), unknown_or(st.sampled_from(HOURS))
    ).filter(lambda p: UNKNOWN in p or p[1] <= p[0])
    return pair.map(lambda p: HoursKept(new=p[0], overhaul=p[1]))


def parts(place: str) -> st.SearchStrategy[PartFacts]:
    """A part known in part; `place` tells two of them apart."""
    return st.builds(
        PartFacts,
        role=st.just(ROLE),
        place=st.just(place),
        number=unknown_or(st.sampled_from(NUMBERS)),
        change=unknown_or(st.sampled_from(CHANGES)),
        attributes=known_values("plate", ("1", "2", "3")),
        answers=known_answers(),
    )


def known_values(
    name: str, values: tuple[str, ...]
) -> st.SearchStrategy[Mapping[str, str]]:
    """An attribute that may be recorded."""
    return st.one_of(
        st.just({}), st.sampled_from(values).map(lambda value: {name: value})
    )


def known_answers() -> st.SearchStrategy[Mapping[tuple[str, str], bool]]:
    """Questions that may be answered."""
    return st.dictionaries(
        st.sampled_from(QUESTIONS).map(lambda q: ("", q)), st.booleans(), max_size=2
    )


def fitted_parts() -> st.SearchStrategy[tuple[PartFacts, ...]]:
    """No, one or two parts of the role."""
    return st.one_of(
        st.just(()),
        parts("left").map(lambda p: (p,)),
        st.tuples(parts("left"), parts("right")),
    )


@cache
def engines() -> st.SearchStrategy[EngineFacts]:
    """An engine of which some facts are known; dates stand in order."""
    day = unknown_or(st.sampled_from(DAYS))
    uses = st.sampled_from(["private", "Commercial", "club"])
    return st.fixed_dictionaries(
        {
            "type_complete": st.booleans(),
            "type": unknown_or(st.sampled_from(TYPES)),
            "serial": unknown_or(st.sampled_from(SERIALS)),
            "built": day,
            "shipped": day,
            "rebuilt": unknown_or(st.sampled_from([None, True, *DAYS])),
            "aircraft": unknown_or(st.sampled_from([None, "TR-20", "TR 3", "TR-31"])),
            "registry": unknown_or(st.sampled_from([None, "NO", "us", "DE"])),
            "operation": unknown_or(st.frozensets(uses, min_size=1)),
            "hours": hours_kept(),
            "at_effective": hours_kept(),
            "overhauls": unknown_or(overhauls()),
            "embodied": st.frozensets(st.sampled_from(MODIFICATIONS)),
            "not_embodied": st.frozensets(st.sampled_from(MODIFICATIONS)),
            "complied": st.lists(records(), max_size=2).map(tuple),
            "history_reviewed": st.booleans(),
            "attributes": known_values("Drive", ("geared", "DIRECT", "none")),
            "answers": known_answers(),
            "parts": fitted_parts(),
            "roles_reviewed": st.sampled_from([frozenset(), frozenset({"Fuel Pump"})]),
            "role_counts": st.sampled_from([{}, {ROLE: 1}, {ROLE: 2}]),
            "leaded_share": unknown_or(st.sampled_from(SHARES)),
            "oil_temperature": unknown_or(temperatures()),
        }
    ).map(_consistent)


def _consistent(facts: dict[str, Any]) -> EngineFacts:
    """Take back what contradicts the rest."""
    done = facts["overhauls"]
    if done == ():
        for kept in ("hours", "at_effective"):
            facts[kept] = HoursKept(new=facts[kept].new)
    known = [] if done is UNKNOWN else [o.on for o in done]
    line = [d for d in (facts["built"], facts["shipped"], *known) if d is not UNKNOWN]
    if line != sorted(line):
        facts["built"] = facts["shipped"] = UNKNOWN
    if not facts["type_complete"] and facts["type"] is not UNKNOWN:
        facts["type"] = "MX" if len(facts["type"]) > 4 else "MX-4"
    facts["not_embodied"] -= facts["embodied"]
    return EngineFacts(**facts)


def records() -> st.SearchStrategy[Compliance]:
    """Records known in part."""
    return st.builds(
        Compliance,
        number=st.sampled_from(["SB-1", "sb 1", "SB-9"]),
        revision=unknown_or(st.sampled_from(("1", "2", "3"))),
        on=unknown_or(st.sampled_from(DAYS)),
    )


def temperatures() -> st.SearchStrategy[TemperatureRange]:
    """Recorded ranges of oil temperature."""
    pair = st.tuples(st.sampled_from(DEGREES), st.sampled_from(DEGREES))
    return pair.map(
        lambda p: TemperatureRange(low=Fraction(min(p)), high=Fraction(max(p)))
    )


@cache
def circumstances() -> st.SearchStrategy[tuple[int, Any]]:
    """Which part is meant (by place), and the result of the last record."""
    result = unknown_or(st.sampled_from([None, "Pitted", "worn", "sound"]))
    return st.tuples(st.integers(0, 2), result)


@cache
def cases(most: int = 6) -> st.SearchStrategy[Case]:
    """A condition, an engine and the circumstances, all from small pools."""
    return st.tuples(conditions(most), engines(), circumstances()).map(_case)


def _case(drawn: tuple[Condition, EngineFacts, tuple[int, Any]]) -> Case:
    condition, engine, (place, result) = drawn
    part = engine.parts[place] if place < len(engine.parts) else None
    return condition, engine, Asked(on=date(2026, 1, 1), part=part, result=result)

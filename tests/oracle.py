"""A slow, obvious second opinion: try every completion of the unknown facts.

Written on its own: it shares the nodes and the facts with the program, and no rule. It
knows only the pools of `strategies.py`: each unknown fact takes every value of its pool
and one that no rule names, and a completed engine is judged by plain true and false.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from itertools import combinations_with_replacement, product
from typing import Any

from notices.rules.applicability import nodes as n
from notices.rules.facts import (
    UNKNOWN,
    Asked,
    Compliance,
    EngineFacts,
    HoursKept,
    Overhaul,
    PartFacts,
    TemperatureRange,
)
from tests import strategies as pool

MOST_WORLDS = 4000


class TooManyWorldsError(Exception):
    """The engine leaves more open than this oracle has patience for."""


@dataclass(frozen=True)
class World:
    """A completed engine.

    `never_overhauled`: recorded so, and not only completed so, for hours and overhauls
    are not linked. `vacant`: parts in places that only "every" looks at.
    """

    facts: EngineFacts
    asked: Asked
    never_overhauled: bool = False
    vacant: tuple[PartFacts, ...] = ()


@dataclass(frozen=True)
class Axis:
    """One unknown fact: its name in words, its values, how it is settled."""

    words: str
    values: tuple[Any, ...]
    settle: Callable[[World, Any], World]


@dataclass
class Opinion:
    """What the oracle found: the outcomes that occur, and the facts that change one."""

    outcomes: set[bool] = field(default_factory=set)
    telling: set[str] = field(default_factory=set)


def opinion(condition: n.Condition, facts: EngineFacts, asked: Asked) -> Opinion:
    """Return the outcomes over all completions; TooManyWorldsError if that takes long."""
    axes = list(_axes(condition, facts, asked))
    size = 1
    for axis in axes:
        size *= len(axis.values)
    if size > MOST_WORLDS:
        raise TooManyWorldsError
    found = Opinion()
    judged: dict[tuple[int, ...], bool] = {}
    for places in product(*(range(len(axis.values)) for axis in axes)):
        world = World(facts, asked, facts.overhauls == ())
        for axis, place in zip(axes, places, strict=True):
            world = axis.settle(world, axis.values[place])
        if _possible(world.facts):
            judged[places] = holds(condition, world)
    found.outcomes = set(judged.values())
    for places, outcome in judged.items():
        for at, axis in enumerate(axes):
            for other in range(len(axis.values)):
                changed = (*places[:at], other, *places[at + 1 :])
                if judged.get(changed, outcome) != outcome:
                    found.telling.add(axis.words)
    return found


def plain(text: str) -> str:
    """Compare as designations do."""
    return re.sub(r"[\s-]", "", text).upper()


def low(text: str) -> str:
    """Compare as values do."""
    return text.strip().lower()


def _possible(facts: EngineFacts) -> bool:
    done = facts.overhauls if facts.overhauls is not UNKNOWN else ()
    line = [facts.built, facts.shipped, *(o.on for o in done)]
    days = [day for day in line if day is not UNKNOWN]
    return (
        days == sorted(days)
        and _hours_fit(facts.hours)
        and _hours_fit(facts.at_effective)
    )


def _hours_fit(hours: HoursKept) -> bool:
    return UNKNOWN in (hours.new, hours.overhaul) or hours.overhaul <= hours.new


# Two values.


def holds(condition: Any, world: World) -> bool:
    """Judge a completed engine."""
    facts, asked = world.facts, world.asked
    match condition:
        case n.AllOf():
            return all(holds(m, world) for m in condition.members)
        case n.AnyOf():
            return any(holds(m, world) for m in condition.members)
        case n.Not():
            return not holds(condition.member, world)
        case n.Always():
            return True
        case n.PartWhere():
            return _role_holds(condition, world)
        case n.ThisPart():
            return _part_holds(condition.where, _this(world))
        case n.TypeIn():
            return _covered(facts.type, condition.designations)
        case n.AircraftIn():
            return _covered(facts.aircraft, condition.aircraft)
        case n.RegistryIn():
            named = {plain(s) for s in condition.states}
            return facts.registry is not None and plain(facts.registry) in named
        case n.SerialIn():
            return any(_serial_in(facts.serial, text) for text in condition.serials)
        case n.Built():
            return _in_period(facts.built, condition.period)
        case n.Shipped():
            return _in_period(facts.shipped, condition.period)
        case n.Rebuilt():
            if isinstance(condition.when, bool):
                return (facts.rebuilt is not None) == condition.when
            return facts.rebuilt is not None and _in_period(
                facts.rebuilt, condition.when
            )
        case n.Overhauled():
            return _overhauled(facts.overhauls, condition.test)
        case n.Embodied():
            number = plain(condition.number)
            return number in {plain(m) for m in facts.embodied}
        case n.Complied():
            return any(_record_fits(r, condition) for r in facts.complied)
        case n.HoursIn():
            return _hours_hold(condition, world)
        case n.AttributeIn():
            return _attribute_holds(condition, facts.attributes)
        case n.OperationIn():
            uses = {low(use) for use in facts.operation}
            return any(low(use) in uses for use in condition.operations)
        case n.LeadedShareIn():
            return _in_bounds(facts.leaded_share, condition.bounds)
        case n.OilTemperatureIn():
            oil, bounds = facts.oil_temperature, condition.bounds
            return all(
                _in_bounds(_degrees(end, bounds.unit), bounds)
                for end in (oil.low, oil.high)
            )
        case n.Ask():
            return facts.answers["", condition.question]
        case n.ResultIn():
            named = {low(r) for r in condition.results}
            return asked.result is not None and low(asked.result) in named
    raise AssertionError(condition)


def _this(world: World) -> PartFacts:
    assert world.asked.part is not None
    return next(p for p in world.facts.parts if p.place == world.asked.part.place)


def _role_holds(condition: n.PartWhere, world: World) -> bool:
    role = low(condition.role)
    fitted = [p for p in world.facts.parts if low(p.role) == role]
    where = condition.where or n.Always(always=True)
    if condition.count == "some":
        return any(_part_holds(where, part) for part in fitted)
    fitted += world.vacant
    return bool(fitted) and all(_part_holds(where, part) for part in fitted)


def _part_holds(where: Any, part: PartFacts) -> bool:
    match where:
        case n.AllOf():
            return all(_part_holds(m, part) for m in where.members)
        case n.AnyOf():
            return any(_part_holds(m, part) for m in where.members)
        case n.Not():
            return not _part_holds(where.member, part)
        case n.Always():
            return True
        case n.NumberIn():
            return _covered(part.number, where.numbers)
        case n.AttributeIn():
            return _attribute_holds(where, part.attributes)
        case n.Ask():
            return part.answers["", where.question]
        case n.ChangeIn():
            order = ["", *"ABCDEFGHJKLMNPRTUVWY"]
            return order.index(part.change) >= order.index(where.change.first)
    raise AssertionError(where)


def _covered(name: str | None, patterns: Any) -> bool:
    if name is None:
        return False
    for pattern in patterns:
        stem = plain(pattern.text)
        if stem.endswith("*"):
            if plain(name).startswith(stem[:-1]):
                return True
        elif plain(name) == stem:
            return True
    return False


def _serial_in(serial: str, text: str) -> bool:
    """Serials of the pool: a letter and figures."""
    letters, number = re.fullmatch(r"([A-Z])[\s-]?(\d+)", serial.upper()).groups()
    ends = text.split("..") if ".." in text else [text, text]
    for end, too_far in zip(ends, (lambda x: x < 0, lambda x: x > 0), strict=True):
        if end:
            of_end, limit = re.fullmatch(r"([A-Z])[\s-]?(\d+)", end).groups()
            if of_end != letters or too_far(int(number) - int(limit)):
                return False
    return True


def _in_period(day: date, period: Any) -> bool:
    return (
        (period.first is None or day >= period.first)
        and (period.after is None or day > period.after)
        and (period.to is None or day <= period.to)
        and (period.before is None or day < period.before)
    )


def _in_bounds(value: Any, bounds: Any) -> bool:
    return (
        (bounds.first is None or value >= bounds.first)
        and (bounds.over is None or value > bounds.over)
        and (bounds.to is None or value <= bounds.to)
        and (bounds.under is None or value < bounds.under)
    )


def _degrees(celsius: Fraction, unit: str) -> Fraction:
    """0 deg C is 32 deg F, 100 deg C is 212 deg F, and between them it is a line."""
    return 32 + celsius * (212 - 32) / 100 if unit == "F" else celsius


def _overhauled(done: tuple[Overhaul, ...], test: Any) -> bool:
    if isinstance(test, bool):
        return bool(done) == test
    looked_at = done if test.which == "any" else done[-1:]
    return any(
        (test.period is None or _in_period(o.on, test.period))
        and (not test.by or low(o.by) in {low(name) for name in test.by})
        and (not test.not_by or low(o.by) not in {low(x) for x in test.not_by})
        for o in looked_at
    )


def _record_fits(record: Compliance, condition: n.Complied) -> bool:
    return (
        plain(record.number) == plain(condition.number)
        and (not condition.revisions or record.revision in condition.revisions)
        and (condition.when is None or _in_period(record.on, condition.when))
    )


def _hours_hold(condition: n.HoursIn, world: World) -> bool:
    facts, hours = world.facts, condition.hours
    kept = facts.hours if hours.at == "now" else facts.at_effective
    since_overhaul = hours.since == "overhaul" and not world.never_overhauled
    value = kept.overhaul if since_overhaul else kept.new
    return _in_bounds(value, condition.hours)


def _attribute_holds(condition: n.AttributeIn, recorded: Any) -> bool:
    value = next(v for k, v in recorded.items() if low(k) == low(condition.name))
    return low(value) in {low(wished) for wished in condition.values}


# What is not known, and what it could be.


def _nodes(condition: Any) -> Iterator[Any]:
    yield condition
    for member in getattr(condition, "members", ()):
        yield from _nodes(member)
    if isinstance(condition, n.Not):
        yield from _nodes(condition.member)


def _set(name: str) -> Callable[[World, Any], World]:
    return lambda w, value: replace(w, facts=replace(w.facts, **{name: value}))


def _axes(condition: Any, facts: EngineFacts, asked: Asked) -> Iterator[Axis]:
    nodes = list(_nodes(condition))

    def about(*kinds: type) -> list[Any]:
        return [node for node in nodes if isinstance(node, kinds)]

    if about(n.TypeIn):
        yield from _type_axes(facts)
    simple = (
        (n.SerialIn, "serial", "serial number", (*pool.SERIALS, "Z-9")),
        (n.Built, "built", "date of manufacture", pool.DAYS),
        (n.Shipped, "shipped", "shipping date", pool.DAYS),
        (
            n.AircraftIn,
            "aircraft",
            "aircraft it is fitted in",
            (None, "TR-2", "TR-3", "Z"),
        ),
        (n.RegistryIn, "registry", "state of registry", (None, "NO", "US", "Z")),
        (n.OperationIn, "operation", "kind of operation", _uses()),
        (n.LeadedShareIn, "leaded_share", "share of leaded fuel", _shares()),
        (n.OilTemperatureIn, "oil_temperature", "oil temperature", _temperatures()),
    )
    for kind, name, words, values in simple:
        if about(kind) and getattr(facts, name) is UNKNOWN:
            yield Axis(words, tuple(values), _set(name))
    if about(n.Rebuilt):
        yield from _rebuilt_axes(facts, about(n.Rebuilt))
    if about(n.Overhauled):
        yield from _overhaul_axes(facts, about(n.Overhauled))
    yield from _hours_axes(facts, about(n.HoursIn))
    yield from _history_axes(facts, nodes)
    if about(n.Complied):
        yield from _record_axes(facts, about(n.Complied))
    if about(n.ResultIn) and asked.result is UNKNOWN:
        yield Axis(
            "the result noted in the last record",
            (None, "pitted", "worn", "z"),
            lambda w, value: replace(w, asked=replace(w.asked, result=value)),
        )
    yield from _part_axes(facts, about(n.PartWhere, n.ThisPart))


def _type_axes(facts: EngineFacts) -> Iterator[Axis]:
    names = ("MX-4", "MX-4T", "MX-6", "MX-6A", "LMX-4", "LMX-4B", "Z", "MX-9")
    if facts.type is UNKNOWN:
        yield Axis("type designation", names, _set("type"))
    elif not facts.type_complete:
        meant = tuple(m for m in names if plain(m).startswith(plain(facts.type)))
        words = f"complete type designation (recorded as {facts.type})"
        yield Axis(words, meant, _set("type"))


def _uses() -> tuple[frozenset[str], ...]:
    sets = [
        frozenset(
            use
            for use, chosen in zip(("private", "commercial", "z"), row, strict=True)
            if chosen
        )
        for row in product((True, False), repeat=3)
    ]
    return tuple(uses for uses in sets if uses)


def _shares() -> tuple[Fraction, ...]:
    return (*pool.SHARES, Fraction(1, 10))


def _temperatures() -> tuple[TemperatureRange, ...]:
    return tuple(
        TemperatureRange(low=Fraction(a), high=Fraction(b))
        for a, b in combinations_with_replacement(pool.DEGREES, 2)
    )


def _rebuilt_axes(facts: EngineFacts, nodes: list[Any]) -> Iterator[Axis]:
    if facts.rebuilt is UNKNOWN:
        yield Axis(
            "whether and when it was rebuilt", (None, *pool.DAYS), _set("rebuilt")
        )
    elif facts.rebuilt is True and any(not isinstance(f.when, bool) for f in nodes):
        yield Axis("date of rebuild", pool.DAYS, _set("rebuilt"))


def _overhaul_axes(facts: EngineFacts, nodes: list[Any]) -> Iterator[Axis]:
    tests = [node.test for node in nodes if not isinstance(node.test, bool)]
    if facts.overhauls is UNKNOWN:
        each = [
            Overhaul(on=on, by=by)
            for on in pool.DAYS
            for by in (("maker", "shop", "z") if any(t.by for t in tests) else ("z",))
        ]
        most = 1 + len({t for t in tests if t.which == "any"})
        histories = [
            done
            for length in range(most + 1)
            for done in combinations_with_replacement(each, length)
        ]
        swapped = [
            (b, a) for h in histories if len(h) == 2 for a, b in [h] if a.on == b.on
        ]
        yield Axis("overhaul history", (*histories, *swapped), _set("overhauls"))
        return
    for index, overhaul in enumerate(facts.overhauls):
        last = index == len(facts.overhauls) - 1
        which = "the last overhaul" if last else f"overhaul {index + 1}"
        if overhaul.on is UNKNOWN and tests:
            yield Axis(f"date of {which}", pool.DAYS, _set_overhaul(index, "on"))
        if overhaul.by is UNKNOWN and any(t.by for t in tests):
            yield Axis(
                f"who did {which}", ("maker", "shop", "z"), _set_overhaul(index, "by")
            )


def _set_overhaul(index: int, name: str) -> Callable[[World, Any], World]:
    def settle(world: World, value: Any) -> World:
        done = list(world.facts.overhauls)
        done[index] = replace(done[index], **{name: value})
        return _set("overhauls")(world, tuple(done))

    return settle


def _hours_axes(facts: EngineFacts, nodes: list[Any]) -> Iterator[Axis]:
    for at, owner, when in (
        ("now", "hours", ""),
        ("effective", "at_effective", " on the effective date"),
    ):
        kept: HoursKept = getattr(facts, owner)
        since = {node.hours.since for node in nodes if node.hours.at == at}
        if facts.overhauls == () and since:
            since = {"new"}
        for kind in sorted(since):
            if getattr(kept, kind) is UNKNOWN:
                yield Axis(
                    f"time since {kind}{when}", pool.HOURS, _set_hours(owner, kind)
                )


def _set_hours(owner: str, kind: str) -> Callable[[World, Any], World]:
    def settle(world: World, value: Any) -> World:
        kept = replace(getattr(world.facts, owner), **{kind: value})
        return _set(owner)(world, kept)

    return settle


def _history_axes(facts: EngineFacts, nodes: list[Any]) -> Iterator[Axis]:
    known = {plain(m) for m in (*facts.embodied, *facts.not_embodied)}
    for number in sorted(
        {node.number for node in nodes if isinstance(node, n.Embodied)}
    ):
        if plain(number) not in known and not facts.history_reviewed:
            yield Axis(f"whether {number} is embodied", (True, False), _embody(number))
    questions = {node.question for node in nodes if isinstance(node, n.Ask)}
    for question in sorted(questions):
        if ("", question) not in facts.answers:
            words = f"the answer to the question: {question}"
            yield Axis(words, (True, False), _answer(question))
    if any(isinstance(node, n.AttributeIn) for node in nodes) and not facts.attributes:
        yield Axis(
            "drive",
            ("geared", "direct", "z"),
            lambda w, value: _set("attributes")(w, {"drive": value}),
        )


def _embody(number: str) -> Callable[[World, Any], World]:
    return lambda w, yes: _set("embodied")(w, w.facts.embodied | {number}) if yes else w


def _answer(question: str) -> Callable[[World, Any], World]:
    return lambda w, value: _set("answers")(
        w, {**w.facts.answers, ("", question): value}
    )


def _record_axes(facts: EngineFacts, nodes: list[Any]) -> Iterator[Axis]:
    revisions = ("1", "2", "z")
    mine = [i for i, r in enumerate(facts.complied) if plain(r.number) == "SB1"]
    for count, index in enumerate(mine, start=1):
        record = facts.complied[index]
        words = f"record {count} of compliance with {nodes[0].number}"
        if record.revision is UNKNOWN and any(node.revisions for node in nodes):
            yield Axis(
                f"revision in {words}", revisions, _set_record(index, "revision")
            )
        if record.on is UNKNOWN and any(node.when for node in nodes):
            yield Axis(f"date of {words}", pool.DAYS, _set_record(index, "on"))
    if not facts.history_reviewed:
        each = [
            Compliance(number="SB-1", revision=revision, on=on)
            for revision in (
                revisions if any(node.revisions for node in nodes) else ("z",)
            )
            for on in (pool.DAYS if any(node.when for node in nodes) else pool.DAYS[:1])
        ]
        further = [
            rows
            for length in range(len({*nodes}) + 1)
            for rows in combinations_with_replacement(each, length)
        ]
        yield Axis(
            f"whether {nodes[0].number} was complied with",
            tuple(further),
            lambda w, rows: _set("complied")(w, (*w.facts.complied, *rows)),
        )


def _set_record(index: int, name: str) -> Callable[[World, Any], World]:
    def settle(world: World, value: Any) -> World:
        rows = list(world.facts.complied)
        rows[index] = replace(rows[index], **{name: value})
        return _set("complied")(world, tuple(rows))

    return settle


def _part_axes(facts: EngineFacts, nodes: list[Any]) -> Iterator[Axis]:
    if not nodes:
        return
    inner = [leaf for node in nodes if node.where for leaf in _nodes(node.where)]
    for index, part in enumerate(facts.parts):
        for words, values, settle in _open_facts(part, inner):
            label = f"{part.role} ({part.place})"
            if part.number is not UNKNOWN:
                label += f" {part.number}"
            at = words.index(":") if ":" in words else len(words)
            yield Axis(
                f"{words[:at]} of {label}{words[at:]}", values, _set_part(index, settle)
            )
    roles = [node for node in nodes if isinstance(node, n.PartWhere)]
    if roles:
        yield from _further_axes(facts, roles, inner)


PartSettle = Callable[[PartFacts, Any], PartFacts]


def _open_facts(
    part: PartFacts, inner: list[Any]
) -> Iterator[tuple[str, tuple[Any, ...], PartSettle]]:
    def asked(kind: type) -> bool:
        return any(isinstance(leaf, kind) for leaf in inner)

    if asked(n.NumberIn) and part.number is UNKNOWN:
        yield (
            "part number",
            ("P-1", "P-12", "P-2", "Z"),
            lambda p, v: replace(p, number=v),
        )
    if asked(n.ChangeIn) and part.change is UNKNOWN:
        yield "change letter", ("", "J", "K"), lambda p, v: replace(p, change=v)
    if asked(n.AttributeIn) and not part.attributes:
        yield "Plate", ("1", "2", "z"), lambda p, v: replace(p, attributes={"plate": v})
    question = pool.QUESTIONS[0]
    if asked(n.Ask) and ("", question) not in part.answers:
        yield (
            f"the answer to the question: {question}",
            (True, False),
            lambda p, v: replace(p, answers={**p.answers, ("", question): v}),
        )


def _set_part(index: int, settle: PartSettle) -> Callable[[World, Any], World]:
    def settle_part(world: World, value: Any) -> World:
        fitted = list(world.facts.parts)
        fitted[index] = settle(fitted[index], value)
        return _set("parts")(world, tuple(fitted))

    return settle_part


def _further_axes(
    facts: EngineFacts, roles: list[Any], inner: list[Any]
) -> Iterator[Axis]:
    reviewed = bool(facts.roles_reviewed)
    held = facts.role_counts.get(pool.ROLE)
    room = 2 if held is None else max(0, held - len(facts.parts))
    if held is None and reviewed:
        room = 0
    if room == 0:
        return
    if reviewed and not facts.parts:
        return  # known to be none, however many the type holds
    parts: list[PartFacts] = [PartFacts(role=pool.ROLE)]
    for _, values, settle in _open_facts(parts[0], inner):
        parts = [settle(part, value) for part in parts for value in values]
    sets = [
        chosen
        for length in range(min(room, len(roles) + 1) + 1)
        for chosen in combinations_with_replacement(parts, length)
    ]

    def fit(world: World, chosen: tuple[PartFacts, ...]) -> World:
        if reviewed:
            return replace(world, vacant=chosen)
        return _set("parts")(world, (*world.facts.parts, *chosen))

    yield Axis(f"which parts are fitted as {pool.ROLE}", tuple(sets), fit)

"""The nodes of a condition: everything that a rule can ask of an engine or a part.

Each field says how it stands in JSON (`keyed`); reading, writing and the JSON Schema in
`conditions.py` follow from these fields alone.
"""

# ruff: noqa: RUF009 - keyed(...) is dataclasses.field with a form

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

from notices.rules.applicability.bounds import (
    ChangeBounds,
    EngineHours,
    OverhaulTest,
    PartHours,
    Period,
    ShareBounds,
    TemperatureBounds,
)
from notices.rules.designations import Pattern, parse_pattern
from notices.rules.forms import (
    Either,
    Flag,
    Form,
    ListOf,
    Made,
    ObjectOf,
    Text,
    Whole,
    Words,
    keyed,
)
from notices.rules.serials import SerialRange, Suffix, parse_range

_DESIGNATION = Made(
    Text('a designation such as "MX-4"'), parse_pattern, lambda p: p.text
)
_DESIGNATIONS = ListOf(_DESIGNATION, 'designations such as "MX-4" or "MX-4*"')
_VALUES = ListOf(Text("a value as text"), "values")


def _period_or(form: Form, is_other: type) -> Either:
    return Either(
        (ObjectOf(Period, 'dates such as {"from": "2019-03-01"}'), form),
        pick=lambda raw: int(isinstance(raw, is_other)),
        holds=lambda value: int(isinstance(value, is_other)),
    )


_PERIOD = ObjectOf(Period, 'dates such as {"from": "2019-03-01"}')
_OVERHAUL = Either(
    (ObjectOf(OverhaulTest, 'an overhaul such as {"after": "2019-03-01"}'), Flag()),
    pick=lambda raw: int(isinstance(raw, bool)),
    holds=lambda value: int(isinstance(value, bool)),
)


# Joining nodes. Their members are read by `_Reader`, which knows whether engine or part
# is meant, so they carry no form of their own.


@dataclass(frozen=True, slots=True, kw_only=True)
class AllOf:
    """Every member is true."""

    members: tuple[Condition, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AnyOf:
    """At least one member is true."""

    members: tuple[Condition, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Not:
    """The member is false."""

    member: Condition


@dataclass(frozen=True, slots=True, kw_only=True)
class Always:
    """True of every engine."""

    always: bool = keyed("always", Flag(only=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeIn:
    """The engine's type designation."""

    designations: tuple[Pattern, ...] = keyed("type", _DESIGNATIONS)


_SERIALS = ListOf(
    Text('a serial or a range such as "4001..4987"'), "serials and ranges"
)


@lru_cache(maxsize=50_000)
def _parsed_ranges(
    serials: tuple[str, ...], run: int | None, suffix: Suffix | None
) -> tuple[SerialRange, ...]:
    return tuple(parse_range(text, run=run, suffix=suffix) for text in serials)


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialIn:
    """The serial number, of the engine or the part. `run`: which digit run counts."""

    serials: tuple[str, ...] = keyed("serial", _SERIALS)
    suffix: Suffix | None = keyed("suffix", Words(("any", "same")), default=None)
    run: int | None = keyed("run", Whole(1, 20), default=None)

    @property
    def ranges(self) -> tuple[SerialRange, ...]:
        """The serials and ranges made ready to compare."""
        return _parsed_ranges(self.serials, self.run, self.suffix)


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """Date of manufacture."""

    period: Period = keyed("built", _PERIOD)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shipped:
    """Date of shipping."""

    period: Period = keyed("shipped", _PERIOD)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuilt:
    """Rebuilt by the maker: in a period, ever (True) or never (False)."""

    when: Period | bool = keyed("rebuilt", _period_or(Flag(), bool))


@dataclass(frozen=True, slots=True, kw_only=True)
class Overhauled:
    """Overhauled: as the test says, ever (True) or never (False)."""

    test: OverhaulTest | bool = keyed("overhauled", _OVERHAUL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Embodied:
    """A modification, bulletin or directive embodied in this engine."""

    number: str = keyed("embodied", Text('a designation such as "SB-24-011"'))


@dataclass(frozen=True, slots=True, kw_only=True)
class Complied:
    """A valid record for a publication, of these revisions, in this period."""

    number: str = keyed("complied", Text('a publication such as "SB-24-011"'))
    revisions: tuple[str, ...] = keyed(
        "revisions", ListOf(Text('a revision such as "2"'), "revisions"), default=()
    )
    when: Period | None = keyed("when", _PERIOD, default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursIn:
    """Time in service of the engine."""

    hours: EngineHours = keyed(
        "hours", ObjectOf(EngineHours, 'hours such as {"since": "new", "over": 500}')
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PartHoursIn:
    """Time in service of the part."""

    hours: PartHours = keyed(
        "hours", ObjectOf(PartHours, 'hours such as {"since": "fitted", "over": 500}')
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class AttributeIn:
    """A named property that the station records, of the engine or the part."""

    name: str = keyed("attribute", Text('the name of a property such as "drive"'))
    values: tuple[str, ...] = keyed("in", _VALUES)


@dataclass(frozen=True, slots=True, kw_only=True)
class AircraftIn:
    """What the engine is fitted in; false where it is known not to be fitted."""

    aircraft: tuple[Pattern, ...] = keyed("aircraft", _DESIGNATIONS)


@dataclass(frozen=True, slots=True, kw_only=True)
class RegistryIn:
    """State of registry of the aircraft."""

    states: tuple[str, ...] = keyed(
        "registry", ListOf(Text('a state such as "NO"'), 'states such as "NO"')
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationIn:
    """One of the engine's uses is named."""

    operations: tuple[str, ...] = keyed(
        "operation", ListOf(Text('a use such as "private"'), 'uses such as "private"')
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadedShareIn:
    """Share of leaded fuel by volume since the action was last done."""

    bounds: ShareBounds = keyed(
        "leaded_share", ObjectOf(ShareBounds, 'bounds such as {"over": 0.25}')
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class OilTemperatureIn:
    """The whole recorded range of oil temperature lies inside."""

    bounds: TemperatureBounds = keyed(
        "oil_temperature", ObjectOf(TemperatureBounds, 'bounds such as {"from": 80}')
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """A question that only a person can answer, about the engine or the part."""

    question: str = keyed("ask", Text("a question"))


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultIn:
    """The result noted in the last record of this action."""

    results: tuple[str, ...] = keyed("result", _VALUES)


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberIn:
    """The part number."""

    numbers: tuple[Pattern, ...] = keyed(
        "number", ListOf(_DESIGNATION, 'part numbers such as "P-880*"')
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """When the part was fitted where it is: a period, or "new" with the engine."""

    when: Period | Literal["new"] = keyed("fitted", _period_or(Words(("new",)), str))


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeIn:
    """The part's change letter."""

    change: ChangeBounds = keyed(
        "change", ObjectOf(ChangeBounds, 'bounds such as {"from": "K"}')
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PartWhere:
    """A fitted part of a role. `where`: a tree about one part, None is "any such part"."""

    role: str
    count: Literal["some", "every"] = "some"
    where: Condition | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ThisPart:
    """The very part that the provision is about."""

    where: Condition


EngineLeaf = (
    TypeIn
    | SerialIn
    | Built
    | Shipped
    | Rebuilt
    | Overhauled
    | Embodied
    | Complied
    | HoursIn
    | AttributeIn
    | AircraftIn
    | RegistryIn
    | OperationIn
    | LeadedShareIn
    | OilTemperatureIn
    | Ask
    | ResultIn
)
PartLeaf = (
    NumberIn
    | SerialIn
    | Built
    | Shipped
    | Fitted
    | Overhauled
    | PartHoursIn
    | ChangeIn
    | AttributeIn
    | Ask
)
Leaf = EngineLeaf | PartLeaf | PartWhere | ThisPart
Condition = AllOf | AnyOf | Not | Always | Leaf

ENGINE_LEAVES: Final[tuple[type, ...]] = EngineLeaf.__args__
PART_LEAVES: Final[tuple[type, ...]] = PartLeaf.__args__


def members_of(condition: Condition) -> tuple[Condition, ...]:
    """Return the conditions that a joining node joins; a leaf has none."""
    match condition:
        case AllOf() | AnyOf():
            return condition.members
        case Not():
            return (condition.member,)
    return ()


def leaves_of(condition: Condition) -> Iterator[Leaf]:
    """Yield every test of the engine, from left to right; not those inside a part."""
    if isinstance(condition, AllOf | AnyOf | Not):
        for member in members_of(condition):
            yield from leaves_of(member)
    elif not isinstance(condition, Always):
        yield condition

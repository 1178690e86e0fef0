"""A condition, and the reason why it holds or not, as plain English sentences."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Any

from notices.rules.applicability.bounds import (
    ChangeBounds,
    EngineHours,
    OverhaulTest,
    PartHours,
    Period,
    ShareBounds,
    TemperatureBounds,
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
from notices.rules.designations import Pattern
from notices.rules.phrases import date_words
from notices.rules.temperatures import Unit, degrees_words


def condition_sentence(condition: Condition) -> str:
    """Return the condition as one sentence: "Type designation is MX-4 and ..."."""
    return sentence(clause(condition))


def sentence(text: str) -> str:
    """Return the text with a capital letter and a full stop."""
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith(('?', '.')) else '.'}"


def clause(condition: Condition, *, negate: bool = False) -> str:
    """Return a condition, or its opposite, as a clause that joins to others."""
    match condition:
        case Always():
            return "no engine" if negate else "every engine"
        case Not():
            return clause(condition.member, negate=not negate)
        case AllOf() | AnyOf():
            joins_all = isinstance(condition, AllOf) is not negate
            joint = " and " if joins_all else " or "
            return joint.join(_inner(m, negate=negate) for m in condition.members)
        case PartWhere():
            return _part_clause(condition, negate=negate)
        case ThisPart():
            return f"the part itself: {_inner(condition.where, negate=negate)}"
        case Embodied():
            return f"{condition.number} is {'not ' if negate else ''}embodied"
        case Ask():
            answer = "no" if negate else "yes"
            return f'the answer to "{condition.question}" is {answer}'
        case Complied():
            verb = "holds no" if negate else "holds a"
            return f"the ledger {verb} {_record_words(condition)}"
        case Overhauled():
            return _overhaul_clause(condition.test, negate=negate)
        case Rebuilt(when=bool(ever)):
            was = "was" if ever is not negate else "was never"
            return f"the engine {was} rebuilt by its maker"
    return f"{fact_words(condition)} {'is not' if negate else 'is'} {rule_words(condition)}"


def _inner(condition: Condition, *, negate: bool) -> str:
    words = clause(condition, negate=negate)
    bare = condition
    while isinstance(bare, Not):
        bare = bare.member
    several = isinstance(bare, AllOf | AnyOf) and len(bare.members) > 1
    return f"({words})" if several else words


def fact_words(leaf: Condition) -> str:
    """Return what the test looks at: "date of manufacture"."""
    match leaf:
        case HoursIn() | PartHoursIn():
            return _hours_words(leaf.hours)
        case AttributeIn():
            return leaf.name
    return _FACT_WORDS[type(leaf)]


_FACT_WORDS: dict[type, str] = {
    TypeIn: "type designation",
    SerialIn: "serial number",
    Built: "date of manufacture",
    Shipped: "shipping date",
    Rebuilt: "date of rebuild",
    AircraftIn: "aircraft it is fitted in",
    RegistryIn: "state of registry",
    OperationIn: "kind of operation",
    LeadedShareIn: "share of leaded fuel",
    OilTemperatureIn: "oil temperature",
    ResultIn: "the result noted in the last record",
    NumberIn: "part number",
    Fitted: "date of fitting",
    ChangeIn: "change letter",
}


def _hours_words(hours: EngineHours | PartHours) -> str:
    since = {"new": "new", "overhaul": "overhaul", "fitted": "fitting"}[hours.since]
    effective = hours.at == "effective"
    return f"time since {since}{' on the effective date' if effective else ''}"


def rule_words(leaf: Condition) -> str:
    """Return what the test wants, to stand after "is" or "is not"."""
    match leaf:
        case TypeIn(designations=patterns) | AircraftIn(aircraft=patterns):
            return listed([_series(pattern) for pattern in patterns])
        case NumberIn(numbers=patterns):
            return listed([_beginning(pattern) for pattern in patterns])
        case SerialIn():
            return _serial_words(leaf)
        case Built(period=Period() as period) | Shipped(period=Period() as period):
            return period_words(period)
        case Rebuilt(when=Period() as period) | Fitted(when=Period() as period):
            return period_words(period)
        case Fitted():
            return "that of the new engine"
        case HoursIn() | PartHoursIn():
            return _bounds_words(leaf.hours, hours_words)
        case AttributeIn(values=texts) | ResultIn(results=texts):
            return listed([f'"{text}"' for text in texts])
        case RegistryIn(states=texts) | OperationIn(operations=texts):
            return listed(texts)
        case LeadedShareIn():
            return _bounds_words(leaf.bounds, percent_words)
        case OilTemperatureIn():
            return f"{_bounds_words(leaf.bounds, _degrees_in(leaf.bounds.unit))} throughout"
        case ChangeIn():
            return _change_words(leaf.change)
    raise AssertionError(f"{type(leaf).__name__} has a clause of its own")


def listed(words: Sequence[str]) -> str:
    """Return "a", "a or b", "a, b or c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} or {words[-1]}"


def _series(pattern: Pattern) -> str:
    if pattern.whole_series:
        return f"of the {pattern.text.rstrip()[:-1]} series"
    return pattern.text


def _beginning(pattern: Pattern) -> str:
    if pattern.whole_series:
        return f"one that begins with {pattern.text.rstrip()[:-1]}"
    return pattern.text


def _serial_words(leaf: SerialIn) -> str:
    words = listed([_span_words(text) for text in leaf.serials])
    if leaf.suffix == "any":
        return f"{words}, whatever follows"
    if leaf.suffix == "same":
        return f"{words}, with nothing following"
    return words


def _span_words(text: str) -> str:
    low, dots, high = (end.strip() for end in text.partition(".."))
    if not dots:
        return low
    if low and high:
        return f"from {low} to {high}"
    return f"{low} or above" if low else f"{high} or below"


def period_words(period: Period) -> str:
    """Return the dates of a period: "on or after 1 March 2019 and before 1 January 2022"."""
    ends = (
        ("on or after", period.first),
        ("after", period.after),
        ("on or before", period.to),
        ("before", period.before),
    )
    return " and ".join(f"{word} {date_words(day)}" for word, day in ends if day)


def _bounds_words(
    bounds: EngineHours | PartHours | ShareBounds | TemperatureBounds, shown: Any
) -> str:
    ends = (
        ("at least", bounds.first),
        ("over", bounds.over),
        ("at most", bounds.to),
        ("under", bounds.under),
    )
    return " and ".join(f"{word} {shown(end)}" for word, end in ends if end is not None)


def hours_words(hundredths: int) -> str:
    """Return hundredths of an hour as hours: 51230 is "512.3 h"."""
    whole, rest = divmod(hundredths, 100)
    decimals = f".{rest:02}".rstrip("0") if rest else ""
    return f"{whole}{decimals} h"


def percent_words(share: Fraction) -> str:
    """Return a share in per cent to one decimal: 1/4 is "25 %", 1/3 is "33.3 %".

    With more decimals where one would make it a whole per cent that it is not: a share
    just over 30 % must not read as 30 %.
    """
    exact = share * 100
    for places in range(1, 7):
        rounded = round(exact, places)
        if rounded == exact or rounded.denominator > 1:
            return f"{float(rounded):.{places}f}".rstrip("0").rstrip(".") + " %"
    whole = round(exact)
    return f"just {'over' if exact > whole else 'under'} {whole} %"


def _degrees_in(unit: Unit) -> Callable[[Fraction], str]:
    return lambda degrees: degrees_words(degrees, unit)


def _change_words(bounds: ChangeBounds) -> str:
    ends = []
    if bounds.first is not None:
        ends.append(f"{bounds.first or 'none'} or later")
    if bounds.to is not None:
        ends.append(f"{bounds.to or 'none'} or earlier")
    return " and ".join(ends)


def _record_words(leaf: Complied) -> str:
    words = f"record for {leaf.number}"
    if leaf.revisions:
        words += f" at revision {listed(leaf.revisions)}"
    if leaf.when is not None:
        words += f" dated {period_words(leaf.when)}"
    return words


def _overhaul_clause(test: OverhaulTest | bool, *, negate: bool) -> str:
    if isinstance(test, bool):
        return f"it was {'' if test is not negate else 'never '}overhauled"
    which = "the last overhaul" if test.which == "last" else "an overhaul"
    if negate and test.which == "any":
        which, negate = "no overhaul", False
    return f"{which} was {'not ' if negate else ''}{overhaul_words(test)}"


def overhaul_words(test: OverhaulTest) -> str:
    """Return when and by whom: "after 1995-12-15 and not by maker"."""
    words = [period_words(test.period)] if test.period else []
    words += [f"by {listed(test.by)}"] if test.by else []
    words += [f"not by {listed(test.not_by)}"] if test.not_by else []
    return " and ".join(words)


def _part_clause(leaf: PartWhere, *, negate: bool) -> str:
    which = f"{'every' if leaf.count == 'every' else 'a'} fitted {leaf.role}"
    if leaf.where is None or isinstance(leaf.where, Always):
        return f"{'no' if negate else 'a'} {leaf.role} is fitted"
    words = f"{which} meets this: {_inner(leaf.where, negate=False)}"
    return f"it is not so that {words}" if negate else words

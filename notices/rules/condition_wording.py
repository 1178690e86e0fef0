"""A condition as plain English words, to follow "if"."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from fractions import Fraction

from notices.rules.bounds import OverhaulTest, Period
from notices.rules.condition_nodes import (
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
from notices.rules.phrases import date_words, interval_words, listed


def condition_words(condition: Condition) -> str:
    """Return a condition as words, such as "the type is MX-4 or MX-6*"."""
    match condition:
        case AllOf():
            return _joint(condition.members, "and")
        case AnyOf():
            return _joint(condition.members, "or")
        case Not():
            return f"not ({condition_words(condition.member)})"
        case Always():
            return "in every case"
        case PartWhere():
            return _part_words(condition)
        case ThisPart():
            return f"of this part {condition_words(condition.where)}"
    return _identity_words(condition) or _state_words(condition)


def _joint(members: Sequence[Condition], joint: str) -> str:
    words = [
        f"({condition_words(member)})"
        if isinstance(member, AllOf | AnyOf)
        else condition_words(member)
        for member in members
    ]
    return listed(words, joint)


def _part_words(part: PartWhere) -> str:
    start = "every fitted" if part.count == "every" else "a fitted"
    if part.where is None:
        return f"there is {start} {part.role}"
    return f"of {start} {part.role} {condition_words(part.where)}"


def _identity_words(leaf: Condition) -> str | None:
    """Return the words for what an engine or part is and where it is; None for others."""
    match leaf:
        case TypeIn():
            return f"the type is {_any([one.text for one in leaf.designations])}"
        case SerialIn():
            return f"the serial is {_any(leaf.serials)}{_suffix_words(leaf)}"
        case NumberIn():
            return f"the part number is {_any([one.text for one in leaf.numbers])}"
        case ChangeIn():
            return f"the change letter is {_ends(leaf.change.first, leaf.change.to)}"
        case AttributeIn():
            return f"{leaf.name} is {_any(leaf.values)}"
        case AircraftIn():
            return f"it is fitted in {_any([one.text for one in leaf.aircraft])}"
        case RegistryIn():
            return f"the state of registry is {_any(leaf.states)}"
        case OperationIn():
            return f"the operation is {_any(leaf.operations)}"
        case Built():
            return f"it was built {period_words(leaf.period)}"
        case Shipped():
            return f"it was shipped {period_words(leaf.period)}"
    return None


def _state_words(leaf: Condition) -> str:
    """Return the words for what has happened to an engine or part."""
    match leaf:
        case Rebuilt() | Overhauled() | Fitted():
            return _done_words(leaf)
        case Embodied():
            return f"{leaf.number} is embodied"
        case Complied():
            return _complied_words(leaf)
        case HoursIn():
            words = f"time since {leaf.hours.since} is {_hours(leaf.hours)}"
            on_date = " on the effective date"
            return words + on_date if leaf.hours.at == "effective" else words
        case PartHoursIn():
            since = (
                "it was fitted" if leaf.hours.since == "fitted" else leaf.hours.since
            )
            return f"its time since {since} is {_hours(leaf.hours)}"
        case LeadedShareIn():
            return f"the share of leaded fuel is {_bounds(leaf.bounds, '%', 100)}"
        case OilTemperatureIn():
            return f"the oil temperature is {_bounds(leaf.bounds, '°C', 1)}"
        case Ask():
            return f'the answer is yes to "{leaf.question}"'
        case ResultIn():
            return f"the last result is {_any(leaf.results)}"
    raise AssertionError(leaf)


def _done_words(leaf: Rebuilt | Overhauled | Fitted) -> str:
    match leaf:
        case Rebuilt():
            return _ever("rebuilt by the maker", leaf.when)
        case Overhauled():
            return _ever("overhauled", leaf.test)
        case Fitted():
            if isinstance(leaf.when, Period):
                return f"it was fitted {period_words(leaf.when)}"
            return "it came with the engine"


def _ever(verb: str, when: Period | OverhaulTest | bool) -> str:
    if when is True:
        return f"it was ever {verb}"
    if when is False:
        return f"it was never {verb}"
    if isinstance(when, Period):
        return f"it was {verb} {period_words(when)}"
    start = "it was" if when.which == "any" else "it was last"
    words = [f"{start} {verb}"]
    if when.period is not None:
        words.append(period_words(when.period))
    if when.by:
        words.append(f"by {_any(when.by)}")
    if when.not_by:
        words.append(f"not by {_any(when.not_by)}")
    return " ".join(words)


def _complied_words(leaf: Complied) -> str:
    words = f"{leaf.number} was complied with"
    if leaf.revisions:
        words += f" by revision {_any(leaf.revisions)}"
    return words if leaf.when is None else f"{words} {period_words(leaf.when)}"


def _suffix_words(leaf: SerialIn) -> str:
    said = {"any": " with any suffix", "same": " without any further suffix"}
    return "" if leaf.suffix is None else said[leaf.suffix]


def _any(words: Sequence[str]) -> str:
    return listed(tuple(words), "or")


def period_words(period: Period) -> str:
    """Return a period as words, ends included unless after or before is said."""
    ends: list[tuple[str, date | None]] = [
        ("from", period.first),
        ("after", period.after),
        ("to", period.to),
        ("before", period.before),
    ]
    said = [f"{word} {date_words(day)}" for word, day in ends if day is not None]
    return " and ".join(said) if period.after or period.before else " ".join(said)


def _ends(first: str | None, to: str | None) -> str:
    said = [f"{first} or later"] if first else []
    return " and ".join(
        [*said, f"{to or 'none'} or earlier"] if to is not None else said
    )


def _hours(bounds: object) -> str:
    """Return hours bounds as words; both kinds of hours have the same four ends."""
    said = [
        f"{word} {interval_words(value)}"
        for word, name in (
            ("at least", "first"),
            ("more than", "over"),
            ("at most", "to"),
            ("less than", "under"),
        )
        if (value := getattr(bounds, name)) is not None
    ]
    return " and ".join(said)


def _bounds(bounds: object, unit: str, scale: int) -> str:
    """Return exact bounds as words, in a unit that is `scale` times as fine."""
    said = [
        f"{word} {_plain(value * scale)} {unit}"
        for word, name in (
            ("at least", "first"),
            ("more than", "over"),
            ("at most", "to"),
            ("less than", "under"),
        )
        if (value := getattr(bounds, name)) is not None
    ]
    return " and ".join(said)


def _plain(value: Fraction) -> str:
    return str(value.numerator) if value.denominator == 1 else f"{float(value):g}"

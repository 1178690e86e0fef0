"""The reason for an answer: one sentence a test, with the engine's own value in it."""

from __future__ import annotations

from datetime import date
from typing import Any

from notices.rules.applicability.analysis import Analysis, analyse
from notices.rules.applicability.deciding import RoleTest, ThisTest, exact_value
from notices.rules.applicability.leaf_tests import NO, OPEN, YES, Value
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
from notices.rules.applicability.subjects import EngineSubject, PartSubject, Subject
from notices.rules.applicability.trees import Tree, deciding
from notices.rules.applicability.wording import (
    clause,
    fact_words,
    hours_words,
    listed,
    percent_words,
    rule_words,
    sentence,
)
from notices.rules.designations import designation, plain_text
from notices.rules.facts import UNKNOWN, Overhaul, Unknown
from notices.rules.phrases import date_words
from notices.rules.serials import Serial, fits_pattern
from notices.rules.temperatures import degrees_words, from_celsius


def reasons_for(tree: Tree, subject: Any, analysis: Analysis) -> tuple[str, ...]:
    """Return the sentences that explain an answer, without repetition."""
    return tuple(sentence(told) for told in _told(tree, subject, analysis))


def _told(tree: Tree, subject: Any, analysis: Analysis) -> tuple[str, ...]:
    if analysis.value == OPEN:
        places = list(analysis.hanging)
    else:
        places = [
            place
            for place in deciding(tree.shape, analysis.values)
            if place not in analysis.assumed
        ]
    told = [_reason(tree, place, subject, analysis) for place in places]
    told += [
        f"the outcome is the same whatever is found for: {fact}"
        for fact in analysis.tried
    ]
    return tuple(dict.fromkeys(told)) or ("the rule leaves nothing to ask",)


def _reason(tree: Tree, place: int, subject: Any, analysis: Analysis) -> str:
    leaf, test, value = tree.leaves[place], tree.tests[place], analysis.values[place]
    if isinstance(test, RoleTest) and isinstance(leaf, PartWhere):
        return _role_reason(leaf, test, value, subject)
    if isinstance(test, ThisTest) and isinstance(leaf, ThisPart):
        if subject.this is None:
            return "it is not known which part the provision is about"
        return f"{subject.this.label}: {_part_reason(test.tree, subject.this)}"
    return _leaf_reason(leaf, value, subject)


def _leaf_reason(leaf: Leaf, value: Value, subject: Subject) -> str:
    match leaf:
        case Ask() if value == OPEN:
            return f'the question "{leaf.question}" has not been answered'
        case Embodied() if value == OPEN:
            return f"it is not known whether {leaf.number} is embodied"
        case Complied():
            return _complied_reason(leaf, value, subject)
        case Overhauled():
            return _overhauled_reason(leaf, value, subject)
        case Embodied() | Ask() | Rebuilt(when=bool()):
            if value == OPEN:
                return f"it is not known whether {clause(leaf)}"
            return clause(leaf, negate=value == NO)
    name, rule = fact_words(leaf), rule_words(leaf)
    shown = _shown(leaf, subject)
    if value == OPEN and shown is None:
        return f"{name} is not known; the rule asks whether it is {rule}"
    if value == OPEN and isinstance(leaf, SerialIn) and not _is_of_type(subject):
        return (
            f"{name} {shown} is not a serial number of this type; "
            f"the rule asks whether it is {rule}"
        )
    if value == OPEN:
        return f"{name} {shown} does not settle whether it is {rule}"
    verb = "is" if value == YES else "is not"
    if shown is None:
        return f"{name} {verb} {rule}, whatever it may be"
    return f"{name} {shown} {verb} {rule}"


def _is_of_type(subject: Subject) -> bool:
    serial, pattern = subject.serial, subject.serial_pattern
    assert isinstance(serial, Serial)
    return pattern is None or fits_pattern(serial, pattern)


def _complied_reason(leaf: Complied, value: Value, subject: Any) -> str:
    if value != OPEN:
        return clause(leaf, negate=value == NO)
    held = len(subject.complied.get(designation(leaf.number), ()))
    known = f"; {held} recorded, not all details known" if held else ""
    return f"it is not known whether {clause(leaf)}{known}"


def _overhauled_reason(leaf: Overhauled, value: Value, subject: Any) -> str:
    history = subject.facts.overhauls
    if isinstance(history, Unknown):
        recorded = "its overhauls are not known"
    elif not history:
        recorded = "it is recorded as never overhauled"
    else:
        recorded = (
            f"overhauls recorded: {', '.join(_overhaul_shown(o) for o in history)}"
        )
    asked = clause(leaf)
    answer = {
        YES: f"so {asked}",
        NO: f"so it is not so that {asked}",
        OPEN: f"which does not settle whether {asked}",
    }[value]
    return f"overhaul history: {recorded}, {answer}"


def _overhaul_shown(overhaul: Overhaul) -> str:
    on = date_words(overhaul.on) if isinstance(overhaul.on, date) else "date not known"
    return on if overhaul.by is UNKNOWN else f"{on} by {overhaul.by}"


def _shown(leaf: Leaf, subject: Any) -> str | None:
    """Return the subject's own value as recorded, None where it is not known."""
    match leaf:
        case HoursIn() | PartHoursIn():
            return _hours_shown(leaf, subject)
        case AttributeIn():
            wanted = plain_text(leaf.name)
            for name, value in subject.facts.attributes.items():
                if plain_text(name) == wanted:
                    return f'"{value}"'
            return None
        case LeadedShareIn():
            share = subject.leaded_share
            return None if share is UNKNOWN else percent_words(share)
        case ResultIn():
            result = subject.result
            return None if result is UNKNOWN else f'"{result}"' if result else "(none)"
        case OilTemperatureIn():
            oil = subject.oil_temperature
            if oil is UNKNOWN:
                return None
            low, high = (from_celsius(end, leaf.bounds.unit) for end in oil)
            unit = leaf.bounds.unit
            return f"{degrees_words(low, unit)} to {degrees_words(high, unit)}"
        case OperationIn():
            uses = subject.facts.operation
            return None if uses is UNKNOWN else listed(sorted(uses))
    return _as_recorded(getattr(subject.facts, _RECORDED[type(leaf)]))


_RECORDED: dict[type, str] = {
    TypeIn: "type",
    SerialIn: "serial",
    Built: "built",
    Shipped: "shipped",
    Rebuilt: "rebuilt",
    AircraftIn: "aircraft",
    RegistryIn: "registry",
    NumberIn: "number",
    Fitted: "fitted",
    ChangeIn: "change",
}


def _as_recorded(value: Any) -> str | None:
    match value:
        case Unknown():
            return None
        case None:
            return "(none)"
        case True:
            return "(not recorded)"
        case date():
            return date_words(value)
    return str(value) or "(none)"


def _hours_shown(leaf: HoursIn | PartHoursIn, subject: Any) -> str | None:
    since = leaf.hours.since
    if since == "fitted":
        hours = subject.fitted_hours
    else:
        effective = leaf.hours.at == "effective"
        name = "new_hours" if since == "new" else "hours_overhaul"
        hours = getattr(subject, f"effective_{name}" if effective else name)
    return None if hours is UNKNOWN else hours_words(hours)


def _part_reason(tree: Tree, part: PartSubject) -> str:
    return "; ".join(_told(tree, part, analyse(tree, part)))


def _role_reason(
    leaf: PartWhere, test: RoleTest, value: Value, engine: EngineSubject
) -> str:
    parts = engine.roles.get(test.role, ())
    settling = NO if test.every else YES
    if not parts:
        known = value != OPEN
        return (
            f"no {leaf.role} is fitted"
            if known
            else f"it is not known which {leaf.role} is fitted"
        )
    if value == settling:
        telling = [p for p in parts if exact_value(test.tree, p) == settling][:1]
    elif value == OPEN:
        telling = [p for p in parts if exact_value(test.tree, p) == OPEN]
    else:
        telling = list(parts)
    told = [f"fitted {part.label}: {_part_reason(test.tree, part)}" for part in telling]
    if value == OPEN and test.may_differ(engine):
        told.append(f"it is not known whether a further {leaf.role} is fitted")
    return "; ".join(told)

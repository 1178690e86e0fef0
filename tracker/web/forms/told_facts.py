"""The fields by which somebody tells a single fact, and what they say together.

Each is named by the key of its fact, further fields of the same fact with a suffix.
Left empty it says nothing: the fact stays not known.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from django import forms

from tracker.compliance.open_check import Fact, Happened, Kind, Of, Told, Wanted
from tracker.compliance.open_check.facts import DAYS, HOURS, YES_OR_NO
from tracker.figures.wording import long_day
from tracker.web.forms.fields import DayField, HoursField

NOT_KNOWN: Final = ("", "not known")
YES_NO: Final = (NOT_KNOWN, ("yes", "yes"), ("no", "no"))
EVER: Final = (NOT_KNOWN, ("yes", "yes"), ("no", "never"))
MOST_HOURS: Final = 10_000_000
"""In hundredths: 100,000 h, more than any engine runs."""
LONGEST: Final = 60
NONE_OF_THESE: Final = "none of these"
HAPPENINGS: Final = {Kind.WORK, Kind.DONE, Kind.EVENT, Kind.REBUILT}

WAS_DONE: Final = ": done"
"""How the label of something ends of which it is asked whether it was done."""

ON, HOURS_THEN, REVISION = "-on", "-hours", "-revision"
SUFFIXES: Final = ("", ON, HOURS_THEN, REVISION)


def suffixes_for(words: str) -> tuple[str, ...]:
    """Return which fields of a fact take what is missing under these words."""
    if "revision" in words or "by which document" in words:
        return SUFFIXES
    if words.startswith("whether ") and "when" not in words:
        return ("",)
    return ("", ON, HOURS_THEN)


def fields_of(wanted: Wanted, title: str = "") -> dict[str, forms.Field]:
    """Return the fields of a fact by their suffix, the first under "".

    `title`: what the document is about, or the one of its actions that is meant.
    """
    fact = wanted.fact
    match fact.kind:
        case Kind.WORK | Kind.DONE:
            return _work(fact, title)
        case Kind.EVENT:
            return {
                "": _choice(EVER, f"Has there been: {fact.name}"),
                ON: DayField(required=False, label="Last on"),
                HOURS_THEN: _hours("At time since new"),
            }
        case Kind.REBUILT:
            hint = "With a new record: time since new counts from then."
            return {
                "": _choice(EVER, "Rebuilt by its maker", hint),
                ON: DayField(required=False, label="Rebuilt on"),
            }
        case Kind.PART:
            return {"": _of_part(wanted)}
    return {"": _single(wanted)}


def _work(fact: Fact, title: str) -> dict[str, forms.Field]:
    names = (fact.name, title)
    label, hint = names if fact.kind is Kind.WORK else (title, fact.name)
    return {
        "": _choice(YES_NO, f"{label}{WAS_DONE}", hint if hint != label else ""),
        ON: DayField(required=False, label="Last done on"),
        HOURS_THEN: _hours("At time since new"),
        REVISION: _text("By which revision"),
    }


def _single(wanted: Wanted) -> forms.Field:
    fact = wanted.fact
    match fact.kind:
        case Kind.QUESTION:
            return _choice(YES_NO, fact.name)
        case Kind.SHIPPED:
            return DayField(required=False, label="Date of shipping")
        case Kind.HOURS_ON:
            assert fact.on is not None
            return _hours(f"Time since new on {long_day(fact.on)}")
        case Kind.REGISTRY:
            return _one_of(wanted.values, "State of registry of the aircraft")
        case Kind.AIRCRAFT:
            return _text("Type of the aircraft that it is fitted in")
    return _one_of(wanted.values, f"{fact.name[:1].upper()}{fact.name[1:]}")


def _of_part(wanted: Wanted) -> forms.Field:
    fact, of = wanted.fact, wanted.fact.of
    assert of is not None
    part = f"{fact.role[:1].upper()}{fact.role[1:]}"
    if fact.place:
        part = f"{part}, {fact.place}"
    if of is Of.NONE:
        return forms.BooleanField(required=False, label=f"No {fact.role} is fitted")
    label = f"{part}: {fact.name or of.value}"
    if of in DAYS:
        return DayField(required=False, label=label)
    if of in HOURS:
        return _hours(label)
    if of in YES_OR_NO:
        return _choice(YES_NO, label)
    return _one_of(wanted.values, label)


def _one_of(values: tuple[str, ...], label: str) -> forms.Field:
    """Those that a rule names, or none of them: for the rules all others are alike."""
    if not values:
        return _text(label)
    named = [(value, value) for value in values]
    return _choice((NOT_KNOWN, *named, (NONE_OF_THESE, NONE_OF_THESE)), label)


def _choice(choices: Any, label: str, hint: str = "") -> forms.Field:
    return forms.ChoiceField(
        choices=choices, required=False, label=label, help_text=hint
    )


def _hours(label: str) -> forms.Field:
    return HoursField(required=False, label=label, most=MOST_HOURS)


def _text(label: str) -> forms.Field:
    return forms.CharField(required=False, max_length=LONGEST, label=label)


def told(fact: Fact, values: Mapping[str, Any]) -> Told | None:
    """Return what the cleaned fields of a fact say, None where they say nothing.

    `values`: by suffix. A date or hours of something done say that it was done.
    """
    first = values.get("")
    if fact.kind in HAPPENINGS:
        return _happened(values)
    if fact.kind is Kind.QUESTION or fact.of is Of.QUESTION:
        return first == "yes" if first else None
    if fact.of is Of.NONE:
        return True if first else None
    return first if first not in (None, "") else None


def _happened(values: Mapping[str, Any]) -> Happened | None:
    on, hours = values.get(ON), values.get(HOURS_THEN)
    revision = values.get(REVISION) or ""
    details = on is not None or hours is not None or bool(revision)
    if values.get("") == "no":
        return Happened(ever=False)
    if not values.get("") and not details:
        return None
    return Happened(ever=True, on=on, hours=hours, revision=revision)
